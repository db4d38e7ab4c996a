"""Plan geometry for checks: widths at x, package outlines, overlaps of convex and other polygons."""

from __future__ import annotations

import math
from bisect import bisect_right
from itertools import pairwise

from core.project.patch import Package, Patch
from core.project.record import Profile
from core.project.structure import CutOut, DatumFeature, KeepOut, Structure

Point = tuple[float, float]
Polygon = tuple[Point, ...]
_FAR_M = 1e3
ROUND_M, ROUND_SHARE = 2e-5, 2e-3
"""A ring whose corners lie within this of a circle, or this share of its radius, is a round hole."""


def profile_at(profile: Profile, stations_m: tuple[float, ...], x_m: float) -> float:
    """Value of a profile at x, straight between stations, held beyond the ends."""
    if not isinstance(profile, tuple):
        return float(profile)
    i = bisect_right(stations_m, x_m)
    if i <= 0:
        return profile[0]
    if i >= len(stations_m):
        return profile[-1]
    a, b = stations_m[i - 1], stations_m[i]
    f = (x_m - a) / (b - a)
    return profile[i - 1] * (1.0 - f) + profile[i] * f


def off_round(radius_m: float) -> float:
    """How far, m, the corners of a drawn ring may lie off a circle that it is taken for."""
    return max(ROUND_M, ROUND_SHARE * radius_m)


def cut_reach(cut: CutOut) -> tuple[float, float]:
    """Half length along x and half width across of a cut-out."""
    if cut.kind == "hole":
        return cut.diameter_m / 2, cut.diameter_m / 2
    return cut.length_m / 2, cut.width_m / 2


def datum_holes(structure: Structure) -> tuple[tuple[DatumFeature, CutOut], ...]:
    """Datum features that are round holes and for which no cut-out stands, with the hole they are."""
    cuts = {(cut.x_m, cut.y_m) for cut in structure.cut_outs}
    return tuple(
        (datum, CutOut("hole", datum.x_m, datum.y_m, diameter_m=datum.diameter_m))
        for datum in structure.datums
        if datum.diameter_m is not None and (datum.x_m, datum.y_m) not in cuts
    )


def removed_width(cut: CutOut, x_m: float) -> float:
    """Width a cut-out takes away at x."""
    half_length, half_width = cut_reach(cut)
    d = abs(x_m - cut.x_m)
    if d >= half_length:
        return 0.0
    return 2 * math.sqrt(half_width**2 - d**2) if cut.kind == "hole" else 2 * half_width


def net_width_at(structure: Structure, x_m: float) -> float:
    """Outline less cut-outs at x."""
    width = profile_at(structure.width_m, structure.stations_m, x_m)
    return width - sum(removed_width(cut, x_m) for cut in structure.cut_outs)


def check_points(structure: Structure) -> list[float]:
    """Places where the net width or the lay-up can be at its extreme, and the middles between."""
    span = structure.span_m
    marks = set(structure.stations_m)
    for cut in structure.cut_outs:
        reach = cut_reach(cut)[0]
        marks |= {cut.x_m - reach * 0.999999, cut.x_m, cut.x_m + reach * 0.999999}
    for layer in structure.layers:
        for piece in layer.pieces:
            marks |= {piece.start_m, span if piece.end_m is None else piece.end_m}
    inside = sorted(x for x in marks if 0.0 <= x <= span)
    return sorted({*inside, *((a + b) / 2 for a, b in pairwise(inside))})


def package_margins(package: Package) -> tuple[float, float]:
    """How far the package runs past the ceramic at its ends and at its sides."""
    return package.margin_m, package.beside_m


def package_outline(patch: Patch, package: Package) -> Polygon:
    """Corners of the whole package in plan, turned by the patch's angle."""
    end, side = package_margins(package)
    half_l, half_b = patch.length_m / 2 + end, patch.width_m / 2 + side
    return _placed(patch, ((-half_l, -half_b), (half_l, -half_b), (half_l, half_b), (-half_l, half_b)))


def _placed(patch: Patch, corners: Polygon) -> Polygon:
    """Corners about the middle of the ceramic, turned and moved to where the patch lies."""
    cx, cy = patch.x_start_m + patch.length_m / 2, patch.y_m
    c, s = math.cos(patch.angle_rad), math.sin(patch.angle_rad)
    return tuple((cx + u * c - v * s, cy + u * s + v * c) for u, v in corners)


def keep_out_outline(zone: KeepOut) -> Polygon:
    """Corners of a keep-out; the full width where it has no polygon."""
    if zone.polygon_m is not None:
        return zone.polygon_m
    a, b = zone.x_start_m, zone.x_end_m
    return ((a, -_FAR_M), (b, -_FAR_M), (b, _FAR_M), (a, _FAR_M))


def faces(face: str) -> frozenset[str]:
    """The single faces a face setting covers."""
    return frozenset(("top", "underside")) if face == "both" else frozenset((face,))


def overlap_m(convex: Polygon, other: Polygon) -> float:
    """How deep `other` lies over `convex`: the smaller of the extents along x and y of what is common.

    `convex` runs counter-clockwise (Sutherland & Hodgman 1974 clipping); 0 where nothing is common.
    """
    common = list(other)
    for a, b in zip(convex, (*convex[1:], convex[0]), strict=True):
        common = _left_of(common, a, b)
        if not common:
            return 0.0
    if abs(_area(common)) < 1e-15:
        return 0.0  # a zone bent around the package leaves lines along its edges, and no area
    xs, ys = [p[0] for p in common], [p[1] for p in common]
    return min(max(xs) - min(xs), max(ys) - min(ys))


def _area(polygon: list[Point]) -> float:
    pairs = zip(polygon, (*polygon[1:], polygon[0]), strict=True)
    return 0.5 * sum(p[0] * q[1] - q[0] * p[1] for p, q in pairs)


def _left_of(polygon: list[Point], a: Point, b: Point) -> list[Point]:
    def side(p: Point) -> float:
        return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])

    kept: list[Point] = []
    for p, q in zip(polygon, (*polygon[1:], polygon[0]), strict=True):
        sp, sq = side(p), side(q)
        if sp >= 0:
            kept.append(p)
        if (sp > 0 > sq) or (sp < 0 < sq):
            f = sp / (sp - sq)
            kept.append((p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1])))
    return kept
