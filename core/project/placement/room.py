"""How far a patch can go before it meets something, which way, and what ends it.

What its margin already lies over has been accepted: there the ceramic decides. Errors along, across
and of angle are each taken alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from core.project.candidate import Candidate
from core.project.checking import by_identity
from core.project.model import Project
from core.project.patch import Package, Patch
from core.project.placement.obstacles import TOUCHING_M, Kind, Obstacle, package_boxes, surroundings
from core.project.placement.shapes import ALONG, Boxes, Direction, Ring, Stretch, overlaps, stretches
from core.project.plan import package_margins
from core.project.structure import Structure

INSIDE = 0.999
"""Places of contact lie a thousandth of the tolerance within it, so that rounding cannot push them out."""
WIDEST_TURN_RAD = math.radians(15.0)
TURN_STEP_RAD = math.radians(0.25)
TURN_BISECTIONS = 24


@dataclass(frozen=True)
class Clearance:
    """The way to the first thing met: `room_m` (rad for a turn; inf where nothing is met), what ends it,
    and whether it would spoil the part or only let the margin hang over."""

    room_m: float
    limit: str = ""
    hard: bool = False


@dataclass(frozen=True)
class Room:
    """Room of one patch: each way along and across, and in angle to the smaller side.

    `tip`, `root` along the span, `left`, `right` looking from root to tip. `hard` holds the same with
    what only lets the package's margin hang past an edge or over a hole left aside.
    """

    tip: Clearance
    root: Clearance
    left: Clearance
    right: Clearance
    angle: Clearance


WAYS: dict[str, Direction] = {"tip": (1.0, 0.0), "root": (-1.0, 0.0), "left": (0.0, 1.0), "right": (0.0, -1.0)}


@dataclass(frozen=True, eq=False)
class _Rule:
    """One box that must stay clear of one thing."""

    thing: Obstacle
    box: Boxes
    hard: bool
    now: bool


def room(project: Project, candidate: Candidate, patch: Patch, *, hard: bool = False) -> Room:
    """The room of a patch of the candidate as it lies; with `hard`, until the layout could not be built.

    Raises KeyError for a package the project does not hold.
    """
    return _room(project.structure, project.packages, candidate, patch, hard)


@by_identity
def _room(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate, patch: Patch, hard: bool
) -> Room:
    """Remembered: a sheet asks for the same patch at every scale it tries."""
    rules = _rules(structure, packages, candidate, patch, hard)
    return Room(**{way: _way(rules, direction) for way, direction in WAYS.items()}, angle=_turn(rules))


def _rules(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate, patch: Patch, hard: bool
) -> list[_Rule]:
    package = next((p for p in packages if p.name == patch.package), None)
    if package is None:
        raise KeyError(patch.package)
    whole = package_boxes(patch, package_margins(package))
    bare = package_boxes(patch, (0.0, 0.0))
    rules = []
    for thing in surroundings(structure, packages, candidate, patch):
        near, within = (box.shrunk(INSIDE * thing.tolerance_m) for box in (whole, bare))
        lies = bool(overlaps(thing.shape, whole.shrunk(thing.tolerance_m))[0])
        if not thing.stops_margin and (hard or lies):
            lies = bool(overlaps(thing.shape, bare.shrunk(thing.tolerance_m))[0])
            rules.append(_Rule(thing, within, True, lies))
        else:
            rules.append(_Rule(thing, near, thing.stops_margin, lies))
    return rules


def _way(rules: list[_Rule], direction: Direction) -> Clearance:
    best = Clearance(math.inf)
    for rule in rules:
        if rule.now:
            return Clearance(0.0, rule.thing.name, rule.hard)
        ahead = [a for a, b in stretches(rule.thing.shape, rule.box, direction) if b > 0.0]
        if ahead and max(ahead[0], 0.0) < best.room_m:
            best = Clearance(max(ahead[0], 0.0), rule.thing.name, rule.hard)
    return best


def _turn(rules: list[_Rule]) -> Clearance:
    """The smaller of the two turns that first meet something, looked at in quarter degrees and halved
    from there."""
    best = Clearance(math.inf)
    count = round(WIDEST_TURN_RAD / TURN_STEP_RAD)
    for rule in rules:
        if rule.now:
            return Clearance(0.0, rule.thing.name, rule.hard)
        turns = np.concatenate([sign * TURN_STEP_RAD * np.arange(1, count + 1) for sign in (1.0, -1.0)])
        over = overlaps(rule.thing.shape, _turned(rule.box, turns)).reshape(2, count)
        for sign, met in zip((1.0, -1.0), over, strict=True):
            if not met.any():
                continue
            high = TURN_STEP_RAD * (int(met.argmax()) + 1)
            low = high - TURN_STEP_RAD
            for _ in range(TURN_BISECTIONS):
                middle = 0.5 * (low + high)
                hit = overlaps(rule.thing.shape, _turned(rule.box, np.array([sign * middle])))[0]
                low, high = (low, middle) if hit else (middle, high)
            if low < best.room_m:
                best = Clearance(low, rule.thing.name, rule.hard)
    return best


def _turned(box: Boxes, by_rad: np.ndarray) -> Boxes:
    same = np.ones(len(by_rad))
    return Boxes(box.x * same, box.y * same, box.half_l * same, box.half_b * same, box.angle + by_rad)


def free_starts(
    project: Project, candidate: Candidate, patch: Patch, moving: tuple[str, ...] = ()
) -> list[tuple[float, float]]:
    """Closed intervals of x_start_m at which the whole package lies free, in order; their ends are the
    exact places of contact."""
    return free_between(
        surroundings(project.structure, project.packages, candidate, patch, moving),
        patch,
        package_margins(project.package(patch.package)),
    )


def free_between(
    things: Sequence[Obstacle], patch: Patch, margins_m: tuple[float, float]
) -> list[tuple[float, float]]:
    """`free_starts` among these things, with these margins."""
    blocked: list[Stretch] = []
    for thing in things:
        box = package_boxes(patch, margins_m, 0.0).shrunk(INSIDE * thing.tolerance_m)
        blocked += stretches(thing.shape, box, ALONG)
    free, at = [], -math.inf
    for a, b in sorted(blocked):
        if a > at or (a == at and math.isfinite(a)):
            free.append((at, a))
        at = max(at, b)
    if at < math.inf:
        free.append((at, math.inf))
    return [(_tidy(a, a, b), _tidy(b, a, b)) for a, b in free if math.isfinite(a) and math.isfinite(b)]


def _tidy(x_m: float, low: float, high: float) -> float:
    """To 0.1 micrometre where that is within."""
    plain = round(x_m, 7)
    return plain if low <= plain <= high else x_m


def blocker_beside(
    project: Project, candidate: Candidate, patch: Patch, way: int, reach_m: float
) -> Obstacle | None:
    """The nearest thing that the package meets within `reach_m` towards the root (-1) or the tip (+1)."""
    found = _rules(project.structure, project.packages, candidate, patch, False)
    rules = [r for r in found if not r.now]
    best: tuple[float, Obstacle] | None = None
    for rule in rules:
        ahead = [a for a, b in stretches(rule.thing.shape, rule.box, (float(way), 0.0)) if b > 0.0]
        if ahead and ahead[0] <= reach_m and (best is None or ahead[0] < best[0]):
            best = (ahead[0], rule.thing)
    return None if best is None else best[1]


@dataclass(frozen=True)
class Near:
    """Something near a package: least distance in plan, 0 where it lies over it."""

    kind: Kind
    name: str
    distance_m: float


def near_things(project: Project, candidate: Candidate, patch: Patch, within_m: float) -> tuple[Near, ...]:
    """Supports, holes, keep-outs and packages on the patch's faces nearer than that, the nearest first."""
    box = package_boxes(patch, package_margins(project.package(patch.package)))
    found = [
        Near(thing.kind, thing.name, float(thing.shape.distance(box)[0]))
        for thing in surroundings(project.structure, project.packages, candidate, patch)
        if thing.kind != "edge" and (thing.held or thing.kind not in ("root", "tip"))
    ]
    near = [each for each in found if each.distance_m < within_m - TOUCHING_M]
    return tuple(sorted(near, key=_distance))


def _distance(near: Near) -> float:
    return near.distance_m


def edge_distance(project: Project, candidate: Candidate, patch: Patch) -> float:
    """Least distance of the package to a long edge of the part, m; negative as far as it hangs over."""
    box = package_boxes(patch, package_margins(project.package(patch.package)))
    for thing in surroundings(project.structure, project.packages, candidate, patch):
        if thing.kind == "edge" and isinstance(thing.shape, Ring):
            return float(thing.shape.distance(box)[0] - thing.shape.excess(box)[0])
    return math.inf
