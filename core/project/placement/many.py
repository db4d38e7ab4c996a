"""The verdict for many places of one patch at once: strip, maps and search ask for hundreds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch
from core.project.placement.gaps import TINY_M, gaps_m
from core.project.placement.obstacles import TOUCHING_M, Obstacle, package_boxes, surroundings
from core.project.placement.shapes import ALONG, Array, Bools, Boxes, overlaps, stretches
from core.project.plan import package_margins

AT_ONCE = 100_000
"""Pairs of a box and a boundary that are looked at together."""
FEW_SIZES = 8
"""With this many places for each size, a size is asked once for all its places."""


@dataclass(frozen=True)
class Judged:
    """P places: `code` (P,) is -1 where the package lies free, else an index into `reasons`, which say
    where it would lie ("over the keep-out ..."); `error` (P,) where the layout could not be predicted, `off_part` (P,) where
    the ceramic hangs over the part's edge, so that there is nothing to predict."""

    code: NDArray[np.intp]
    reasons: tuple[str, ...]
    error: Bools
    off_part: Bools

    @property
    def allowed(self) -> Bools:
        return self.code < 0


def judge(
    project: Project,
    candidate: Candidate,
    patch: Patch,
    x_start_m: Array,
    length_m: Array | float | None = None,
    width_m: Array | float | None = None,
    moving: tuple[str, ...] = (),
) -> Judged:
    """Whether the patch may start at each of many places.

    candidate : the layout it belongs to; x_start_m : (P,) root-side ends of its ceramic; length_m, width_m :
    (P,) or one number, m, the patch's own where None; moving : ids of patches that move too and are not in
    the way.
    """
    x = np.asarray(x_start_m, dtype=float)
    length = np.broadcast_to(patch.length_m if length_m is None else length_m, x.shape)
    width = np.broadcast_to(patch.width_m if width_m is None else width_m, x.shape)
    package = project.package(patch.package)
    code = np.full(x.shape, -1, dtype=np.intp)
    error, off_part = np.zeros(x.shape, dtype=bool), np.zeros(x.shape, dtype=bool)
    reasons: list[str] = []

    def mark(where: Bools, words: str) -> None:
        hit = where & (code < 0)
        if hit.any():
            code[hit] = len(reasons)
            reasons.append(words)

    # The ceramic before the margin: the worse reason is the one told.
    touched = []
    for thing in surroundings(project.structure, project.packages, candidate, patch, moving):
        whole = lies_over(thing, patch, package_margins(package), x, length, width)
        bare = whole if thing.solid or not whole.any() else lies_over(thing, patch, (0.0, 0.0), x, length, width)
        touched.append((thing, whole, bare))
        error |= bare
        if thing.kind == "edge":
            off_part |= bare
    for thing, _, bare in touched:
        mark(bare, thing.over)
    for thing, whole, _ in touched:
        mark(whole, f"with its margin {thing.over}")
    for start, end in gaps_m(project.structure, (p for p in candidate.patches if p.id not in (patch.id, *moving))):
        bare = (x > start + TINY_M) | (x + length < end - TINY_M)
        error |= bare
        mark(bare, "where it leaves a part without a lay-up in pieces")
    return Judged(code, tuple(reasons), error, off_part)


def lies_over(
    thing: Obstacle, patch: Patch, margins_m: tuple[float, float], x: Array, length: Array, width: Array
) -> Bools:
    """(P,) whether the package lies over the thing.

    margins_m : at its ends and sides, m; x, length, width : (P,) root-side end and size of the ceramic, m.
    """
    sizes, which = _sizes(length, width)
    if len(sizes) * FEW_SIZES > len(x):
        boxes = package_boxes(patch, margins_m, x, length, width).shrunk(thing.tolerance_m)
        return _in_parts(thing, boxes)
    out = np.zeros(len(x), dtype=bool)
    for k, (one_length, one_width) in enumerate(sizes):
        mine = np.flatnonzero(which == k)
        box = package_boxes(patch, margins_m, 0.0, one_length, one_width).shrunk(thing.tolerance_m)
        for a, b in stretches(thing.shape, box, ALONG):
            out[mine] |= (x[mine] > a) & (x[mine] < b)
    return out


def _sizes(length: Array, width: Array) -> tuple[Array, NDArray[np.intp]]:
    """Every size there is (k, 2), and which of them each place has (P,)."""
    if len(length) and (length == length[0]).all() and (width == width[0]).all():
        return np.array([[length[0], width[0]]]), np.zeros(len(length), dtype=np.intp)
    both = np.empty(len(length), dtype=complex)  # pairs of numbers are sorted ten times as soon as rows of a table
    both.real, both.imag = length, width
    sizes, which = np.unique(both, return_inverse=True)
    return np.stack([sizes.real, sizes.imag], axis=1), which.ravel()


def _in_parts(thing: Obstacle, boxes: Boxes) -> Bools:
    """`overlaps` of the boxes that come near the thing, a part of them at a time."""
    low, high = thing.x_m
    near = np.flatnonzero((boxes.x + boxes.reach_x > low) & (boxes.x - boxes.reach_x < high))
    out = np.zeros(len(boxes), dtype=bool)
    step = max(1, AT_ONCE // max(1, len(getattr(thing.shape, "segments", ()))))
    for start in range(0, len(near), step):
        part = near[start : start + step]
        out[part] = overlaps(thing.shape, boxes.only(part))
    return out


def depth_along(things: Sequence[Obstacle], boxes: Boxes) -> Array:
    """(P,) how far along the span packages would have to go to clear each thing they lie over, summed;
    0 where they lie free. For a search to find its way back by."""
    out = np.zeros(len(boxes))
    for thing in things:
        shrunk = boxes.shrunk(thing.tolerance_m)
        over = np.flatnonzero(_in_parts(thing, shrunk))
        if not len(over):
            continue
        low, high = thing.shape.shifts(shrunk.only(over), ALONG)
        now = (low < 0.0) & (high > 0.0)
        back = np.where(now, -low, 0.0).max(axis=1, initial=0.0)
        on = np.where(now, high, 0.0).max(axis=1, initial=0.0)
        way = np.minimum(np.where(back > 0.0, back, np.inf), np.where(on > 0.0, on, np.inf))
        out[over] += np.where(np.isfinite(way), way, boxes.half_l[over])
    return out


def pair_depth(one: Boxes, two: Boxes) -> Array:
    """(P,) how deep the packages of two patches that both move lie over each other; 0 where they are
    apart."""
    depth = np.full(len(one), np.inf)
    corners = (one.corners, two.corners)
    for box in (one, two):
        c, s = box.turn
        for axis in (np.stack([c, s], axis=-1), np.stack([-s, c], axis=-1)):
            a, b = (np.einsum("pki,pi->pk", points, axis) for points in corners)
            depth = np.minimum(depth, np.minimum(a.max(axis=1) - b.min(axis=1), b.max(axis=1) - a.min(axis=1)))
    return np.where(depth > 2.0 * TOUCHING_M, depth, 0.0)
