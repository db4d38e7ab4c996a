"""Reference tables of the beam element: Legendre curvature on [0, 1] and its integrals.

The element's unknown is its curvature, `kappa(s) = sum_j c_j P_j(2 s - 1)`, with s from 0 to 1
along the element. Slope and deflection follow by integrating once and twice from the
element's left end, so the deflection is C1 by construction and a short element never makes
the stiffness ill-conditioned (its curvature simply counts little).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

Array = NDArray[np.float64]


def curvature_table(s: Array, n: int) -> Array:
    """P_0 .. P_{n-1} at 2 s - 1; shape s.shape + (n,)."""
    return np.asarray(legendre.legvander(2.0 * np.asarray(s, dtype=float) - 1.0, n - 1), dtype=np.float64)


def slope_table(s: Array, n: int) -> Array:
    """Integrals of P_j from 0 to s; shape s.shape + (n,).

    Uses (2j + 1) P_j = P'_{j+1} - P'_{j-1} (e.g. Abramowitz & Stegun 1964, 8.5 recurrences).
    """
    p = curvature_table(s, n + 1)
    out = np.empty((*p.shape[:-1], n))
    out[..., 0] = s
    j = np.arange(1, n)
    out[..., 1:] = (p[..., 2:] - p[..., :-2]) / (2.0 * (2.0 * j + 1.0))
    return out


def deflection_table(s: Array, n: int) -> Array:
    """Double integrals of P_j from 0 to s; shape s.shape + (n,)."""
    i1 = slope_table(s, n + 1)
    out = np.empty((*i1.shape[:-1], n))
    out[..., 0] = 0.5 * np.asarray(s, dtype=float) ** 2
    j = np.arange(1, n)
    out[..., 1:] = (i1[..., 2:] - i1[..., : n - 1]) / (2.0 * (2.0 * j + 1.0))
    return out


@dataclass(frozen=True)
class Reference:
    """Gauss points and the three tables for one element size."""

    s: Array
    weight: Array
    curvature: Array
    slope: Array
    deflection: Array
    end_deflection: Array
    """(n,) deflection at s = 1; the slope there is (1, 0, 0, ...)."""


@lru_cache(maxsize=32)
def reference(n_curvature: int, n_points: int) -> Reference:
    """Tables for `n_curvature` polynomials at `n_points` Gauss points."""
    t, w = legendre.leggauss(n_points)
    s = 0.5 * (t + 1.0)
    return Reference(
        s=s,
        weight=0.5 * w,
        curvature=curvature_table(s, n_curvature),
        slope=slope_table(s, n_curvature),
        deflection=deflection_table(s, n_curvature),
        end_deflection=deflection_table(np.array([1.0]), n_curvature)[0],
    )
