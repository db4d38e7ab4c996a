"""A free place for a new patch or a new hole: clear of everything, with a little room around."""

from __future__ import annotations

import math

from msgspec.structs import replace

from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Bond, Patch
from core.project.placement.lead import RELIEF_M, free_exits
from core.project.placement.obstacles import surroundings
from core.project.placement.room import free_between, free_starts
from core.project.structure import CutOut

HOLE_M = 5e-3
HOLE_SHARE = 0.2
"""A new hole is of this diameter, and no more than this share of the part's least width."""
GAP_M = 1e-3
"""Kept to what is in the way, where there is room for it."""


def free_start(project: Project, candidate: Candidate, patch: Patch) -> float | None:
    """The smallest x_start_m at which the whole package of `patch` lies free; None where it does nowhere."""
    for low, high in free_starts(project, candidate, patch):
        for place in (_up(low + GAP_M), round(low + GAP_M, 9)):
            if place <= high:
                return place
    return next((low for low, _ in free_starts(project, candidate, patch)), None)


def with_free_exit(project: Project, candidate: Candidate, patch: Patch) -> Patch:
    """The patch with its lead leaving where it finds room; unchanged where it does, or nowhere."""
    exits = free_exits(project.structure, project.packages, candidate, patch)
    return patch if not exits or patch.lead_exit in exits else replace(patch, lead_exit=exits[0])


def free_hole(project: Project) -> CutOut:
    """A new round hole on the centreline, in the middle of the longest stretch clear of holes, keep-outs
    and the packages of every candidate (in mid-span where there is none)."""
    structure = project.structure
    placed = [
        replace(patch, id=f"{candidate.id} {patch.id}")
        for candidate in project.candidates
        for patch in candidate.patches
    ]
    widths = structure.width_m if isinstance(structure.width_m, tuple) else (structure.width_m,)
    size = round(min(HOLE_M, HOLE_SHARE * min(widths)), 4) or HOLE_M
    square = Patch("", "", 0.0, size, size, Bond("", 0.0, 0.0), "both")
    things = surroundings(structure, project.packages, Candidate("", "", tuple(placed)), square)
    bare = tuple(thing for thing in things if thing.kind != "keep-out")
    # past a package's end its lead may run as far as the strain relief; a keep-out forbids no hole
    tries = ((things, (RELIEF_M, size)), (bare, (RELIEF_M, size)), (bare, (0.0, 0.0)))
    free = next((found for near, around in tries if (found := free_between(near, square, around))), [])
    low, high = max(free, key=_length, default=(0.5 * structure.span_m - 0.5 * size,) * 2)
    return CutOut("hole", round(0.5 * (low + high + size), 4), diameter_m=size)


def _up(place_m: float) -> float:
    """The next tenth of a millimetre, which is what a rule and the drawing tell."""
    return round(math.ceil(round(place_m * 1e4, 5)) * 1e-4, 9)


def _length(stretch: tuple[float, float]) -> float:
    return stretch[1] - stretch[0]
