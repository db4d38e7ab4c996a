"""Natural frequencies and mode shapes of the beam, and exact static compliance.

`solve_beam` is the whole mechanical solution of one layout, or of many that differ in numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.bending import Bending
from core.beam.motion import Loads
from core.beam.ritz import Accuracy, modes_in, trial_space

Array = NDArray[np.float64]

SIGNED_MODES = 24
"""Modes whose sign is fixed; nobody looks at the others one by one."""


@dataclass(frozen=True, eq=False)
class BeamSolution:
    """Modes of a beam in the unknowns where stiffness is the identity; leading axes are layouts.

    A functional r of the deflection (a deflection, a slope, a patch's charge) is a row (..., n). Its
    value in mode k, mass-normalised, is omega_k (u_k . r); the static compliance between two functionals
    is r . s (rigid-body motion excluded).
    """

    bending: Bending
    mu_s2: Array
    """(..., v) 1/omega^2, largest first; the last ones are only a completion (0 at worst)."""
    unit: Array
    """(..., v, n) rows u_k, one per mode."""

    @cached_property
    def omega_rad_s(self) -> Array:
        """(..., v) frequencies of the modes, lowest first; inf at worst."""
        with np.errstate(divide="ignore"):
            return 1.0 / np.sqrt(self.mu_s2)

    @cached_property
    def base(self) -> Array:
        """(..., n) load row of unit base acceleration: minus the integral of m w."""
        return self.bending.base_row()

    def row(self, x: Array | float, order: int = 0, *, side: str = "right") -> Array:
        """Row of deflection (0), slope (1) or curvature (2) at x, (..., *x.shape, n). Curvature is the bending moment
        over EI of the section free across.

        At an element boundary the curvature is that of the element on the given side.
        """
        x = np.asarray(x, dtype=float)
        rows = point_rows(self.bending, x.ravel(), order, side)
        return rows.reshape(*rows.shape[:-2], *x.shape, rows.shape[-1])

    def rigid_deflection(self, x: Array | float) -> Array:
        """Mass-normalised rigid-body shapes at x, (..., n_rigid, *x.shape)."""
        x = np.asarray(x, dtype=float)
        a, b = np.moveaxis(self.bending.rigid, -2, 0).reshape(2, *self.bending.rigid.shape[:-2], -1, *(1,) * x.ndim)
        return np.asarray(a + b * x)

    def mode_vectors(self, n_modes: int) -> Array:
        """Displacement vectors of the mass-normalised modes, (..., n_modes, n)."""
        return self.omega_rad_s[..., :n_modes, None] * self.unit[..., :n_modes, :]

    def gauss_curvature(self, n_modes: int) -> Array:
        """Curvature of the mass-normalised modes at the Gauss points, (..., n_modes, e, q)."""
        return self.bending.bent(self.mode_vectors(n_modes))

    def moment_along(self, vectors: Array, s: Array) -> Array:
        """Bending moment of displacement vectors (..., k, n) at parameters s, from 0 to 1, of every
        element, (..., k, e, len(s)); over EI there it is the curvature of the section free across."""
        return self.bending.moment(vectors) @ self.bending.mesh.rule.to(s)

    def deflection_along(self, vectors: Array, s: Array) -> Array:
        """Deflection of displacement vectors (..., k, n) at parameters s of every element."""
        motion, mesh = self.bending.move(vectors), self.bending.mesh
        steps = (motion.slope * mesh.jacobian_m[..., None, :, :]) @ mesh.rule.integral_to(s)
        return motion.deflection_at[..., :-1, None] + steps


def point_rows(bending: Bending, x: Array, order: int, side: str) -> Array:
    """(..., k, n) rows of deflection, slope or curvature at places x (k,), or (..., k) of each layout."""
    mesh = bending.mesh
    inner, places = mesh.bounds_m[..., None, 1:-1], x[..., None]
    element = (inner <= places if side == "right" else inner < places).sum(axis=-1)
    s = np.clip(mesh.parameter(x, element), 0.0, 1.0)
    here = (np.arange(mesh.bounds_m.shape[-1] - 1) == element[..., None]).astype(float)
    at = np.concatenate([here, np.zeros((*here.shape[:-1], 1))], axis=-1)
    table = mesh.rule.to(s.ravel()) if order == 2 else mesh.rule.integral_to(s.ravel())
    own = here[..., None] * table.T.reshape(*s.shape, 1, len(table))
    if order == 2:
        return bending.bent_rows(own)
    none, none_at = np.zeros_like(own), np.zeros_like(at)
    if order == 0:
        jacobian = mesh.jacobian_m[..., None, :, :]
        return bending.rows(Loads(none, at, none_at, moment=own * jacobian))
    return bending.rows(Loads(none, none_at, at, bend=own))


def solve_beam(bending: Bending, start: Array, charges: Array, accuracy: Accuracy) -> BeamSolution:
    """Solve for the lowest modes, in the space that the start (..., k, n) and the charge rows span. Signs
    are fixed in one layout; nobody looks at those of many."""
    mu, unit, tip = modes_in(bending, trial_space(bending, start, charges, accuracy))
    if unit.ndim == 2:
        unit = unit * signs(bending, mu, unit, tip)[:, None]
    return BeamSolution(bending, mu, unit)


def signs(bending: Bending, mu: Array, unit: Array, tip: Array) -> Array:
    """(v,) signs that make the tip deflection positive; its slope where the tip cannot move, its
    curvature where it can do neither. `tip` (v, 2) holds the first two; 1 for modes beyond the first."""
    span, count = bending.spec.span_m, min(len(unit), SIGNED_MODES)
    # Of modes of unit mass: the tip of a high one moves about as far as that of a low one.
    omega = 1.0 / np.sqrt(np.maximum(mu[:count], 1e-300))
    value = size = np.zeros(count)
    for order in range(3):
        if order < 2:
            new = tip[:count, order]
            loose = bending.per_moment if order else bending.per_moment * (span - bending.mesh.x_m)
            if np.abs(new).max() < 1e-7 * np.sqrt((loose * loose).sum()):
                continue  # held: what is left is rounding
        else:
            new = unit[:count] @ point_rows(bending, np.array([span]), 2, "left")[0]
        new = new * omega * span**order
        size = np.maximum(size, np.abs(new))
        value = np.where(np.abs(value) > 1e-7 * size, value, new)
        if np.abs(value).min() > 1e-3 * np.abs(value).max():
            break
    out = np.ones(len(unit))
    out[:count] = np.where(value < 0.0, -1.0, 1.0)
    return out
