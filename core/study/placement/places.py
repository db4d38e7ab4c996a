"""Which placements are forbidden and by what, for many placements of one patch at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core import units
from core.project.model import Candidate, KeepOut, Package, Patch, Project
from core.project.on_part import lie_on_part
from core.project.patch_checks import TOUCHING_M
from core.project.plan import (
    Polygon,
    check_points,
    faces,
    keep_out_outline,
    net_width_at,
    overlap_m,
    package_margins,
    package_outline,
)

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Obstacle:
    """Something no part of the package may lie on: a keep-out, or another patch's package."""

    name: str
    outline: Polygon
    words: str

    @property
    def x_m(self) -> tuple[float, float]:
        xs = [x for x, _ in self.outline]
        return min(xs), max(xs)


def mm(value_m: float) -> str:
    """A length in words."""
    return units.show_with_unit(value_m, "mm")


def obstacles(
    project: Project, candidate: Candidate, patch: Patch, moving: tuple[str, ...]
) -> tuple[Obstacle, ...]:
    """Everything on the patch's faces; other patches that move too are left out."""
    mine, packages = faces(patch.face), {p.name: p for p in project.packages}
    out = [_zone(zone) for zone in project.structure.keep_outs if faces(zone.face) & mine]
    for other in candidate.patches:
        if other.id not in moving and faces(other.face) & mine:
            outline = package_outline(other, packages[other.package])
            out.append(Obstacle(other.id, outline, f"over the package of patch {other.id}"))
    return tuple(out)


def _zone(zone: KeepOut) -> Obstacle:
    span = f"{mm(zone.x_start_m)} to {mm(zone.x_end_m)}"
    return Obstacle(zone.name, keep_out_outline(zone), f'over the keep-out "{zone.name}" ({span})')


def lies_over(
    obstacle: Obstacle, patch: Patch, package: Package, x: Array, length: Array, width: Array
) -> Bools:
    """(P,) whether the whole package, margins and turn included, lies over the obstacle."""
    end, side = package_margins(package)
    low, high = obstacle.x_m
    reach = 0.0 if patch.angle_rad == 0.0 else float(np.max(width)) / 2 + side
    over = (x + length + end + reach > low + TOUCHING_M) & (x - end - reach < high - TOUCHING_M)
    if patch.angle_rad == 0.0 and _is_across(obstacle, patch, float(np.max(width)) + 2 * side):
        return over
    for i in np.flatnonzero(over):
        size = {"x_start_m": float(x[i]), "length_m": float(length[i]), "width_m": float(width[i])}
        outline = package_outline(replace(patch, **size), package)
        over[i] = overlap_m(outline, obstacle.outline) > TOUCHING_M
    return over


def _is_across(obstacle: Obstacle, patch: Patch, width_m: float) -> bool:
    """A rectangle that covers the package's whole width: only x counts."""
    xs, ys = {x for x, _ in obstacle.outline}, {y for _, y in obstacle.outline}
    if len(obstacle.outline) != 4 or len(xs) != 2 or len(ys) != 2:
        return False
    return min(ys) <= patch.y_m - width_m / 2 and max(ys) >= patch.y_m + width_m / 2


def part_width(project: Project, x: Array, length: Array) -> Array:
    """(P,) the smallest net width of the part under each ceramic."""
    points = np.array(check_points(project.structure))
    widths = np.array([net_width_at(project.structure, float(p)) for p in points])
    ends = np.stack([np.interp(x, points, widths), np.interp(x + length, points, widths)])
    inside = (points > x[:, None]) & (points < (x + length)[:, None])
    return np.minimum(ends.min(axis=0), np.where(inside, widths, np.inf).min(axis=1))


def judge(
    project: Project,
    candidate: Candidate,
    patch: Patch,
    x: Array,
    length: Array,
    width: Array,
    moving: tuple[str, ...] = (),
) -> tuple[NDArray[np.intp], tuple[str, ...]]:
    """Code of each placement (P,), -1 where it is free, else an index into the reasons in words."""
    package, span = project.package(patch.package), project.structure.span_m
    code = np.full(x.shape, -1, dtype=np.intp)
    reasons: list[str] = []

    def mark(where: Bools, words: str) -> None:
        hit = where & (code < 0)
        if hit.any():
            code[hit] = len(reasons)
            reasons.append(words)

    mark(x < -TOUCHING_M, "starts before the support at 0.0 mm")
    mark(x + length > span + TOUCHING_M, f"ends past the tip at {mm(span)}")
    end = package_margins(package)[0]
    mark(x - end < -TOUCHING_M, "with its margin past the support line at 0.0 mm")
    mark(x + length + end > span + TOUCHING_M, f"with its margin past the tip at {mm(span)}")
    for obstacle in obstacles(project, candidate, patch, (*moving, patch.id)):
        mark(lies_over(obstacle, patch, package, x, length, width), obstacle.words)
    outline = project.structure.outline
    if outline is None:
        mark(width > part_width(project, x, length) + TOUCHING_M, "wider than the part under it")
    else:
        mark(~lie_on_part(outline, patch, package, x, length, width, span), "not wholly on the part")
    return code, tuple(reasons)
