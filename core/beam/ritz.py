"""Modes by Rayleigh-Ritz in few functions: smooth bending moments over each layout's own stiffness.

A patch changes stiffness and mass by jumps but leaves the bending moment of a mode smooth. The trial
space is therefore built from moments: those of the modes of the structure without patches, over the
EI of the layout, taken through the flexibility S (subspace iteration, Bathe 1971; each step multiplies
what is wrong in mode n by (omega_n/omega_N)^2 of the first mode left out), joined by the layout's own
charge rows theta and S theta, with which the static free capacitance is exact and the error of K^2 is a
product of two small ones. Nothing remembers an earlier layout, so dragging ends where releasing does.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.bending import Bending, bending_of
from core.beam.gauss import legendre
from core.beam.mesh import Mesh, base_mesh
from core.beam.section import base_section
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

BARE_STEPS = 5
"""Applications of S to polynomials: what is left in the modes wanted is rounding."""
BARE_SPARE = 16
DEPENDENT = 1e-5
"""A vector of which no more is left beside those before it loses digits in their products."""
NEARLY = 0.1
"""Vectors of which so much is left beside those before them are orthonormal to a few roundings after one step."""
NOTHING = 1e-9
"""A vector of which so little is left beside the others adds nothing."""


@dataclass(frozen=True)
class Accuracy:
    """How many moments beyond the modes kept (and a third of those), how often S is applied to them, and
    how many points each element has less than one solution alone."""

    spare: int
    steps: int
    fewer_points: int = 0

    def moments(self, n_modes: int) -> int:
        """Moments for so many modes kept."""
        return n_modes + n_modes // 3 + self.spare


PROMISED = Accuracy(7, 1)
"""f to 1e-7 and K^2 to 1e-6 (down to 1e-10) at every place and mode shown; held by tests/published."""
PROMISED_TO_MANY = Accuracy(3, 1, 1)
"""The same for five modes of eight kept, at half the cost where that counts."""
SURVEY = Accuracy(0, 1, 2)
"""f to 2e-6 and K^2 to 1e-4, for thousands of layouts."""


@dataclass(frozen=True, eq=False)
class Moments:
    """Bending moments of the bare structure's modes, each of unit energy.

    coefficients : (e, q, N) of Legendre polynomials over each element; reactions : (N, s) of the
    elastic primary restraints, in N and N m.
    """

    mesh: Mesh
    coefficients: Array
    reactions: Array

    def on(self, bending: Bending, count: int) -> Array:
        """(..., count, n) unknowns of a layout with the first moments."""
        x = bending.mesh.x_m
        element = np.searchsorted(self.mesh.bounds_m[1:-1], bending.mesh.middle_m)
        s = self.mesh.parameter(x, np.broadcast_to(element[..., None], x.shape))
        table = legendre(s, self.coefficients.shape[1])
        moment = table @ self.coefficients[element][..., :count]
        rows = bending.moment_rows(np.moveaxis(moment, -1, -3))
        if bending.n_springs:
            rows[..., : bending.n_springs] = (
                self.reactions[:count] / bending.spring_root[..., None, :]
            )
        return bending.folded(rows)


def orthonormal(vectors: Array) -> Array:
    """Orthonormal vectors that span the same, (..., k, n), in the order given.

    By the Cholesky factor of their products, twice unless they were nearly so (Yamamoto et al. 2015, ETNA 44,
    306: as good as Householder's unless they all but depend on each other); then by Householder's.
    """
    size = np.sqrt((vectors * vectors).sum(axis=-1, keepdims=True))
    found = scaled = vectors / np.where(size > 0.0, size, 1.0)
    try:
        for _ in range(2):
            lower = np.linalg.cholesky(found @ np.swapaxes(found, -1, -2))
            least = np.diagonal(lower, axis1=-2, axis2=-1).min()
            if least < DEPENDENT:
                raise np.linalg.LinAlgError
            found = np.linalg.inv(lower) @ found
            if least > NEARLY:
                break
    except np.linalg.LinAlgError:
        return np.swapaxes(np.linalg.qr(np.swapaxes(scaled, -1, -2))[0], -1, -2)
    return found


def beside(vectors: Array, basis: Array) -> Array:
    """Vectors (..., k, n) made orthonormal to a basis and to each other; zero where nothing is left."""
    out: list[Array] = []
    for i in range(vectors.shape[-2]):
        v = vectors[..., i : i + 1, :]
        size = np.sqrt((v * v).sum(axis=-1, keepdims=True))
        v = v / np.where(size > 0.0, size, 1.0)
        for _ in range(2):
            v = v - (v @ np.swapaxes(basis, -1, -2)) @ basis
            left = np.sqrt((v * v).sum(axis=-1, keepdims=True))
            v = np.where(left > NOTHING, v / np.where(left > 0.0, left, 1.0), 0.0)
        basis = np.concatenate([basis, v], axis=-2)
        out.append(v)
    return np.concatenate(out, axis=-2) if out else vectors


def trial_space(bending: Bending, start: Array, charges: Array, accuracy: Accuracy) -> Array:
    """(..., v, n) orthonormal: S applied so often to the start, the charge rows and S of them."""
    basis, count = start, start.shape[-2]
    for _ in range(accuracy.steps - 1):
        basis = orthonormal(bending.flexed(bending.move(basis)))
    flexed = bending.flexed(bending.move(np.concatenate([basis, charges], axis=-2)))
    basis = orthonormal(flexed[..., :count, :])
    if not charges.shape[-2]:
        return basis
    added = np.concatenate([charges, flexed[..., count:, :]], axis=-2)
    return np.concatenate([basis, beside(added, basis)], axis=-2)


def modes_in(bending: Bending, basis: Array) -> tuple[Array, Array, Array]:
    """mu (..., v), largest first, unit vectors (..., v, n) of the modes in a basis, and their deflection
    and slope at the tip (..., v, 2)."""
    motion = bending.move(basis)
    mass = bending.mass(motion)
    mu, v = np.linalg.eigh(0.5 * (mass + np.swapaxes(mass, -1, -2)))
    share = np.swapaxes(v[..., ::-1], -1, -2)
    tip = np.stack([motion.deflection_at[..., -1], motion.slope_at[..., -1]], axis=-1)
    return np.maximum(mu[..., ::-1], 0.0), share @ basis, share @ tip


@lru_cache(maxsize=16)
def bare_moments(spec: BeamSpec, mesh_modes: int, count: int) -> Moments:
    """Moments of the structure without patches, from polynomials in the wave's phase by S."""
    bending, _, unit = bare_modes(spec, mesh_modes, count)
    s, mesh = bending.n_springs, bending.mesh
    moments = unit[:, s:].reshape(len(unit), *mesh.x_m.shape) / _nonzero(bending.per_moment)
    coefficients = np.moveaxis(moments @ mesh.rule.to_legendre, 0, -1)
    return Moments(mesh, np.ascontiguousarray(coefficients), unit[:, :s] * bending.spring_root)


def bare_modes(spec: BeamSpec, mesh_modes: int, count: int, finer: int = 0) -> tuple[Bending, Array, Array]:
    """The bare structure's operator, its mu and unit vectors (before the factors)."""
    mesh = base_mesh(spec, mesh_modes, finer=finer)
    bending = bending_of(spec, mesh, base_section(spec, mesh), spec.restraints)
    start = polynomials(bending, count + BARE_SPARE)
    basis = trial_space(bending, start, np.zeros((0, start.shape[-1])), Accuracy(0, BARE_STEPS))
    mu, unit, _ = modes_in(bending, basis)
    return bending, mu[:count], bending.unfolded(unit[:count])


def polynomials(bending: Bending, count: int) -> Array:
    """(k, n) Legendre polynomials of the phase as moments, and unit deflections of the springs."""
    spec, mesh = bending.spec, bending.mesh
    phase = np.interp(mesh.x_m, spec.bounds_m, spec.phase) / spec.phase[-1]
    count = min(count, mesh.x_m.size)
    rows = bending.moment_rows(np.moveaxis(legendre(phase, count), -1, 0))
    springs = np.eye(bending.n_springs, rows.shape[-1])
    return bending.folded(np.concatenate([springs, rows]))


def _nonzero(a: Array) -> Array:
    return np.where(a > 0.0, a, np.inf)
