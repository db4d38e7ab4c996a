"""The left column: every input of the project, drawn from the session, edited through it."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtWidgets import QDialog, QScrollArea, QVBoxLayout, QWidget

from app.fields import FormRow
from app.fields.scroll import settle
from app.panels.absorber_section import AbsorberSection
from app.panels.asked_section import AskedSection
from app.panels.circuit_section import CircuitSection
from app.panels.notes_section import NotesSection
from app.panels.patch_section import PatchSection
from app.panels.paths import lies_in, steps
from app.panels.problem_list import ProblemList
from app.panels.section import InputSection
from app.panels.service_section import ServiceSection
from app.panels.structure_section import StructureSection

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.project.model import Project
    from core.project.problems import Problem

EDITORS = {
    "stations": ("app.panels.stations_dialog", "StationsDialog"),
    "materials": ("app.panels.materials_dialog", "MaterialsDialog"),
    "packages": ("app.panels.packages_dialog", "PackagesDialog"),
    "attachments": ("app.panels.attachments_dialog", "AttachmentsDialog"),
    "zones": ("app.panels.zones_dialog", "ZonesDialog"),
    "origins": ("app.panels.origins_dialog", "OriginsDialog"),
    "root": ("app.panels.root_dialog", "RootDialog"),
}
"""Editor windows by name; their modules are loaded when first opened."""

EDITOR_PLACES = (
    ("structure.stations_m", "stations"),
    ("structure.width_m", "stations"),
    ("structure.layers", "stations"),
    ("materials", "materials"),
    ("packages", "packages"),
    ("structure.masses", "attachments"),
    ("structure.springs", "attachments"),
    ("structure.cut_outs", "attachments"),
    ("structure.keep_outs", "zones"),
    ("structure.datums", "zones"),
)
"""Which editor holds the values under a path that no row of the column shows."""


class InputPanel(QScrollArea):
    """Sections under each other. Follows the session; holds no copy of the project."""

    loop_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self._told_any = self._told_problems = False
        self.setObjectName("input panel")
        self.setAccessibleName("Inputs")
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        page = QWidget(self)
        self.problems = ProblemList(page)
        self.asked = AskedSection(session, page)
        self.structure = StructureSection(session, page)
        self.patch = PatchSection(session, page)
        self.circuit = CircuitSection(session, page)
        self.absorber = AbsorberSection(session, page)
        self.service = ServiceSection(session, page)
        self.notes = NotesSection(session, page)
        self.sections: tuple[InputSection, ...] = (
            self.asked, self.structure, self.patch, self.circuit, self.absorber, self.service, self.notes,
        )  # fmt: skip
        layout = QVBoxLayout(page)
        layout.setContentsMargins(12, 10, 8, 12)
        layout.setSpacing(6)
        layout.addWidget(self.problems)
        for section in self.sections:
            layout.addWidget(section)
        layout.addStretch(1)
        self.setWidget(page)
        self.setMinimumWidth(self.fontMetrics().horizontalAdvance("0") * 35 + 30)
        self._connect()
        self.refresh()

    def _connect(self) -> None:
        session = self.session
        for signal in (session.project_changed, session.preview_changed, session.selection_changed):
            signal.connect(self.refresh)
        session.problems_changed.connect(self.tell_problems)
        session.prediction_changed.connect(self.refresh_results)
        session.hand_rests.connect(self._on_hand_rests)
        self.problems.wanted.connect(self.go_to)
        self.structure.editor_wanted.connect(self.open_editor)
        self.patch.editor_wanted.connect(self.open_editor)
        self.notes.editor_wanted.connect(self.open_editor)
        self.circuit.loop_wanted.connect(self._want_loop)
        for section in self.sections:
            section.folded.connect(self.tell_problems)
        self.verticalScrollBar().installEventFilter(self)

    # -- showing -------------------------------------------------------------------------------

    @Slot()
    def refresh(self) -> None:
        """Show the session's project and problems again."""
        for section in self.sections:
            section.refresh()
        self.tell_problems()

    @Slot()
    def refresh_results(self) -> None:
        """Show again what comes from the prediction."""
        self.structure.refresh_checks()
        self.circuit.refresh_results()
        self.absorber.refresh_results()
        self.tell_problems()

    @Slot()
    def tell_problems(self) -> None:
        """Each problem beside its field, or else each caution; those without a visible one in the list at
        the top."""
        problems = self.session.problems
        if not problems and self.session.previewing and not self._told_problems:
            return  # cautions wait for the hand to rest
        self._tell(problems or _cautions(self.session.shown))

    @Slot()
    def _on_hand_rests(self) -> None:
        self.circuit.refresh_results(rests=True)
        self.absorber.refresh_results()
        self._tell(self.session.problems or _cautions(self.session.shown))

    def _tell(self, problems: tuple[Problem, ...]) -> None:
        if not problems and not self._told_any:
            return
        self._told_any, self._told_problems = bool(problems), bool(self.session.problems)
        told: dict[FormRow, Problem] = {}
        elsewhere: list[tuple[Problem, bool]] = []
        for problem in problems:
            row = self._row_of(problem.path)
            if row is not None and self._is_shown(row):
                told.setdefault(row, problem)
            else:
                elsewhere.append((problem, row is not None or _is_elsewhere(problem.path)))
        for section in self.sections:
            for row in section.form_rows():
                one = told.get(row)
                row.show_problem(one.message if one else "", caution=bool(one and one.caution))
        self.problems.tell(elsewhere)

    def _row_of(self, path: str) -> FormRow | None:
        """The row that shows the value at `path`, or the one it lies in."""
        best: FormRow | None = None
        for section in self.sections:
            for row in section.form_rows():
                closer = best is None or len(row.path) > len(best.path)
                if closer and not row.isHidden() and lies_in(path, row.path):
                    best = row
        return best

    def _is_shown(self, row: FormRow) -> bool:
        section = self._section_of(row)
        return section is not None and section.is_open()

    def _section_of(self, row: FormRow) -> InputSection | None:
        return next((section for section in self.sections if section.isAncestorOf(row)), None)

    # -- going places --------------------------------------------------------------------------

    @Slot(str)
    def go_to(self, path: str) -> None:
        """Bring the field of a path into view with the keyboard on it, or open its editor.

        The patch a problem is about is selected first.
        """
        self._bring_up(path)
        row = self._row_of(path)
        if row is None:
            editor = _editor_of(path)
            if editor is not None:
                self.open_editor(editor)
            elif path.startswith("candidates[") and "].loop." in path:
                self.loop_wanted.emit()
            return
        section = self._section_of(row)
        if section is not None:
            section.set_open(True)
        row.field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.ensureWidgetVisible(row)

    def bring_up(self, section: InputSection) -> None:
        """Unfold a section and scroll to its head."""
        section.set_open(True)
        settle(self)
        self.verticalScrollBar().setValue(section.y())

    def _bring_up(self, path: str) -> None:
        """Select the patch or tuned mass of a path in the active candidate, or the first patch of its group."""
        parts = [text for text, _ in steps(path)]
        candidate = self.session.shown.candidate()
        if len(parts) < 4 or parts[:2] != ["candidates", candidate.id]:
            return
        for patch in candidate.patches:
            if parts[2:4] == ["patches", patch.id]:
                self.session.select_patch(patch.id)
        for group in candidate.groups:
            if parts[2:4] == ["groups", group.id] and group.members:
                self.session.select_patch(group.members[0].patch)
        for absorber in candidate.absorbers:
            if parts[2:4] == ["absorbers", absorber.id]:
                self.session.select_absorber(absorber.id)

    @Slot()
    def _want_loop(self) -> None:
        self.loop_wanted.emit()

    @Slot(str)
    def open_editor(self, name: str) -> QDialog:
        """Open one of the roomy editors over the window."""
        module, kind = EDITORS[name]
        dialog: QDialog = getattr(import_module(module), kind)(self.session, self.window())
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setModal(True)
        dialog.open()
        return dialog

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The scroll bar takes no keyboard focus away from a field being typed in."""
        if watched is self.verticalScrollBar() and event.type() == QEvent.Type.FocusIn:
            return True
        return super().eventFilter(watched, event)


def _is_elsewhere(path: str) -> bool:
    """True for a path that `go_to` can bring up though no row of the column shows it now."""
    return _editor_of(path) is not None or path.startswith("candidates[")


def _editor_of(path: str) -> str | None:
    """The editor that holds the value at a path."""
    return next((name for place, name in EDITOR_PLACES if lies_in(path, place)), None)


def _cautions(project: Project) -> tuple[Problem, ...]:
    """What of the active layout is predicted and should not stay."""
    from core.project.problems import find_cautions

    known = any(candidate.id == project.active for candidate in project.candidates)
    return find_cautions(project) if known else ()
