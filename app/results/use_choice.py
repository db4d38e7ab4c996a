"""Which of its three uses the patch is looked at in: damp, drive or sense. It stands above the results."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QHBoxLayout, QSizePolicy, QWidget

from app.theme import look
from core.project.edit import with_view

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.project.use import Use

USES: tuple[tuple[Use, str, str], ...] = (
    ("damp", "Damp", "What a circuit takes out of the vibration"),
    ("drive", "Drive", "What a voltage on the leads moves"),
    ("sense", "Sense", "What voltage a motion gives"),
)
"""Words, titles and what they show, in the order of their keys Alt+1, 2, 3."""
HEIGHT = 26


def choose(session: Session, use: Use, _checked: bool = False) -> None:
    """Look at the layout in that use; a step that can be undone, as every change of the view."""
    if session.project.view.use != use:
        title = next(title for word, title, _ in USES if word == use)
        session.apply(f"Look at it in {title}", with_view(session.project, use=use))


class UseButton(QAbstractButton):
    """One part of the bar; the chosen one is filled."""

    def __init__(self, use: Use, title: str, tip: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.use: Use = use
        self.setObjectName(f"use-{use}")
        self.setText(title)
        self.setAccessibleName(title)
        self.setToolTip(tip)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        look.look_changed.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(80, HEIGHT)

    def paintEvent(self, event: object) -> None:
        now, box = look.current(), QRectF(self.rect())
        on = self.isChecked()
        with QPainter(self) as p:
            p.fillRect(box, now.accent if on else now.panel)
            p.setPen(look.pen(now.strong_line, 1.0, self))
            p.drawRect(box.adjusted(0.5, 0.5, -0.5, -0.5))
            p.setFont(look.font(12, bold=on))
            p.setPen(now.accent_text if on else now.accent if self.underMouse() else now.text)
            p.drawText(box, Qt.AlignmentFlag.AlignCenter, self.text())
            if self.hasFocus():
                p.setPen(look.pen(now.accent_text if on else now.accent, 1.0, self, (2.0, 2.0)))
                p.drawRect(box.adjusted(3, 3, -4, -4))


class UseChoice(QWidget):
    """Damp, Drive, Sense side by side; follows the session. `changed` with the use after it was shown."""

    changed = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("useChoice")
        self.setAccessibleName("Use of the patch")
        self._session = session
        self._shown: Use = "damp"
        self._group = QButtonGroup(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        self._buttons: dict[Use, UseButton] = {}
        for place, (use, title, tip) in enumerate(USES, 1):
            button = UseButton(use, title, f"{tip} (Alt+{place})", self)
            self._buttons[use] = button
            self._group.addButton(button)
            row.addWidget(button)
            button.clicked.connect(self._on_clicked)
        self._buttons["damp"].setChecked(True)
        session.project_changed.connect(self.refresh)
        self.refresh()

    def button(self, use: Use) -> UseButton:
        return self._buttons[use]

    @property
    def shown(self) -> Use:
        return self._shown

    @Slot()
    def refresh(self) -> None:
        use = self._session.project.view.use
        self._buttons[use].setChecked(True)
        if use != self._shown:
            self._shown = use
            self.changed.emit(use)

    @Slot()
    def _on_clicked(self) -> None:
        button = self.sender()
        if isinstance(button, UseButton):
            choose(self._session, button.use)
