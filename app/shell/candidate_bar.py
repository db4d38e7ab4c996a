"""The row on top: candidates to switch, keep, rename, duplicate, delete; and the pages at its right."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QEvent, QPoint, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QFocusEvent, QFontMetrics, QKeyEvent, QMouseEvent, QPainter, QShowEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMenu,
    QScrollArea,
    QSizePolicy,
    QWidget,
)

from app.fields.link import Link
from app.fields.plain import plain
from app.shell.page_row import PageButton, PageRow
from app.theme import look
from core.project import edit

if TYPE_CHECKING:
    from app.shell.candidate_results import CandidateResult, CandidateResults
    from app.shell.session import Session

LONGEST_NAME = 60
Density = Literal["full", "names", "letters"]
KEEP, KEEP_BRIEF = "+ keep this placement", "+"
HEIGHTS: dict[Density, int] = {"full": 44, "names": 34, "letters": 34}
_OWN_KEYS = (Qt.Key.Key_F2, Qt.Key.Key_Delete)


class CandidateButton(QAbstractButton):
    """A candidate's letter in its colour and its name."""

    key_pressed = Signal(str, int)
    rename_wanted = Signal(str)

    def __init__(self, letter: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.letter = letter
        self._result: CandidateResult | None = None
        self._density: Density = "full"
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
        self._tell()

    def show_result(self, result: CandidateResult | None) -> None:
        """What it gives of what is asked for; None where that is not known."""
        if result != self._result:
            self._result = result
            self._tell()

    def fold(self, density: Density) -> None:
        """Drop the second line, then the name of a candidate that is not shown."""
        if density != self._density:
            self._density = density
            self._tell()

    @property
    def shows_name(self) -> bool:
        return bool(self.text()) and (self._density != "letters" or self.isChecked())

    def _tell(self) -> None:
        told = self._result
        state = ""
        if told is not None:
            asked = f", {'not judged' if told.met is None else 'met' if told.met else 'missed'}" if told.asked else ""
            state = f"\n{told.line}{asked}"
        about = f"{self.letter} {self.text()}{state}\nF2 or a double click renames, Ctrl+D copies the active one, Delete deletes"
        self.setToolTip(plain(about))
        self.setAccessibleDescription(state.strip())
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        self.setFont(look.font(12, bold=True))
        wide = 38
        if self.shows_name:
            wide = 46 + min(self.fontMetrics().horizontalAdvance(self.text()), 190)
        if self._density == "full":
            if self._result is not None:
                second = QFontMetrics(look.font(11)).horizontalAdvance(self._result.line) + 46 + 18
                wide = max(wide, min(second, 250))
        elif self._mark():
            wide += 18
        return QSize(wide, HEIGHTS[self._density])

    def _second(self, metrics: QFontMetrics, room: int) -> str:
        """Circuit and result; where both have no room the circuit is cut, never the result."""
        told = self._result
        if told is None or metrics.horizontalAdvance(told.line) <= room:
            return "" if told is None else told.line
        rest = f" · {told.result}" if told.result else ""
        left = room - metrics.horizontalAdvance(rest)
        return metrics.elidedText(told.circuit, Qt.TextElideMode.ElideRight, max(left, 0)) + rest

    def _mark(self) -> str:
        told = self._result
        return "" if told is None or not told.asked or told.met is None else "✓" if told.met else "✕"

    def paintEvent(self, event: object) -> None:
        now = look.current()
        colour = now.candidate(self.letter)
        box = self.rect().toRectF().adjusted(1, 1, -1, -1)
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            active = self.isChecked()
            p.setPen(look.pen(colour if active else now.line, 2.0 if active else 1.0, self))
            p.setBrush(look.faded(colour, 0.12) if active else now.field)
            p.drawRoundedRect(box, 4, 4)
            p.setPen(Qt.PenStyle.NoPen)
            p.setBrush(colour)
            badge = QRectF(box.left() + 7, box.center().y() - 10, 20, 20)
            p.drawEllipse(badge)
            p.setPen(now.panel)
            p.setFont(look.font(11, bold=True))
            p.drawText(badge, Qt.AlignmentFlag.AlignCenter, self.letter)
            room = box.adjusted(34, 2, -7, -2)
            mark, two = self._mark(), self._density == "full" and self._result is not None
            mark_colour = now.good if mark == "✓" else now.danger
            if mark and not two:
                p.setPen(mark_colour)
                p.setFont(look.font(12, bold=True))
                p.drawText(room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, mark)
                room.setRight(room.right() - 16)
            if self.shows_name:
                name_room = QRectF(room.left(), room.top(), room.width(), room.height() / 2) if two else room
                p.setPen(now.text)
                p.setFont(look.font(12, bold=active))
                text = p.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, int(name_room.width()))
                p.drawText(name_room, left, text)
            if two:
                second = QRectF(room.left(), room.center().y(), room.width(), room.height() / 2)
                p.setFont(look.font(11))
                if mark:
                    p.setPen(mark_colour)
                    p.drawText(second, left, mark)
                    second.setLeft(second.left() + 14)
                p.setPen(now.faint_text)
                p.drawText(second, left, self._second(p.fontMetrics(), int(second.width())))
            if self.hasFocus():
                p.setBrush(Qt.BrushStyle.NoBrush)
                p.setPen(look.pen(now.accent, 1.0, self, (2.0, 2.0)))
                p.drawRoundedRect(box.adjusted(2, 2, -2, -2), 3, 3)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self.rename_wanted.emit(self.letter)

    def event(self, event: QEvent) -> bool:
        """Keep F2 and Delete for the focused candidate, though the menu has them for the active one."""
        override = event.type() == QEvent.Type.ShortcutOverride
        if override and isinstance(event, QKeyEvent) and event.key() in _OWN_KEYS:
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

    def __init__(
        self, session: Session, results: CandidateResults | None = None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("candidateBar")
        self._session, self._results = session, results
        self._density: Density = "full"
        self._buttons: dict[str, CandidateButton] = {}
        self._tabbed: tuple[str, ...] = ()
        """Candidates that the Tab key goes along as they stand."""
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
        self._scroll.setFixedHeight(HEIGHTS["full"] + 2)
        self._row.setAutoFillBackground(False)
        self._scroll.viewport().setAutoFillBackground(False)
        self.keep_button = Link(KEEP, self)
        self.keep_button.setObjectName("keepPlacement")
        self.pages = PageRow(self)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 7, 14, 7)
        layout.setSpacing(8)
        self._title = QLabel("Candidates", self)
        layout.addWidget(self._title)
        layout.addWidget(self._scroll, 1)
        layout.addWidget(self.keep_button)
        layout.addWidget(self.pages)
        self.keep_button.clicked.connect(self.keep)
        session.project_changed.connect(self.refresh)
        if results is not None:
            results.changed.connect(self._show_results)
        self.refresh()

    def fold(self, density: Density) -> None:
        """Take less room: without second lines, or with only the letters of those not shown."""
        if density == self._density:
            return
        self._density = density
        self._scroll.setFixedHeight(HEIGHTS[density] + 2)
        self._title.setVisible(density == "full")
        self.keep_button.setText(KEEP if density == "full" else KEEP_BRIEF)
        self.keep_button.setAccessibleName(KEEP.removeprefix("+ "))
        for button in self._buttons.values():
            button.fold(density)

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
        self._order_tabs()
        now = project.active
        self.keep_button.setToolTip(plain(
            f"{now} stays as it is now, and you go on in a copy of it (Ctrl+K). "
            f"Ctrl+D makes a copy too, but you stay in {now}."
        ))
        self._show_results()

    @Slot()
    def _show_results(self) -> None:
        for letter, button in self._buttons.items():
            button.show_result(None if self._results is None else self._results.of(letter))

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._tabbed = ()
        self._order_tabs()

    def _order_tabs(self) -> None:
        """The Tab key goes along the candidates, then to keeping one, then to the pages; Qt goes by age."""
        letters = tuple(candidate.id for candidate in self._session.project.candidates)
        if letters == self._tabbed or not self.isVisible():
            return
        self._tabbed = letters
        along = [*(self._buttons[letter] for letter in letters), self.keep_button, *self.pages.findChildren(PageButton)]
        for before, after in pairwise(along):
            QWidget.setTabOrder(before, after)

    def _new_button(self, letter: str) -> CandidateButton:
        button = CandidateButton(letter, self._row)
        self._buttons[letter] = button
        button.fold(self._density)
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
