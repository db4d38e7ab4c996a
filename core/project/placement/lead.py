"""Where a lead leaves its package: how far it runs on the free part before it meets something.

A lead leaves straight, is held by a strain relief some way from the package, and may bend from its
bend radius on. Until the further of the two it must lie on the part, clear of supports, keep-outs,
holes and other packages.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from core.project.candidate import Candidate
from core.project.checking import mm
from core.project.patch import Package, Patch
from core.project.placement.obstacles import FLUSH_M, Kind, can_be_drawn, surroundings
from core.project.placement.shapes import Boxes, stretches
from core.project.plan import package_margins
from core.project.structure import Structure

RELIEF_M = 10e-3
"""How far from the package the strain relief holds the lead."""
WIDTH_M = 4e-3
"""Width of a lead where it leaves the package, when the ceramic is wider."""
_TURNS = {"towards tip": 0.0, "left": math.pi / 2, "towards root": math.pi, "right": -math.pi / 2}
EXITS = tuple(_TURNS)


@dataclass(frozen=True)
class LeadRun:
    """`free_m` of straight lead from the package until it meets `limit` (inf and '' where nothing);
    `needed_m` for bend and strain relief."""

    free_m: float
    needed_m: float
    limit: str = ""
    kind: Kind | None = None

    @property
    def fits(self) -> bool:
        return self.free_m >= self.needed_m - 1e-6


def lead_run(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate, patch: Patch,
    exit: str | None = None,
) -> LeadRun:  # fmt: skip
    """How a patch's lead runs at its exit, or at another. KeyError for a package that is not there."""
    package = {p.name: p for p in packages}[patch.package]
    needed = max(RELIEF_M, package.lead_bend_radius_m)
    if not can_be_drawn(patch, package):
        return LeadRun(math.inf, needed)
    edge, angle = _mouth(patch, package, exit or patch.lead_exit)
    way = (math.cos(angle), math.sin(angle))
    free, limit = math.inf, None
    for thing in surroundings(structure, packages, candidate, patch):
        mouth = edge.shrunk(thing.tolerance_m)
        ahead = [a + float(mouth.half_l[0]) for a, b in stretches(thing.shape, mouth, way) if b > 0.0]
        if ahead and max(ahead[0], 0.0) < free:
            free, limit = max(ahead[0], 0.0), thing
    return LeadRun(free, needed, limit.name if limit else "", limit.kind if limit else None)


def free_exits(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate, patch: Patch
) -> tuple[str, ...]:
    """The exits at which bend and strain relief find room."""
    return tuple(exit for exit in EXITS if lead_run(structure, packages, candidate, patch, exit).fits)


def _mouth(patch: Patch, package: Package, exit: str) -> tuple[Boxes, float]:
    """The end of the lead at the package's edge, a sliver as wide as the lead, and the way it leaves."""
    end, side = package_margins(package)
    along = exit.startswith("towards")
    out = patch.length_m / 2 + end if along else patch.width_m / 2 + side
    half = min(WIDTH_M, patch.width_m if along else patch.length_m) / 2
    angle = patch.angle_rad + _TURNS[exit]
    x = patch.x_start_m + patch.length_m / 2 + out * math.cos(angle)
    y = patch.y_m + out * math.sin(angle)
    one = np.ones(1)
    return Boxes(x * one, y * one, 2.0 * FLUSH_M * one, half * one, angle * one), angle


def lead_cautions(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate
) -> Iterator[tuple[Patch, LeadRun, str]]:
    """A sentence for every lead that finds no room, with the exits at which it would."""
    by_name = {package.name for package in packages}
    for patch in candidate.patches:
        if patch.package not in by_name:
            continue
        run = lead_run(structure, packages, candidate, patch)
        if not run.fits:
            yield patch, run, lead_sentence(patch, run, free_exits(structure, packages, candidate, patch))


def lead_sentence(patch: Patch, run: LeadRun, exits: tuple[str, ...]) -> str:
    """That the lead of a patch finds no room at its exit, and what to do."""
    cure = f"Choose another exit: {' or '.join(exits)}." if exits else "No exit has that room here: move the patch."
    return (
        f"The lead of patch {patch.id} leaves {patch.lead_exit} and meets {run.limit} after "
        f"{mm(round(run.free_m, 5))}; bend and strain relief need {mm(run.needed_m)}. {cure}"
    )
