"""Names on the drawing that keep out of each other's way."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter

from app.drawing.ink import Align, Ink, text_width
from app.theme import look as looks

TALL = 15.0


class Labels:
    """Remembers what was written where; a name without a free place is left to the tooltip."""

    def __init__(self) -> None:
        self.taken: list[QRectF] = []

    def keep_off(self, box: QRectF) -> None:
        """Nothing is written over `box`, where something stands already."""
        self.taken.append(box)

    def write(
        self, painter: QPainter, places: list[tuple[float, float]], text: str, colour: QColor, ink: Ink
    ) -> bool:
        """Write `text` at the first of `places` (left, top) that is free, on a plate against hatching."""
        font = ink.font(11)
        wide = text_width(font, text) + 6
        for left, top in places:
            box = QRectF(left, top, wide, TALL)
            if any(box.intersects(other) for other in self.taken):
                continue
            self.taken.append(box)
            painter.fillRect(box, looks.faded(ink.look.window, 0.8))
            painter.setFont(font)
            painter.setPen(ink.pen(colour))
            painter.drawText(box, Align.AlignCenter, text)
            return True
        return False


def label_width(text: str, ink: Ink) -> float:
    """Width of the plate that `write` puts down."""
    return text_width(ink.font(11), text) + 6
