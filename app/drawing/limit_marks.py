"""Limits on the drawing: a cross on a patch beyond one, words in the side view at the worst place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QFont, QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, text_width
from core.predict.loads.limit_words import share_words
from core.units.words import millimetres

if TYPE_CHECKING:
    from core.predict.prediction import Limit

NEAR = 0.9
"""Limits used to this share stand on the drawing too."""
MOST = 3
WORDS_TALL = 17.0
"""Height at the top of the side view that the words take."""
SHORT = (
    ("Tensile strain, static", "tension"), ("Compressive strain, static", "compression"),
    ("Field", "field"), ("Bond shear", "bond shear"), ("Strain in vibration", "strain in vibration"),
    ("Temperature, cold", "cold"), ("Temperature, hot", "heat"),
)  # fmt: skip
MOVING = "in vibration"
FIELDS = ((", leads open", "open-lead field"), (", static", "static field"), (", by heat", "field by heat"), (", driven", "driven field"))
"""A field by what makes it, else that in vibration."""


@dataclass(frozen=True)
class LimitMark:
    """One limit near or beyond its allowable."""

    patch: str
    text: str
    broken: bool
    x_m: float | None


def limit_marks(limits: Sequence[Limit]) -> tuple[LimitMark, ...]:
    """Worst first, those near or beyond their allowable."""
    several = len({limit.patch for limit in limits}) > 1
    marks = []
    for limit in limits:  # worst first
        if limit.margin * NEAR > 1.0:
            break
        share = share_words(limit)
        owner = f"{limit.patch} " if several and limit.patch else ""
        marks.append(
            LimitMark(limit.patch or "", f"{owner}{short_name(limit.name)} {share}", limit.margin < 1.0, limit.x_m)
        )
    return tuple(marks)


def short_name(name: str) -> str:
    """A limit's name in one or two words."""
    found = next((short for start, short in SHORT if name.startswith(start)), name.lower())
    if found == "field":
        return next((short for end, short in FIELDS if name.endswith(end)), f"field {MOVING}")
    return f"{found} in vibration" if name.endswith(MOVING) and not found.endswith(MOVING) else found


def paint_cross(painter: QPainter, at: QPointF, ink: Ink) -> None:
    """A disc with a cross at the corner of a package that is loaded beyond a limit."""
    look, r = ink.look, 8.0
    painter.setPen(ink.pen(look.window, 1.5))
    painter.setBrush(look.danger)
    painter.drawEllipse(at, r, r)
    painter.setPen(ink.pen(look.window, 2.0))
    a = 0.4 * r
    painter.drawLines(
        [
            QLineF(at.x() - a, at.y() - a, at.x() + a, at.y() + a),
            QLineF(at.x() - a, at.y() + a, at.x() + a, at.y() - a),
        ]
    )


def paint_side_words(
    painter: QPainter, rect: QRectF, marks: Sequence[LimitMark], face_top: float, scale: XScale, ink: Ink
) -> QRectF:
    """The worst limits in words above the part, led to the worst place; moved back onto the page. Returns where they stand."""
    if not marks:
        return QRectF()
    look = ink.look
    shown = marks[:MOST]
    font = ink.font(11, bold=True)
    texts = [mark.text for mark in shown]
    place = next((mark.x_m for mark in shown if mark.x_m is not None), None)
    tail = "" if place is None else f"at {millimetres(place)}"
    if len(marks) > MOST:
        tail = f"{tail}, {len(marks) - MOST} more".strip(", ")
    plain = ink.font(11)
    while len(texts) > 1 and _width(texts, tail, font, plain) > rect.width():
        texts.pop()
    wide = _width(texts, tail, font, plain)
    at = scale.px(place) if place is not None else rect.left()
    left = max(rect.left(), min(at + 8.0, rect.right() - wide))
    top = rect.top() + 1.0
    painter.setPen(ink.pen(look.danger if shown[0].broken else look.caution))
    if place is not None:
        painter.drawLines([QLineF(at, face_top, at, top + 8.0), QLineF(at, top + 8.0, min(left, at + 6.0), top + 8.0)])
    plate = QRectF(left - 2, top, wide + 4, WORDS_TALL - 1.0)
    painter.fillRect(plate, look.window)
    x = left
    painter.setFont(font)
    for text, mark in zip(texts, shown, strict=False):
        painter.setPen(ink.pen(look.danger if mark.broken else look.caution))
        need = text_width(font, text)
        painter.drawText(QRectF(x, top, need + 2, 16), Align.AlignLeft | Align.AlignVCenter, text)
        x += need + 12.0
    painter.setFont(plain)
    painter.setPen(ink.pen(look.faint_text))
    painter.drawText(QRectF(x, top, text_width(plain, tail) + 2, 16), Align.AlignLeft | Align.AlignVCenter, tail)
    return plate


def _width(texts: list[str], tail: str, font: QFont, plain: QFont) -> float:
    return sum(text_width(font, t) + 12.0 for t in texts) + text_width(plain, tail) + 2.0
