"""Where a lead leaves its package: how far it runs on the free part before it meets something.

A lead leaves straight, is held by a strain relief some way from the package, and may bend from its
bend radius on. Until the further of the two it must lie on the part, clear of supports, keep-outs,
holes and other packages.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from core.project.candidate import Candidate
from core.project.checking import by_identity, mm
from core.project.patch import Package, Patch
from core.project.placement.obstacles import FLUSH_M, Kind, Obstacle, can_be_drawn, surroundings
from core.project.placement.shapes import Boxes, stretches_each
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
    return lead_runs(structure, packages, candidate, [(patch, exit or patch.lead_exit)])[0]


def free_exits(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate, patch: Patch
) -> tuple[str, ...]:
    """The exits at which bend and strain relief find room."""
    runs = lead_runs(structure, packages, candidate, [(patch, exit) for exit in EXITS])
    return tuple(exit for exit, run in zip(EXITS, runs, strict=True) if run.fits)


def lead_runs(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate, leads: Sequence[tuple[Patch, str]]
) -> list[LeadRun]:
    """How each lead, of a patch at an exit, runs; asked of all at once. KeyError for a package that is not there."""
    by_name = {p.name: p for p in packages}
    needed = [max(RELIEF_M, by_name[patch.package].lead_bend_radius_m) for patch, _ in leads]
    drawn = [k for k, (patch, _) in enumerate(leads) if can_be_drawn(patch, by_name[patch.package])]
    things = {patch: surroundings(structure, packages, candidate, patch) for patch in {leads[k][0] for k in drawn}}
    mouths = [_mouth(leads[k][0], by_name[leads[k][0].package], leads[k][1]) for k in drawn]
    first = _first_met(mouths, [things[leads[k][0]] for k in drawn])
    out = [LeadRun(math.inf, each) for each in needed]
    for k, met in zip(drawn, first, strict=True):
        if met is not None:
            out[k] = LeadRun(met[0], needed[k], met[2].name, met[2].kind)
    return out


def _first_met(
    mouths: list[tuple[Boxes, float]], things: list[tuple[Obstacle, ...]]
) -> list[tuple[float, int, Obstacle] | None]:
    """Of each mouth and the way it faces, among the things about it: how far, in which place of their order and what
    it meets first."""
    out: list[tuple[float, int, Obstacle] | None] = [None] * len(mouths)
    asked: dict[Obstacle, list[tuple[int, int]]] = {}
    for k, about in enumerate(things):
        for rank, thing in enumerate(about):
            asked.setdefault(thing, []).append((k, rank))
    if not asked:
        return out
    edges = Boxes(*(np.concatenate([getattr(box, f.name) for box, _ in mouths]) for f in fields(Boxes)))
    angle = np.array([a for _, a in mouths])
    way = (np.cos(angle), np.sin(angle))
    for thing, askers in asked.items():
        near = _ahead(thing, edges, way)
        askers = [(k, rank) for k, rank in askers if near[k]]
        if not askers:
            continue
        which = np.array([k for k, _ in askers])
        mouth = edges.only(which).shrunk(thing.tolerance_m)
        found = stretches_each(thing.shape, mouth, (way[0][which], way[1][which]))
        for (k, rank), over, half in zip(askers, found, mouth.half_l.tolist(), strict=True):
            ahead = next((a for a, b in over if b > 0.0), math.inf)
            met = (max(ahead + half, 0.0), rank, thing)
            before = out[k]
            if ahead < math.inf and (before is None or met[:2] < before[:2]):
                out[k] = met
    return out


def _ahead(thing: Obstacle, mouths: Boxes, way: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """(P,) whether a mouth can meet the thing at all, by where the two are along x."""
    on, back = way[0] > 1e-9, way[0] < -1e-9
    reach, (low, high) = mouths.reach_x, thing.x_m
    return (on | (mouths.x + reach > low)) & (back | (mouths.x - reach < high))


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


@by_identity
def lead_cautions(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate
) -> tuple[tuple[Patch, LeadRun, str], ...]:
    """A sentence for every lead that finds no room, with the exits at which it would."""
    names = {package.name for package in packages}
    patches = [p for p in candidate.patches if p.package in names]
    runs = lead_runs(structure, packages, candidate, [(p, p.lead_exit) for p in patches])
    short = [(p, run) for p, run in zip(patches, runs, strict=True) if not run.fits]
    others = lead_runs(structure, packages, candidate, [(p, exit) for p, _ in short for exit in EXITS])
    out = []
    for k, (patch, run) in enumerate(short):
        each = zip(EXITS, others[k * len(EXITS) : (k + 1) * len(EXITS)], strict=True)
        out.append((patch, run, lead_sentence(patch, run, tuple(exit for exit, way in each if way.fits))))
    return tuple(out)


def lead_sentence(patch: Patch, run: LeadRun, exits: tuple[str, ...]) -> str:
    """That the lead of a patch finds no room at its exit, and what to do."""
    cure = f"Choose another exit: {' or '.join(exits)}." if exits else "No exit has that room here: move the patch."
    return (
        f"The lead of patch {patch.id} leaves {patch.lead_exit} and meets {run.limit} after "
        f"{mm(round(run.free_m, 5))}; bend and strain relief need {mm(run.needed_m)}. {cure}"
    )
