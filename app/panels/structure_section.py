"""The customer's part: supports, span, width, lay-up, damping, and what scale and weights said."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QWidget

from app.fields import ChoiceField, TextField, list_for, quantity_for
from app.panels import edits, words
from app.panels.bound import BoundRow, EditorRow, ReadOut
from app.panels.library_edits import material_options
from app.panels.paths import value_at
from app.panels.section import InputSection, set_shown
from core.measured.root import against_rigid
from core.project import edit
from core.project.model import Project
from core.units import words as quantities

if TYPE_CHECKING:
    from app.shell.session import Session


def _span(project: Project, _path: str) -> float:
    return project.structure.span_m


def _width(project: Project, _path: str) -> float:
    return words.ends_of(project.structure.width_m)[1]


def _thickness(project: Project, _path: str) -> float | None:
    layers = project.structure.layers
    return words.ends_of(layers[0].thickness_m)[1] if layers else None


def _material(project: Project, _path: str) -> str | None:
    layers = project.structure.layers
    return layers[0].pieces[0].material if layers and layers[0].pieces else None


class StructureSection(InputSection):
    """Fields of the structure; the roomy editors are asked for through `editor_wanted`."""

    editor_wanted = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Structure", parent)
        self._drawn: tuple[object, ...] | None = None
        self._checked: tuple[object, ...] | None = None
        self.clampings: dict[str, ReadOut] = {}
        self.firm: dict[str, QWidget] = {}
        self.row("Project", TextField("Project name"), "name", title="Rename project")
        self.row("&Name", TextField("Name"), "structure.name")
        self.root = self._support("Root", "structure.root")
        self.against_rigid = self.add(ReadOut("f1 against rigid"))
        self.from_f1 = self.button("Root stiffness from f1 ...", self._find_root)
        self.from_f1.setToolTip("Type a measured f1; the stiffness of the root that gives it is found, with its range")
        self.add(self.from_f1)
        self.tip = self._support("Tip", "structure.tip")
        self.row("Span", quantity_for("structure.span_m"), "structure.stations_m",
                  origin=True, read=_span, write=lambda project, _path, span_m: edit.with_span(project, span_m))
        self.even_width = self.row("&Width", quantity_for("structure.width_m", "Width"),
                               "structure.width_m", origin=True, read=_width)
        self.varying_width = self.add(ReadOut("Width", path="structure.width_m"))
        self.thickness = self.row("Thickness", quantity_for("layers.thickness_m", "Thickness"),
                                   "structure.layers[0].thickness_m", origin=True, read=_thickness)
        self.material = self.row("Material", ChoiceField[str]("Material"), "structure.layers[0].pieces[0].material",
                                  origin=True, read=_material, write=edits.with_material_chosen)
        self.lay_up = self._editor("La&y-up", "stations", "Stations and lay-up", "structure.layers")
        self.materials = self._editor("&Materials", "materials", "Materials", "materials")
        self.attached = self._editor("Masses, c&ut-outs", "attachments", "Masses, springs, cut-outs")
        self.zones = self._editor("&Keep-outs, datums", "zones", "Keep-outs and datums", "structure.keep_outs")
        self.row("Sections", ChoiceField("Sections", words.LEVELS), "structure.level")
        self._build_damping()
        self._build_checks()

    # -- building ------------------------------------------------------------------------------

    def _editor(self, label: str, editor: str, called: str, path: str = "") -> EditorRow:
        row = EditorRow(label, editor, called, path=path, parent=self.body)
        row.wanted.connect(self.editor_wanted)
        self.add(row)
        return row

    def _support(self, which: str, path: str) -> tuple[BoundRow, BoundRow, BoundRow]:
        kind = self.row(f"{which} support", ChoiceField(f"{which} support", words.SUPPORTS), f"{path}.kind",
                         origin=True, write=edits.with_support_kind)
        k_t = self.row(f"{which}, sideways", quantity_for("k_t_n_m", f"{which}, sideways"), f"{path}.k_t_n_m",
                        origin=True)
        k_r = self.row(f"{which}, turning", quantity_for("k_r_nm_rad", f"{which}, turning"),
                        f"{path}.k_r_nm_rad", origin=True)
        k_t.caption.setToolTip(f"Stiffness k_t of the {which.lower()} against sideways motion")
        k_r.caption.setToolTip(f"Stiffness k_r of the {which.lower()} against turning")
        meaning = self.add(ReadOut(f"{which} k_r L/EI"))
        self.clampings[path] = meaning
        self.firm[path] = self.button(f"Make the {which.lower()} a good clamp", partial(self._make_firm, path))
        self.add(self.firm[path])
        return kind, k_t, k_r

    def _build_damping(self) -> None:
        options = ((False, "given per mode"), (True, "from loss factors"))
        self.row("Inherent damping", ChoiceField("Inherent damping", options),
                  "structure.damping.from_loss_factors")
        field = list_for("damping.ratios", "Damping ratios")
        field.setToolTip("Damping ratio of mode 1; mode 2; ... The last one serves all higher modes.")
        self.ratios = self.row("Damping ratios", field, "structure.damping.ratios", origin=True)
        large = list_for("damping.service_ratios", "At service swing", optional=True, hint="not known")
        large.setToolTip("Inherent damping where the part swings as in service, mode 1; mode 2; ... Both are then told.")
        self.service_ratios = self.row("At service swing", large, "structure.damping.service_ratios", origin=True)

    def _build_checks(self) -> None:
        self.mass = self.add(ReadOut("Total mass"))
        self.weighed = self.row("Weighed", quantity_for("structure.weighed_mass_kg", "Weighed",
                                 optional=True, hint="on the scale"), "structure.weighed_mass_kg")
        self.stiffness = self.add(ReadOut("Tip stiffness"))
        self.row(
            "Dead-weight test",
            quantity_for("structure.dead_weight_stiffness_n_m", "Dead-weight test", optional=True,
                         hint="force/sag"),
            "structure.dead_weight_stiffness_n_m",
        )

    # -- showing -------------------------------------------------------------------------------

    def refresh(self) -> None:
        project = self.session.shown
        drawn = (project.name, project.structure, project.origins, project.materials)
        if self._drawn is None or any(now is not then for now, then in zip(drawn, self._drawn, strict=True)):
            self._drawn = drawn
            super().refresh()
        self.refresh_checks()

    def show_rows(self, project: Project) -> None:
        structure = project.structure
        for path, (_, k_t, k_r), support in (
            ("structure.root", self.root, structure.root), ("structure.tip", self.tip, structure.tip)
        ):
            for row in (k_t, k_r, self.clampings[path]):
                set_shown(row, support.kind == "elastic")
            if support.kind != "elastic":
                set_shown(self.firm[path], False)
        set_shown(self.against_rigid, structure.root.kind == "elastic")
        set_shown(self.from_f1, structure.root.kind in ("clamped", "elastic"))
        even = words.is_even(structure.width_m)
        set_shown(self.even_width, even)
        set_shown(self.varying_width, not even)
        plain = len(structure.layers) == 1 and words.is_even(structure.layers[0].thickness_m)
        set_shown(self.thickness, plain)
        set_shown(self.material, len(structure.layers) == 1 and len(structure.layers[0].pieces) == 1)
        self.material.field.set_options(material_options(project))
        set_shown(self.ratios, not structure.damping.from_loss_factors)
        set_shown(self.service_ratios, not structure.damping.from_loss_factors)

    def update_rows(self, project: Project) -> None:
        structure = project.structure
        self.varying_width.tell(words.range_text(*words.ends_of(structure.width_m), "mm"))
        self.lay_up.tell(words.lay_up_text(structure))
        self.materials.tell(words.count_text(len(project.materials), "material"))
        self._tell_clamping(project)
        self._tell_against_rigid(project)
        self.attached.tell(words.counts_text(
            (len(structure.masses), "mass"), (len(structure.springs), "spring"),
            (len(structure.cut_outs), "cut-out"),
        ))
        zones = (len(structure.keep_outs), "keep-out"), (len(structure.datums), "datum")
        self.zones.tell(words.counts_text(*zones))
        self.remark.setText(f"{words.count_text(len(structure.stations_m), 'station')}")

    def _tell_clamping(self, project: Project) -> None:
        """What each elastic support is for this part; nothing where its stiffness cannot be told."""
        for path, row in self.clampings.items():
            if value_at(project, path).kind != "elastic":
                continue
            try:
                share = edits.clamping(project, path)
            except (ValueError, ArithmeticError, KeyError, IndexError):
                row.tell("told when the lay-up is complete")
                set_shown(self.firm[path], False)
                continue
            row.tell(words.clamping_text(share))
            set_shown(self.firm[path], not words.SOFT_CLAMP <= share < words.RIGID_CLAMP)

    def _tell_against_rigid(self, project: Project) -> None:
        """What an elastic root costs the first two frequencies; a structure being typed may not be solvable."""
        if project.structure.root.kind != "elastic":
            return
        try:
            shifts = against_rigid(project)
        except (ValueError, ArithmeticError, KeyError, IndexError):
            shifts = ()
        told = ", ".join(f"f{n} {quantities.shift(shift)}" for n, shift in enumerate(shifts, 1))
        self.against_rigid.tell(told or "told when the lay-up is complete")

    @Slot()
    def _find_root(self) -> None:
        self.editor_wanted.emit("root")

    def _make_firm(self, path: str) -> None:
        end = "root" if path.endswith("root") else "tip"
        self.session.apply(f"Make the {end} a good clamp", edits.with_good_clamp(self.session.project, path))

    def refresh_checks(self) -> None:
        """Mass and tip stiffness of the model beside what scale and weights said."""
        prediction = self.session.prediction
        structure = self.session.shown.structure
        checked = None if prediction is None else (prediction.bare_mass_kg, prediction.tip_stiffness_n_m, structure)
        if self._checked is not None and checked == self._checked:
            return  # no frame of a drag changes them, and this is asked twice in each
        self._checked = checked
        if prediction is None:
            self.mass.tell("not predicted yet")
            self.stiffness.tell("not predicted yet")
            return
        self.mass.tell(words.measured_text(quantities.mass(prediction.bare_mass_kg), prediction.bare_mass_kg, structure.weighed_mass_kg))
        stiffness = prediction.tip_stiffness_n_m
        if stiffness is None:
            self.stiffness.tell("the tip cannot move, or nothing holds the part")
        else:
            self.stiffness.tell(words.measured_text(quantities.stiffness(stiffness), stiffness, structure.dead_weight_stiffness_n_m))
