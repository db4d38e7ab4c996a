"""Loose lines of a drawing joined to closed rings, and the ring that is the part with its holes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.ops import polygonize_full, unary_union
from shapely.validation import explain_validity

from core.outline.drawing import UNITS, Array, OutlineDrawing, OutlineError

JOIN_M = 1e-4
"""Ends of lines closer than this are taken as meeting."""
SPECK = 1e-6
"""Rings below this share of the largest area are specks of the drawing."""
LARGE_HOLE = 0.1
"""A hole of more than this share of the largest area may be the part within a frame."""
MOST_RINGS = 2000


@dataclass(frozen=True, eq=False)
class Parts:
    """What the chosen layers hold, m in drawing axes, the largest area first."""

    polygons: tuple[Polygon, ...]
    """Closed areas with their holes, the outermost ones and islands within holes."""
    inner: tuple[Polygon, ...]
    """Large holes as areas of their own: the part may be drawn within a frame."""
    loose: tuple[Array, ...]
    """Chains of lines that close nothing, (n, 2) each, the longest first."""
    gap_m: float | None
    """Widest gap of a chain that nearly closes; None where there is none."""
    remarks: tuple[str, ...] = ()


def join(drawing: OutlineDrawing, layers: frozenset[str], unit: str, join_m: float = JOIN_M) -> Parts:
    """Closed areas of the layers; OutlineError where one crosses itself."""
    factor = UNITS[unit][0]
    chosen = [t for t in drawing.traces if t.layer in layers]
    closed = [t.points * factor for t in chosen if t.closed]
    opened = [t.points * factor for t in chosen if not t.closed]
    remarks: list[str] = []
    rings = [_ring(points) for points in closed]
    areas, loose, gap = _close(opened, join_m, remarks)
    if len(rings) + len(areas) > MOST_RINGS:
        raise OutlineError(
            f"{drawing.name} holds {len(rings) + len(areas)} closed lines on these layers. "
            "Choose only the layer of the outline."
        )
    polygons, inner = nest([*(r for r in rings if r is not None), *areas], remarks)
    return Parts(tuple(polygons), tuple(inner), tuple(loose), gap, tuple(remarks))


def _ring(points: Array) -> Polygon | None:
    """A polygon of a closed line, None where it encloses nothing."""
    if len(points) < 3:
        return None
    polygon = Polygon(points)
    if polygon.is_valid:
        return polygon if polygon.area > 0 else None
    return _mended(polygon)


def _mended(polygon: Polygon) -> Polygon | None:
    """A ring that only touches itself, opened up; one that crosses itself is refused."""
    size = max(polygon.bounds[2] - polygon.bounds[0], polygon.bounds[3] - polygon.bounds[1])
    if not size > 0:
        return None
    whole = shapely.make_valid(polygon)
    largest = max(_polygons(whole), key=lambda p: p.area, default=None)
    if largest is None or largest.area <= 1e-9 * size**2:
        return None
    if whole.area - largest.area <= 1e-6 * whole.area and _is_touch(polygon, largest):
        return Polygon(largest.exterior)
    where = explain_validity(polygon)
    at = where[where.find("[") + 1 : where.find("]")].split() if "[" in where else []
    place = f" near x = {1e3 * float(at[0]):.1f} mm, y = {1e3 * float(at[1]):.1f} mm" if len(at) == 2 else ""
    raise OutlineError(
        f"The outline crosses itself{place} of the drawing. Mend it there, or leave out that layer."
    )


def _is_touch(polygon: Polygon, largest: Polygon) -> bool:
    """Whether the ring's own signed area is that of its largest piece: nothing is run twice."""
    x, y = np.asarray(polygon.exterior.coords).T
    signed = 0.5 * abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])))
    return abs(signed - largest.area) <= 1e-6 * largest.area


def _polygons(shape: object) -> list[Polygon]:
    if isinstance(shape, Polygon):
        return [] if shape.is_empty else [shape]
    return [p for g in getattr(shape, "geoms", ()) for p in _polygons(g)]


def _close(
    lines: list[Array], join_m: float, remarks: list[str]
) -> tuple[list[Polygon], list[Array], float | None]:
    """Areas that open lines close together, chains left over, and the widest gap that was nearly closed."""
    lines = [line for line in lines if len(line) >= 2]
    if not lines:
        return [], [], None
    snapped = _snapped(lines, join_m)
    # The same line drawn twice would close a ring of no area.
    unique = list({_key(line): line for line in snapped}.values())
    if len(unique) < len(snapped):
        remarks.append(f"{len(snapped) - len(unique)} lines were drawn twice and are counted once.")
    faces, cuts, dangles, invalid = polygonize_full([LineString(line) for line in unique])
    areas = list(faces.geoms)
    if not areas and len(unique) > 1:
        faces, cuts, dangles, invalid = polygonize_full(unary_union([LineString(line) for line in unique]))
        areas = list(faces.geoms)
        if areas:
            remarks.append("Lines that cross without meeting were cut where they cross.")
    merged = shapely.line_merge(shapely.MultiLineString([g for s in (dangles, cuts) for g in s.geoms]))
    chains = [np.asarray(g.coords) for g in getattr(merged, "geoms", [merged]) if not g.is_empty]
    loose, gap = [], None
    for chain in chains:
        opening = math.dist(chain[0], chain[-1])
        length = float(np.hypot(*np.diff(chain, axis=0).T).sum())
        if len(chain) > 3 and opening < 0.05 * length:
            gap = max(gap or 0.0, opening)
        loose.append(chain)
    loose.sort(key=lambda c: -float(np.hypot(*np.diff(c, axis=0).T).sum()))
    for ring in invalid.geoms:
        found = _mended(Polygon(ring.coords)) if len(ring.coords) > 3 else None
        areas += [found] if found is not None else []
    solid = [Polygon(p.exterior) for p in _polygons(unary_union(areas))] if areas else []
    return solid, loose, gap


def _key(line: Array) -> bytes:
    """The same for a line and the same line drawn backwards."""
    return min(line.tobytes(), line[::-1].tobytes())


def _snapped(lines: list[Array], join_m: float) -> list[Array]:
    """The lines with ends that lie within `join_m` of each other moved onto one point."""
    from scipy.spatial import cKDTree  # imported here: only an import of lines needs it

    ends = np.array([end for line in lines for end in (line[0], line[-1])])
    group = np.arange(len(ends))
    for a, b in sorted(cKDTree(ends).query_pairs(join_m)):
        low, high = sorted((group[a], group[b]))
        group[group == high] = low
    out = []
    for i, line in enumerate(lines):
        moved = line.copy()
        moved[0], moved[-1] = ends[group[2 * i]], ends[group[2 * i + 1]]
        if len(moved) > 2 or np.any(moved[0] != moved[1]):
            out.append(moved)
    return out


def nest(polygons: Iterable[Polygon], remarks: list[str]) -> tuple[list[Polygon], list[Polygon]]:
    """Areas with their holes, and large holes as areas, the largest first.

    A ring within a ring is a hole, a ring within a hole an area again.
    """
    rings = sorted((Polygon(p.exterior) for p in polygons), key=lambda p: -p.area)
    if not rings:
        return [], []
    rings = [r for r in rings if r.area > SPECK * rings[0].area]
    kept: list[Polygon] = []
    for ring in rings:
        if not any(_same(ring, other) for other in kept):
            kept.append(ring)
    depth, parents = [], []
    for i, ring in enumerate(kept):
        point = ring.representative_point()
        around = [j for j in range(i) if kept[j].contains(point)]
        depth.append(len(around))
        parents.append(around[-1] if around else -1)
    areas: tuple[list[Polygon], list[Polygon]] = ([], [])
    for i, ring in enumerate(kept):
        hole = depth[i] % 2 == 1
        if not hole or ring.area > LARGE_HOLE * kept[0].area:
            within = [kept[j] for j in range(len(kept)) if parents[j] == i]
            areas[hole].append(_without(ring, within, remarks))
    return areas


def _without(ring: Polygon, holes: list[Polygon], remarks: list[str]) -> Polygon:
    made = Polygon(ring.exterior, [LinearRing(h.exterior) for h in holes])
    if made.is_valid:
        return made
    # Holes that run over each other or over the edge: take away what they cover together.
    left = max(_polygons(ring.difference(unary_union(holes))), key=lambda p: p.area, default=None)
    if left is None:
        raise OutlineError("The holes leave nothing of the part. Leave out the layer they are drawn on.")
    remarks.append("Holes that overlap or cross the edge were taken out together.")
    return left


def _same(a: Polygon, b: Polygon) -> bool:
    if (
        abs(a.area - b.area) > 1e-4 * b.area
        or max(abs(p - q) for p, q in zip(a.bounds, b.bounds, strict=True)) > 1e-5
    ):
        return False
    return bool(a.symmetric_difference(b).area < 1e-4 * b.area)
