"""A slider along a logarithmic range of a value: a hand previews, letting go keeps.

Arrows go one preferred value, with Shift ten, Enter (or a double click) back to the tuned one. The wheel scrolls
the page.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, log

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.theme import look

HIGH, HANDLE = 22, 7.0
STEPS = {Qt.Key.Key_Right: 1, Qt.Key.Key_Up: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Down: -1}
COARSE = 10
FIGURES = 3
"""A dragged value has so many figures: more are not set by hand."""
Step = Callable[[float, int], float]
"""The value that many preferred values further."""


class ValueSlider(QWidget):
    """`previewed` while it moves, `kept` when it is let go, `dropped` on Escape, `back_wanted` for the tuned one."""

    previewed = Signal(float)
    kept = Signal()
    dropped = Signal()
    back_wanted = Signal()

    def __init__(self, name: str, step: Step, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(f"slider {name}")
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self._step = step
        self._low, self._high, self._value = 0.5, 2.0, 1.0
        self.inset = HANDLE + 1.0, HANDLE + 1.0
        """Room beside the track, left and right: that of the axis above it."""
        self._held: float | None = None
        """Where on the handle the hand has it, pixels from its middle."""
        self._by_key = False
        look.look_changed.connect(self.update)

    def show_value(self, value: float, low: float, high: float, told: str) -> None:
        if (value, low, high) != (self._value, self._low, self._high):
            self._value, self._low, self._high = value, low, high
            self.update()
        self.setAccessibleDescription(told)

    @property
    def is_held(self) -> bool:
        """Whether a hand or a key is moving it."""
        return self._held is not None or self._by_key

    def x_of(self, value: float) -> float:
        """Where a value stands, pixels; at an end of the track where it lies beyond."""
        left, right = self._track()
        share = log(max(value, 1e-300) / self._low) / log(self._high / self._low)
        return left + min(max(share, 0.0), 1.0) * (right - left)

    def _track(self) -> tuple[float, float]:
        return self.inset[0], max(self.width() - self.inset[1], self.inset[0] + 1.0)

    def _value_at(self, x: float) -> float:
        left, right = self._track()
        share = min(max((x - left) / (right - left), 0.0), 1.0)
        return float(f"{self._low * exp(share * log(self._high / self._low)):.{FIGURES}g}")

    # ---- hands ---------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        at = self.x_of(self._value)
        x = event.position().x()
        self._held = x - at if abs(x - at) <= HANDLE + 2 else 0.0
        if self._held == 0.0 and x != at:
            self._move_to(self._value_at(x))
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._held is not None:
            self._move_to(self._value_at(event.position().x() - self._held))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._held is not None and event.button() == Qt.MouseButton.LeftButton:
            self._held = None
            self.kept.emit()
            self.update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self.back_wanted.emit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key == Qt.Key.Key_Escape and self.is_held:
            self._held, self._by_key = None, False
            self.dropped.emit()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.back_wanted.emit()
        elif key in STEPS and self._held is None:
            coarse = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
            self._by_key = True
            self._move_to(self._step(self._value, STEPS[Qt.Key(key)] * (COARSE if coarse else 1)))
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if self._by_key and not event.isAutoRepeat():
            self._finish_keys()
        else:
            super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        if self._held is not None:  # a drag whose end is not seen is taken back
            self._held = None
            self.dropped.emit()
        self._finish_keys()
        super().focusOutEvent(event)

    def _finish_keys(self) -> None:
        if self._by_key:
            self._by_key = False
            self.kept.emit()

    def _move_to(self, value: float) -> None:
        if value > 0.0 and value != self._value:
            self._value = value
            self.update()
            self.previewed.emit(value)

    # ---- painting ------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(160, HIGH)

    def minimumSizeHint(self) -> QSize:
        return QSize(90, HIGH)

    def paintEvent(self, event: QPaintEvent) -> None:
        now, middle = look.current(), HIGH / 2
        left, right = self._track()
        at = self.x_of(self._value)
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            p.setPen(look.pen(now.line, 3.0))
            p.drawLine(QPointF(left, middle), QPointF(right, middle))
            p.setPen(look.pen(now.accent, 3.0))
            p.drawLine(QPointF(left, middle), QPointF(at, middle))
            p.setBrush(now.panel)
            p.setPen(look.pen(now.accent, 2.0))
            p.drawEllipse(QPointF(at, middle), HANDLE, HANDLE)
            if self.hasFocus():
                p.setBrush(Qt.BrushStyle.NoBrush)
                p.setPen(look.pen(now.accent, 1.0, None, (2.0, 2.0)))
                p.drawRoundedRect(QRectF(0.5, 0.5, self.width() - 1.0, HIGH - 1.0), 4, 4)
