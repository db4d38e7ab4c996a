"""Frequencies of the response curves and the search for their peaks.

Points are spaced in the logarithm over the load's band, with a cluster about every resonance
before and after. They depend on the model alone, so a curve does not jump while dragging.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_OFFSETS = 0.35 * np.sinh(np.linspace(-3.5, 3.5, 17))
"""In half widths: an eighth of the half-power bandwidth at the centre, six half widths out."""
_NARROW = _OFFSETS[2:-2:2]


def clusters(centres: Array, half_widths: Array, room: int, *, narrow: bool = False) -> Array:
    """Frequencies about each resonance, at most `room` of them; `narrow` takes the few that a
    peak needs, not a curve."""
    if len(centres) == 0 or room < len(_NARROW):
        return np.zeros(0)
    order = np.argsort(centres)
    centres, half_widths = centres[order], half_widths[order]
    apart = np.ones(len(centres), dtype=bool)
    apart[1:] = centres[1:] - centres[:-1] > 0.02 * half_widths[1:]
    centres, half_widths = centres[apart], half_widths[apart]
    offsets = _OFFSETS if len(centres) * len(_OFFSETS) <= room and not narrow else _NARROW
    fitting = room // len(offsets)
    return (centres[:fitting, None] + half_widths[:fitting, None] * offsets).ravel()


def response_grid(band_rad_s: tuple[float, float], centres: Array, half_widths: Array, points: int) -> Array:
    """`points` sorted frequencies over the band, rad/s."""
    low, high = band_rad_s
    inside = (centres > low) & (centres < high)
    near = clusters(centres[inside], half_widths[inside], (6 * points) // 10)
    near = near[(near > low) & (near < high)]
    grid = np.concatenate([_even(low, high, points - len(near)), near])
    grid.sort()
    return grid


def _even(low: float, high: float, count: int) -> Array:
    """Frequencies from low to high, even in the logarithm."""
    out = low * np.exp(np.log(high / low) / max(count - 1, 1) * np.arange(count))
    out[-1:] = high
    return out


@dataclass(frozen=True)
class Peaks:
    """Local maxima of a response: frequency (rad/s) and height, lowest frequency first."""

    omega_rad_s: Array
    height: Array

    def highest_between(self, low: float, high: float) -> tuple[float, float] | None:
        """(frequency, height) of the highest peak in a window, None without one."""
        omega, height = self._lists
        first, last = bisect_right(omega, low), bisect_right(omega, high)
        if first == last:
            return None
        best = max(range(first, last), key=height.__getitem__)
        return omega[best], height[best]

    @cached_property
    def _lists(self) -> tuple[list[float], list[float]]:
        return self.omega_rad_s.tolist(), self.height.tolist()


def find_peaks(omega_rad_s: Array, magnitude: Array) -> Peaks:
    """Local maxima of a sampled |H|, each refined by the parabola through 1/|H|^2, which is what
    a resonance is close to however sharp it is."""
    y = 1.0 / np.maximum(magnitude, 1e-150) ** 2
    i = np.flatnonzero((y[1:-1] <= y[:-2]) & (y[1:-1] < y[2:])) + 1
    at, here = omega_rad_s[i], y[i]
    left = np.maximum(at - omega_rad_s[i - 1], 1e-300)
    right = np.maximum(omega_rad_s[i + 1] - at, 1e-300)
    s_left, s_right = (here - y[i - 1]) / left, (y[i + 1] - here) / right
    bend = (s_right - s_left) / (left + right)
    slope = (s_left * right + s_right * left) / (left + right)
    step = -slope / np.where(bend > 0, 2 * bend, np.inf)
    step = np.minimum(np.maximum(step, -left), right)
    lowest = np.maximum(here + slope * step + bend * step**2, 1e-3 * here)
    return Peaks(at + step, lowest**-0.5)


def mode_windows(omega_rad_s: Array, modes: int) -> list[tuple[float, float]]:
    """(low, high) about each of the first modes: half way, in the logarithm, to its neighbours."""
    if len(omega_rad_s) == 0:
        return []
    middles = np.sqrt(omega_rad_s[1:] * omega_rad_s[:-1])
    edges = np.concatenate([[0.3 * omega_rad_s[0]], middles, [2.0 * omega_rad_s[-1]]])
    return [(float(edges[n]), float(edges[n + 1])) for n in range(min(modes, len(omega_rad_s)))]
