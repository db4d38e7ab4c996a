"""The status bar: saved or edited, the keys that help now, how long the numbers took."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QStatusBar, QWidget

from app.fields.plain import PlainLabel, plain

if TYPE_CHECKING:
    from app.shell.document import Document
    from app.shell.session import Session

SAID_MS = 5000
WAITING = "waiting for a layout that can be predicted"
HINT = "Drag the patch, or use ← → (1 mm), Shift for 10 mm, Alt for 0.1 mm"
HINTS = (HINT, "Drag the patch, or use ← → (Shift, Alt)", "Drag, or use ← →", "")
"""From the longest wording to none, for the room there is."""
HINTS_EMPTY = ("Ctrl+Shift+N adds a patch; then drag it, or use ← →", "Ctrl+Shift+N adds a patch", "")
"""The same where no patch lies on the part."""
HINT_AWAY = "Esc goes back to the drawing"


class StatusLine(QStatusBar):
    """Three texts that never move each other."""

    def __init__(self, session: Session, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._document = session, document
        self.setSizeGripEnabled(False)
        self._file, self._hint, self._time = (PlainLabel("", self) for _ in range(3))
        self._file.setObjectName("fileState")
        self._time.setObjectName("predictTime")
        self._on_drawing, self._is_empty = True, False
        self._hint.setText(HINT)
        for label in (self._file, self._hint):  # what has no room must not widen the window
            label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._hint.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._time.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        # A label of one size lets its text change without a new layout of the window.
        metrics = self._time.fontMetrics()
        self._time.setFixedSize(metrics.horizontalAdvance(f"{WAITING}    "), metrics.height() + 4)
        for label, stretch in ((self._file, 2), (self._hint, 5), (self._time, 0)):
            self.addWidget(label, stretch)
        self._fade = QTimer(self, singleShot=True, interval=SAID_MS)
        self._fade.timeout.connect(self.show_file)
        session.undo_stack.cleanChanged.connect(self.show_file)
        session.path_changed.connect(self.show_file)
        session.project_changed.connect(self._follow_patches)
        session.prediction_changed.connect(self.show_time)
        session.hand_rests.connect(self.show_time)
        document.said.connect(self.say)
        document.saver.began.connect(self.show_file)
        document.saver.ended.connect(self._on_save_ended)
        document.recovery.kept_changed.connect(self.show_file)
        session.said.connect(self.say)
        self._follow_patches()
        self.show_file()
        self.show_time()

    @Slot()
    def _follow_patches(self) -> None:
        is_empty = not self._session.project.candidate().patches
        if is_empty != self._is_empty:
            self._is_empty = is_empty
            self._fit_hint()

    def show_hint(self, *, on_drawing: bool) -> None:
        """The keys that help on the page that is shown."""
        self._on_drawing = on_drawing
        self._fit_hint()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_hint()

    def _fit_hint(self) -> None:
        metrics = self._hint.fontMetrics()
        room = (self.width() - self._time.width()) * 5 // 7 - 12
        fitting = (hint for hint in (HINTS_EMPTY if self._is_empty else HINTS) if metrics.horizontalAdvance(hint) <= room)
        self._hint.setText(next(fitting, "") if self._on_drawing else HINT_AWAY)

    @Slot(str)
    def say(self, text: str) -> None:
        """A short word in place of the file's state, for a few seconds; a longer one takes the room of the hint."""
        self._file.setText(f"  {text}")
        self._hint.setVisible(self._file.fontMetrics().horizontalAdvance(self._file.text()) <= self._file_room())
        self._file.setToolTip(plain(text))
        self._fade.start()

    def _file_room(self) -> int:
        """Pixels of the file's state while the hint stands beside it."""
        return (self.width() - self._time.width()) * 2 // 7 - 12

    @Slot()
    def show_file(self) -> None:
        self._fade.stop()
        self._hint.show()
        self._file.setToolTip("")
        if self._document.saver.busy:
            text = "Saving …"
        elif self._document.edited:
            kept = self._document.recovery.works
            text = "Edited, kept for recovery" if kept else "Edited, NOT kept for recovery: save it"
        else:
            text = "Saved" if self._session.path else "Not saved to a file"
        self._file.setText(f"  {text}")

    @Slot()
    def _on_save_ended(self) -> None:
        """What was said of the save stays for its seconds."""
        if not self._fade.isActive():
            self.show_file()

    @Slot()
    def show_time(self) -> None:
        if self._session.stale:
            text = WAITING
        elif not self._session.tells_loads:
            return  # a frame of a moving hand: numbers that fly by cost it a painting of the bar
        else:
            text = f"recomputed in {1e3 * self._session.predict_seconds:.1f} ms"
        self._time.setText(f"{text}  ")
