"""What a package can meet on its faces: ends, edges, holes, keep-outs, other packages.

A solid thing (keep-out, package) must be clear of the whole package. Where the part is missing
(past an edge or an end, over a hole) the ceramic must not lie at all, and the package's margin may
only where nobody minds: that is told, and no such place is offered. Past an end that is held the
margin would lie in the support.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np

from core.project.candidate import Candidate
from core.project.checking import by_identity, mm
from core.project.patch import Package, Patch
from core.project.placement.shapes import Array, Boxes, Disc, End, Ring, Shape, sides
from core.project.plan import cut_reach, datum_holes, faces, keep_out_outline, off_round, package_margins
from core.project.structure import CutOut, KeepOut, Outline, Structure

Kind = Literal["root", "tip", "edge", "hole", "keep-out", "package"]

TOUCHING_M = 1e-9
"""Things that meet to the rounding of a millimetre value are apart."""
FLUSH_M = 5e-6
"""A package flush with an edge lies on the part, to the rounding of a drawing."""
BOTH = frozenset(("top", "underside"))
FURTHEST_M = 1e4
END_M = 1e-6
"""Sides of an outline this near to an end of the span are that end."""


@dataclass(frozen=True, eq=False)
class Obstacle:
    """Something no ceramic may lie over.

    name : the thing in words, "the keep-out "bolt""; over : where a patch lies that lies over it, in
    words, for "would lie ..."; solid : whether no margin may lie over it either; held : an end with a
    support; x_m : from where to where it reaches along the span; path : the patch whose package it is;
    faces : those it is on.
    """

    kind: Kind
    shape: Shape
    name: str
    over: str
    solid: bool = False
    held: bool = False
    x_m: tuple[float, float] = (-math.inf, math.inf)
    path: str = ""
    faces: frozenset[str] = BOTH

    @property
    def tolerance_m(self) -> float:
        return FLUSH_M if self.kind in ("edge", "hole") else TOUCHING_M

    @property
    def stops_margin(self) -> bool:
        """Whether a package whose margin lies over it cannot be bonded."""
        return self.solid or self.held

def surroundings(
    structure: Structure,
    packages: Sequence[Package],
    candidate: Candidate,
    patch: Patch,
    moving: tuple[str, ...] = (),
) -> tuple[Obstacle, ...]:
    """What the patch can meet: everything of the structure, and the packages of the other patches that
    share a face with it; those that move too are left out."""
    by_name = {package.name: package for package in packages}
    mine = faces(patch.face)
    others = [
        _package(other, by_name[other.package])
        for other in candidate.patches
        if other.id != patch.id
        and other.id not in moving
        and faces(other.face) & mine
        and other.package in by_name
        and can_be_drawn(other, by_name[other.package])
    ]
    zones = [zone for zone in _zones(structure.keep_outs) if zone.faces & mine]
    part = _of_part(structure)
    # ends, what lies on the part, then its edge and holes: the first that is met is the one that is told
    return (*part[:2], *zones, *others, *part[2:])


def can_be_drawn(patch: Patch, package: Package) -> bool:
    """Whether every number of a package's outline is finite and its ceramic has a size."""
    values = (patch.x_start_m, patch.y_m, patch.angle_rad, patch.length_m, patch.width_m)
    return _plain(*values, *package_margins(package)) and min(values[3:]) > 0.0


def _plain(*values: float) -> bool:
    """Whether lengths can be reckoned with: finite, and no further than anybody's part."""
    return all(abs(v) <= FURTHEST_M for v in values)


# ---- rectangles ------------------------------------------------------------------------------


def package_boxes(
    patch: Patch,
    margins_m: tuple[float, float],
    x_start_m: Array | float | None = None,
    length_m: Array | float | None = None,
    width_m: Array | float | None = None,
) -> Boxes:
    """Packages of a patch with these margins at many starts, lengths and widths (its own where None)."""
    x = patch.x_start_m if x_start_m is None else x_start_m
    length = patch.length_m if length_m is None else length_m
    width = patch.width_m if width_m is None else width_m
    end, side = margins_m
    values = x + 0.5 * length, patch.y_m, 0.5 * length + end, 0.5 * width + side, patch.angle_rad
    if any(isinstance(v, np.ndarray) for v in values):
        return Boxes(*np.broadcast_arrays(*map(np.atleast_1d, values)))
    return Boxes(*np.array(values, dtype=float)[:, None])


# ---- the part --------------------------------------------------------------------------------


@by_identity
def _of_part(structure: Structure) -> tuple[Obstacle, ...]:
    """Ends, edges and holes."""
    x, width = structure.stations_m, structure.width_m
    widths = width if isinstance(width, tuple) else (width,) * len(x)
    fine = len(x) > 1 and len(widths) == len(x) and _plain(*x, *widths) and min(widths) > 0.0
    if not fine or x[0] != 0.0 or any(b <= a for a, b in pairwise(x)):
        return ()
    span = structure.span_m
    root, tip = structure.root.kind != "free", structure.tip.kind != "free"
    ends = (
        Obstacle(
            "root", End(0.0, -1), "the support" if root else "the root end",
            "past the support line at 0.0 mm" if root else "past the root end at 0.0 mm", held=root, x_m=(-math.inf, 0.0),
        ),
        Obstacle(
            "tip", End(span, 1), "the support at the tip" if tip else "the tip",
            f"past the {'support line' if tip else 'tip'} at {mm(span)}", held=tip, x_m=(span, math.inf),
        ),
    )  # fmt: skip
    if structure.outline is not None and _is_finite(structure.outline):
        edge, holes = _drawn(structure.outline, span)
    else:
        edge, holes = _of_stations(np.asarray(x), np.asarray(widths)), []
    round_ones = [cut for cut in structure.cut_outs if _is_real(cut) and cut.kind == "hole"]
    holes = [hole for hole in holes if not any(_is_round(hole.shape, cut) for cut in round_ones)]
    rings = [hole.shape for hole in holes]
    cuts = [_cut(cut) for cut in structure.cut_outs if _is_real(cut) and not _drawn_already(cut, rings)]
    return (*ends, edge, *holes, *cuts, *_datum_holes(structure))


def _of_stations(x: Array, widths: Array) -> Obstacle:
    left = np.stack([x, 0.5 * widths], axis=1)
    right = np.stack([x[::-1], -0.5 * widths[::-1]], axis=1)
    boundary = np.concatenate([_lines(left), _lines(right)])
    return _edge(Ring(np.concatenate([left, right]), boundary, True, (END_M, float(x[-1]) - END_M)))


def _lines(points: Array) -> Array:
    return np.concatenate([points[:-1], points[1:]], axis=1)


def _edge(ring: Ring) -> Obstacle:
    return Obstacle("edge", ring, "the edge of the part", "over the edge of the part")


def _drawn(outline: Outline, span_m: float) -> tuple[Obstacle, list[Obstacle]]:
    """Edge and openings of a drawing between the ends of the span."""
    corners = np.asarray(outline.exterior, dtype=float)
    boundary = _between(sides(corners), END_M, span_m - END_M)
    edge = _edge(Ring(corners, boundary, True, (END_M, span_m - END_M)))
    holes = []
    for ring in outline.holes:
        points = np.asarray(ring, dtype=float)
        low, high = float(points[:, 0].min()), float(points[:, 0].max())
        holes.append(_hole(Ring.of(points), 0.5 * (low + high), (low, high)))
    return edge, holes


def _between(lines: Array, low: float, high: float) -> Array:
    """The parts of segments (N, 4) with x between the ends."""
    x0, x1 = lines[:, 0], lines[:, 2]
    run = np.where(x1 == x0, 1.0, x1 - x0)
    shares = np.sort(np.stack([(low - x0) / run, (high - x0) / run]), axis=0)
    start = np.where(x1 == x0, 0.0, np.clip(shares[0], 0.0, 1.0))
    end = np.where(x1 == x0, 1.0, np.clip(shares[1], 0.0, 1.0))
    inside = np.where(x1 == x0, (x0 > low) & (x0 < high), start < end)
    way = lines[:, 2:] - lines[:, :2]
    cut = np.concatenate([lines[:, :2] + start[:, None] * way, lines[:, :2] + end[:, None] * way], axis=1)
    return np.asarray(cut[inside])


def _hole(shape: Shape, x_m: float, reach_m: tuple[float, float], path: str = "") -> Obstacle:
    name = f"the hole at x = {mm(round(x_m, 7))}"
    return Obstacle("hole", shape, name, f"over {name}", x_m=reach_m, path=path)


def _cut(cut: CutOut) -> Obstacle:
    reach, half = cut_reach(cut)
    ends = (cut.x_m - reach, cut.x_m + reach)
    if cut.kind == "hole":
        return _hole(Disc(cut.x_m, cut.y_m, half), cut.x_m, ends)
    low, high = cut.y_m - half, cut.y_m + half
    corners = np.array([(ends[0], low), (ends[1], low), (ends[1], high), (ends[0], high)])
    name = f"the slot at x = {mm(round(cut.x_m, 7))}"
    return Obstacle("hole", Ring.of(corners), name, f"over {name}", x_m=ends)


def _is_real(cut: CutOut) -> bool:
    numbers = (cut.x_m, cut.y_m, *cut_reach(cut))
    return _plain(*numbers) and min(numbers[2:]) > 0.0


def _is_round(shape: Shape, cut: CutOut) -> bool:
    """Whether an opening of the drawing is this round hole, which says where it is better than the corners of a polygon."""
    if not isinstance(shape, Ring):
        return False
    radius = 0.5 * cut.diameter_m
    off = np.hypot(shape.corners[:, 0] - cut.x_m, shape.corners[:, 1] - cut.y_m) - radius
    return bool(np.abs(off).max() <= off_round(radius))


def _drawn_already(cut: CutOut, rings: list[Shape]) -> bool:
    """Whether a cut-out came from an opening of the drawing, which says better where it is."""
    x, y = np.array([cut.x_m]), np.array([cut.y_m])
    return any(isinstance(ring, Ring) and bool(ring.has(x, y)[0]) for ring in rings)


def _datum_holes(structure: Structure) -> list[Obstacle]:
    """Holes a person measures from, where no cut-out stands for them."""
    out = []
    for datum, cut in datum_holes(structure):
        if _is_real(cut):
            name, radius = f'the hole "{datum.name}"', 0.5 * cut.diameter_m
            shape = Disc(cut.x_m, cut.y_m, radius)
            reach = (cut.x_m - radius, cut.x_m + radius)
            out.append(Obstacle("hole", shape, name, f"over {name}", x_m=reach))
    return out


def _is_finite(outline: Outline) -> bool:
    rings = (outline.exterior, *outline.holes)
    return all(len(r) > 2 and all(_plain(*corner) for corner in r) for r in rings)


# ---- what lies on it -------------------------------------------------------------------------


def _has_area(zone: KeepOut) -> bool:
    if zone.polygon_m is not None:
        return len(zone.polygon_m) >= 3 and all(_plain(*corner) for corner in zone.polygon_m)
    return _plain(zone.x_start_m, zone.x_end_m) and zone.x_end_m > zone.x_start_m


@by_identity
def _zones(zones: tuple[KeepOut, ...]) -> tuple[Obstacle, ...]:
    return tuple(_zone(zone) for zone in zones if _has_area(zone))


def _zone(zone: KeepOut) -> Obstacle:
    corners = np.asarray(keep_out_outline(zone), dtype=float)
    low, high = float(corners[:, 0].min()), float(corners[:, 0].max())
    name = f'the keep-out "{zone.name}"'
    words = f"over {name} ({mm(low)} to {mm(high)})"
    return Obstacle("keep-out", Ring.of(corners), name, words, solid=True, x_m=(low, high), faces=faces(zone.face))


@lru_cache(maxsize=256)
def _package(patch: Patch, package: Package) -> Obstacle:
    box = package_boxes(patch, package_margins(package))
    corners = box.corners[0]
    low, high = float(corners[:, 0].min()), float(corners[:, 0].max())
    words = f"over the package of patch {patch.id}"
    return Obstacle(
        "package", Ring.of(corners), f"patch {patch.id}", words, solid=True, x_m=(low, high), path=patch.id,
        faces=faces(patch.face),
    )  # fmt: skip
