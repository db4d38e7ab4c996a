"""Whether the widths of the model still are those of the true outline that is saved beside them."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon, box

from core.outline.width import width_curve
from core.project.checking import by_identity
from core.project.model import Structure
from core.project.plan import net_width_at

WITHIN = 0.03
"""Widths that differ by less than this share of the largest agree."""
SAMPLES = 200
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
    curve = width_curve(cut)
    end = max(structure.span_m, float(outline_end(outline.exterior)))
    x = end * (np.arange(SAMPLES) + 0.5) / SAMPLES
    reach = 0.5 * end / SAMPLES
    near = np.stack([np.interp(x + by, curve.x_m, curve.width_m, right=0.0) for by in (-reach, 0.0, reach)])
    model = np.array([net_width_at(structure, float(v)) if v <= structure.span_m else 0.0 for v in x])
    off = np.maximum(np.maximum(model - near.max(axis=0), near.min(axis=0) - model), 0.0)
    worst = int(off.argmax())
    if off[worst] <= WITHIN * curve.widest_m:
        return None
    return float(off[worst]), float(x[worst])


def outline_end(ring: tuple[tuple[float, float], ...]) -> float:
    """The furthest x of a ring."""
    return max(x for x, _ in ring)
