"""Whether packages lie on the true outline of the part, less its holes.

The part of a package before x = 0 or past the tip is judged elsewhere (it lies on the support, or
hangs over the end) and left out here. Runs on every mouse move of a drag: the outline is
prepared once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.project.checking import by_identity
from core.project.model import Outline, Package, Patch
from core.project.plan import Polygon, package_margins

FLUSH_M = 5e-6
"""A package flush with an edge lies on the part, to the rounding of a drawing."""
FAR_M = 1e3

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Overhang:
    """What of a package lies beside the part."""

    depth_m: float
    """How far its furthest point is from the part."""
    x_m: float
    """Where that point is along the span."""
    x_start_m: float
    x_end_m: float
    in_hole: bool


@by_identity
def _part(outline: Outline) -> tuple[Any, Any]:
    """The area of the part, and the same a hair wider, prepared for questions."""
    # imported here: only projects with a drawing's outline need a geometry library
    import shapely

    area = shapely.make_valid(shapely.Polygon(outline.exterior, outline.holes))
    wider = area.buffer(FLUSH_M, join_style="mitre")
    shapely.prepare(wider)
    return area, wider


@by_identity
def _filled(outline: Outline) -> Any:
    """The area within the edge, openings included."""
    import shapely

    return shapely.make_valid(shapely.Polygon(outline.exterior))


@lru_cache(maxsize=64)
def overhang(outline: Outline, corners: Polygon, span_m: float) -> Overhang | None:
    """What of a package with these corners hangs over an edge or lies over an opening; None if nothing.

    The checks and the drawing ask the same during a drag, so the last answers are kept.
    """
    import shapely

    area, wider = _part(outline)
    package = shapely.Polygon(corners)
    if wider.covers(package):
        return None
    beside = package.intersection(shapely.box(0.0, -FAR_M, span_m, FAR_M)).difference(wider)
    if beside.is_empty or beside.area <= FLUSH_M**2:
        return None
    # The furthest point is a corner of the package, or somewhere within an opening it covers.
    inner = beside.representative_point()
    places = [(inner.x, inner.y), *(c for c in corners if 0.0 <= c[0] <= span_m)]
    points = shapely.points(places)
    points = points[shapely.intersects(beside, points)]
    far = shapely.distance(area, points)
    worst = int(far.argmax())
    low, _, high, _ = beside.bounds
    hole = bool(far.argmax() == 0 and shapely.covers(_filled(outline), inner))
    return Overhang(float(far[worst]), float(points[worst].x), float(low), float(high), hole)


def lie_on_part(
    outline: Outline,
    patch: Patch,
    package: Package,
    x_m: Array,
    length_m: Array,
    width_m: Array,
    span_m: float,
) -> NDArray[np.bool_]:
    """(P,) whether the whole package lies on the part for each start, length and width of the patch."""
    import shapely

    _, wider = _part(outline)
    return np.asarray(shapely.covers(wider, _boxes(patch, package, x_m, length_m, width_m, span_m)))


def share_beside(
    outline: Outline,
    patch: Patch,
    package: Package,
    x_m: Array,
    length_m: Array,
    width_m: Array,
    span_m: float,
) -> Array:
    """(P,) share of the package's area that lies beside the part or over an opening, 0 on the part."""
    import shapely

    _, wider = _part(outline)
    boxes = _boxes(patch, package, x_m, length_m, width_m, span_m)
    out = np.zeros(len(boxes))
    over = np.flatnonzero(~shapely.covers(wider, boxes))
    beside = shapely.area(shapely.difference(boxes[over], wider))
    out[over] = beside / np.maximum(shapely.area(boxes[over]), FLUSH_M**2)
    return out


def _boxes(
    patch: Patch, package: Package, x_m: Array, length_m: Array, width_m: Array, span_m: float
) -> NDArray[np.object_]:
    """(P,) the packages as polygons, cut off at the ends of the span."""
    import shapely

    end, side = package_margins(package)
    half_l, half_b = 0.5 * length_m + end, 0.5 * width_m + side
    c, s = np.cos(patch.angle_rad), np.sin(patch.angle_rad)
    u = half_l[:, None] * np.array([-1.0, 1.0, 1.0, -1.0])
    v = half_b[:, None] * np.array([-1.0, -1.0, 1.0, 1.0])
    x = np.clip((x_m + 0.5 * length_m)[:, None] + u * c - v * s, 0.0, span_m)
    y = patch.y_m + u * s + v * c
    return np.asarray(shapely.polygons(np.stack([x, y], axis=-1)))
