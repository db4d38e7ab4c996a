"""Lever arms of a ceramic: how far its two sides lie from the neutral axis."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.piezo.package import CeramicPlate
from core.predict.fields import Fields

Array = NDArray[np.float64]


def ceramic_lever_arms(over_x: Fields, plate: CeramicPlate, elements: NDArray[np.intp]) -> Array:
    """(2, e, s) height above the neutral axis of the ceramic's lower and upper side, m."""
    top = over_x.section.top_m[elements]
    middle = top + plate.mid_offset_m if plate.on_top else np.full_like(top, -plate.mid_offset_m)
    arm = middle - over_x.section.neutral_axis_m[elements]
    return np.stack([arm - 0.5 * plate.thickness_m, arm + 0.5 * plate.thickness_m])
