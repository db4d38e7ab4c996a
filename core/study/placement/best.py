"""Where a patch does most for a mode: never worse than where it lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import edit
from core.project.model import Project
from core.project.patch import Patch
from core.project.placement.verdict import verdicts
from core.study.placement.position import MARK_M, PositionStrip, damping_against_position

TYPED_M = 1e-5
"""What a start in contact is rounded to, away from what it meets."""
FINER = 41
"""Places looked at between the two neighbours of the best one of the strip."""


@dataclass(frozen=True)
class BestPlace:
    """The best allowed start found for a mode (from 1).

    zeta, zeta_now : the single prediction's damping there and at the present start, which is the best
    itself where nothing better is allowed; held : what forbids a still better one, in words.
    """

    project: Project
    x_start_m: float
    zeta: float
    zeta_now: float
    held: str

    @property
    def stays(self) -> bool:
        return self.zeta <= self.zeta_now


def best_place(project: Project, patch_id: str, strip: PositionStrip, mode: int) -> BestPlace | None:
    """The best allowed start of a patch of the active candidate for `mode`, to a tenth of a millimetre or
    in contact to a hundredth; None where no place is allowed.

    `strip` is the one of this patch. KeyError for an unknown patch.
    """
    index = _best(strip, mode)
    if index is None:
        return None
    candidate = project.candidate()
    patch = candidate.patch(patch_id)
    x = strip.x_start_m
    low, high = float(x[max(index - 1, 0)]), float(x[min(index + 1, len(x) - 1)])
    between = np.round(np.linspace(low, high, FINER) / MARK_M) * MARK_M
    near = (x >= low) & (x <= high)
    places = np.unique(np.concatenate([between[(between > low) & (between < high)], x[near]]))
    finer = damping_against_position(
        project, candidate.id, patch_id, modes=max(mode, strip.zeta.shape[1]), x_start_m=places
    )
    index = _best(finer, mode)
    if index is None:
        return None
    moved = _typed(project, patch, float(finer.x_start_m[index]))
    start = moved.candidate().patch(patch_id).x_start_m
    zeta, now = _damping(moved, mode), _damping(project, mode)
    if not zeta > now and now > -np.inf:
        return BestPlace(project, patch.x_start_m, now, now, finer.held[mode - 1])
    return BestPlace(moved, start, zeta, now, finer.held[mode - 1])


def _typed(project: Project, patch: Patch, start_m: float) -> Project:
    """The patch at the start with no more decimals than a drawing has; contact allows for the rounding of one, 21.495005 mm
    for 21.5."""

    def at(x: float) -> Project:
        return edit.with_patch(project, project.active, replace(patch, x_start_m=x))

    near = round(start_m / TYPED_M)
    tidy = sorted((round(n * TYPED_M, 5) for n in (near - 1, near, near + 1)), key=lambda x: abs(x - start_m))
    places = (at(x) for x in tidy)
    return next((one for one in places if not any(verdicts(one.structure, one.packages, one.candidate()))), at(start_m))


def _best(strip: PositionStrip, mode: int) -> int | None:
    zeta = np.where(strip.allowed & np.isfinite(strip.zeta[:, mode - 1]), strip.zeta[:, mode - 1], -np.inf)
    best = int(zeta.argmax())
    return best if np.isfinite(zeta[best]) else None


def _damping(project: Project, mode: int) -> float:
    """The damping of the single prediction; no comparison for a layout that is not allowed."""
    if any(verdicts(project.structure, project.packages, project.candidate())):
        return -np.inf
    modes = predict(edit.with_view(project, modes_shown=max(mode, project.view.modes_shown))).modes
    value = modes[mode - 1].zeta
    return value if np.isfinite(value) else -np.inf
