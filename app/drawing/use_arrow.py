"""The arrow in the side view at the point looked at: how far it moves while the patch is driven, how it is pushed while
the patch listens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Ink, polygon
from app.drawing.labels import TALL, Labels, label_width
from core.units import words

if TYPE_CHECKING:
    from core.predict.group_result import GroupResult
    from core.project.use import Use

REACH, HEAD = 13.0, 5.0
"""How far the shaft stands out of the part, and half an arrow head, px."""


@dataclass(frozen=True)
class UseArrow:
    """At x, upwards, downwards or both, with its words; `broken` where the volts go beyond what the ceramic stands."""

    x_m: float
    up: bool
    down: bool
    text: str
    broken: bool = False


def use_arrow(group: GroupResult, use: Use) -> UseArrow | None:
    """Of the slow motion of the volts asked for, or of the push that makes the dot positive; None where nothing moves."""
    if use == "drive":
        driving = group.driving
        stroke = abs(driving.slow_m_per_v) * driving.drive.amplitude_v
        if not stroke:
            return None
        broken = driving.drive.amplitude_v > driving.field_v
        return UseArrow(driving.point_m, True, True, f"±{words.engineering(stroke, 'm')}", broken)
    sensing = group.sensing
    volts = sensing.slow_v_per_n
    if use != "sense" or not volts:
        return None
    return UseArrow(sensing.point_m, volts > 0.0, volts < 0.0, f"+{words.engineering(abs(volts), 'V')} per N")


def paint_use_arrow(
    painter: QPainter, rect: QRectF, arrow: UseArrow, top: float, bottom: float, scale: XScale, ink: Ink, labels: Labels
) -> None:
    """Through the part between `top` and `bottom` on the page, a little beside the point, its words above,
    on the root's side of what else is named there, or below where there is no room."""
    look = ink.look
    colour = look.danger if arrow.broken else look.accent
    x = scale.px(arrow.x_m)
    at_end = x > scale.right_px - 2.0
    x += 8.0 if at_end else 0.0
    high, low = max(top - REACH, rect.top() + 2.0), min(bottom + REACH, rect.bottom() - 2.0)
    painter.setPen(ink.pen(colour, 2.0))
    painter.setBrush(colour)
    painter.drawLine(QPointF(x, high), QPointF(x, low))
    for shown, tip, way in ((arrow.up, high, 1.0), (arrow.down, low, -1.0)):
        if shown:
            ys = np.array([tip, tip + 2 * way * HEAD, tip + 2 * way * HEAD])
            painter.drawPolygon(polygon(np.array([x, x - HEAD, x + HEAD]), ys))
    wide = label_width(arrow.text, ink)
    left = x - 8.0 - wide if x + 8.0 + wide > scale.right_px else x + 8.0
    over = max(top - TALL - 3.0, rect.top())
    beside = [box.left() - wide - 4.0 for box in labels.taken]
    places = [(left, over), *((x, over) for x in beside if x >= scale.left_px), (left, min(bottom + 3.0, rect.bottom() - TALL))]
    labels.write(painter, places, arrow.text, colour, ink)
