"""The row of candidates on top: switch, keep the present one, rename, duplicate, delete."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPoint, QSize, Qt, Signal, Slot
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractButton,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMenu,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QWidget,
)

from app.fields.plain import plain
from app.theme import look
from core.project import edit

if TYPE_CHECKING:
    from app.shell.session import Session

LONGEST_NAME = 60
_OWN_KEYS = (Qt.Key.Key_F2, Qt.Key.Key_Delete)


class CandidateButton(QAbstractButton):
    """A candidate's letter in its colour and its name."""

    key_pressed = Signal(str, int)
    rename_wanted = Signal(str)

    def __init__(self, letter: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.letter = letter
        self.setObjectName(f"candidate{letter}")
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        look.look_changed.connect(self.update)

    def show_name(self, name: str, active: bool) -> None:
        self.setChecked(active)
        self.setText(name)
        self.setAccessibleName(f"Candidate {self.letter}, {name}")
        self.setToolTip(plain(f"{self.letter} {name}\nF2 or a double click renames, Ctrl+D copies the active one, Delete deletes"))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        self.setFont(look.font(12, bold=True))
        width = self.fontMetrics().horizontalAdvance(self.text()) if self.text() else 0
        return QSize(min(width, 190) + (48 if width else 40), 32)

    def paintEvent(self, event: object) -> None:
        now = look.current()
        colour = now.candidate(self.letter)
        box = self.rect().toRectF().adjusted(1, 1, -1, -1)
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            active = self.isChecked()
            p.setPen(look.pen(colour if active else now.line, 2.0 if active else 1.0, self))
            p.setBrush(look.faded(colour, 0.12) if active else now.field)
            p.drawRoundedRect(box, 4, 4)
            p.setPen(Qt.PenStyle.NoPen)
            p.setBrush(colour)
            badge = box.adjusted(7, 6, 0, -6)
            badge.setWidth(badge.height())
            p.drawEllipse(badge)
            p.setPen(now.panel)
            p.setFont(look.font(11, bold=True))
            p.drawText(badge, Qt.AlignmentFlag.AlignCenter, self.letter)
            p.setPen(now.text)
            p.setFont(look.font(12, bold=active))
            room = box.adjusted(32, 0, -8, 0)
            text = p.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, int(room.width()))
            p.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)
            if self.hasFocus():
                p.setBrush(Qt.BrushStyle.NoBrush)
                p.setPen(look.pen(now.accent, 1.0, self, (2.0, 2.0)))
                p.drawRoundedRect(box.adjusted(2, 2, -2, -2), 3, 3)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self.rename_wanted.emit(self.letter)

    def event(self, event: QEvent) -> bool:
        """Keep F2 and Delete for the focused candidate, though the menu has them for the active one."""
        if event.type() == QEvent.Type.ShortcutOverride and event.key() in _OWN_KEYS:
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in _OWN_KEYS:
            self.key_pressed.emit(self.letter, int(event.key()))
            return
        super().keyPressEvent(event)


class _NameEdit(QLineEdit):
    """Types a new name over the button; Enter or leaving keeps it, Escape drops it."""

    done = Signal(str, str)

    def __init__(self, button: CandidateButton) -> None:
        super().__init__(button.text(), button.parentWidget())
        self.setObjectName("candidateName")
        self.setAccessibleName(f"New name of candidate {button.letter}")
        self.setMaxLength(LONGEST_NAME)
        self._letter, self._cancelled = button.letter, False
        self.setGeometry(button.geometry().adjusted(0, 0, max(0, 140 - button.width()), 0))
        self.editingFinished.connect(self._finish)
        self.selectAll()
        self.show()
        self.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self._close()
            return
        super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self._finish()

    @Slot()
    def _finish(self) -> None:
        if not self._cancelled:
            text = self.text().strip()
            self._close()
            self.done.emit(self._letter, text)

    def drop(self, letter: str) -> None:
        """Give the typing up where that candidate is gone."""
        if letter == self._letter:
            self._close()

    def _close(self) -> None:
        self._cancelled = True
        self.hide()
        self.deleteLater()


class CandidateBar(QFrame):
    """Candidates of the session's project; every change is one undo step."""

    compare_wanted = Signal()
    hand_over_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("candidateBar")
        self._session = session
        self._buttons: dict[str, CandidateButton] = {}
        self._row = QWidget(self)
        self._row_layout = QHBoxLayout(self._row)
        self._row_layout.setContentsMargins(0, 0, 0, 0)
        self._row_layout.setSpacing(6)
        self._row_layout.addStretch(1)
        self._scroll = QScrollArea(self)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # Tab goes to the candidates themselves
        self._scroll.setWidget(self._row)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFixedHeight(34)
        self._row.setAutoFillBackground(False)
        self._scroll.viewport().setAutoFillBackground(False)
        self.keep_button = QPushButton("+ keep this placement", self, flat=True)
        self.keep_button.setObjectName("keepPlacement")
        self.compare_button = QPushButton("Compare side by side", self, flat=True)
        self.compare_button.setObjectName("compareButton")
        self.hand_over_button = QPushButton("Hand over …", self)
        self.hand_over_button.setObjectName("handOverButton")
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 7, 14, 7)
        layout.setSpacing(8)
        layout.addWidget(QLabel("Candidates", self))
        layout.addWidget(self._scroll, 1)
        for button in (self.keep_button, self.compare_button, self.hand_over_button):
            layout.addWidget(button)
        self.keep_button.clicked.connect(self.keep)
        self.compare_button.clicked.connect(self.compare_wanted)
        self.hand_over_button.clicked.connect(self.hand_over_wanted)
        session.project_changed.connect(self.refresh)
        self.refresh()

    # ---- commands ------------------------------------------------------------------------

    @Slot()
    def keep(self) -> None:
        """Copy the active candidate as the next letter and continue on the copy."""
        self._apply("Keep this placement", edit.keep_candidate(self._session.project))

    def switch_to(self, letter: str) -> None:
        if letter != self._session.project.active:
            self._apply(f"Show candidate {letter}", edit.set_active(self._session.project, letter))

    def rename(self, letter: str, name: str) -> None:
        known = any(candidate.id == letter for candidate in self._session.project.candidates)
        if name and known:  # it may have been undone away while the name was typed
            project = edit.rename_candidate(self._session.project, letter, name)
            self._apply(f"Rename candidate {letter}", project)

    def duplicate(self, letter: str) -> None:
        project = edit.duplicate_candidate(self._session.project, letter)
        self._apply(f"Duplicate candidate {letter}", project)

    def delete(self, letter: str) -> None:
        if len(self._session.project.candidates) > 1:
            self._apply(f"Delete candidate {letter}", edit.delete_candidate(self._session.project, letter))

    @Slot(str)
    def start_rename(self, letter: str) -> None:
        """Type the new name over the candidate's button."""
        self._scroll.ensureWidgetVisible(self._buttons[letter])
        edit_field = _NameEdit(self._buttons[letter])
        edit_field.done.connect(self.rename)

    def _apply(self, title: str, project: object) -> None:
        self._session.apply(title, project)  # type: ignore[arg-type]

    # ---- the row -------------------------------------------------------------------------

    @Slot()
    def refresh(self) -> None:
        project = self._session.project
        letters = [candidate.id for candidate in project.candidates]
        for letter in set(self._buttons) - set(letters):
            self._buttons.pop(letter).deleteLater()
            for field in self._row.findChildren(_NameEdit):
                field.drop(letter)
        for place, candidate in enumerate(project.candidates):
            button = self._buttons.get(candidate.id) or self._new_button(candidate.id)
            self._row_layout.insertWidget(place, button)
            button.show_name(candidate.name, candidate.id == project.active)
        now = project.active
        self.keep_button.setToolTip(
            f"{now} stays as it is now, and you go on in a copy of it (Ctrl+K). "
            f"Ctrl+D makes a copy too, but you stay in {now}."
        )
        self.compare_button.setEnabled(len(letters) > 1)
        self.compare_button.setToolTip(
            "" if len(letters) > 1 else "Keep a second placement first, then compare them here"
        )

    def _new_button(self, letter: str) -> CandidateButton:
        button = CandidateButton(letter, self._row)
        self._buttons[letter] = button
        button.clicked.connect(self._on_clicked)
        button.key_pressed.connect(self._on_key)
        button.rename_wanted.connect(self.start_rename)
        button.customContextMenuRequested.connect(self._on_menu)
        button.show()
        return button

    @Slot()
    def _on_clicked(self) -> None:
        button = self.sender()
        if isinstance(button, CandidateButton):
            button.setChecked(button.letter == self._session.project.active)
            self.switch_to(button.letter)

    @Slot(str, int)
    def _on_key(self, letter: str, key: int) -> None:
        if key == Qt.Key.Key_F2:
            self.start_rename(letter)
        else:
            self.delete(letter)

    @Slot(QPoint)
    def _on_menu(self, where: QPoint) -> None:
        button = self.sender()
        if not isinstance(button, CandidateButton):
            return
        menu = QMenu(self)
        rename = menu.addAction("Rename")
        duplicate = menu.addAction("Duplicate")
        delete = menu.addAction("Delete")
        delete.setEnabled(len(self._session.project.candidates) > 1)
        chosen = menu.exec(button.mapToGlobal(where))
        menu.deleteLater()
        if chosen is rename:
            self.start_rename(button.letter)
        elif chosen is duplicate:
            self.duplicate(button.letter)
        elif chosen is delete:
            self.delete(button.letter)
