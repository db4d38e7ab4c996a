"""Highest response near each mode, shorted and with the circuits, of one layout or many.

Frequencies are clustered about each mode of each layout and the top is refined once, by samples and
then by the parabola through 1/|H|^2.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.band import highest
from core.circuit.objective import Aim
from core.circuit.system import CoupledSystem
from core.circuit.transfer import answers

Array = NDArray[np.float64]

_INNER = np.linspace(0.0, 1.0, 33)
_OUTER = np.geomspace(0.02, 1.0, 12)
CLOSE = 9


def peak_heights(system: CoupledSystem, aim: Aim, k2: Array, modes: tuple[int, ...]) -> tuple[Array, Array]:
    """(..., M) highest |H| about each mode (from 0): every group shorted, and with the circuits.

    `k2` (..., N) of all modes sets how far a circuit may move a peak.
    """
    w = np.stack([_about(system, k2[..., mode], mode) for mode in modes], axis=-2)
    heights = np.stack(_at(system, aim, w), axis=-3)
    best = heights.argmax(axis=-1)[..., None]
    where = np.broadcast_to(w[..., None, :, :], heights.shape)
    ends = [np.take_along_axis(where, np.clip(best + k, 0, w.shape[-1] - 1), -1) for k in (-1, 1)]
    close = ends[0] + (ends[1] - ends[0]) * np.linspace(0.0, 1.0, CLOSE)
    before, after = _at(system, aim, close)
    near = np.stack([before[..., 0, :, :], after[..., 1, :, :]], axis=-3)
    again = np.sqrt(highest(close, near * near)[1])
    top = np.maximum(again, np.take_along_axis(heights, best, -1)[..., 0])
    return top[..., 0, :], top[..., 1, :]


def _at(system: CoupledSystem, aim: Aim, w: Array) -> tuple[Array, Array]:
    """`sizes` at frequencies with further axes behind the layouts'."""
    lead = system.omega_rad_s.shape[:-1]
    before, after = sizes(system, aim, w.reshape(*lead, -1))
    return before.reshape(w.shape), after.reshape(w.shape)


def sizes(system: CoupledSystem, aim: Aim, omega_rad_s: Array) -> tuple[Array, Array]:
    """|H| at each layout's own frequencies (..., F): every group shorted, and with the circuits."""
    scale = omega_rad_s**aim.derivative
    before, after = answers(system, aim.load, aim.output, aim.residual, omega_rad_s)
    return np.abs(before) * scale, np.abs(after) * scale


def _about(system: CoupledSystem, k2: Array, mode: int) -> Array:
    """(..., F) frequencies about a mode, held inside the mid-points to its neighbours."""
    omega, zeta = system.omega_rad_s, system.zeta[..., mode, None]
    centre, k2 = omega[..., mode, None], np.maximum(k2, 0.0)[..., None]
    narrow, wide = 3.0 * zeta, np.maximum(1.6 * np.sqrt(k2), 12.0 * zeta)
    inner = -narrow + (0.5 * k2 + 2.0 * narrow) * _INNER
    around = np.concatenate([-wide * _OUTER, np.zeros_like(zeta), inner, wide * _OUTER], axis=-1)
    low = np.sqrt(omega[..., mode - 1 : mode] * centre) if mode else 0.3 * centre
    last = mode + 1 >= omega.shape[-1]
    high = 2.0 * centre if last else np.sqrt(omega[..., mode + 1 : mode + 2] * centre)
    return np.sort(np.clip(centre * (1.0 + around), low, high), axis=-1)
