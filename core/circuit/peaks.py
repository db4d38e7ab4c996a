"""Highest response near each mode, shorted and with the circuits, of one layout or many.

A response is highest beside its poles. 1/|H|^2 is close to a parabola about each, however sharp, so a few frequencies about
the mode alone and about every pole that it has with the circuits find the top, which is refined once, by samples and then by
the parabola. Where poles do not tell, frequencies are clustered about the mode as far as circuits may move it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.band import highest
from core.circuit.objective import Aim
from core.circuit.secular import roots_of
from core.circuit.system import CoupledSystem
from core.circuit.transfer import answers

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

_INNER = np.linspace(0.0, 1.0, 33)
_OUTER = np.geomspace(0.02, 1.0, 12)
BESIDE = np.array([-1.5, -0.6, 0.0, 0.6, 1.5])
"""Half widths beside a pole at which the top is looked for."""
REACH = 0.9
"""Half widths from the highest of these that it can be at."""
CLOSE = 9
"""Frequencies about the highest, out of which the parabola is taken."""
LEAST_HALF_WIDTH = 1e-7
"""Of the frequency."""


def peak_heights(system: CoupledSystem, aim: Aim, k2: Array, modes: tuple[int, ...]) -> tuple[Array, Array]:
    """(..., M) highest |H| about each mode (from 0): every group shorted, and with the circuits.

    `k2` (..., N) of all modes sets how far a circuit may move a peak.
    """
    if not system.lead:
        return _spread(system, aim, k2, modes)
    before, after, told = _near_poles(system, aim, modes)
    lost = np.flatnonzero(~told)
    if len(lost):
        k2 = np.broadcast_to(k2, (*system.lead, k2.shape[-1]))[lost]
        before[lost], after[lost] = _spread(system.at(lost), aim.at(lost), k2, modes)
    return before, after


def _near_poles(system: CoupledSystem, aim: Aim, modes: tuple[int, ...]) -> tuple[Array, Array, Bools]:
    """The same of many layouts, from frequencies about each mode as it is alone and about the poles it has with the circuits, and
    (P,) whether these are told."""
    n, found = system.n_modes, roots_of(system)
    omega = np.broadcast_to(system.omega_rad_s, (*system.lead, n))
    own = omega[:, modes] * (1j - np.broadcast_to(system.zeta, omega.shape)[:, modes])
    poles, told = [own], np.zeros(system.lead, dtype=bool)
    if found is not None:
        value, told = found.value_rad_s, found.settled & np.isfinite(found.value_rad_s).all(axis=-1)
        # What a circuit has taken over stands beside its mode still; a circuit's own pole counts for the mode it is of.
        mine = found.dominant[:, None, n:] == np.array(modes)[:, None]
        poles += [value[:, modes], *(np.where(mine[..., k], value[:, n + k, None], own) for k in range(value.shape[1] - n))]
    s = np.where(told[:, None, None], np.stack(poles, axis=-1), own[..., None])
    half = np.maximum(-s.real, LEAST_HALF_WIDTH * np.abs(s))
    low, high = (np.stack(v, axis=-1)[..., None] for v in zip(*(_limits(omega, m) for m in modes), strict=True))
    half = np.broadcast_to(half[..., None], (*half.shape, len(BESIDE)))
    w, half = (v.reshape(*s.shape[:-1], -1) for v in (s.imag[..., None] + half * BESIDE, half))
    w = np.clip(w, low, high)
    heights = np.stack(_at(system, aim, w))
    best = heights.argmax(axis=-1)[..., None]
    top, reach = (np.take_along_axis(np.broadcast_to(v, heights.shape), best, -1) for v in (w, REACH * half))
    return *_refined(system, aim, np.clip(top + reach * np.linspace(-1.0, 1.0, CLOSE), low, high)), told


def _spread(system: CoupledSystem, aim: Aim, k2: Array, modes: tuple[int, ...]) -> tuple[Array, Array]:
    """The same from frequencies as far about the modes as circuits may move them."""
    w = np.stack([_about(system, k2[..., mode], mode) for mode in modes], axis=-2)
    heights = np.stack(_at(system, aim, w))
    best, where = heights.argmax(axis=-1)[..., None], np.broadcast_to(w, heights.shape)
    first, last = (np.take_along_axis(where, np.clip(best + k, 0, w.shape[-1] - 1), -1) for k in (-1, 1))
    return _refined(system, aim, first + (last - first) * np.linspace(0.0, 1.0, CLOSE))


def _refined(system: CoupledSystem, aim: Aim, close: Array) -> tuple[Array, Array]:
    """(..., M) highest by the parabola through what is found at frequencies (2, ..., M, F) about either top."""
    found = np.stack([_at(system, aim, w)[i] for i, w in enumerate(close)])
    before, after = np.sqrt(highest(close, found * found)[1])
    return before, after


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


def _limits(omega: Array, mode: int) -> tuple[Array, Array]:
    """(...) mid-points to a mode's neighbours."""
    centre = omega[..., mode]
    low = np.sqrt(omega[..., mode - 1] * centre) if mode else 0.3 * centre
    return low, 2.0 * centre if mode + 1 >= omega.shape[-1] else np.sqrt(omega[..., mode + 1] * centre)


def _about(system: CoupledSystem, k2: Array, mode: int) -> Array:
    """(..., F) frequencies about a mode, held inside the mid-points to its neighbours."""
    omega, zeta = system.omega_rad_s, system.zeta[..., mode, None]
    centre, k2 = omega[..., mode, None], np.maximum(k2, 0.0)[..., None]
    narrow, wide = 3.0 * zeta, np.maximum(1.6 * np.sqrt(k2), 12.0 * zeta)
    inner = -narrow + (0.5 * k2 + 2.0 * narrow) * _INNER
    around = np.concatenate([-wide * _OUTER, np.zeros_like(zeta), inner, wide * _OUTER], axis=-1)
    low, high = (v[..., None] for v in _limits(omega, mode))
    return np.sort(np.clip(centre * (1.0 + around), low, high), axis=-1)
