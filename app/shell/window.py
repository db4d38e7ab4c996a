"""The main window: inputs left, the drawing in the middle, results right, candidates on top."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QGuiApplication, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QMainWindow, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from app.drawing.canvas import SpanCanvas
from app.help.dialogs import HelpDialogs
from app.panels.input_panel import InputPanel
from app.panels.input_rail import InputSide
from app.results.answer_side import AnswerSide
from app.shell.answer_watch import AnswerWatch
from app.shell.candidate_bar import CandidateBar
from app.shell.candidate_results import CandidateResults
from app.shell.document import Document
from app.shell.folding import density_for, is_narrow
from app.shell.menus import Menus
from app.shell.session import Session
from app.shell.settings import Scheme, Settings
from app.shell.status import StatusLine
from app.theme import look
from core.project import edit

if TYPE_CHECKING:
    from app.circuit.page import CircuitPage
    from app.handover.papers_page import PapersPage
    from app.measured.page import MeasuredPage
    from app.results.loop_window import LoopWindow
    from app.show.page import ShowPage
    from app.sidebyside.page import SideBySide
    from app.studies.page import StudyPage

    Page = CircuitPage | MeasuredPage | PapersPage | ShowPage | SideBySide | StudyPage

DRAWING = 0
ROOMY = 1400
"""From this width on the side panels are as wide as their texts like."""
STACKED = 1200
"""Below this width what belongs beside the circuit stands under it."""
LEAST_DRAWING, LEAST_RESULTS = 400, 356
"""Widths that leave everything legible beside the rail of the inputs on 800 pixels."""
LEAST = (800, 460)
"""A screen of 1600 x 1000 at 200 %, less what the desktop takes. Said here since what folds does so only when the
window is already smaller."""


class MainWindow(QMainWindow):
    """One open project on screen. Everything shown is drawn from `session`."""

    def __init__(self, session: Session, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("mainWindow")
        self.setAcceptDrops(True)
        self.session, self.settings = session, settings
        self.document = Document(session, settings, self)
        self._leaving = False
        self._comparison: SideBySide | None = None
        self._studies: StudyPage | None = None
        self._circuit: CircuitPage | None = None
        self._measured: MeasuredPage | None = None
        self._papers: PapersPage | None = None
        self._show: ShowPage | None = None
        self._loop: LoopWindow | None = None
        self._help = HelpDialogs(self)
        self.answering = AnswerWatch(session, self)
        self.candidate_results = CandidateResults(session, self.answering, self)
        self.bar = CandidateBar(session, self.candidate_results, self)
        self.inputs = InputPanel(session, self)
        self.canvas = SpanCanvas(session, self)
        self.answers = AnswerSide(session, self.answering, self)
        self.results = self.answers.results
        self._centre = QStackedWidget(self)
        self._centre.addWidget(self.canvas)
        self._splitter = self._make_splitter()
        self._pages = QStackedWidget(self)
        self.input_side = InputSide(self.inputs, self._splitter, self)
        self._pages.addWidget(self.input_side)
        body = QWidget(self)
        layout = QVBoxLayout(body)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.bar)
        self._rule = _line(body)
        layout.addWidget(self._rule)
        layout.addWidget(self._pages, 1)
        self.setCentralWidget(body)
        self._status = StatusLine(session, self.document, self)
        self.setStatusBar(self._status)
        self.menus = Menus(self)
        self._connect()
        self.setMinimumSize(*LEAST)
        self._restore_sizes()
        self._show_title()
        self.session.want_strip(settings.strip_shown)
        self._restyle()

    # ---- building ------------------------------------------------------------------------

    def _make_splitter(self) -> QSplitter:
        splitter = QSplitter(Qt.Orientation.Horizontal, self)
        splitter.setObjectName("mainSplitter")
        splitter.setHandleWidth(1)  # Qt widens the place to grab it by itself
        for widget in (self.inputs, self._centre, self.answers):
            splitter.addWidget(widget)
        self._centre.setMinimumWidth(LEAST_DRAWING)
        self.answers.setMinimumWidth(LEAST_RESULTS)
        splitter.setStretchFactor(1, 1)
        splitter.setCollapsible(1, False)
        splitter.setCollapsible(2, False)
        return splitter

    def _connect(self) -> None:
        self.session.undo_stack.cleanChanged.connect(self._show_title)
        self.session.path_changed.connect(self._show_title)
        self.session.project_changed.connect(self._show_title)
        self.bar.pages.wanted.connect(self.show_page)
        self._pages.currentChanged.connect(self._on_page)
        self._centre.currentChanged.connect(self._on_page)
        self.answers.input_wanted.connect(self.go_to_input)
        look.look_changed.connect(self._restyle)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._on_system_scheme)

    def _restore_sizes(self) -> None:
        if not self.restoreGeometry(self.settings.bytes("geometry")):
            screen = self.screen().availableGeometry()
            self.resize(min(1440, screen.width()), min(900, screen.height()))
        if not self._splitter.restoreState(self.settings.bytes("splitter")):
            inputs, answers = (344, 408) if self.width() >= ROOMY else (312, 372)
            self._splitter.setSizes([inputs, max(self.width() - inputs - answers, LEAST_DRAWING), answers])

    @Slot()
    def _show_title(self) -> None:
        self.setWindowTitle(f"{self.document.name}[*] \N{EN DASH} Quietspan")
        self.setWindowModified(self.document.edited)

    @Slot()
    def _restyle(self) -> None:
        """Colours of the bars and lines, by palette: a style sheet on the window costs a twentieth of a second of
        the start, and something at every painting."""
        now = look.current()
        for widget, colour in ((self.bar, now.panel), (self._status, now.panel), (self._rule, now.line)):
            look.set_background(widget, colour)
        for index in range(self._splitter.count()):
            look.set_background(self._splitter.handle(index), now.line)

    # ---- commands ------------------------------------------------------------------------

    @Slot(str)
    def show_page(self, name: str, _checked: bool = False) -> None:
        """The page of that name, as it was left."""
        {"drawing": self.show_drawing, "compare": self.compare, "studies": self.show_studies,
         "circuit": self.show_circuit, "measured": self.show_measured, "papers": self.hand_over}[name]()  # fmt: skip

    @Slot()
    def show_circuit(self) -> None:
        """What hangs on the leads, in place of the drawing between inputs and answer."""
        if self._circuit is None:
            # imported here, as every page but the first: the window is up sooner
            from app.circuit.page import CircuitPage

            self._circuit = CircuitPage(self.session, self)
            self._circuit.back_wanted.connect(self.show_drawing)
            self._circuit.said.connect(self.document.said)
            self._circuit.side.take_along.paper_wanted.connect(self.show_paper)
            self._centre.addWidget(self._circuit)
        self._centre.setCurrentWidget(self._circuit)
        self._pages.setCurrentIndex(DRAWING)
        self.inputs.bring_up(self.inputs.circuit)
        self._circuit.setFocus()

    @Slot()
    def show_measured(self) -> None:
        """What the prototype did: files, verdict, correction."""
        if self._measured is None:
            # imported here: measurements are looked at now and then, the window opens every time
            from app.measured.page import MeasuredPage

            self._measured = MeasuredPage(self.session, self)
            self._measured.back_wanted.connect(self.show_drawing)
            self._measured.said.connect(self.document.said)
            self._pages.addWidget(self._measured)
        self._pages.setCurrentWidget(self._measured)
        self._measured.setFocus()

    @Slot()
    def show_ring_down(self) -> None:
        """The ring-down played, before and after, in place of the drawing."""
        if self._show is None:
            from app.show.page import ShowPage  # given now and then, the window opens every time

            self._show = ShowPage(self.session, self)
            self._show.back_wanted.connect(self.show_drawing)
            self._show.said.connect(self.document.said)
            self._pages.addWidget(self._show)
        self._pages.setCurrentWidget(self._show)
        self._show.setFocus()
        self._show.clock.play()

    @Slot()
    def hand_over(self) -> None:
        """The papers: diagram, template, cards and record."""
        if self._papers is None:
            # imported here: the sheet is needed once a day, the window in a second
            from app.handover.papers_page import PapersPage

            self._papers = PapersPage(self.session, self)
            self._papers.back_wanted.connect(self.show_drawing)
            self._pages.addWidget(self._papers)
        self._pages.setCurrentWidget(self._papers)

    @Slot(str)
    def show_paper(self, key: str) -> None:
        """The papers, open at one."""
        self.hand_over()
        if self._papers is not None and self._papers.papers is not None:
            self._papers.papers.open_at(key)

    @Slot()
    def import_outline(self, path: Path | None = None) -> None:
        """The preview of a customer's drawing, on `path` or to choose one."""
        # imported here: drawings are read now and then, the window opens every time
        from app.outline.import_dialog import ImportDialog

        dialog = ImportDialog(self.session, path if isinstance(path, Path) else None, self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()

    @Slot()
    def compare(self) -> None:
        """Show all candidates side by side in place of the drawing."""
        if self._comparison is None:
            # imported here, as every page but the first: the window is up sooner
            from app.sidebyside.page import SideBySide

            self._comparison = SideBySide(self.session, self)
            self._comparison.back_wanted.connect(self.show_drawing)
            self._pages.addWidget(self._comparison)
        self._comparison.refresh()
        self._pages.setCurrentWidget(self._comparison)
        self._comparison.setFocus()

    @Slot()
    def show_map(self) -> None:
        """The map of placements in place of the drawing."""
        self._study(0)

    @Slot()
    def find_best(self) -> None:
        """The search in place of the drawing."""
        self._study(1)

    @Slot()
    def show_tolerance(self) -> None:
        """What tolerances do, in place of the drawing."""
        self._study(2)

    @Slot()
    def show_loop(self) -> None:
        """The window of an active loop."""
        from app.results.loop_window import LoopWindow  # loaded when it is first opened

        if self._loop is None:
            self._loop = LoopWindow(self.session, self)
        self._loop.show()
        self._loop.raise_()

    @Slot()
    def show_studies(self) -> None:
        """The study looked at last."""
        self._study(self._studies.tabs.currentIndex() if self._studies is not None else 0)

    def _study(self, tab: int) -> None:
        if self._studies is None:
            from app.studies.page import StudyPage  # loaded with the first study, not with the window

            self._studies = StudyPage(self.session, self)
            self._studies.back_wanted.connect(self.show_drawing)
            self._studies.said.connect(self.document.said)
            self._pages.addWidget(self._studies)
        self._pages.setCurrentWidget(self._studies)
        self._studies.show_tab(tab)

    @Slot(str)
    def go_to_input(self, path: str) -> None:
        """Bring the field of a path into view with the keyboard on it, wherever the inputs are."""
        self._show_inputs()
        self.input_side.open_over()
        self.inputs.go_to(path)

    @Slot()
    def toggle_inputs(self) -> None:
        """Fold the inputs away or bring them back."""
        self._show_inputs()
        self.input_side.toggle()

    @property
    def _made_pages(self) -> dict[str, Page]:
        """The pages beside the drawing that were asked for so far."""
        pages: dict[str, Page | None] = {
            "compare": self._comparison, "studies": self._studies, "circuit": self._circuit,
            "measured": self._measured, "papers": self._papers, "show": self._show,
        }  # fmt: skip
        return {name: page for name, page in pages.items() if page is not None}

    def _page_shown(self) -> Page:
        """The page that stands in place of the drawing."""
        return self._made_pages[self._name_shown]

    @property
    def _name_shown(self) -> str:
        """The name of the page that is seen; the circuit stands between the inputs and the answer, as the drawing does."""
        shown = self._pages.currentWidget()
        seen = self._centre.currentWidget() if shown is self.input_side else shown
        return next((name for name, page in self._made_pages.items() if page is seen), "drawing")

    @Slot()
    def _on_page(self) -> None:
        """Mark in the row of pages which one is seen."""
        name = self._name_shown
        self.bar.pages.show_page("drawing" if name == "show" else name)  # the show is one of the drawing
        self._status.show_hint(on_drawing=name == "drawing")
        self._fit_circuit()

    def _fit_circuit(self) -> None:
        """What belongs beside the circuit takes the place of the results; in a narrow window all is one column."""
        circuit = self._circuit
        on_circuit, stacked = self._name_shown == "circuit", self.width() < STACKED
        if circuit is None:
            return
        if on_circuit and stacked:
            self.answers.spread_head(True)
            circuit.stack(self.answers.head)
            self.answers.head.show()  # where another use than damping had put it away
            self.answers.hide()
        else:
            self.answers.show_below(circuit.side if on_circuit else None)
            self.answers.show()

    @Slot()
    def show_drawing(self) -> None:
        self._centre.setCurrentWidget(self.canvas)
        self._pages.setCurrentIndex(DRAWING)
        self.canvas.setFocus()

    def _show_inputs(self) -> None:
        """The page seen, where it has the inputs beside it; else the drawing."""
        if self._pages.currentIndex() != DRAWING:
            self.show_drawing()

    @Slot()
    def add_patch(self) -> None:
        """One more patch on the active candidate, selected."""
        self.show_drawing()
        before = {patch.id for patch in self.session.project.candidate().patches}
        project = edit.add_patch(self.session.project, self.session.project.active)
        self.session.apply("Add patch", project)
        for patch in self.session.project.candidate().patches:
            if patch.id not in before:
                self.session.select_patch(patch.id)

    @Slot()
    def add_tuned_mass(self) -> None:
        self.show_drawing()
        self.inputs.absorber.set_open(True)
        self.inputs.absorber.add_absorber()

    @Slot()
    def delete_patch(self) -> None:
        patch = self.session.selected_patch
        if patch is not None:
            project = self.session.project
            self.session.apply(f"Delete {patch}", edit.without_patch(project, project.active, patch))

    @Slot()
    def copy_picture(self) -> None:
        """The drawing, or the comparison when that is shown, on the clipboard."""
        if self._name_shown == "drawing":
            self.canvas.copy_picture()
        else:
            QGuiApplication.clipboard().setPixmap(self._page_shown().picture())
        self.document.said.emit("Picture copied")

    @Slot()
    def copy_table(self) -> None:
        """The results, or the comparison when that is shown, as a table on the clipboard."""
        if self._name_shown == "drawing":
            self.answers.copy_table()
        else:
            self._page_shown().copy_table()
        self.document.said.emit("Table copied")

    @Slot()
    def rename_candidate(self) -> None:
        self.bar.start_rename(self.session.project.active)

    @Slot()
    def duplicate_candidate(self) -> None:
        self.bar.duplicate(self.session.project.active)

    @Slot()
    def delete_candidate(self) -> None:
        self.bar.delete(self.session.project.active)

    @Slot()
    def next_candidate(self) -> None:
        self._step_candidate(1)

    @Slot()
    def previous_candidate(self) -> None:
        self._step_candidate(-1)

    def _step_candidate(self, step: int) -> None:
        letters = [candidate.id for candidate in self.session.project.candidates]
        place = letters.index(self.session.project.active)
        self.bar.switch_to(letters[(place + step) % len(letters)])

    @Slot(bool)
    def show_strip(self, shown: bool) -> None:
        self.settings.strip_shown = shown
        self.session.want_strip(shown)

    def to_best_place(self, mode: int) -> None:
        """Move the selected patch to where the position strip is highest for `mode`."""
        from app.shell.best_place import to_best_place

        patch = self.session.selected_patch
        said = "" if patch is None else to_best_place(self.session, patch, mode)
        if said:
            self.session.said.emit(said)

    def set_scheme(self, scheme: Scheme) -> None:
        """Light, dark, or as the system has it; remembered."""
        from app.shell.start import chosen_look

        self.settings.scheme = scheme
        look.set_look(chosen_look(scheme))

    @Slot()
    def _on_system_scheme(self) -> None:
        if self.settings.scheme == "system":
            look.set_look(look.system_look())

    @Slot(bool)
    def show_full_screen(self, full: bool) -> None:
        if full:
            self.showFullScreen()
        else:
            self.showNormal()

    @Slot()
    def show_help(self) -> None:
        self._help.show_page("job")

    @Slot()
    def show_keys(self) -> None:
        self._help.show_page("keys")

    @Slot()
    def show_model(self) -> None:
        self._help.show_page("model")

    @Slot()
    def show_words(self) -> None:
        self._help.show_page("words")

    @Slot()
    def show_cautions(self) -> None:
        self._help.show_page("cautions")

    @Slot()
    def show_about(self) -> None:
        self._help.show_about()

    # ---- Qt ------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space and not event.modifiers() and self._name_shown == "drawing":
            self.show_ring_down()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.bar.fold(density_for(self.width(), self.height()))
        self.input_side.set_narrow(is_narrow(self.width()))
        self._fit_circuit()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _dropped_files(event):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        paths = _dropped_files(event)
        if not paths:
            return
        # imported here: files are dropped now and then, the window opens every time
        from core.outline.readers import can_import

        event.acceptProposedAction()
        if self._are_measured(paths):
            self.show_measured()
            if self._measured is not None:
                self._measured.add_files(paths)
        elif can_import(paths[0]):
            self.import_outline(paths[0])
        else:
            self.document.open_path(paths[0])

    def _are_measured(self, paths: tuple[Path, ...]) -> bool:
        """Whether a drop is of measurements: a table dropped alone may be an outline, which is short."""
        from core.measured.readers import can_read, looks_measured

        if not all(map(can_read, paths)):
            return False
        on_page = self._measured is not None and self._pages.currentWidget() is self._measured
        return on_page or len(paths) > 1 or looks_measured(paths[0])

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self._leaving:
            self.document.guard(self._leave)  # leaves at once where nothing is unsaved
        if not self._leaving:
            event.ignore()
            return
        if self.isVisible():  # a window that was never laid out (the self-test) has no sizes worth remembering
            self.settings.set_bytes("geometry", self.saveGeometry())
            self.settings.set_bytes("splitter", self._splitter.saveState())
        self.settings.sync()
        self.document.recovery.close()
        self.session.close()
        event.accept()

    def _leave(self) -> None:
        self._leaving = True
        self.close()


def _line(parent: QWidget) -> QLabel:
    line = QLabel(parent)
    line.setObjectName("ruleLine")
    line.setFixedHeight(1)
    return line


def _dropped_files(event: QDropEvent | QDragEnterEvent) -> tuple[Path, ...]:
    """The local files of a drop; what they are is told when they are opened."""
    return tuple(Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile())
