"""The gain of a loop on a line that ends where the loop would grow: nothing beyond can be taken hold of."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QHideEvent, QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.theme import look
from core.units import words

HOLDS = 0.999
"""Of the limit, up to which a hand may move the gain."""
STEP = 0.01


class GainSlider(QWidget):
    """`moved` with the gain while a hand or a key moves it, `chosen` when it lets go, `dropped` on Escape or where the
    end of a drag is not seen."""

    moved = Signal(float)
    chosen = Signal(float)
    dropped = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("loopGain")
        self.setAccessibleName("Gain of the loop")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._value, self._top = 1.0, 4.0
        self._limit: float | None = None
        self._told = ""
        self._held = self._by_key = False
        look.look_changed.connect(self.update)

    @property
    def value(self) -> float:
        return self._value

    def show_gain(self, value: float, limit: float | None, told: str) -> None:
        """The gain, the limit (None: without one), and the limit in words."""
        self._value, self._limit, self._told = value, limit, told
        if not (self._held or self._by_key):
            self._top = 1.25 * max(limit if limit is not None else 4.0 * max(value, 1.0), value)
        self.setAccessibleDescription(f"{words.significant(value)} times; {told}")
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(300, 44)

    def minimumSizeHint(self) -> QSize:
        return QSize(160, 44)

    def _line(self) -> QRectF:
        return QRectF(10, 12, max(self.width() - 20, 20), 4)

    def _x(self, value: float) -> float:
        line = self._line()
        return line.left() + line.width() * min(value / self._top, 1.0)

    def paintEvent(self, event: object) -> None:
        now, line = look.current(), self._line()
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            p.fillRect(line, now.line)
            p.fillRect(QRectF(line.left(), line.top(), self._x(self._value) - line.left(), line.height()), now.accent)
            p.setFont(look.font(11))
            if self._limit is not None:
                at = self._x(self._limit)
                p.fillRect(QRectF(at, line.top() - 5, line.right() - at, 14), look.faded(now.danger, 0.18))
                p.fillRect(QRectF(at - 1, line.top() - 6, 2, 16), now.danger)
            p.setPen(now.danger if self._limit is not None else now.faint_text)
            p.drawText(QRectF(0, 24, self.width() - 6, 18), Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, self._told)
            grows = self._limit is not None and self._value >= self._limit
            p.setPen(look.pen(now.danger if grows else now.accent, 2.0, self))
            p.setBrush(now.panel)
            p.drawEllipse(QPointF(self._x(self._value), line.center().y()), 7, 7)
            p.setPen(now.text)
            p.setFont(look.font(12, bold=True))
            told = f"× {words.significant(self._value)}"
            p.drawText(QRectF(4, 24, 120, 18), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, told)
            if self.hasFocus():
                p.setBrush(Qt.BrushStyle.NoBrush)
                p.setPen(look.pen(now.accent, 1.0, self, (2.0, 2.0)))
                p.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))

    def _allowed(self, value: float) -> float:
        top = HOLDS * self._limit if self._limit is not None else self._top
        return min(max(value, 0.0), top)

    def _take(self, x: float) -> None:
        line = self._line()
        self._value = self._allowed(self._top * (x - line.left()) / line.width())
        self.update()
        self.moved.emit(self._value)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._held = True
            self._take(event.position().x())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._held:
            self._take(event.position().x())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._held:
            self._held = False
            self.chosen.emit(self._value)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {Qt.Key.Key_Right: 1, Qt.Key.Key_Up: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Down: -1}
        way = steps.get(Qt.Key(event.key()))
        if event.key() == Qt.Key.Key_Escape and (self._held or self._by_key):
            self._drop()
        elif way is not None and not self._held:
            many = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
            self._by_key = True
            self._value = self._allowed(self._value + way * many * STEP * (self._limit or self._top))
            self.update()
            self.moved.emit(self._value)
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if self._by_key and not event.isAutoRepeat():
            self._finish_keys()
        else:
            super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        if self._held:
            self._drop()
        self._finish_keys()
        super().focusOutEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        if self._held:
            self._drop()
        self._finish_keys()
        super().hideEvent(event)

    def _finish_keys(self) -> None:
        if self._by_key:
            self._by_key = False
            self.chosen.emit(self._value)

    def _drop(self) -> None:
        self._held = self._by_key = False
        self.dropped.emit()
