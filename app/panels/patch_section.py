"""The selected patch: package, face, place, size, bond, lead; and adding and removing patches."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QLabel, QWidget

from app.fields import ChoiceField, SwitchField, quantity_for
from app.panels import edits, words
from app.panels.bound import EditorRow
from app.panels.library_edits import package_options
from app.panels.paths import value_at
from app.panels.section import InputSection, set_shown
from core.project import edit
from core.project.article import is_catalogue_size, with_package_of_size
from core.project.model import Project
from core.project.patch import Patch
from core.project.patch_edits import paired

if TYPE_CHECKING:
    from app.shell.session import Session

ROOT, TIP = ("root",), ("tip",)
"""Keys of the two ends among the datums, which are known by their names."""


class PatchSection(InputSection):
    """Fields of the selected patch. "Starts at" counts from the datum chosen above it."""

    editor_wanted = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Patch", parent)
        self._datum: object = ROOT
        self._drawn: tuple[object, ...] = ()
        self.chooser = ChoiceField[str]("Patch", parent=self.body)
        self.chooser.chosen.connect(session.select_patch)
        self.add(self.chooser)
        add = self.button("&Add", self.add_patch)  # made first: the Tab key goes as the buttons lie
        self._of_patch = (
            self.button("&Duplicate", self.duplicate),
            self.button("De&lete", self.remove),
        )
        self.add_buttons(add, *self._of_patch)
        self.pair = self.button("Pair on the other face", self.pair_up)
        self.pair.setToolTip("A second one like it at the same place on the other face, wired for bending")
        self.add(self.pair)
        self.empty = QLabel("No patch yet. Add one to see what it would do.", self.body)
        self.empty.setWordWrap(True)
        self.add(self.empty)
        self._build_rows()

    def _build_rows(self) -> None:
        self.package = self.row("&Package", ChoiceField[str]("Package"), "{patch}.package",
                                 write=edits.with_package_chosen)
        self.packages = EditorRow("&Build-up, limits", "packages", "Packages", path="packages", parent=self.body)
        self.packages.wanted.connect(self.editor_wanted)
        self.add(self.packages)
        self.row("Face", ChoiceField("Face", words.FACES), "{patch}.face")
        self.polarity = self.row("Pair wired", ChoiceField("Pair wired", words.PAIR), "{patch}.pair_bending")
        self.datum = self.row("Measured from", ChoiceField[object]("Measured from"), "{patch}",
                               read=self._read_datum, write=self._write_datum)
        self.start = self.row("S&tarts at", quantity_for("patches.x_start_m", "Starts at", step=1.0), "{patch}.x_start_m",
                               read=self._read_start, write=self._write_start, title="Move patch")
        self.row("Length", quantity_for("patches.length_m", "Length", step=1.0),
                  "{patch}.length_m", title="Change length of patch")
        self.row("Width", quantity_for("patches.width_m", "Width of ceramic", step=1.0),
                  "{patch}.width_m", title="Change width of patch")
        self.named = self.button("Make a package of this si&ze", self.name_size)
        self.add_buttons(self.named)
        self.row("Off centreline", quantity_for("patches.y_m", "Off centreline", step=1.0), "{patch}.y_m",
                  title="Move patch across")
        self.row("Turned", quantity_for("patches.angle_rad", "Turned", step=1.0), "{patch}.angle_rad",
                  title="Turn patch")
        self.row("Bond thickness", quantity_for("bond.thickness_m", "Bond thickness", step=5.0),
                  "{patch}.bond.thickness_m", origin=True)
        self.row("Bond modulus G", quantity_for("bond.shear_modulus_pa", "Bond shear modulus"),
                  "{patch}.bond.shear_modulus_pa", origin=True)
        self.row("Rigid bond", SwitchField("Rigid bond", "no shear lag"), "{patch}.bond.rigid", origin=True)
        self.row("Lead exit", ChoiceField("Lead exit", words.LEAD_EXITS), "{patch}.lead_exit")

    # -- showing -------------------------------------------------------------------------------

    def patch(self, project: Project) -> Patch | None:
        """The selected patch of the project shown."""
        patches = project.candidate().patches
        return next((patch for patch in patches if patch.id == self.session.selected_patch), None)

    def places(self, project: Project) -> dict[str, str] | None:
        patch = self.patch(project)
        return None if patch is None else {"patch": edits.patch_path(project, patch.id)}

    def refresh(self) -> None:
        """While a hand drags, only the values of the rows."""
        project = self.session.shown
        kinds = [(patch.id, patch.package, patch.face) for patch in project.candidate().patches]
        drawn = (kinds, self.session.selected_patch, project.packages, project.structure.datums)
        if self.session.previewing and drawn == self._drawn:
            self.refresh_rows(project)
            return
        self._drawn = drawn
        super().refresh()

    def show_rows(self, project: Project) -> None:
        patch = self.patch(project)
        for row in self.form_rows():
            set_shown(row, patch is not None and (row is not self.polarity or patch.face == "both"))
        set_shown(self.named, _is_special(project, patch))
        set_shown(self.empty, patch is None)
        set_shown(self.chooser, len(project.candidate().patches) > 1)
        self.package.field.set_options(package_options(project))
        set_shown(self.pair, patch is not None and patch.face != "both")
        self.datum.field.set_options(_datum_options(project))

    def update_rows(self, project: Project) -> None:
        patches = project.candidate().patches
        self.packages.tell(f"of {words.count_text(len(project.packages), 'package')}")
        self.chooser.set_options([(patch.id, f"Patch {patch.id}: {patch.package}") for patch in patches])
        self.chooser.set_value(self.session.selected_patch)
        patch = self.patch(project)
        self.heading.setText(f"Patch {patch.id}" if patch else "Patch")
        place = patches.index(patch) + 1 if patch else 0
        self.remark.setText(f"{place} of {len(patches)}" if len(patches) > 1 else "")
        for button in self._of_patch:
            button.setEnabled(patch is not None)

    # -- the datum the start is counted from ------------------------------------------------------

    def _datum_x(self, project: Project) -> float:
        if self._datum == TIP:
            return project.structure.span_m
        for datum in project.structure.datums:
            if datum.name == self._datum:
                return datum.x_m
        return 0.0

    def _read_datum(self, project: Project, _path: str) -> object:
        known = {key for key, _ in _datum_options(project)}
        if self._datum not in known:
            self._datum = ROOT
        return self._datum

    def _write_datum(self, project: Project, _path: str, datum: object) -> Project:
        """Only the reading changes; the patch stays where it is."""
        self._datum = datum
        self.refresh()
        return project

    def _read_start(self, project: Project, path: str) -> float:
        return value_at(project, path) - self._datum_x(project)

    def _write_start(self, project: Project, path: str, start_m: float) -> Project:
        return edits.with_start(project, path, self._datum_x(project) + start_m)

    @Slot()
    def name_size(self) -> None:
        """A package of the patch's own size, which it is then made from."""
        patch = self.patch(self.session.project)
        if patch is not None:
            project = self.session.project
            self.session.apply("Make a package of this size", with_package_of_size(project, project.active, patch.id))

    # -- patches ---------------------------------------------------------------------------------

    @Slot()
    def add_patch(self) -> None:
        """A new patch beside the others, selected."""
        project, new_id = edits.with_new_patch(self.session.project)
        self.session.apply("Add patch", project)
        self.session.select_patch(new_id)

    @Slot()
    def duplicate(self) -> None:
        """A copy of the selected patch beside it, selected."""
        if self.session.selected_patch is None:
            return
        project, new_id = edits.with_patch_copied(self.session.project, self.session.selected_patch)
        self.session.apply("Duplicate patch", project)
        self.session.select_patch(new_id)

    @Slot()
    def pair_up(self) -> None:
        """One like the selected patch on the other face, wired with it for bending."""
        patch = self.session.selected_patch
        if patch is not None:
            project = self.session.project
            self.session.apply(f"Pair {patch} on the other face", paired(project, project.active, patch))

    @Slot()
    def remove(self) -> None:
        """The selected patch away, from its group as well."""
        patch, project = self.session.selected_patch, self.session.project
        if patch is not None:
            self.session.apply(f"Delete patch {patch}", edit.without_patch(project, project.active, patch))


def _is_special(project: Project, patch: Patch | None) -> bool:
    """Whether the patch has a size that its package does not."""
    known = {package.name: package for package in project.packages}
    return patch is not None and patch.package in known and not is_catalogue_size(patch, known[patch.package])


def _datum_options(project: Project) -> list[tuple[object, str]]:
    named = [(datum.name, datum.name) for datum in project.structure.datums]
    return [(ROOT, "root support"), *named, (TIP, "tip")]
