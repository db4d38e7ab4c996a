"""The main window: inputs left, the drawing in the middle, results right, candidates on top."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, Slot
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QGuiApplication, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QMainWindow, QVBoxLayout, QWidget

from app.drawing.canvas import SpanCanvas
from app.panels.input_panel import InputPanel
from app.results.answer_side import AnswerSide
from app.shell.answer_watch import AnswerWatch
from app.shell.candidate_bar import CandidateBar
from app.shell.candidate_results import CandidateResults
from app.shell.document import Document
from app.shell.folding import density_for
from app.shell.menus import Menus
from app.shell.pages import LEAST_DRAWING, Pages
from app.shell.session import Session
from app.shell.settings import Scheme, Settings
from app.shell.status import StatusLine
from app.theme import look

if TYPE_CHECKING:
    from app.help.dialogs import HelpDialogs
    from app.results.loop_window import LoopWindow

ROOMY = 1400
"""From this width on the side panels are as wide as their texts like."""
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
        self._loop: LoopWindow | None = None
        self.answering = AnswerWatch(session, self)
        self.candidate_results = CandidateResults(session, self.answering, self)
        self.bar = CandidateBar(session, self.candidate_results, self)
        self.inputs = InputPanel(session, self)
        self.canvas = SpanCanvas(session, self)
        self.answers = AnswerSide(session, self.answering, self)
        self.results = self.answers.results
        self.pages = Pages(session, self.document, self.inputs, self.canvas, self.answers, self)
        body = QWidget(self)
        layout = QVBoxLayout(body)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.bar)
        self._rule = _line(body)
        layout.addWidget(self._rule)
        layout.addWidget(self.pages, 1)
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
        self._begin()

    # ---- building ------------------------------------------------------------------------

    def _connect(self) -> None:
        self.session.undo_stack.cleanChanged.connect(self._show_title)
        self.session.path_changed.connect(self._show_title)
        self.session.replaced.connect(self._begin)
        self.session.project_changed.connect(self._show_title)
        self.bar.pages.wanted.connect(self.pages.show_page)
        self.pages.turned.connect(self._on_page)
        self.answers.input_wanted.connect(self.go_to_input)
        self.inputs.loop_wanted.connect(self.show_loop)
        look.look_changed.connect(self._restyle)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._on_system_scheme)

    def _restore_sizes(self) -> None:
        if not self.restoreGeometry(self.settings.bytes("geometry")):
            screen = self.screen().availableGeometry()
            self.resize(min(1440, screen.width()), min(900, screen.height()))
        inputs, answers = (344, 408) if self.width() >= ROOMY else (312, 372)
        usual = (inputs, max(self.width() - inputs - answers, LEAST_DRAWING), answers)
        self.pages.input_side.arrange(self.settings.widths or usual, away=self.settings.inputs_away)

    @Slot()
    def _show_title(self) -> None:
        self.setWindowTitle(f"{self.document.name}[*] \N{EN DASH} Quietspan")
        self.setWindowModified(self.document.edited)

    @Slot()
    def _begin(self) -> None:
        """The keyboard is on the drawing, as its hint says: on the first link a space bar would keep a placement."""
        if self.pages.seen == "drawing":
            self.canvas.setFocus()

    @Slot()
    def _restyle(self) -> None:
        """Colours of the bars and lines, by palette: a style sheet on the window costs a twentieth of a second of
        the start, and something at every painting."""
        now = look.current()
        for widget, colour in ((self.bar, now.panel), (self._status, now.panel), (self._rule, now.line)):
            look.set_background(widget, colour)
        for index in range(self.pages.splitter.count()):
            look.set_background(self.pages.splitter.handle(index), now.line)

    # ---- commands ------------------------------------------------------------------------

    @Slot()
    def import_outline(self, path: Path | None = None) -> None:
        """The preview of a customer's drawing, on `path` or to choose one."""
        # imported here: drawings are read now and then, the window opens every time
        from app.outline.import_dialog import ImportDialog

        dialog = ImportDialog(self.session, path if isinstance(path, Path) else None, self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()

    @Slot()
    def show_loop(self) -> None:
        """The window of an active loop."""
        from app.results.loop_window import LoopWindow  # loaded when it is first opened

        if self._loop is None:
            self._loop = LoopWindow(self.session, self)
        self._loop.show()
        self._loop.raise_()

    @Slot(str)
    def go_to_input(self, path: str) -> None:
        """Bring the field of a path into view with the keyboard on it, wherever the inputs are."""
        self.pages.show_inputs()
        self.pages.input_side.open_over()
        self.inputs.go_to(path)

    @Slot()
    def toggle_inputs(self) -> None:
        """Fold the inputs away or bring them back."""
        self.pages.show_inputs()
        self.pages.input_side.toggle()

    @Slot(str)
    def _on_page(self, name: str) -> None:
        """Mark in the row of pages which one is seen; only the drawing shows damping against position."""
        self.bar.pages.show_page("drawing" if name == "show" else name)  # the show is one of the drawing
        self._status.show_hint(on_drawing=name == "drawing")
        self.session.see_strip(name == "drawing")

    @Slot()
    def add_patch(self) -> None:
        """One more patch on the active candidate, selected."""
        self.pages.show_drawing()
        self.inputs.patch.add_patch()

    @Slot()
    def add_tuned_mass(self) -> None:
        self.pages.show_drawing()
        self.inputs.absorber.set_open(True)
        self.inputs.absorber.add_absorber()

    @Slot()
    def delete_patch(self) -> None:
        self.inputs.patch.remove()

    @Slot()
    def copy_picture(self) -> None:
        """The drawing, or the comparison when that is shown, on the clipboard."""
        page = self.pages.page_seen
        if page is None:
            self.canvas.copy_picture()
        else:
            QGuiApplication.clipboard().setPixmap(page.picture())
        self.document.said.emit("Picture copied")

    @Slot()
    def copy_table(self) -> None:
        """The results, or the comparison when that is shown, as a table on the clipboard."""
        page = self.pages.page_seen
        if page is None:
            self.answers.copy_table()
        else:
            page.copy_table()
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
        """Without the frame of a window, or back to what it was, maximised where it was so."""
        state, whole = self.windowState(), Qt.WindowState.WindowFullScreen
        self.setWindowState(state | whole if full else state & ~whole)

    @cached_property
    def _help(self) -> HelpDialogs:
        from app.help.dialogs import HelpDialogs  # when a person first asks

        return HelpDialogs(self)

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
        if event.key() == Qt.Key.Key_Space and not event.modifiers() and self.pages.seen == "drawing":
            self.pages.show_ring_down()
        else:
            super().keyPressEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        """Also where the window came up in full screen, or the desktop made it so, its menu entry says so."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.WindowStateChange:
            self.menus.actions["fullScreen"].setChecked(self.isFullScreen())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.bar.fold(density_for(self.width(), self.height()))
        self.pages.fit(self.width())

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
            self.pages.show_measured().add_files(paths)
        elif can_import(paths[0]):
            self.import_outline(paths[0])
        else:
            self.document.open_path(paths[0])

    def _are_measured(self, paths: tuple[Path, ...]) -> bool:
        """Whether a drop is of measurements: a table dropped alone may be an outline, which is short."""
        from core.measured.readers import can_read, looks_measured

        if not all(map(can_read, paths)):
            return False
        return self.pages.seen == "measured" or len(paths) > 1 or looks_measured(paths[0])

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self._leaving:
            self.document.guard(self._leave)  # leaves at once where nothing is unsaved
        if not self._leaving:
            event.ignore()
            return
        if self.isVisible():  # a window that was never laid out (the self-test) has no sizes worth remembering
            self.settings.set_bytes("geometry", self.saveGeometry())
            self.settings.widths = self.pages.input_side.widths
            self.settings.inputs_away = self.pages.input_side.is_away
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
