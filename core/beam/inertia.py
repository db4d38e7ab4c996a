"""Kinetic energy of the beam in its unknowns, by moments of the mass along the span.

Beyond its own element every curvature unknown moves the beam along a straight line, so an unknown
j meets an unknown k of a later element only through two numbers each,

    integral m w_j w_k dx = (w_j, w_j') at the start of k's element . integral m (1, y) w_k dx,

y counted from there: the mass matrix is made without ever listing deflections at points.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.basis import Elements, Frame, fold, point_rows
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Inertia:
    """Integrals over the mass of span and attachments, n unknowns with deflections w_i.

    matrix : (n, n) of w_i w_j; linear : (2, n) of (1, x) w_i; rigid : (2, 2) of (1, x)^T (1, x).
    Of a rotary inertia the slopes count in place of the deflections.
    """

    matrix: Array
    linear: Array
    rigid: Array

    def seen_in(self, frame: Frame) -> Inertia:
        """The same in a frame's unknowns before its factors: w_i becomes w_i + (1, x) . lines_i."""
        lines, first = frame.lines, frame.n_springs
        n = lines.shape[1]
        matrix, linear = np.zeros((n, n)), np.zeros((2, n))
        matrix[first:, first:], linear[:, first:] = self.matrix, self.linear
        if lines.any():
            half = lines.T @ (linear + 0.5 * self.rigid @ lines)
            matrix += half + half.T
            linear += self.rigid @ lines
        return Inertia(matrix, linear, self.rigid)

    def folded(self, factor: tuple[Array, float]) -> Inertia:
        """The same after a rank-one factor of the frame."""
        one_side = fold(self.matrix, (factor,))
        return Inertia(fold(one_side.T, (factor,)), fold(self.linear, (factor,)), self.rigid)


def inertia_of(spec: BeamSpec, elements: Elements) -> Inertia:
    """Inertia of the curvature unknowns, counted from a fixed left end.

    Moments are taken about element ends, so that every sum is one of distances and masses, all
    positive: the accuracy is that of a sum of squares.
    """
    left, h = elements.mesh.bounds_m[:-1], elements.mesh.length_m
    own = np.matmul(elements.ref.deflection, elements.to_raw) * (h**2)[:, None, None]
    slope, rise = elements.gains
    mass = elements.section.mass * elements.weight_m
    inside = np.stack([mass, mass * (elements.x_m - left[:, None])], axis=1)
    ahead = left[:, None] - (left + h)  # (k, j): how far element k starts behind the end of element j
    ends = np.stack([rise, slope], axis=1)
    far = np.matmul(_beyond(elements, ahead, inside), ends)
    near = np.matmul(inside, own) + far
    near[:, 1] += h[:, None] * far[:, 0]
    blocks = np.matmul(np.swapaxes(own * mass[..., None], 1, 2), own) + np.matmul(
        np.swapaxes(ends, 1, 2), far
    )
    linear = near.copy()
    linear[:, 1] += left[:, None] * near[:, 0]
    x, m = elements.x_m.ravel(), mass.ravel()
    rigid = np.array([[m.sum(), m @ x], [m @ x, m @ x**2]])
    matrix = _joined(elements, ahead, near, blocks)
    return _with_point_masses(spec, elements, Inertia(matrix, _flat(elements, linear), rigid))


def _beyond(elements: Elements, ahead: Array, inside: Array) -> Array:
    """(e, 2, 2) integrals of m (1, y)^T (1, y) over all later elements, y from the element's end."""
    away = elements.x_m - elements.mesh.bounds_m[:-1, None]
    m0, m1 = inside.sum(axis=-1).T
    m2 = (inside[:, 1] * away).sum(axis=-1)
    later = _strictly_below(len(ahead))
    reach = later * ahead
    first = m1 @ later + m0 @ reach
    second = m2 @ later + 2.0 * (m1 @ reach) + m0 @ reach**2
    return np.stack([m0 @ later, first, first, second], axis=-1).reshape(-1, 2, 2)


def _flat(elements: Elements, values: Array) -> Array:
    """(e, 2, d) as (2, n)."""
    return np.moveaxis(values, 1, 0).reshape(2, -1)[:, elements.kept]


def _joined(elements: Elements, ahead: Array, near: Array, blocks: Array) -> Array:
    """(n, n) from the moments about each element's start (e, 2, d), by which it meets the straight
    lines of earlier ones, and from the element blocks (e, d, d)."""
    slope, rise = elements.gains
    n_e, d = slope.shape
    lines = np.empty((n_e, 2, n_e, d))
    lines[:, 0] = ahead[:, :, None] * slope + rise
    lines[:, 1] = slope
    lower = np.matmul(np.swapaxes(near, 1, 2), lines.reshape(n_e, 2, n_e * d))
    i = np.arange(n_e)
    lower.reshape(n_e, d, n_e, d)[i, :, i, :] = blocks
    lower = lower.reshape(n_e * d, n_e * d)
    lower = lower.take(elements.kept, axis=0).take(elements.kept, axis=1)
    return np.where(_below(len(lower)), lower, lower.T)


@lru_cache(maxsize=32)
def _below(size: int) -> NDArray[np.bool_]:
    """(size, size) the lower triangle, diagonal included."""
    return np.tri(size, dtype=bool)


@lru_cache(maxsize=32)
def _strictly_below(size: int) -> Array:
    """(size, size) one below the diagonal, zero elsewhere."""
    return np.tri(size, k=-1)


def _with_point_masses(spec: BeamSpec, elements: Elements, span: Inertia) -> Inertia:
    if not spec.masses:
        return span
    x = np.array([m.x_m for m in spec.masses])
    rows = np.concatenate([point_rows(elements, x, 0), point_rows(elements, x, 1)])
    weight = np.array(
        [m.mass_kg for m in spec.masses] + [m.rotary_inertia_kg_m2 for m in spec.masses], dtype=float
    )
    parts = np.zeros((len(rows), 2))
    parts[: len(x), 0], parts[: len(x), 1], parts[len(x) :, 1] = 1.0, x, 1.0
    weighted, weighted_parts = weight[:, None] * rows, weight[:, None] * parts
    return Inertia(
        span.matrix + rows.T @ weighted,
        span.linear + weighted_parts.T @ rows,
        span.rigid + weighted_parts.T @ parts,
    )
