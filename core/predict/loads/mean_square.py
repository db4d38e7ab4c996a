"""Mean squares over a band: quadrature points that follow the resonances.

Between the corners of the load's density and the middles between resonances, omega = centre +
half width sinh(v): there |H|^2 of a resonance, 1/(1 + sinh^2 v), is as smooth as 1/cosh v however sharp
it is in omega, and Gauss points in v converge geometrically.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from core.predict.loads.random_load import corners_rad_s, density
from core.project.service import Load

Array = NDArray[np.float64]

SPACING = 0.7
"""Mean distance of the points in v."""
FEWEST = 6


def band_points(corners: Array, centres: Array, half_widths: Array) -> tuple[Array, Array]:
    """(points, weights) in rad/s for integrals over the band from the first corner to the last.

    centres, half_widths : of every resonance of what is integrated, rad/s.
    """
    order = np.argsort(centres)
    centres, half_widths = centres[order], np.maximum(half_widths[order], 1e-9 * centres[order])
    if len(centres):
        apart = np.ones(len(centres), dtype=bool)
        apart[1:] = np.diff(centres) > 0.02 * half_widths[1:]
        centres, half_widths = centres[apart], half_widths[apart]
    else:
        centres, half_widths = corners[:1], corners[-1:]
    middles = 0.5 * (centres[1:] + centres[:-1])
    inside = (middles > corners[0]) & (middles < corners[-1])
    within = centres[(centres > corners[0]) & (centres < corners[-1])]
    bounds = np.unique(np.concatenate([corners, middles[inside], within]))
    points, weights = [], []
    for low, high in pairwise(bounds.tolist()):
        near = int(np.abs(centres - 0.5 * (low + high)).argmin())
        centre, width = centres[near], half_widths[near]
        v0, v1 = np.arcsinh((low - centre) / width), np.arcsinh((high - centre) / width)
        x, w = _gauss(FEWEST + int((v1 - v0) / SPACING))
        v = v0 + (v1 - v0) * x
        points.append(centre + width * np.sinh(v))
        weights.append((v1 - v0) * w * width * np.cosh(v))
    return np.concatenate(points), np.concatenate(weights)


def density_points(load: Load, centres: Array, half_widths: Array) -> tuple[Array, Array]:
    """(points, weights) such that sum of weights |H|^2 is the mean square under a random load."""
    points, weights = band_points(corners_rad_s(load), centres, half_widths)
    return points, weights * density(load, points)


@lru_cache(maxsize=128)
def _gauss(n: int) -> tuple[Array, Array]:
    x, w = np.polynomial.legendre.leggauss(n)
    return 0.5 * (x + 1), 0.5 * w
