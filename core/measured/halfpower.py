"""Damping from the two points where a resonance has half its power."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.measured.damping import ratio_of_half_power
from core.measured.record import Array


@dataclass(frozen=True)
class HalfPower:
    """Peak, its half-power points and how many lines of the measurement lie between them."""

    f_hz: float
    low_hz: float
    high_hz: float
    zeta: float
    lines: float


def half_power(hertz: Array, magnitude: Array, line_spacing_hz: float, low_hz: float, high_hz: float) -> HalfPower | None:
    """The half-power points of the highest peak between two frequencies; None where the curve does not
    fall to half the power on both sides there.

    `hertz` may be finer than `line_spacing_hz` (a spectrum padded with zeros): what the measurement
    resolves is the spacing of its own lines.
    """
    a, b = np.searchsorted(hertz, [low_hz, high_hz])
    if b - a < 5:
        return None
    f, power = hertz[a:b], magnitude[a:b] ** 2
    k = int(np.argmax(power))
    if k in (0, len(f) - 1):
        return None
    f_peak, top = _vertex(f, power, k)
    below = np.flatnonzero(power[:k] < 0.5 * top)
    above = np.flatnonzero(power[k:] < 0.5 * top)
    if not len(below) or not len(above):
        return None
    i, j = int(below[-1]), k + int(above[0])
    low = _crossing(f, power, i, 0.5 * top)
    high = _crossing(f, power, j - 1, 0.5 * top)
    zeta = ratio_of_half_power(low, high, f_peak)
    zeta = ratio_of_half_power(low, high, f_peak / np.sqrt(max(1.0 - 2.0 * zeta**2, 0.1)))
    return HalfPower(f_peak, low, high, zeta, (high - low) / line_spacing_hz)


def _vertex(f: Array, power: Array, k: int) -> tuple[float, float]:
    """Top of the peak: a Lorentzian's inverse is a parabola, through three lines."""
    y = 1.0 / np.maximum(power[k - 1 : k + 2], 1e-300)
    x = f[k - 1 : k + 2] - f[k]
    c = np.polyfit(x, y, 2)
    if not c[0] > 0.0:
        return float(f[k]), float(power[k])
    at = float(np.clip(-c[1] / (2 * c[0]), x[0], x[2]))
    least = float(np.polyval(c, at))
    return float(f[k]) + at, (1.0 / least if least > 0.0 else float(power[k]))


def _crossing(f: Array, power: Array, i: int, level: float) -> float:
    """Where the inverse of the power passes that of the level between lines i and i + 1, which is straighter."""
    y0, y1, wanted = 1.0 / max(power[i], 1e-300), 1.0 / max(power[i + 1], 1e-300), 1.0 / level
    share = (wanted - y0) / (y1 - y0) if y1 != y0 else 0.5
    return float(f[i] + min(max(share, 0.0), 1.0) * (f[i + 1] - f[i]))
