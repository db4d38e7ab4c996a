"""What a capacitance meter reads on a bonded patch, by the model: the part moves with it."""

from __future__ import annotations

import numpy as np

from core.circuit.system import CoupledSystem
from core.circuit.transfer import LEAST_ZETA
from core.piezo.layout import CoupledBeam
from core.predict.prediction import Metered

METER_HZ = (120.0, 1000.0)
"""Test frequencies of everyday meters."""
BENT = 0.05
"""A reading off the static free and the blocked value by more than this lies beside a mode."""


def metered(system: CoupledSystem, beam: CoupledBeam, group: int, frequency_hz: float) -> Metered:
    """Reading at a group's leads, its circuit off, the other groups shorted; parallel equivalent,
    C + sum of theta^2 (omega^2 - w^2)/|d|^2 over the modes, the truncated ones static."""
    w = 2 * np.pi * frequency_hz
    omega, zeta = system.omega_rad_s, np.maximum(system.zeta, LEAST_ZETA)
    theta = beam.group_theta[:, group]
    moved = theta**2 / (omega**2 - w**2 + 2j * zeta * omega * w)
    value = float(beam.group_corrected_f[group, group] + moved.sum().real)
    # modes far below answer no more, modes far above answer as if at rest: neither bends the reading
    calm = float(beam.group_corrected_f[group, group] + (theta**2 / omega**2)[omega > w].sum())
    near = int(np.argmax(np.abs(moved - np.where(omega > w, theta**2 / omega**2, 0.0)))) if len(omega) else 0
    bent = calm > 0 and abs(value / calm - 1) > BENT
    return Metered(frequency_hz, value, near + 1 if bent else None)
