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
from numpy.polynomial.legendre import Legendre, leg2poly, leggauss
from numpy.polynomial.polynomial import polydiv
from numpy.typing import NDArray

Array = NDArray[np.float64]


def curvature_table(s: Array | float, n: int) -> Array:
    """P_0 .. P_{n-1} at 2 s - 1; shape s.shape + (n,)."""
    return _table(s, n, 0)


def slope_table(s: Array | float, n: int) -> Array:
    """Integrals of P_j from 0 to s; shape s.shape + (n,)."""
    return _table(s, n, 1)


def deflection_table(s: Array | float, n: int) -> Array:
    """Double integrals of P_j from 0 to s; shape s.shape + (n,)."""
    return _table(s, n, 2)


def _table(s: Array | float, n: int, integrations: int) -> Array:
    s = np.asarray(s, dtype=float)[..., None]
    return np.asarray(((2.0 * s - 1.0) ** np.arange(n)) @ _monomials(n, integrations) * s**integrations)


@lru_cache(maxsize=64)
def _monomials(n: int, integrations: int) -> Array:
    """(n, n) columns: P_j integrated so often from s = 0 and divided by s as often, in powers of
    t = 2 s - 1. In t the coefficients of the few polynomials used here stay small."""
    out = np.zeros((n, n))
    for j in range(n):
        series = Legendre.basis(j).integ(integrations, lbnd=-1.0) if integrations else Legendre.basis(j)
        power = leg2poly(series.coef)
        for _ in range(integrations):
            power, _rest = polydiv(power, (1.0, 1.0))  # 1 + t = 2 s, which cancels the 1/2 of ds/dt
        out[: len(power), j] = power
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
    t, w = leggauss(n_points)
    s = 0.5 * (t + 1.0)
    return Reference(
        s=s,
        weight=0.5 * w,
        curvature=curvature_table(s, n_curvature),
        slope=slope_table(s, n_curvature),
        deflection=deflection_table(s, n_curvature),
        end_deflection=deflection_table(np.array([1.0]), n_curvature)[0],
    )
