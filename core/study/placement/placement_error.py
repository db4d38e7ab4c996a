"""How far a patch may be misplaced before the target mode loses a twentieth of its damping.

Along the span the damping itself decides, with the circuit as built. Across the span and in angle
only the room is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log10

import numpy as np
from numpy.typing import NDArray

from core.predict.predict import held_circuits
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.placement.room import Clearance, Room, room
from core.study.layouts import layouts, placed
from core.study.temperature.temperature import served_modes
from core.units.words import millimetres

Array = NDArray[np.float64]

LOSS = 0.05
WIDEST_M = 5e-3
"""A wider tolerance helps no shop and reads like none."""
LEAST_M = 1e-4
REACH = 0.25
"""How far is looked at, of the span."""
_STEPS = np.concatenate([[0.0], np.geomspace(2e-4, 1.0, 60)])


@dataclass(frozen=True)
class Shift:
    """One direction along the span.

    loss_m : the shift that costs `LOSS` of the damping (`is_lost` False: not even as far as was
    looked). room_m : the shift at which the package meets `obstacle` ('' and inf where it meets none).
    """

    loss_m: float
    is_lost: bool
    room_m: float
    obstacle: str


@dataclass(frozen=True)
class PlacementError:
    """The allowed misplacement of one patch for a mode (from 1); `room` is how far it can go at all."""

    patch: str
    mode: int
    zeta: float
    toward_tip: Shift
    toward_root: Shift
    room: Room

    @property
    def tolerances_x_m(self) -> tuple[float, float]:
        """(towards the tip, towards the root): the loss shift of that way and never more than its room,
        rounded down to a figure for a drawing; 0 where there is none worth printing."""
        tip, root = (
            drawing_figure(min(shift.loss_m, shift.room_m, WIDEST_M))
            for shift in (self.toward_tip, self.toward_root)
        )
        return tip, root

    @property
    def obstacles(self) -> tuple[str, ...]:
        """In words, what ends the room before the damping would end the tolerance."""
        return tuple(
            f"towards the {end}, after {millimetres(shift.room_m)}: {shift.obstacle}"
            for end, shift in (("tip", self.toward_tip), ("root", self.toward_root))
            if shift.obstacle and shift.room_m < min(shift.loss_m, WIDEST_M)
        )


def drawing_figure(value_m: float) -> float:
    """The largest 1, 1.5, 2, 3 or 5 times a power of ten that is not above the value; 0 below a tenth of
    a millimetre, which nobody keeps with a rule."""
    if value_m < LEAST_M:
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
    patch = candidate.patch(patch_id)
    held = held_circuits(project, candidate)
    if mode is None:
        mode = _served(project, candidate, patch_id)
    steps = _STEPS * REACH * project.structure.span_m
    x = np.concatenate([patch.x_start_m + steps, patch.x_start_m - steps])
    inside = np.clip(x, 0.0, max(project.structure.span_m - patch.length_m, 0.0))
    found = layouts(project, held, placed(held, patch_id, inside), mode)
    zeta = np.nan_to_num(found.damping(mode)[:, mode - 1])
    half, space = len(steps), room(project, candidate, patch)
    return PlacementError(
        patch=patch_id,
        mode=mode,
        zeta=float(zeta[0]),
        toward_tip=_shift(space.tip, steps, zeta[:half]),
        toward_root=_shift(space.root, steps, zeta[half:]),
        room=space,
    )


def _served(project: Project, candidate: Candidate, patch_id: str) -> int:
    for group, served in zip(candidate.groups, served_modes(project, candidate), strict=True):
        if served is not None and any(m.patch == patch_id for m in group.members):
            return served + 1
    return 1


def _shift(clearance: Clearance, steps: Array, zeta: Array) -> Shift:
    """Where the damping falls below what is allowed (straight between steps), and what is met first."""
    below = np.flatnonzero(zeta < (1.0 - LOSS) * zeta[0])
    loss = float(steps[-1])
    if len(below):
        k = int(below[0])
        share = (zeta[k - 1] - (1.0 - LOSS) * zeta[0]) / (zeta[k - 1] - zeta[k])
        loss = float(steps[k - 1] + share * (steps[k] - steps[k - 1]))
    return Shift(loss, bool(len(below)), clearance.room_m, clearance.limit)
