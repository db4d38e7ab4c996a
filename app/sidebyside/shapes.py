"""The mode shapes of all candidates over each other, a strip a mode, each in the line of its column."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.drawing.ink import polygon
from app.sidebyside.grid import LABELS
from app.theme import look
from core.predict.prediction import Prediction
from core.units import words

Array = NDArray[np.float64]
STRIP = 58
GAP = 6
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def overlaid(predictions: Sequence[Prediction], mode: int) -> list[tuple[str, Array, Array]]:
    """(candidate, x, shape) of a mode from 1: every shape 1 at its largest, and turned as the first one."""
    found: list[tuple[str, Array, Array]] = []
    for p in predictions:
        if mode > len(p.shapes.deflection):
            continue
        shape = p.shapes.deflection[mode - 1]
        shape = shape / max(float(np.abs(shape).max()), 1e-300)
        if found:
            _, x, first = found[0]
            shape = shape * (1.0 if float(np.interp(x, p.shapes.x_m, shape) @ first) >= 0.0 else -1.0)
        found.append((p.candidate, p.shapes.x_m, shape))
    return found


class ShapesOverlay(QWidget):
    """Paints the strips; holds only what it was given to draw."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("shapesOverlay")
        self.setAccessibleName("Mode shapes of all candidates over each other")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._predictions: tuple[Prediction, ...] = ()
        self._modes: tuple[int, ...] = ()
        look.look_changed.connect(self.update)

    def show_shapes(self, predictions: Sequence[Prediction | None], asked: Sequence[int]) -> None:
        """Draw these; modes asked for come first."""
        self._predictions = tuple(p for p in predictions if p is not None)
        shown = max((len(p.modes) for p in self._predictions), default=0)
        first = [mode for mode in asked if mode <= shown]
        self._modes = tuple(first + [mode for mode in range(1, shown + 1) if mode not in first])
        self.setVisible(bool(self._modes))
        self.setAccessibleDescription("\n".join(self._words(mode) for mode in self._modes))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(LABELS + 230, 24 + (STRIP + GAP) * len(self._modes))

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def paintEvent(self, event: object) -> None:
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            p.setFont(look.font(12, bold=True))
            p.setPen(look.current().text)
            p.drawText(QRectF(12, 0, self.width() - 12, 20), _LEFT, "Mode shapes")
            for row, mode in enumerate(self._modes):
                self._paint_strip(p, mode, 24.0 + row * (STRIP + GAP))

    def _paint_strip(self, p: QPainter, mode: int, top: float) -> None:
        now = look.current()
        p.setFont(look.font(12, bold=True))
        p.setPen(now.mode(mode))
        p.drawText(QRectF(12, top, LABELS - 24, 18), _LEFT, f"Mode {mode}")
        p.setFont(look.font(11))
        p.setPen(now.faint_text)
        p.drawText(QRectF(12, top + 18, LABELS - 24, 34), _LEFT | Qt.TextFlag.TextWordWrap, self._frequencies(mode))
        area = QRectF(LABELS + 4, top, self.width() - LABELS - 12, STRIP)
        p.setPen(look.pen(now.line, 1.0, self))
        p.setBrush(now.panel)
        p.drawRect(area)
        p.drawLine(QLineF(area.left(), area.center().y(), area.right(), area.center().y()))
        p.setBrush(Qt.BrushStyle.NoBrush)
        half = 0.5 * area.height() - 4.0
        for letter, x, shape in overlaid(self._predictions, mode):
            across = area.left() + x / x[-1] * area.width()
            p.setPen(look.pen(now.candidate(letter), 2.0, self, now.candidate_dash(letter)))
            p.drawPolyline(polygon(across, area.center().y() - half * shape))

    def _frequencies(self, mode: int) -> str:
        known = [p for p in self._predictions if mode <= len(p.modes)]
        values = [p.modes[mode - 1].f_short_hz for p in known]
        low, high = words.frequency(min(values)), words.frequency(max(values))
        return low if low == high else words.between(low, high)

    def _words(self, mode: int) -> str:
        return f"Mode {mode}: {self._frequencies(mode)}"
