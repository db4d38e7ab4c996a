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

from core.beam.axes import last_ahead
from core.beam.bending import Bending
from core.beam.bending_made import bending_of
from core.beam.functions import Function
from core.beam.gauss import legendre
from core.beam.mesh import Mesh, base_mesh, mesh_on
from core.beam.orthonormal import beside, orthonormal
from core.beam.section_further import with_base_functions
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

BARE_STEPS = 5
"""Applications of S to polynomials: what is left in the modes wanted is rounding."""
BARE_SPARE = 16
FORCED = 10
"""Polynomials that push each function across the width."""


MANY = 20
"""Modes kept, beyond which S is applied once more: the highest of them want it."""
MOST_BEYOND = 36
"""Moments more than modes kept, at most: S does more for the highest."""


@dataclass(frozen=True)
class Accuracy:
    """How many moments more or less than keep the promise, how often S is applied to them, how many points each element has
    less than one solution alone, and how many moments beyond the modes kept (and a third of those) sections want that further
    functions tell, where S is not applied once more."""

    spare: int
    steps: int
    fewer_points: int = 0
    further: int = 0

    def moments(self, n_modes: int, *, further: bool = False) -> int:
        """Moments for so many modes kept. Those of a higher mode are spread over more of the bare structure's."""
        if further:
            return n_modes + n_modes // 3 + self.further
        return n_modes + min(-(-(n_modes**2) // 20) + 2, MOST_BEYOND) + self.spare

    def times(self, n_modes: int) -> int:
        """How often S is applied for so many modes kept."""
        return self.steps + (n_modes > MANY)


PROMISED = Accuracy(0, 1, 0, 7)
"""f to 1e-7 and K^2 to 1e-6 (down to 1e-10) at every place and mode shown; held by tests/published."""
PROMISED_TO_MANY = Accuracy(-1, 1, 1, 3)
"""The same for five modes of eight kept, at half the cost where that counts."""
SURVEY = Accuracy(-6, 1, 2)
"""f to 2e-6 and K^2 to 1e-4, for thousands of layouts."""


@dataclass(frozen=True, eq=False)
class Moments:
    """Bending moments of the bare structure's modes, each of unit energy.

    coefficients : (e, q, N) of Legendre polynomials over each element; reactions : (N, s) of the
    elastic primary restraints, in N and N m; strains : (e, q, N, R) of the part's further functions, None without any.
    """

    mesh: Mesh
    coefficients: Array
    reactions: Array
    strains: Array | None = None

    def on(self, bending: Bending, count: int) -> Array:
        """(..., count, n) unknowns of a layout with the first moments, before its updates; where further functions tell
        how it moves besides, S applied to that with strains that are the bare structure's."""
        x = bending.mesh.x_m
        element = np.searchsorted(self.mesh.bounds_m[1:-1], bending.mesh.middle_m)
        table = legendre(self.mesh.parameters(x, element), self.coefficients.shape[1])
        moment = table @ self.coefficients[element][..., :count]
        if self.strains is not None:
            q = self.strains.shape[1]
            strains = table @ self.strains[:, :, :count].reshape(len(self.strains), q, -1)[element]
            strains = strains.reshape(*x.shape, count, -1)
            springs = self.reactions[:count] / bending.spring_root[..., None, :]
            return bending.flexed_so(springs, moment, strains)
        rows = bending.moment_rows(last_ahead(moment))
        if bending.n_springs:
            rows[..., : bending.n_springs] = (
                self.reactions[:count] / bending.spring_root[..., None, :]
            )
        return rows


def trial_space(bending: Bending, start: Array, charges: Array, accuracy: Accuracy) -> Array:
    """(..., v, n) orthonormal: S applied so often to the start, the charge rows and S of them."""
    basis, count = start, start.shape[-2]
    if accuracy.steps == 0:
        flexed = bending.flexed(bending.move(charges))
        basis = orthonormal(start)
        return np.concatenate([basis, beside(np.concatenate([charges, flexed], axis=-2), basis)], axis=-2)
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
    tip = np.empty((*motion.deflection_at.shape[:-1], 2))
    tip[..., 0], tip[..., 1] = motion.deflection_at[..., -1], motion.slope_at[..., -1]
    return np.maximum(mu[..., ::-1], 0.0), share @ basis, share @ tip


@lru_cache(maxsize=16)
def bare_moments(
    spec: BeamSpec, mesh_modes: int, count: int, functions: tuple[Function, ...] = ()
) -> Moments:
    """Moments of the structure without patches, from polynomials in the wave's phase by S."""
    bending, _, unit = bare_modes(spec, mesh_modes, count, functions)
    s, mesh = bending.n_springs, bending.mesh
    moments = bending.parts(unit)[1] / _nonzero(bending.per_moment)
    coefficients = np.moveaxis(moments @ mesh.rule.to_legendre, 0, -1)
    strains = None
    if bending.further is not None:
        each = bending.strains(bending.updated(unit))
        strains = np.ascontiguousarray(np.moveaxis(each @ mesh.rule.to_legendre, (0, 2), (2, 3)))
    return Moments(mesh, np.ascontiguousarray(coefficients), unit[:, :s] * bending.spring_root, strains)


def bare_modes(
    spec: BeamSpec, mesh_modes: int, count: int, functions: tuple[Function, ...] = (), finer: int = 0
) -> tuple[Bending, Array, Array]:
    """The bare structure's operator, its mu and unit vectors (before the updates)."""
    mesh = base_mesh(spec, mesh_modes, finer=finer)
    if functions and mesh.arc is not None:
        mesh = mesh_on(spec, mesh, np.zeros(0), np.zeros(0))
    whole = with_base_functions(spec, mesh, functions)
    bending = bending_of(spec, mesh, whole, spec.restraints)
    start = polynomials(bending, count + BARE_SPARE)
    basis = trial_space(bending, start, np.zeros((0, start.shape[-1])), Accuracy(0, BARE_STEPS))
    mu, unit, _ = modes_in(bending, basis)
    return bending, mu[:count], bending.before_updates(unit[:count])


def polynomials(bending: Bending, count: int) -> Array:
    """(k, n) Legendre polynomials of the phase as moments, and unit deflections of the springs."""
    spec, mesh = bending.spec, bending.mesh
    phase = np.interp(mesh.x_m, spec.bounds_m, spec.phase) / spec.phase[-1]
    count = min(count, mesh.x_m.size)
    rows = bending.moment_rows(np.moveaxis(legendre(phase, count), -1, 0))
    springs = np.eye(bending.n_springs, rows.shape[-1])
    found = [springs, rows]
    if bending.further is not None:
        forces = legendre(phase, min(FORCED, count))
        for i, function in enumerate(bending.section.further.functions if bending.section.further else ()):
            if function.bows:
                each = np.zeros((forces.shape[-1], *mesh.x_m.shape[:-1], bending.further.functions, mesh.x_m.shape[-1]))
                each[..., i, :] = np.moveaxis(forces, -1, 0)
                found.append(bending.moment_rows(np.zeros_like(each[..., 0, :]), forces=each))
    return bending.updated(np.concatenate(found))


def _nonzero(a: Array) -> Array:
    return np.where(a > 0.0, a, np.inf)
