"""Frequencies at which a lightly damped response must be sampled, and their weights."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEPS = np.array([0.0, 2.0, 10.0, 50.0, 250.0, 1250.0])
"""Panel ends in half widths; they must reach the band's ends even at 0.05 % of damping."""
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)


def band_quadrature(low: float, high: float, centres: Array, widths: Array) -> tuple[Array, Array]:
    """Nodes and weights of a Gauss rule on [low, high] with panels that grow away from each
    resonance (centre, half width); integrates |H|^2 of such resonances to 2e-4
    from 0.02 % of damping up."""
    offsets = np.concatenate([-_STEPS[::-1], _STEPS])
    breaks = (centres[:, None] + widths[:, None] * offsets).ravel()
    breaks = np.concatenate([[low, high], breaks[(breaks > low) & (breaks < high)]])
    breaks = np.unique(breaks)
    half = 0.5 * np.diff(breaks)
    middle = 0.5 * (breaks[1:] + breaks[:-1])
    return (middle[:, None] + half[:, None] * _NODES).ravel(), (half[:, None] * _WEIGHTS).ravel()


def clustered(centre: float, below: float, above: float, points: int) -> Array:
    """Frequencies from `below` to `above`, densest at the centre."""
    t = np.linspace(0.0, 1.0, points // 2 + 1)[1:]
    growth = np.sinh(4.0 * t) / np.sinh(4.0)
    return np.concatenate(
        [(centre - (centre - below) * growth)[::-1], [centre], centre + (above - centre) * growth]
    )


def highest(omega_rad_s: Array, squared: Array) -> tuple[float, float]:
    """(omega, value) of the largest |H|^2, refined between samples.

    1/|H|^2 is close to a parabola about every resonance, however sharp, so three samples around
    the smallest give the peak. At an end of the samples the sample itself counts.
    """
    inverse = 1.0 / np.maximum(squared, 1e-300)
    inner = np.flatnonzero((inverse[1:-1] <= inverse[:-2]) & (inverse[1:-1] < inverse[2:])) + 1
    best = int(np.argmin(inverse))
    omega, value = float(omega_rad_s[best]), float(inverse[best])
    for i in inner:
        x, y = _vertex(omega_rad_s[i - 1 : i + 2], inverse[i - 1 : i + 2])
        if y < value:
            omega, value = x, y
    return omega, 1.0 / value


def _vertex(x: Array, y: Array) -> tuple[float, float]:
    left, right = float(x[1] - x[0]), float(x[2] - x[1])
    s_left, s_right = float(y[1] - y[0]) / left, float(y[2] - y[1]) / right
    bend = (s_right - s_left) / (left + right)
    if bend <= 0:
        return float(x[1]), float(y[1])
    slope = (s_left * right + s_right * left) / (left + right)
    step = -slope / (2 * bend)
    lowest = float(y[1]) + slope * step + bend * step**2
    return float(x[1]) + step, max(lowest, 1e-3 * float(y[1]))
