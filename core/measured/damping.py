"""Closed forms between what is read off a curve and the damping ratio."""

from __future__ import annotations

import math

FEWEST_TIME_CONSTANTS = 6.0
"""A record of so many time constants 1/(zeta omega) leaves a response function half a per cent off."""
FEWEST_LINES = 5
"""Lines that the half-power band must hold."""
DISAGREEMENT = 0.15
"""Two ways to the same damping that differ by more are flagged."""


def ratio_of_decrement(delta: float) -> float:
    """Damping ratio of a logarithmic decrement per cycle: delta/sqrt(4 pi^2 + delta^2)."""
    return delta / math.hypot(2.0 * math.pi, delta)


def decrement(first: float, last: float, cycles: float) -> float:
    """Logarithmic decrement per cycle of an amplitude that fell from `first` to `last`."""
    return math.log(first / last) / cycles


def ratio_of_half_power(low_hz: float, high_hz: float, natural_hz: float) -> float:
    """Damping ratio of the half-power points of a receptance: (f2^2 - f1^2)/(4 fn^2) = zeta sqrt(1 - zeta^2).

    Exact with the natural frequency; the frequency of the peak is 1 - zeta^2 of it.
    """
    product = (high_hz**2 - low_hz**2) / (4.0 * natural_hz**2)
    if product >= 0.5:
        return math.sqrt(0.5)
    return math.sqrt(0.5 * (1.0 - math.sqrt(1.0 - 4.0 * product**2)))


def window_damping(time_constant_s: float, natural_hz: float) -> float:
    """Damping ratio that an exponential window of that time constant adds: 1/(tau omega)."""
    return 1.0 / (time_constant_s * 2.0 * math.pi * natural_hz)


def least_record_s(zeta: float, natural_hz: float) -> float:
    """Length of a record that holds `FEWEST_TIME_CONSTANTS` of a mode; infinite without damping."""
    return FEWEST_TIME_CONSTANTS / (zeta * 2.0 * math.pi * natural_hz) if zeta > 0.0 else math.inf


def widest_spacing_hz(zeta: float, natural_hz: float) -> float:
    """Spacing that puts `FEWEST_LINES` lines into the half-power band 2 zeta f."""
    return 2.0 * zeta * natural_hz / FEWEST_LINES
