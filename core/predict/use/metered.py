"""What a capacitance meter reads on a bonded patch, by the model: the part moves with it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.transfer import LEAST_ZETA
from core.piezo.coupled_beam import CoupledBeam
from core.predict.group_result import Metered

Array = NDArray[np.float64]

METER_HZ = (120.0, 1000.0)
"""Test frequencies of everyday meters, ascending: the highest is what data sheets state capacitance at."""
BENT = 0.05
"""A reading off the static free and the blocked value by more than this lies beside a mode."""


def metered(beam: CoupledBeam, group: int, frequency_hz: float) -> Metered:
    """The reading on one layout, and whether a mode bends it."""
    w, omega, theta = 2 * np.pi * frequency_hz, beam.omega_rad_s, beam.group_theta[:, group]
    value, moved = float(reading_f(beam, group, frequency_hz)), _moved(beam, group, w)
    # modes far below answer no more, modes far above answer as if at rest: neither bends the reading
    calm = float(beam.group_corrected_f[group, group] + (theta**2 / omega**2)[omega > w].sum())
    near = int(np.argmax(np.abs(moved - np.where(omega > w, theta**2 / omega**2, 0.0)))) if len(omega) else 0
    bent = calm > 0 and abs(value / calm - 1) > BENT
    return Metered(frequency_hz, value, near + 1 if bent else None)


def reading_f(beam: CoupledBeam, group: int, frequency_hz: float) -> Array:
    """(...) reading at a group's leads, its circuit off, the other groups shorted; parallel equivalent,
    C + sum of theta^2 (omega^2 - w^2)/|d|^2 over the modes, the truncated ones static."""
    moved = _moved(beam, group, 2 * np.pi * frequency_hz)
    return np.asarray(beam.group_corrected_f[..., group, group] + moved.sum(axis=-1).real)


def meter_hz(beam: CoupledBeam, group: int) -> float:
    """The test frequency to read one layout's capacitance at: 1 kHz, or a lower one where a mode bends that."""
    return clearest(tuple(metered(beam, group, f) for f in METER_HZ)).frequency_hz


def clearest(readings: tuple[Metered, ...]) -> Metered:
    """The reading to compare with: at the highest frequency that no mode bends, else at the highest."""
    calm = [one for one in readings if one.near_mode is None]
    return max(calm or readings, key=lambda one: one.frequency_hz)


def _moved(beam: CoupledBeam, group: int, w: float) -> NDArray[np.complex128]:
    """(..., N) what each mode adds to the capacitance at w rad/s, F."""
    omega, zeta = beam.omega_rad_s, np.maximum(beam.zeta0, LEAST_ZETA)
    return np.asarray(beam.group_theta[..., group] ** 2 / (omega**2 - w**2 + 2j * zeta * omega * w))
