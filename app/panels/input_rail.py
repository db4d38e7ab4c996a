"""The inputs as a rail where the window is narrow: it names the sections and opens them over the page."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QCoreApplication, QEvent, QObject, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QFrame,
    QHBoxLayout,
    QSizePolicy,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.drawing.ink import fitting
from app.panels.input_panel import InputPanel
from app.panels.section import InputSection
from app.theme import look

WIDE = 38
OPEN = 332
EDGE, LEAST_EDGE = 18, 8
"""Room beside a name, together: as it is wanted, and where the window is low."""
SHORT = {"Tuned mass": "Mass", "Origins and notes": "Notes", "inputs ▾": "▾"}
"""Names in a low window that are not their own first word."""


class _RailButton(QAbstractButton):
    """A name written upwards, or the arrow that opens the inputs."""

    def __init__(self, text: str, about: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setText(text)
        self._wordings = text, SHORT.get(text, text.split()[0])
        self.setAccessibleName(about)
        self.setToolTip(f"{about} (F4)")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Maximum)
        look.look_changed.connect(self.update)

    def sizeHint(self) -> QSize:
        self.setFont(look.font(12))
        return QSize(WIDE - 2, self.fontMetrics().horizontalAdvance(self.text()) + EDGE)

    def minimumSizeHint(self) -> QSize:
        return QSize(WIDE - 2, self.fontMetrics().horizontalAdvance(self._wordings[-1]) + LEAST_EDGE)

    def shown_text(self) -> str:
        """The whole name where it has room, else one word."""
        return fitting(look.font(12), self._wordings, self.height() - LEAST_EDGE)

    def paintEvent(self, event: QPaintEvent) -> None:
        now, box = look.current(), QRectF(self.rect())
        with QPainter(self) as p:
            p.setFont(look.font(12))
            p.setPen(now.accent if self.underMouse() or self.hasFocus() else now.text)
            p.translate(box.center())
            p.rotate(-90.0)
            across = QRectF(-box.height() / 2, -box.width() / 2, box.height(), box.width())
            p.drawText(across, Qt.AlignmentFlag.AlignCenter, self.shown_text())
            p.setPen(look.pen(now.line, 1.0, self))
            left = -box.height() / 2 + 0.5
            p.drawLine(QPointF(left, -8.0), QPointF(left, 8.0))


class InputSide(QWidget):
    """The page of the drawing: inputs beside it where there is room, else behind a rail.

    `splitter` holds inputs, drawing and answers. F4 folds the inputs away and back; where they are a
    rail it opens them over the page until F4, Escape or a click elsewhere.
    """

    folded = Signal()

    def __init__(self, inputs: InputPanel, splitter: QSplitter, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("drawingPage")
        self._inputs, self._splitter = inputs, splitter
        self._narrow = self._away = False
        self._sizes: list[int] = []
        self.rail = self._make_rail()
        self._over = QFrame(self)
        self._over.setObjectName("inputsOver")
        self._over.setAutoFillBackground(True)
        self._over.setFrameShape(QFrame.Shape.Box)
        self._over_layout = QVBoxLayout(self._over)
        self._over_layout.setContentsMargins(0, 0, 0, 0)
        self._over.hide()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.rail)
        row.addWidget(splitter, 1)
        self.rail.hide()

    def _make_rail(self) -> QFrame:
        rail = QFrame(self)
        rail.setObjectName("inputRail")
        rail.setFixedWidth(WIDE)
        column = QVBoxLayout(rail)
        column.setContentsMargins(0, 6, 0, 6)
        column.setSpacing(2)
        opener = _RailButton("inputs ▾", "Open the inputs", rail)
        opener.setObjectName("railOpen")
        opener.clicked.connect(self.toggle)
        column.addWidget(opener)
        for section in self._inputs.sections:
            button = _RailButton(section.heading.text(), f"Open {section.heading.text()}", rail)
            button.setObjectName(f"rail {section.heading.text()}")
            button.clicked.connect(partial(self._open_at, section))
            column.addWidget(button)
        column.addStretch(1)
        return rail

    # ---- what the window calls -----------------------------------------------------------

    @property
    def is_rail(self) -> bool:
        return self._narrow or self._away

    @property
    def is_open(self) -> bool:
        """Whether the inputs lie over the page."""
        return not self._over.isHidden()

    @property
    def is_away(self) -> bool:
        """Whether a person has folded the inputs."""
        return self._away

    @property
    def widths(self) -> tuple[int, ...]:
        """Of inputs, drawing and answers beside each other, now or before the inputs became a rail; () before any."""
        return tuple(self._sizes if self.is_rail else self._splitter.sizes())

    def arrange(self, widths: tuple[int, ...], *, away: bool) -> None:
        """The widths beside each other, and whether the inputs are folded."""
        self._splitter.setSizes(list(widths))
        self._away = away
        self._follow()
        self._sizes = list(widths)

    def set_narrow(self, narrow: bool) -> None:
        """Make the inputs a rail, or put them back beside the drawing."""
        if narrow != self._narrow:
            self._narrow = narrow
            self._follow()

    @Slot()
    def toggle(self) -> None:
        """F4."""
        if self._narrow:
            if self.is_open:
                self.close_over()
            else:
                self.open_over()
        else:
            self._away = not self._away
            self._follow()

    @Slot()
    def open_over(self) -> None:
        """Show the inputs over the page, with the keyboard in them."""
        if not self.is_rail:
            return
        self._over.setGeometry(WIDE, 0, min(OPEN, self.width() - WIDE), self.height())
        self._listen(True)
        self._over.show()
        self._over.raise_()
        first = self._inputs.sections[0].heading
        first.setFocus(Qt.FocusReason.ShortcutFocusReason)

    @Slot()
    def close_over(self) -> None:
        if self.is_open:
            focus = self._over.focusWidget()
            if focus is not None:
                focus.clearFocus()  # what was typed is taken before its field goes out of sight
            self._hide_over()

    def _hide_over(self) -> None:
        self._listen(False)
        self._over.hide()

    def _listen(self, on: bool) -> None:
        """To presses anywhere: whoever takes one tells nobody else of it."""
        program = QCoreApplication.instance()
        if program is not None:
            program.removeEventFilter(self)
            if on:
                program.installEventFilter(self)

    # ---- inside --------------------------------------------------------------------------

    def _open_at(self, section: InputSection, _checked: bool = False) -> None:
        self._away = False if not self._narrow else self._away
        self._follow()
        self.open_over()
        self._inputs.bring_up(section)

    def _follow(self) -> None:
        inside = self._splitter.indexOf(self._inputs) >= 0
        if self.is_rail:
            if inside:
                self._sizes = self._splitter.sizes()
                self._over_layout.addWidget(self._inputs)
            self._inputs.setVisible(True)
        else:
            self._hide_over()
            if not inside:
                self._splitter.insertWidget(0, self._inputs)
                self._inputs.setVisible(True)
                self._splitter.setStretchFactor(0, 0)
                self._splitter.setStretchFactor(1, 1)
                if len(self._sizes) == self._splitter.count():
                    self._splitter.setSizes(self._sizes)
        self.rail.setVisible(self.is_rail)
        self.folded.emit()

    def resizeEvent(self, event: QEvent) -> None:
        super().resizeEvent(event)  # type: ignore[arg-type]
        if self.is_open:
            self._over.setGeometry(WIDE, 0, min(OPEN, self.width() - WIDE), self.height())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.is_open:
            self.close_over()
            return
        super().keyPressEvent(event)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """A press on the page beside the open inputs closes them, whoever takes it; one in a list or a window of
        theirs does not. The rail's own buttons open and close."""
        if event.type() == QEvent.Type.MouseButtonPress and isinstance(watched, QWidget) and self._splitter.isAncestorOf(watched):
            self.close_over()
        return False
