"""Dimension lines under the plan: where the selected patch starts and how long its ceramic is."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, arrow, text_width
from app.drawing.view_model import DrawingView


def length_text(length_m: float) -> str:
    """Millimetres with as many decimals as the value has, at least one, at most three."""
    text = f"{1e3 * length_m:.3f}".rstrip("0")
    return text + "0" if text.endswith(".") else text


def paint_dimensions(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """Line one: x = 0 to the ceramic and the ceramic's length. Line two: the sheet's datum to the
    package, or what the package collides with."""
    patch = view.selected
    if patch is None:
        return
    colour = ink.look.accent
    y = rect.top() + 7
    _line(painter, scale.px(0.0), scale.px(patch.x_a_m), y, length_text(patch.x_a_m), colour, ink)
    _line(painter, scale.px(patch.x_a_m), scale.px(patch.x_b_m), y, length_text(patch.length_m), colour, ink)
    second = rect.top() + 19
    if patch.collisions:
        text = "; ".join(dict.fromkeys(collision.text for collision in patch.collisions))
        _note(painter, rect, second, scale.px(patch.x_b_m) + 8, text, ink)
    elif view.datum is not None:
        start, end = patch.outline
        near = start if abs(view.datum.x_m - start) <= abs(view.datum.x_m - end) else end
        text = f"{length_text(abs(near - view.datum.x_m))} {view.datum.name} to package"
        _line(painter, scale.px(view.datum.x_m), scale.px(near), second + 6, text, ink.look.faint_text, ink)


def _line(painter: QPainter, a: float, b: float, y: float, text: str, colour, ink: Ink) -> None:
    """A dimension between two x with its text inside when it fits, beside it when not."""
    left, right = min(a, b), max(a, b)
    painter.setPen(ink.pen(colour))
    painter.drawLines([QLineF(left, y - 5, left, y + 5), QLineF(right, y - 5, right, y + 5)])
    if right - left > 1.0:
        painter.drawLine(QLineF(left, y, right, y))
    if right - left > 16:
        arrow(painter, QPointF(left, y), -1.0, 0.0, 5.0)
        arrow(painter, QPointF(right, y), 1.0, 0.0, 5.0)
    font = ink.font(12, bold=True)
    wide = text_width(font, text) + 6
    painter.setFont(font)
    inside = right - left > wide + 18
    if inside:
        box = QRectF((left + right - wide) / 2, y - 8, wide, 16)
        painter.fillRect(box, ink.look.window)
    else:
        # The short first dimension writes below itself, so that it never covers the second.
        box = QRectF(max((left + right - wide) / 2, 2.0), y + 5, wide, 15)
    painter.drawText(box, Align.AlignCenter, text)


def _note(painter: QPainter, rect: QRectF, y: float, at: float, text: str, ink: Ink) -> None:
    font = ink.font(12, bold=True)
    wide = text_width(font, text) + 6
    left = max(rect.left(), min(at, rect.right() + 40 - wide))
    painter.setFont(font)
    painter.setPen(ink.pen(ink.look.danger))
    painter.drawText(QRectF(left, y, wide, 15), Align.AlignLeft | Align.AlignVCenter, text)
