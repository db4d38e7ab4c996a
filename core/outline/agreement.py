"""Whether the widths of the model still are those of the true outline that is saved beside them."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon, box

from core.outline.difference import difference
from core.outline.model_plan import net_curve
from core.outline.width import width_curve
from core.project.checking import by_identity
from core.project.plan import profile_at
from core.project.structure import Structure

WITHIN = 0.03
"""Widths that differ by less than this share of the largest agree."""
REACH = 0.0025
"""A step may lie this share of the span beside its place."""
FAR_M = 1e3


@by_identity
def disagreement(structure: Structure) -> tuple[float, float] | None:
    """(difference in m, x in m) where the model's net width is furthest from the true one.

    None where there is no outline or the two agree within `WITHIN` (a step counts at its own place).
    """
    outline = structure.outline
    if outline is None:
        return None
    part = Polygon(outline.exterior, outline.holes)
    cut = part.intersection(box(0.0, -FAR_M, structure.span_m, FAR_M)) if part.is_valid else part
    if not isinstance(cut, Polygon) or cut.is_empty:
        return None
    true = width_curve(cut)
    x = np.array(structure.stations_m)
    width = np.array([profile_at(structure.width_m, structure.stations_m, float(v)) for v in x])
    off = difference(net_curve(x, width, structure.cut_outs), true, REACH * structure.span_m)
    if off.width_m <= WITHIN * true.widest_m:
        return None
    return off.width_m, off.at_m
