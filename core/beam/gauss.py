"""Functions on an element by their values at Gauss points: integrals, transposed integrals, values elsewhere.

A function of the element's parameter s (0 to 1) is the polynomial through its values at q Gauss points.
Slope and deflection follow from a strain by the same running integral, once and twice; what the ends
of the elements add up to is a running sum. The transposed integral takes loads back to moments.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Rule:
    """Gauss points s (q,) and weights (q,) on 0..1.

    running : (q, q) from values at the points to their integral from 0 to each point; one : (q,) ones.
    to_legendre : (q, q) from values to coefficients of the Legendre polynomials of 2 s - 1.
    """

    s: Array
    weight: Array
    running: Array
    to_legendre: Array
    one: Array

    def to(self, s: Array) -> Array:
        """(q, len(s)) from values at the points to values at s."""
        if s.size <= FEW:
            return _few(len(self.s), s.tobytes(), False)
        return self.to_legendre @ legendre(s, len(self.s)).T

    def integral_to(self, s: Array) -> Array:
        """(q, len(s)) from values at the points to integrals from 0 to s."""
        if s.size <= FEW:
            return _few(len(self.s), s.tobytes(), True)
        return self.to_legendre @ _integrals(s, len(self.s)).T


FEW = 8
"""Tables to so few places are remembered: the same few are asked for at every layout."""


@lru_cache(maxsize=256)
def _few(points: int, places: bytes, integral: bool) -> Array:
    own, s = rule(points), np.frombuffer(places)
    out = own.to_legendre @ (_integrals if integral else legendre)(s, points).T
    out.flags.writeable = False
    return out


def legendre(s: Array, n: int) -> Array:
    """P_0 .. P_{n-1} at 2 s - 1; shape s.shape + (n,)."""
    x = 2.0 * np.asarray(s, dtype=float) - 1.0
    table = np.empty((n, *x.shape))
    table[0], table[1:2] = 1.0, x
    rows = list(table)  # written to in place: `table[i] *= c` would copy the row onto itself besides
    for i in range(2, n):
        own = rows[i]
        np.multiply(rows[i - 1], x, out=own)
        own *= (2 * i - 1) / i
        own -= ((i - 1) / i) * rows[i - 2]
    return np.ascontiguousarray(table.transpose(*range(1, table.ndim), 0))


def _integrals(s: Array, n: int) -> Array:
    """(len(s), n) integrals of P_j from 0 to s: (P_(j+1) - P_(j-1))/(2 (2 j + 1)), s for j = 0."""
    table = legendre(s, n + 1)
    out = np.empty((len(table), n))
    out[:, 0] = s
    out[:, 1:] = (table[:, 2:] - table[:, : n - 1]) / (4.0 * np.arange(1, n) + 2.0)
    return out


@lru_cache(maxsize=32)
def rule(points: int) -> Rule:
    """The rule of so many points."""
    t, w = leggauss(points)
    s, weight = 0.5 * (t + 1.0), 0.5 * w
    to_legendre = (2.0 * np.arange(points) + 1.0) * legendre(s, points) * weight[:, None]
    return Rule(s, weight, to_legendre @ _integrals(s, points).T, to_legendre, np.ones(points))


@lru_cache(maxsize=64)
def _sums(elements: int) -> tuple[Array, Array]:
    """(e, e + 1) what elements add up to at the boundaries, and (e + 1, e) what boundaries add up to beyond the elements: products
    with such a table cost a third of running sums over a short axis."""
    before = np.triu(np.ones((elements, elements + 1)), 1)
    beyond = np.ascontiguousarray(before.T)
    before.flags.writeable = beyond.flags.writeable = False
    return before, beyond


def integrate(r: Rule, values: Array) -> tuple[Array, Array]:
    """Running integral over the elements of values (..., e, q), the Jacobian dx/ds in them.

    Returns it at the points (..., e, q) and at the element ends (..., e + 1), zero at the first.
    """
    flat = values.reshape(-1, values.shape[-1])
    elements = values.shape[-2]
    ends = (flat @ r.weight).reshape(-1, elements) @ _sums(elements)[0]
    ends = ends.reshape(*values.shape[:-2], elements + 1)
    out = (flat @ r.running).reshape(values.shape)
    out += ends[..., :-1, None]
    return out, ends


def integrate_transposed(r: Rule, inside: Array, ends: Array) -> Array:
    """What each value counts in sum(inside * integral at the points) + sum(ends * integral at the
    ends): the transpose of `integrate`, (..., e, q)."""
    flat, elements = inside.reshape(-1, inside.shape[-1]), inside.shape[-2]
    own = ends.copy()
    own[..., :-1] += (flat @ r.one).reshape(inside.shape[:-1])
    beyond = own.reshape(-1, elements + 1) @ _sums(elements)[1]
    out = flat @ r.running.T
    out += beyond.reshape(-1, 1) @ r.weight[None]
    return out.reshape(inside.shape)


def flattened(a: Array) -> Array:
    """(..., e, q) as (..., e * q)."""
    return a.reshape(*a.shape[:-2], a.shape[-2] * a.shape[-1])
