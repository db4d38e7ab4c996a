"""Frequencies at which a lightly damped response must be sampled, and their weights."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEPS = np.array([0.0, 2.0, 10.0, 50.0, 250.0, 1250.0])
"""Panel ends in half widths; they must reach the band's ends even at 0.05 % of damping."""
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)


def band_quadrature(low: float, high: float, centres: Array, widths: Array) -> tuple[Array, Array]:
    """Nodes and weights (..., k) of a Gauss rule on [low, high] with panels that grow away from each
    resonance (centres, half widths (..., N)); integrates |H|^2 of such resonances to 2e-4
    from 0.02 % of damping up."""
    offsets = np.concatenate([-_STEPS[::-1], _STEPS])
    breaks = centres[..., None] + widths[..., None] * offsets
    breaks = breaks.reshape(*breaks.shape[:-2], breaks.shape[-2] * breaks.shape[-1])
    ends = np.broadcast_to([low, high], (*breaks.shape[:-1], 2))
    breaks = np.sort(np.concatenate([ends, np.clip(breaks, low, high)], axis=-1), axis=-1)
    half = 0.5 * np.diff(breaks)
    middle = 0.5 * (breaks[..., 1:] + breaks[..., :-1])
    at = middle[..., None] + half[..., None] * _NODES
    weight = half[..., None] * _WEIGHTS
    shape = (*half.shape[:-1], half.shape[-1] * len(_NODES))
    return at.reshape(shape), weight.reshape(shape)


def clustered(centre: Array, below: Array, above: Array, points: int) -> Array:
    """Frequencies (..., points) from `below` to `above`, densest at the centre."""
    t = np.linspace(0.0, 1.0, points // 2 + 1)[1:]
    growth = np.sinh(4.0 * t) / np.sinh(4.0)
    c, low, high = (np.asarray(v)[..., None] for v in (centre, below, above))
    return np.concatenate([(c - (c - low) * growth)[..., ::-1], c, c + (high - c) * growth], axis=-1)


def highest(omega_rad_s: Array, squared: Array) -> tuple[Array, Array]:
    """(omega, value) of the largest |H|^2 (..., F), refined between samples.

    1/|H|^2 is close to a parabola about every resonance, however sharp, so three samples around
    the smallest give the peak. At an end of the samples the sample itself counts.
    """
    inverse = 1.0 / np.maximum(squared, 1e-300)
    x, y = omega_rad_s[..., 1:-1], inverse[..., 1:-1]
    left = np.maximum(x - omega_rad_s[..., :-2], 1e-300)
    right = np.maximum(omega_rad_s[..., 2:] - x, 1e-300)
    s_left, s_right = (y - inverse[..., :-2]) / left, (inverse[..., 2:] - y) / right
    bend = (s_right - s_left) / (left + right)
    slope = (s_left * right + s_right * left) / (left + right)
    inner = (s_left <= 0.0) & (s_right > 0.0) & (bend > 0.0)
    step = np.where(inner, -slope / np.where(inner, 2.0 * bend, 1.0), 0.0)
    lowest = np.where(inner, np.maximum(y + slope * step + bend * step**2, 1e-3 * y), y)
    ends = (omega_rad_s[..., [0, -1]], inverse[..., [0, -1]])
    at = np.concatenate([x + step, ends[0]], axis=-1)
    value = np.concatenate([lowest, ends[1]], axis=-1)
    best = value.argmin(axis=-1)[..., None]
    return np.take_along_axis(at, best, -1)[..., 0], 1.0 / np.take_along_axis(value, best, -1)[..., 0]
