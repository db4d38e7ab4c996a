"""Reading the position strip: where the selected patch does most for a mode."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace

from core.project import edit
from core.project.model import Project

if TYPE_CHECKING:
    from core.study.placement.position import PositionStrip


def at_best_place(project: Project, patch_id: str, strip: PositionStrip, mode: int) -> Project | None:
    """The project with the patch where the strip allows it and damps `mode` most; None if nowhere.

    The strip is sampled, so the place is good to one of its steps.
    """
    zeta = np.where(strip.allowed, strip.zeta[:, mode - 1], -np.inf)
    zeta = np.where(np.isnan(zeta), -np.inf, zeta)
    best = int(np.argmax(zeta))
    if not np.isfinite(zeta[best]):
        return None
    candidate = project.candidate()
    patch = next(p for p in candidate.patches if p.id == patch_id)
    start = round(float(strip.x_start_m[best]), 4)
    return edit.with_patch(project, candidate.id, replace(patch, x_start_m=start))
