"""Natural frequencies and mode shapes of the beam, and exact static compliance.

`solve_beam` is the whole mechanical solution of one layout: element tables, the frame in which
stiffness is the identity, and the eigenpairs of the mass matrix S in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.beam.basis import (
    Elements,
    Frame,
    curvature_moments,
    fold,
    point_rows,
    primary_frame,
    primary_restraints,
    restraint_row,
    stiffen,
    tip_rows,
)
from core.beam.inertia import Inertia, inertia_of
from core.beam.legendre import deflection_table
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

SIGNED_MODES = 24
"""Modes whose sign is fixed; nobody looks at the others one by one."""


@dataclass(frozen=True)
class BeamSolution:
    """All discrete modes of a beam in the unknowns where stiffness is the identity.

    A functional r of the deflection (a deflection, a slope, a patch's charge) is a row (n,).
    Its value in mode k, mass-normalised, is omega_k (u_k . r); the static compliance between
    two functionals is r . s (rigid-body motion excluded).
    """

    elements: Elements
    frame: Frame
    omega_rad_s: Array
    """(n,) all discrete frequencies, lowest first; the upper ones are only a completion (inf at
    worst)."""
    mu_s2: Array
    """(n,) 1/omega^2, largest first."""
    unit: Array
    """(n, n) rows u_k, one per mode."""
    base: Array
    """(n,) load row of unit base acceleration: minus the integral of m w."""

    def row(self, x: Array | float, order: int = 0, *, side: str = "right") -> Array:
        """Row of deflection (0), slope (1) or curvature (2) at x, shape x.shape + (n,)."""
        x = np.asarray(x, dtype=float)
        raw = point_rows(self.elements, x, order, side=side)
        return self.frame.apply(raw, rigid_part(x, order))

    def rigid_deflection(self, x: Array | float, order: int = 0) -> Array:
        """Mass-normalised rigid-body shapes at x, (n_rigid, *x.shape)."""
        part = rigid_part(np.asarray(x, dtype=float), order)
        if part is None:
            return np.zeros((self.frame.n_rigid, *np.shape(x)))
        return np.moveaxis(part @ self.frame.rigid, -1, 0)

    def raw_coefficients(self, vectors: Array) -> Array:
        """Raw Legendre curvature coefficients of displacement vectors (k, n), (k, e, d)."""
        n_e, d = self.elements.to_raw.shape[:2]
        full = np.zeros((len(vectors), n_e * d))
        full[:, self.elements.kept] = self.frame.unfold(vectors)[:, self.frame.n_springs :]
        return np.matmul(self.elements.to_raw, full.reshape(-1, n_e, d, 1))[..., 0]

    def mode_vectors(self, n_modes: int) -> Array:
        """Displacement vectors of the mass-normalised modes, (n_modes, n)."""
        return self.omega_rad_s[:n_modes, None] * self.unit[:n_modes]

    def gauss_curvature(self, n_modes: int) -> Array:
        """Curvature of the mass-normalised modes at the Gauss points, (n_modes, e, q)."""
        raw = self.raw_coefficients(self.mode_vectors(n_modes))
        return np.matmul(raw, self.elements.ref.curvature.T)

    def deflection_along(self, vectors: Array, s: Array) -> Array:
        """Deflection of displacement vectors (k, n) at the places s, from 0 to 1, of every element:
        (k, e, len(s))."""
        raw, mesh = self.raw_coefficients(vectors), self.elements.mesh
        h = mesh.length_m
        turn = h * raw[..., 0]
        slope = turn.cumsum(axis=-1) - turn
        rise = h * slope + h**2 * (raw @ self.elements.ref.end_deflection)
        start = rise.cumsum(axis=-1) - rise
        line = self.frame.unfold(vectors) @ self.frame.lines.T
        start = start + line[:, :1] + line[:, 1:] * mesh.bounds_m[:-1]
        slope = slope + line[:, 1:]
        bent = np.matmul(raw, deflection_table(s, raw.shape[-1]).T)
        return start[..., None] + (h * slope)[..., None] * s + (h**2)[:, None] * bent


def rigid_part(x: Array, order: int) -> Array | None:
    """What a deflection or slope at x says of the rigid field (a, b); None for curvature."""
    if order == 2:
        return None
    out = np.empty((*x.shape, 2))
    out[..., 0], out[..., 1] = (1.0, x) if order == 0 else (0.0, 1.0)
    return out


def solve_beam(spec: BeamSpec, elements: Elements, stiffeners: Sequence[Array] = ()) -> BeamSolution:
    """Solve for all discrete modes.

    `stiffeners` are densities g(x) at the Gauss points, (e, q): each adds the energy
    (integral g w'' dx)^2 / 2, as a charge-free piezoelectric node does.
    """
    primary = primary_restraints(spec.restraints, spec.span_m)
    frame = primary_frame(elements, primary)
    inertia = inertia_of(spec, elements)
    frame = _mass_normalise_rigid(frame, inertia)
    inertia = inertia.seen_in(frame)
    extra = [(frame.apply(*restraint_row(elements, s)), s.stiffness) for s in primary.rest]
    extra += [(frame.apply(curvature_moments(elements, g), None), 1.0) for g in stiffeners]
    for row, k in extra:
        factor = stiffen(fold(row, frame.factors), k)
        if factor is not None:
            frame = replace(frame, factors=(*frame.factors, factor))
            inertia = inertia.folded(factor)
    mu, v = np.linalg.eigh(inertia.matrix)
    mu, unit = np.maximum(mu[::-1], 0.0), v[:, ::-1].T.copy()
    with np.errstate(divide="ignore"):
        omega = 1.0 / np.sqrt(mu)
    solution = BeamSolution(elements, frame, omega, mu, unit, -inertia.linear[0])
    unit[:SIGNED_MODES] *= _signs(solution, spec)[:, None]
    return solution


def _mass_normalise_rigid(frame: Frame, inertia: Inertia) -> Frame:
    """Mass-normalise the free rigid directions and remember their M-products, so that every row
    becomes orthogonal to them (an unsupported beam then has only its elastic modes)."""
    if frame.n_rigid == 0:
        return frame
    lower = np.linalg.cholesky(frame.rigid.T @ inertia.rigid @ frame.rigid)
    rigid = frame.rigid @ np.linalg.inv(lower).T
    return replace(frame, rigid=rigid, rigid_load=rigid.T @ inertia.seen_in(frame).linear)


def _signs(solution: BeamSolution, spec: BeamSpec) -> Array:
    """Signs of the first modes that make the tip deflection positive; its slope where the tip cannot move, its
    curvature where it can do neither."""
    unit, span = solution.unit[:SIGNED_MODES], spec.span_m
    value, size = np.zeros(len(unit)), np.zeros(len(unit))
    for order in range(3):
        if order < 2:
            part = rigid_part(np.array(span), order)
            raw = tip_rows(solution.elements, order)
            row = solution.frame.apply(raw, part)
            if row @ row < 1e-12 * (raw @ raw):
                continue  # held: what is left is rounding
        else:
            row = solution.row(span, 2, side="left")
        new = (unit @ row) * span**order
        size = np.maximum(size, np.abs(new))
        value = np.where(np.abs(value) > 1e-7 * size, value, new)
        found = np.abs(value)
        if found.min() > 1e-3 * found.max():
            break
    return np.where(value < 0.0, -1.0, 1.0)
