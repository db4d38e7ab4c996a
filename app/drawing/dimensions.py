"""Dimension lines under the plan: where the selected patch starts and how long its ceramic is."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, arrow, fitting, text_width
from app.drawing.patch_view import PatchView
from app.drawing.view_model import DrawingView
from core.project.structure import DatumFeature
from core.units.words import minus


def length_text(length_m: float) -> str:
    """Millimetres with as many decimals as the value has, at least one, at most three."""
    text = minus(f"{round(1e3 * length_m, 3) + 0.0:.3f}").rstrip("0")
    return text + "0" if text.endswith(".") else text


ROOM_FOR_TWO = 32.0
"""Lower rows have one line: a fault before the dimensions, these before the datum."""


def paint_dimensions(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """Line one: x = 0 to the ceramic and the ceramic's length. Line two: what the package collides
    with, or else the sheet's datum to the package."""
    patch = view.selected
    flat = rect.height() < ROOM_FOR_TWO
    second = rect.top() + (8 if flat else 26)
    faulty = _faulty(view)
    if faulty is not None:
        colour = ink.look.caution if _only_cautions(faulty) else ink.look.danger
        _note(painter, rect, second, scale.px(faulty.x_b_m) + 8, _wordings(faulty), colour, ink)
    if patch is None or (flat and faulty is not None):
        return
    colour = ink.look.accent
    y = rect.top() + 8
    start, end = scale.px(patch.x_a_m), scale.px(patch.x_b_m)
    _line(painter, scale.px(0.0), start, y, colour, ink)
    _line(painter, start, end, y, colour, ink)
    _number(painter, scale.px(0.0), start, y, length_text(patch.x_a_m), colour, ink, outside="left")
    _number(painter, start, end, y, length_text(patch.length_m), colour, ink, outside="right")
    if faulty is None and view.datum is not None and not flat:
        _from_datum(painter, rect, second, view.datum, patch.outline, scale, ink)


def _faulty(view: DrawingView) -> PatchView | None:
    """The patch whose collision is told: the selected one before others."""
    colliding = sorted(
        (patch for patch in view.patches if patch.collisions),
        key=_only_cautions,
    )
    return next((patch for patch in colliding if patch.selected), colliding[0] if colliding else None)


def _wordings(patch: PatchView) -> list[str]:
    """What it collides with, from everything to the first thing alone."""
    texts = list(dict.fromkeys(collision.text for collision in patch.collisions))
    told = [f"{patch.id}: {'; '.join(texts[:n])}" + (f"; {len(texts) - n} more" if n < len(texts) else "") for n in range(1, len(texts) + 1)]
    return [*reversed(told), f"{patch.id}: {texts[0]}"]


def _only_cautions(patch: PatchView) -> bool:
    return all(collision.caution for collision in patch.collisions)


def _from_datum(
    painter: QPainter,
    rect: QRectF,
    y: float,
    datum: DatumFeature,
    outline: tuple[float, float],
    scale: XScale,
    ink: Ink,
) -> None:
    """The sheet's dimension: from the chosen datum to the nearer end of the package."""
    near = min(outline, key=partial(_distance, datum.x_m))
    colour = ink.look.faint_text
    a, b = scale.px(datum.x_m), scale.px(near)
    _line(painter, a, b, y, colour, ink)
    text = f"{length_text(abs(near - datum.x_m))} from {datum.name} to package"
    font = ink.font(11)
    wide = text_width(font, text) + 8
    left, right = min(a, b), max(a, b)
    if right - left > wide + 20:
        at = (left + right - wide) / 2
    else:
        at = right + 6 if right + 6 + wide < rect.right() + 40 else left - wide - 6
    box = QRectF(at, y - 8, wide, 16)
    painter.fillRect(box, ink.look.window)
    painter.setFont(font)
    painter.setPen(ink.pen(colour))
    painter.drawText(box, Align.AlignCenter, text)


def _distance(one: float, other: float) -> float:
    return abs(one - other)


def _line(painter: QPainter, a: float, b: float, y: float, colour: QColor, ink: Ink) -> None:
    """A dimension line with its ticks, and arrows where there is room for them."""
    left, right = min(a, b), max(a, b)
    painter.setPen(ink.pen(colour))
    painter.drawLines(
        [QLineF(left, y - 5, left, y + 5), QLineF(right, y - 5, right, y + 5), QLineF(left, y, right, y)]
    )
    if right - left > 16:
        arrow(painter, QPointF(left, y), -1.0, 0.0, 5.0)
        arrow(painter, QPointF(right, y), 1.0, 0.0, 5.0)


def _number(
    painter: QPainter, a: float, b: float, y: float, text: str, colour: QColor, ink: Ink, *, outside: str
) -> None:
    """The value in the middle of its line, or on its outer side when the line is too short."""
    left, right = min(a, b), max(a, b)
    font = ink.font(12, bold=True)
    wide = text_width(font, text) + 6
    if right - left > wide + 18:
        box = QRectF((left + right - wide) / 2, y - 8, wide, 16)
        painter.fillRect(box, ink.look.window)
    else:
        box = QRectF(left - wide - 1 if outside == "left" else right + 1, y - 8, wide, 16)
    painter.setFont(font)
    painter.setPen(ink.pen(colour))
    painter.drawText(box, Align.AlignCenter, text)


def _note(
    painter: QPainter, rect: QRectF, y: float, at: float, wordings: list[str], colour: QColor, ink: Ink
) -> None:
    """A fault in the longest wording that fits from `at` on, moved back so that it stays on the page."""
    font = ink.font(12, bold=True)
    room = rect.width() + 34
    text = QFontMetricsF(font).elidedText(fitting(font, wordings, room), Qt.TextElideMode.ElideRight, room)
    wide = text_width(font, text) + 6
    left = max(rect.left(), min(at, rect.right() + 40 - wide))
    painter.setFont(font)
    painter.setPen(ink.pen(colour))
    painter.drawText(QRectF(left, y - 8, wide, 16), Align.AlignLeft | Align.AlignVCenter, text)
