"""Where a straight beam no longer describes the part, in words with place and size."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from shapely.geometry import Polygon

from core import units
from core.outline.difference import REACH_M
from core.outline.width import CentreLine, WidthCurve, centre_line, width_curve

WIDE = 3.0
"""Span over mean width below which the part is a plate."""
OFF_AXIS = 0.1
"""Middle of the section off the axis, over the local width, from which it is said."""
BENT = 0.5
"""Middle of the section off its own straight line, over the mean width: the part is not straight."""
EDGE_DEG = 20.0
"""An edge steeper than this leaves part of the section without strain."""


def doubts(polygon: Polygon, curve: WidthCurve) -> tuple[str, ...]:
    """Sentences on a polygon in beam axes, the weightiest first; empty for a plain beam."""
    line = centre_line(polygon)
    edge = width_curve(Polygon(polygon.exterior)) if polygon.interiors else curve
    return (*_wide(curve), *_bent(line, curve), *_forked(polygon, line), *_steep(edge))


def _wide(curve: WidthCurve) -> Iterator[str]:
    mean = curve.area_m2 / curve.span_m
    if curve.span_m / mean < WIDE:
        yield (
            f"Span over width is {curve.span_m / mean:.1f}, below {WIDE:.0f}: this part is a plate and twists; "
            "a beam is a first guess only."
        )


def _bent(line: CentreLine, curve: WidthCurve) -> Iterator[str]:
    mean = curve.area_m2 / curve.span_m
    outer = line.high_m - line.low_m
    # Ends narrower than a tenth of the mean carry next to no bending.
    solid = outer > 0.1 * mean
    if solid.sum() < 8:
        return
    x, y = line.x_m[solid], line.middle_m[solid]
    slope, level = np.polyfit(x, y, 1)
    off = np.abs(y - (slope * x + level))
    worst = int(off.argmax())
    jump = np.abs(np.diff(y))
    kink = int(jump.argmax())
    if off[worst] > BENT * mean or jump[kink] > BENT * outer[solid].max() * 0.5:
        at = float(x[kink] if jump[kink] > 0.15 * mean else x[worst])
        yield (
            f"The part is not straight in plan: the middle of its section leaves a straight line by "
            f"{_mm(off[worst])} (L- or gusset-shaped), most at x = {_mm(at)}. A straight beam "
            "does not describe it; use what is predicted for its straight leg only, and lay the axis along that."
        )
        return
    turn = math.degrees(math.atan(abs(slope)))
    if turn > 2.0 and abs(slope) * curve.span_m > OFF_AXIS * mean:
        yield (
            f"The middle of the section runs {turn:.0f}° off the axis. Drag a point of the axis "
            "so that it follows the part."
        )
    share = np.abs(y) / np.maximum(outer[solid], 1e-9)
    place = int(share.argmax())
    if share[place] > OFF_AXIS and turn <= 2.0:
        yield (
            f"The middle of the section lies {_mm(abs(y[place]))} beside the axis at x = {_mm(x[place])}: "
            "the part also twists when it bends, which is not modelled."
        )


def _forked(polygon: Polygon, line: CentreLine) -> Iterator[str]:
    inside = np.zeros(len(line.x_m), dtype=int)
    for ring in polygon.interiors:
        low, _, high, _ = ring.bounds
        inside += (line.x_m > low) & (line.x_m < high)
    forked = np.flatnonzero(line.strips > inside + 1)
    if len(forked) > 0.02 * len(line.x_m):
        yield (
            f"From x = {_mm(line.x_m[forked[0]])} to {_mm(line.x_m[forked[-1]])} the part runs in "
            "separate arms. The model takes them as one strip that bends together."
        )
    for ring in polygon.interiors:
        low, bottom, high, top = ring.bounds
        if high - low > 3 * max(top - bottom, 1e-9) and high - low > 0.25 * polygon.bounds[2]:
            yield (
                f"The opening from x = {_mm(low)} to {_mm(high)} is long: the arms beside it also bend on "
                "their own, which is not modelled."
            )
            return


def _steep(curve: WidthCurve) -> Iterator[str]:
    """Steps and steep edges, apart from the rounded end at the tip."""
    x, w = curve.x_m, curve.width_m
    inner = 0.5 * (x[:-1] + x[1:]) < curve.span_m - 0.6 * curve.widest_m
    change = np.abs(np.diff(w))
    length = np.diff(x)
    inner &= (x[1:] > REACH_M) & (x[:-1] < curve.span_m - REACH_M)
    change = np.where(inner, change, 0.0)
    step = (length <= REACH_M) & (change > 0.1 * curve.widest_m)
    if step.any():
        at = int(np.argmax(np.where(step, change, 0.0)))
        yield (
            f"The width steps from {_mm(w[at])} to {_mm(w[at + 1])} at x = {_mm(x[at])}. The model bends "
            f"the full width at once; in truth strain takes about {_mm(0.5 * change[at])} to spread."
        )
        return
    limit = 2 * math.tan(math.radians(EDGE_DEG))
    steep = change > limit * np.maximum(length, 1e-12)
    run = float(change[steep].sum())
    if run > 0.25 * curve.widest_m:
        worst = np.flatnonzero(steep)
        yield (
            f"The width changes fast between x = {_mm(x[worst[0]])} and {_mm(x[worst[-1] + 1])} (edges over "
            f"{EDGE_DEG:.0f}° to the axis): the outer parts carry less than the model says there, so "
            "frequencies come out a little high."
        )


def _mm(value_m: float) -> str:
    return f"{units.show(float(value_m), 'mm', 1)} mm"
