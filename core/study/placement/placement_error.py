"""How far a patch may be misplaced before the target mode loses a twentieth of its damping.

Along the span the damping itself decides, with the circuit as built. Across the span and in angle
the beam model sees no difference: there the outline and the keep-outs decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log10

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.predict.predict import held_circuits
from core.project.model import Candidate, Patch, Project
from core.project.plan import net_width_at, package_outline
from core.study.layouts import layouts, placed
from core.study.placement.places import judge
from core.study.temperature.temperature import served_modes

Array = NDArray[np.float64]

LOSS = 0.05
WIDEST_M = 5e-3
"""A wider tolerance helps no shop and reads like none."""
REACH = 0.25
"""How far is looked at, of the span."""
_STEPS = np.concatenate([[0.0], np.geomspace(2e-4, 1.0, 60)])
REACH_ACROSS_M, STEP_ACROSS_M = 0.02, 0.25e-3
REACH_ANGLE_RAD, STEP_ANGLE_RAD = np.deg2rad(15.0), np.deg2rad(0.25)


@dataclass(frozen=True)
class Shift:
    """One direction along the span.

    loss_m : the shift that costs `LOSS` of the damping (`is_lost` False: not even as far as was
    looked). room_m : the shift at which the patch meets `obstacle` ('' where it meets none).
    """

    loss_m: float
    is_lost: bool
    room_m: float
    obstacle: str


@dataclass(frozen=True)
class PlacementError:
    """The allowed misplacement of one patch for a mode (from 1).

    `across_m`, `angle_rad`: clearance to the outline and the keep-outs, to either side.
    """

    patch: str
    mode: int
    zeta: float
    toward_tip: Shift
    toward_root: Shift
    across_m: float
    angle_rad: float

    @property
    def tolerance_x_m(self) -> float:
        """The smaller loss shift of both directions, rounded down to a figure for a drawing."""
        return drawing_figure(min(self.toward_tip.loss_m, self.toward_root.loss_m, WIDEST_M))

    @property
    def obstacles(self) -> tuple[str, ...]:
        """In words, what is met before the tolerance is used up."""
        return tuple(
            f"toward the {end}, after {1e3 * shift.room_m:.1f} mm: {words}"
            for end, shift in (("tip", self.toward_tip), ("root", self.toward_root))
            for words in [shift.obstacle]
            if words and shift.room_m < self.tolerance_x_m
        )


def drawing_figure(value_m: float) -> float:
    """The largest 1, 1.5, 2, 3 or 5 times a power of ten that is not above the value."""
    if value_m <= 0.0:
        return 0.0
    decade = 10.0 ** floor(log10(value_m * 1.0000001))
    return float(max(f for f in (1.0, 1.5, 2.0, 3.0, 5.0) if f * decade <= value_m * 1.0000001) * decade)


def placement_error(
    project: Project, candidate_id: str | None, patch_id: str, mode: int | None = None
) -> PlacementError:
    """Allowed misplacement for a mode (from 1; None: the one the patch's circuit serves).

    Raises KeyError for an unknown candidate or patch.
    """
    candidate = project.candidate(candidate_id)
    patch = next((p for p in candidate.patches if p.id == patch_id), None)
    if patch is None:
        raise KeyError(patch_id)
    held = held_circuits(project, candidate)
    if mode is None:
        mode = _served(project, candidate, patch_id)
    steps = _STEPS * REACH * project.structure.span_m
    x = np.concatenate([patch.x_start_m + steps, patch.x_start_m - steps])
    inside = np.clip(x, 0.0, max(project.structure.span_m - patch.length_m, 0.0))
    found = layouts(project, held, placed(held, patch_id, inside), mode)
    zeta = np.nan_to_num(found.damping(mode)[:, mode - 1])
    half = len(steps)
    return PlacementError(
        patch=patch_id,
        mode=mode,
        zeta=float(zeta[0]),
        toward_tip=_shift(project, candidate, patch, 1.0, steps, zeta[:half]),
        toward_root=_shift(project, candidate, patch, -1.0, steps, zeta[half:]),
        across_m=_clearance(project, candidate, patch, "y_m", STEP_ACROSS_M, REACH_ACROSS_M),
        angle_rad=_clearance(project, candidate, patch, "angle_rad", STEP_ANGLE_RAD, REACH_ANGLE_RAD),
    )


def _served(project: Project, candidate: Candidate, patch_id: str) -> int:
    for group, served in zip(candidate.groups, served_modes(project, candidate), strict=True):
        if served is not None and any(m.patch == patch_id for m in group.members):
            return served + 1
    return 1


def _shift(
    project: Project, candidate: Candidate, patch: Patch, sign: float, steps: Array, zeta: Array
) -> Shift:
    """Where the damping falls below what is allowed (straight between steps), and what is met first."""
    below = np.flatnonzero(zeta < (1.0 - LOSS) * zeta[0])
    loss = float(steps[-1])
    if len(below):
        k = int(below[0])
        share = (zeta[k - 1] - (1.0 - LOSS) * zeta[0]) / (zeta[k - 1] - zeta[k])
        loss = float(steps[k - 1] + share * (steps[k] - steps[k - 1]))
    room, obstacle = _room(project, candidate, patch, sign, float(steps[-1]))
    return Shift(loss, bool(len(below)), room, obstacle)


def _room(
    project: Project, candidate: Candidate, patch: Patch, sign: float, reach: float
) -> tuple[float, str]:
    """How far the patch can go before it meets something, within a hundredth of a millimetre."""
    low, high, words = 0.0, reach, ""
    for _ in range(4):
        steps = np.linspace(low, high, 41)
        each = np.ones_like(steps)
        code, reasons = judge(
            project, candidate, patch, patch.x_start_m + sign * steps, patch.length_m * each, patch.width_m * each
        )
        hit = np.flatnonzero(code >= 0)
        if not len(hit):
            return high, words
        first = int(hit[0])
        words = reasons[code[first]]
        if first == 0:
            return low, words
        low, high = float(steps[first - 1]), float(steps[first])
    return low, words


def _clearance(
    project: Project, candidate: Candidate, patch: Patch, field: str, step: float, reach: float
) -> float:
    """How far the patch can go both ways in y or in angle and still fit; 0 where it does not now."""
    now, clear = getattr(patch, field), 0.0
    for k in range(round(reach / step) + 1):
        moved = [replace(patch, **{field: now + sign * k * step}) for sign in (1, -1)]
        if not all(_fits(project, candidate, p) for p in moved):
            return clear
        clear = k * step
    return clear


def _fits(project: Project, candidate: Candidate, patch: Patch) -> bool:
    outline = package_outline(patch, project.package(patch.package))
    span = project.structure.span_m
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        for s in np.linspace(0.0, 1.0, 9):
            x, y = x0 + s * (x1 - x0), y0 + s * (y1 - y0)
            if 0.0 <= x <= span and abs(y) > 0.5 * net_width_at(project.structure, x) + 1e-9:
                return False
    one = np.array([patch.x_start_m])
    code, _ = judge(project, candidate, patch, one, np.array([patch.length_m]), np.array([patch.width_m]))
    return bool(code[0] < 0)
