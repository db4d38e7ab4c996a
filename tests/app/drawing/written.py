"""What a drawing writes, and where: a painter that keeps its texts."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from app.drawing.ink import Ink
from app.drawing.surface import arrangement_of, paint_drawing
from app.theme import look


class Writing(QPainter):
    """Notes the box that each text fills, and which are not written upright and unsqueezed."""

    def __init__(self, image: QImage) -> None:
        super().__init__(image)
        self.written: list[tuple[str, QRectF]] = []
        self.distorted: list[str] = []

    def drawText(self, *args) -> None:
        if len(args) == 3 and isinstance(args[0], QRectF) and args[2]:
            now = self.worldTransform()
            if (now.m11(), now.m12(), now.m21(), now.m22()) != (1.0, 0.0, 0.0, 1.0):
                self.distorted.append(args[2])
            self.written.append((args[2], self.boundingRect(args[0], int(args[1]), args[2])))
        super().drawText(*args)


def painted(view, width: int = 640, height: int = 700) -> Writing:
    """The painter of a whole drawing, after it."""
    image = QImage(width, height, QImage.Format.Format_RGB32)
    painter = Writing(image)
    paint_drawing(painter, view, arrangement_of(view, width, height), Ink(look.current(), 1.0))
    painter.end()
    return painter


def written(view, width: int = 640, height: int = 700) -> list[tuple[str, QRectF]]:
    """The texts of a drawing with the boxes they fill."""
    return painted(view, width, height).written
