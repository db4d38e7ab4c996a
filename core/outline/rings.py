"""Loose lines of a drawing joined to closed rings, and the ring that is the part with its holes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.ops import polygonize_full, unary_union
from shapely.validation import explain_validity

from core.outline.crossings import crossings
from core.outline.drawing import UNITS, Array, OutlineDrawing, OutlineError, Trace, in_words
from core.outline.gaps import Gap, find_gaps

JOIN_M = 1e-4
"""Ends of lines closer than this are taken as meeting."""
SPECK = 1e-6
"""Rings below this share of the largest area are specks of the drawing."""
LONG_HOLE = 0.05
"""A hole longer than this share of the largest area's length may be the part within a frame."""
MOST_RINGS = 1000
MOST_LINES = 5000
MOST_CORNERS = 20_000
"""Closed lines, lines and corners on the chosen layers; an outline has far fewer."""
MOST_CROSSINGS = 5000
"""Places where lines may cross without meeting, to be cut there."""
FEW_CROSSINGS = 50
"""A closed line that crosses itself more often is not looked at more closely."""
MOST_PAIRS = 1_000_000
"""Pairs of ends within the reach of joining."""


@dataclass(frozen=True, eq=False)
class Parts:
    """What the chosen layers hold, m in drawing axes, the largest area first."""

    polygons: tuple[Polygon, ...]
    """Closed areas with their holes, the outermost ones and islands within holes."""
    inner: tuple[Polygon, ...]
    """Large holes as areas of their own: the part may be drawn within a frame."""
    loose: tuple[Array, ...]
    """Chains of lines that close nothing, (n, 2) each, the longest first."""
    gaps: tuple[Gap, ...]
    """Between ends of these chains that face each other, the widest first."""
    remarks: tuple[str, ...] = ()


def join(drawing: OutlineDrawing, layers: frozenset[str], unit: str, join_m: float = JOIN_M) -> Parts:
    """Closed areas of the layers.

    A line that crosses itself is left out with a remark; OutlineError where it is the largest, or
    where the layers hold more than an outline does.
    """
    factor = UNITS[unit][0]
    chosen = [t for t in drawing.traces if t.layer in layers]
    _check_amount(drawing.name, chosen)
    remarks: list[str] = []
    rings: list[Polygon] = []
    crossed: list[Polygon] = []
    with in_words(drawing.name):
        for trace in chosen:
            if trace.closed:
                _sort(trace.points * factor, rings, crossed)
        areas, loose, gaps = _close(
            [t.points * factor for t in chosen if not t.closed], join_m, remarks, crossed
        )
        if len(rings) + len(areas) > MOST_RINGS:
            raise OutlineError(
                f"{drawing.name} holds {len(rings) + len(areas)} closed lines on these layers, more than "
                f"{MOST_RINGS}. Choose only the layer of the outline."
            )
        polygons, inner = nest([*rings, *areas], remarks)
    _judge_crossed(crossed, polygons, remarks)
    return Parts(tuple(polygons), tuple(inner), tuple(loose), gaps, tuple(remarks))


def _check_amount(name: str, traces: list[Trace]) -> None:
    count, corners = len(traces), sum(len(t.points) for t in traces)
    for found, most, what in ((count, MOST_LINES, "lines"), (corners, MOST_CORNERS, "corners")):
        if found > most:
            raise OutlineError(
                f"{name} holds {found} {what} on these layers; an outline may have up to {most}. Choose only the "
                "layer of the outline, or export it alone."
            )


def _sort(points: Array, rings: list[Polygon], crossed: list[Polygon]) -> None:
    """A closed line into `rings`, into `crossed` if it crosses itself, nowhere if it encloses nothing."""
    if len(points) < 3:
        return
    polygon = Polygon(points)
    if polygon.is_valid:
        if polygon.area > 0:
            rings.append(polygon)
        return
    low_x, low_y, high_x, high_y = polygon.bounds
    if not max(high_x - low_x, high_y - low_y) > 0:
        return
    ring = np.asarray(polygon.exterior.coords)[:, :2]
    if crossings([ring], FEW_CROSSINGS) > FEW_CROSSINGS:
        crossed.append(polygon)
        return
    _sort_closely(polygon, rings, crossed)


def _sort_closely(polygon: Polygon, rings: list[Polygon], crossed: list[Polygon]) -> None:
    """A ring that only touches itself is opened up; one of no area at all is dropped."""
    low_x, low_y, high_x, high_y = polygon.bounds
    whole = shapely.make_valid(polygon)
    largest = max(_polygons(whole), key=lambda p: p.area, default=None)
    if largest is None or largest.area <= 1e-9 * max(high_x - low_x, high_y - low_y) ** 2:
        return
    if whole.area - largest.area <= 1e-6 * whole.area and _is_touch(polygon, largest):
        rings.append(Polygon(largest.exterior))
    else:
        crossed.append(polygon)


def _judge_crossed(crossed: list[Polygon], polygons: list[Polygon], remarks: list[str]) -> None:
    """OutlineError if the outline itself seems to cross itself, a remark for lesser lines."""
    if not crossed:
        return
    worst = max(crossed, key=_extent)
    if not polygons or _extent(worst) >= _extent(polygons[0]):
        raise OutlineError(
            f"The outline crosses itself{_where(worst)}. Mend it there, or leave out that layer."
        )
    several = (
        f"{len(crossed)} lines cross themselves and are"
        if len(crossed) > 1
        else "A line crosses itself and is"
    )
    remarks.append(f"{several} left out, the largest{_where(worst)}.")


def _extent(area: Polygon) -> float:
    low_x, low_y, high_x, high_y = area.bounds
    return float(max(high_x - low_x, high_y - low_y))


def _where(polygon: Polygon) -> str:
    where = explain_validity(polygon)
    at = where[where.find("[") + 1 : where.find("]")].split() if "[" in where else []
    if len(at) != 2:
        return ""
    return f" near x = {1e3 * float(at[0]):.1f} mm, y = {1e3 * float(at[1]):.1f} mm of the drawing"


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
    lines: list[Array], join_m: float, remarks: list[str], crossed: list[Polygon]
) -> tuple[list[Polygon], list[Array], tuple[Gap, ...]]:
    """Areas that open lines close together, chains left over, and the gaps between these."""
    lines = [line for line in lines if len(line) >= 2]
    if not lines:
        return [], [], ()
    snapped = _snapped(lines, join_m)
    # The same line drawn twice would close a ring of no area.
    unique = list({_key(line): line for line in snapped}.values())
    if len(unique) < len(snapped):
        remarks.append(f"{len(snapped) - len(unique)} lines were drawn twice and are counted once.")
    faces, cuts, dangles, invalid = polygonize_full([LineString(line) for line in unique])
    areas = list(faces.geoms)
    if not areas and len(unique) > 1:
        if crossings(unique, MOST_CROSSINGS) > MOST_CROSSINGS:
            raise OutlineError(
                f"Lines of the chosen layers cross each other at more than {MOST_CROSSINGS} places and close "
                "nothing. Choose only the layer of the outline."
            )
        faces, cuts, dangles, invalid = polygonize_full(unary_union([LineString(line) for line in unique]))
        areas = list(faces.geoms)
        if areas:
            remarks.append("Lines that cross without meeting were cut where they cross.")
    merged = shapely.line_merge(shapely.MultiLineString([g for s in (dangles, cuts) for g in s.geoms]))
    chains = [np.asarray(g.coords) for g in getattr(merged, "geoms", [merged]) if not g.is_empty]
    chains.sort(key=lambda c: -_length(c))
    for ring in invalid.geoms:
        _sort(np.asarray(ring.coords)[:, :2], areas, crossed)
    solid = [Polygon(p.exterior) for p in _polygons(unary_union(areas))] if areas else []
    return solid, chains, find_gaps(chains)


def _length(line: Array) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _key(line: Array) -> bytes:
    """The same for a line and the same line drawn backwards."""
    return min(line.tobytes(), line[::-1].tobytes())


def _snapped(lines: list[Array], join_m: float) -> list[Array]:
    """The lines with ends that lie within `join_m` of each other moved onto one point."""
    # imported here: only an import of lines needs it
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    ends = np.array([end for line in lines for end in (line[0], line[-1])])
    tree = cKDTree(ends)
    if tree.count_neighbors(tree, join_m) > MOST_PAIRS:
        raise OutlineError(
            f"Nearly all ends of the lines lie within {1e3 * join_m:.3g} mm of each other, over which ends are "
            "joined. Check the unit, or join ends within less."
        )
    a, b = tree.query_pairs(join_m, output_type="ndarray").T
    # A matrix, not an array: older scipy finds no components where indices are 64 bits wide.
    links = coo_matrix((np.ones(len(a), dtype=bool), (a, b)), shape=(len(ends), len(ends)))
    label = connected_components(links, directed=False)[1]
    # The first end of each group is the place of all.
    _, first = np.unique(label, return_index=True)
    group = first[label]
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
    rings = _different([r for r in rings if r.area > SPECK * rings[0].area])
    if not rings:
        return [], []
    points = [ring.representative_point() for ring in rings]
    inside, around = shapely.STRtree(rings).query(points, predicate="within")
    larger = around < inside
    depth = np.bincount(inside[larger], minlength=len(rings))
    parents = np.full(len(rings), -1)
    np.maximum.at(parents, inside[larger], around[larger])  # the smallest around it is the last in order
    areas: tuple[list[Polygon], list[Polygon]] = ([], [])
    for i, ring in enumerate(rings):
        hole = bool(depth[i] % 2)
        if not hole or _extent(ring) > LONG_HOLE * _extent(rings[0]):
            within = [rings[j] for j in np.flatnonzero(parents == i)]
            areas[hole].append(_without(ring, within, remarks))
    return areas


def _different(rings: list[Polygon]) -> list[Polygon]:
    """The rings without those drawn again in the same place."""
    size, bounds = shapely.area(rings), shapely.bounds(rings)
    kept: list[int] = []
    for i, ring in enumerate(rings):
        earlier = np.array(kept, dtype=int)
        alike = np.abs(size[earlier] - size[i]) <= 1e-4 * size[earlier]
        alike &= np.abs(bounds[earlier] - bounds[i]).max(axis=1, initial=0.0) <= 1e-5
        if not any(ring.symmetric_difference(rings[j]).area < 1e-4 * size[j] for j in earlier[alike]):
            kept.append(i)
    return [rings[i] for i in kept]


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
