"""What every patch of a candidate touches, how badly, and in words.

An error keeps the layout from being predicted: ceramic where there is no part to hold it, or any of
the package over something solid. A caution is predicted and told: only the margin lies past an edge
or an end, or over a hole. Neither is ever offered as a place. Runs on every mouse move of a drag, and
several ask about the same move: answers are remembered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from core import units
from core.project.candidate import Candidate
from core.project.checking import by_identity, mm
from core.project.patch import Package, Patch
from core.project.placement.obstacles import (
    Obstacle,
    can_be_drawn,
    package_boxes,
    surroundings,
)
from core.project.placement.shapes import ACROSS, ALONG, Array, Boxes, End, Ring, overlaps, stretches
from core.project.plan import Polygon, faces, overlap_m, package_margins
from core.project.structure import Structure
from core.units.words import millimetres

Severity = Literal["error", "caution"]

_ALONG_A_SIDE = np.linspace(0.0, 1.0, 33)


@dataclass(frozen=True, eq=False)
class Touch:
    """One thing a package lies over.

    margin : only the package's margin does, the ceramic is clear of it; depth_m : how far (0 over a
    hole); x_m : along which stretch of the span.
    """

    patch: Patch
    obstacle: Obstacle
    margin: bool
    depth_m: float
    x_m: tuple[float, float]

    @property
    def severity(self) -> Severity:
        return "caution" if self.margin and not self.obstacle.solid else "error"

    @property
    def short(self) -> str:
        """A few words for the drawing: "2.0 mm over bolt"."""
        kind, what = self.obstacle.kind, "margin " if self.margin and not self.obstacle.solid else ""
        if kind == "hole":
            return f"{what}over {self.obstacle.name}"
        where = {"root": "past the root", "tip": "past the tip", "edge": "over the edge"}.get(kind)
        if where is None:
            name = self.obstacle.name.removeprefix('the keep-out "').removesuffix('"')
            where = f"on {self.obstacle.path}" if kind == "package" else f"over {name}"
        return f"{what}{millimetres(self.depth_m)} {where}"

    @property
    def sentence(self) -> str:
        """What is wrong and the cure."""
        return _SENTENCES[self.obstacle.kind](self)

    @property
    def field(self) -> str:
        """The value of the patch that the trouble hangs on."""
        return "y_m" if self.obstacle.kind == "edge" and self.patch.y_m else "x_start_m"


@by_identity
def verdicts(
    structure: Structure, packages: tuple[Package, ...], candidate: Candidate
) -> tuple[tuple[Touch, ...], ...]:
    """What each patch of the candidate touches, in the order of its patches; () where it lies free.

    A patch of an unknown package, or with numbers that cannot be drawn, touches nothing.
    """
    by_name = {package.name: package for package in packages}
    out = []
    for patch in candidate.patches:
        package = by_name.get(patch.package)
        fine = package is not None and can_be_drawn(patch, package)
        things = surroundings(structure, packages, candidate, patch) if fine else ()
        out.append(touches(patch, package, things) if package is not None else ())
    return tuple(out)


def touches(patch: Patch, package: Package, things: tuple[Obstacle, ...]) -> tuple[Touch, ...]:
    """Which of the things the package lies over."""
    if not things:
        return ()
    whole = package_boxes(patch, package_margins(package))
    low, high = _reach(whole)
    found = []
    for thing in things:
        if high <= thing.x_m[0] or low >= thing.x_m[1]:
            continue
        if not overlaps(thing.shape, whole.shrunk(thing.tolerance_m))[0]:
            continue
        ceramic = package_boxes(patch, (0.0, 0.0))
        margin = not overlaps(thing.shape, ceramic.shrunk(thing.tolerance_m))[0]
        box = whole if margin or thing.solid else ceramic
        found.append(Touch(patch, thing, margin, _depth(thing, box), _stretch(thing, box)))
    return tuple(found)


def _reach(box: Boxes) -> tuple[float, float]:
    x, reach = float(box.x[0]), float(box.reach_x[0])
    return x - reach, x + reach


def _depth(thing: Obstacle, box: Boxes) -> float:
    """How far past an end or an edge; of what lies on the part, the smaller extent of what is common."""
    if isinstance(thing.shape, End):
        low, high = _reach(box)
        return max(thing.shape.x_m - low, 0.0) if thing.shape.outward < 0 else max(high - thing.shape.x_m, 0.0)
    if not isinstance(thing.shape, Ring):
        return 0.0
    if thing.solid:
        return overlap_m(_polygon(box.corners[0]), _polygon(thing.shape.corners))
    far = float(thing.shape.excess(box)[0])
    if far > 0.0:
        return far
    ways = [
        abs(end)
        for direction in (ALONG, ACROSS)
        for stretch in stretches(thing.shape, box, direction)
        if stretch[0] < 0.0 < stretch[1]
        for end in stretch
    ]
    nearest = min(ways, default=0.0)
    return nearest if np.isfinite(nearest) else 0.0


def _polygon(corners: Array) -> Polygon:
    return tuple((float(x), float(y)) for x, y in corners)


def _stretch(thing: Obstacle, box: Boxes) -> tuple[float, float]:
    low, high = _reach(box)
    if thing.kind != "edge" or not isinstance(thing.shape, Ring):
        return max(low, thing.x_m[0]), min(high, thing.x_m[1])
    corners = box.corners[0]
    ahead = np.roll(corners, -1, axis=0)
    points = (corners[:, None] + _ALONG_A_SIDE[:, None] * (ahead - corners)[:, None]).reshape(-1, 2)
    beside = points[~thing.shape.has(points[:, 0], points[:, 1]), 0]
    if thing.shape.span is not None:
        beside = beside[(beside >= thing.shape.span[0]) & (beside <= thing.shape.span[1])]
    return (float(beside.min()), float(beside.max())) if len(beside) else (low, high)


# ---- in words --------------------------------------------------------------------------------


def _whose(touch: Touch) -> str:
    return f"The {'margin' if touch.margin else 'ceramic'} of patch {touch.patch.id}"


def _root_sentence(touch: Touch) -> str:
    end = "the support" if touch.obstacle.held else "the root end"
    if touch.margin:
        return f"{_whose(touch)} reaches {length(touch.depth_m)} past {end} at 0.0 mm. Move it towards the tip."
    start = mm(round(-touch.depth_m, 9))
    return f"Patch {touch.patch.id} starts at {start}, before {end} at 0.0 mm. Move it towards the tip."


def _tip_sentence(touch: Touch) -> str:
    at = touch.obstacle.x_m[0]
    end = f"{'the support' if touch.obstacle.held else 'the tip'} at {mm(at)}"
    if touch.margin:
        return f"{_whose(touch)} reaches {length(touch.depth_m)} past {end}. Move it towards the root."
    return (
        f"Patch {touch.patch.id} ends at {mm(round(at + touch.depth_m, 9))}, past {end}. Move it or shorten it."
    )


def _edge_sentence(touch: Touch) -> str:
    at = mm(round(0.5 * sum(touch.x_m), 4))
    return (
        f"{_whose(touch)} hangs over the edge of the part by {length(touch.depth_m)} at x = {at}. "
        "Move or turn it, or choose a smaller one."
    )


def _hole_sentence(touch: Touch) -> str:
    return f"{_whose(touch)} lies over {touch.obstacle.name}. Move it clear, or choose a smaller one."


def _zone_sentence(touch: Touch) -> str:
    return (
        f"The package of patch {touch.patch.id} lies {length(touch.depth_m)} {touch.obstacle.over}. "
        "Move it or choose the other face."
    )


def _package_sentence(touch: Touch) -> str:
    shared = touch.obstacle.faces & faces(touch.patch.face)
    face = "both faces" if len(shared) == 2 else f"the {next(iter(shared))} face"
    return (
        f"The packages of patches {touch.obstacle.path} and {touch.patch.id} overlap by "
        f"{length(touch.depth_m)} on {face}. "
        "Move one of them or put it on the other face."
    )


_SENTENCES = {
    "root": _root_sentence,
    "tip": _tip_sentence,
    "edge": _edge_sentence,
    "hole": _hole_sentence,
    "keep-out": _zone_sentence,
    "package": _package_sentence,
}


def length(value_m: float) -> str:
    """A depth in words: to a tenth of a millimetre, or in micrometres where that would vanish."""
    if value_m >= 5e-5:
        return mm(round(value_m, 4))
    return f"{units.show(value_m, 'um', significant=2)} µm"
