"""The part in a drawing that has the frame of its sheet around it."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon, box

from core.outline.holes import cut_out
from core.outline.rings import Parts
from core.outline.shape import possible_parts

BROADEST = 1.7
"""Length over width up to which a rectangle may be a sheet; a part that is a beam is longer."""
CORNER = 0.2
"""Share of a border's box that a title block in its corner may take."""
LEVEL = 1e-6
"""How far an edge along an axis of the drawing may leave it, over its length."""
BORDER = 0.5
"""A rectangle of this share of the largest one is another border of the sheet."""
APART = 1e-3
"""Share of the sheet's length by which what is drawn on it keeps off its border; a title block does not."""
NO_WINDOW = 0.2
"""A line that is no rectangle is sooner the part than a rectangle, such as a table, down to this share of its area."""
PAPER = 2.0**0.5
PAPER_OFF = 5e-3
"""Length over width of a sheet of ISO 216, and how far off it may be drawn."""


def likely_part(parts: Parts) -> int:
    """Which of the `possible_parts` is the part: the largest, or the largest that is drawn within the frame of a sheet.

    A frame is a rectangle along the axes of the drawing, too broad for a beam, with something in it that is no window of a
    plate: a second border, a title block at the border, lines that close nothing, the shape of ISO 216, or a line that is
    neither round nor a rectangle.
    """
    areas = possible_parts(parts)
    solid = [Polygon(area.exterior) for area in areas]
    outer = max(solid, key=lambda one: one.area, default=None)
    if outer is None or not _may_be_sheet(outer):
        return 0
    borders = [one for one in solid if _may_be_sheet(one) and one.area >= BORDER * outer.area]
    sheet = box(*min(borders, key=lambda one: one.area).bounds)
    off = APART * _ratio_and_length(sheet)[1]
    within = [i for i, one in enumerate(solid) if not _may_be_sheet(one) or one.area < BORDER * outer.area]
    within = [i for i in within if sheet.covers(solid[i])]
    drawn = [i for i in within if solid[i].distance(sheet.exterior) > off]
    if not drawn:
        return 0
    odd = [i for i in drawn if cut_out(solid[i].exterior) is None]
    is_paper = any(abs(_ratio_and_length(one)[0] / PAPER - 1.0) < PAPER_OFF for one in borders)
    if not (odd or is_paper or parts.loose or len(borders) > 1 or len(drawn) < len(within)):
        return 0
    largest = max(drawn, key=lambda i: solid[i].area)
    best = max(odd, key=lambda i: solid[i].area, default=largest)
    return best if solid[best].area >= NO_WINDOW * solid[largest].area else largest


def _may_be_sheet(area: Polygon) -> bool:
    edges = np.abs(np.diff(np.asarray(area.exterior.coords)[:, :2], axis=0))
    level = edges.min(axis=1) <= LEVEL * edges.max(axis=1)
    return bool(level.all()) and area.area >= (1.0 - CORNER) * box(*area.bounds).area and _ratio_and_length(area)[0] <= BROADEST


def _ratio_and_length(area: Polygon) -> tuple[float, float]:
    low_x, low_y, high_x, high_y = area.bounds
    long, short = sorted((high_x - low_x, high_y - low_y), reverse=True)
    return long / short, long
