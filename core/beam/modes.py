"""Natural frequencies and mode shapes of the beam, and exact static compliance.

`solve_beam` is the whole mechanical solution of one layout: element tables, the frame in which
stiffness is the identity, and the eigenpairs of `S = G^T W G`.
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
    gauss_rows,
    point_rows,
    primary_frame,
    restraint_row,
    stiffen,
    tip_rows,
)
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

    def moment_rows(self, density: Array) -> Array:
        """Rows of integral(density w'' dx), densities at the Gauss points (..., e, q)."""
        return self.frame.apply(curvature_moments(self.elements, density), None)

    def rigid_deflection(self, x: Array | float, order: int = 0) -> Array:
        """Mass-normalised rigid-body shapes at x, (n_rigid, *x.shape)."""
        part = rigid_part(np.asarray(x, dtype=float), order)
        if part is None:
            return np.zeros((self.frame.n_rigid, *np.shape(x)))
        return np.moveaxis(part @ self.frame.rigid, -1, 0)

    def raw_coefficients(self, n_modes: int) -> Array:
        """Raw Legendre curvature coefficients of the mass-normalised modes, (n_modes, e, d)."""
        final = self.omega_rad_s[:n_modes, None] * self.unit[:n_modes]
        for v, gamma in reversed(self.frame.factors):
            final = final - gamma * (final @ v)[:, None] * v
        n_e, d = self.elements.to_raw.shape[:2]
        full = np.zeros((len(final), n_e * d))
        full[:, self.elements.keep] = final[:, len(self.frame.root_flexibility) :]
        return np.matmul(self.elements.to_raw, full.reshape(-1, n_e, d, 1))[..., 0]

    def gauss_curvature(self, n_modes: int) -> Array:
        """Curvature of the mass-normalised modes at the Gauss points, (n_modes, e, q)."""
        return np.matmul(self.raw_coefficients(n_modes), self.elements.ref.curvature.T)


def rigid_part(x: Array, order: int) -> Array | None:
    """What a deflection or slope at x says of the rigid field (a, b); None for curvature."""
    if order == 2:
        return None
    first = np.ones_like(x) if order == 0 else np.zeros_like(x)
    return np.stack([first, x if order == 0 else np.ones_like(x)], axis=-1)


def solve_beam(spec: BeamSpec, elements: Elements, stiffeners: Sequence[Array] = ()) -> BeamSolution:
    """Solve for all discrete modes.

    `stiffeners` are densities g(x) at the Gauss points, (e, q): each adds the energy
    (integral g w'' dx)^2 / 2, as a charge-free piezoelectric node does.
    """
    frame, springs = primary_frame(elements, spec.restraints, spec.span_m)
    rows, weight = _inertia(spec, elements)
    frame = _mass_normalise_rigid(frame, elements, rows, weight, spec)
    part = _inertia_rigid_part(spec, elements)
    final = frame.apply(rows, part)
    extra = [(frame.apply(*restraint_row(elements, s)), s.stiffness) for s in springs]
    extra += [(frame.apply(curvature_moments(elements, g), None), 1.0) for g in stiffeners]
    for row, k in extra:
        factor = stiffen(fold(row, frame.factors), k)
        if factor is not None:
            frame = replace(frame, factors=(*frame.factors, factor))
            final = fold(final, (factor,))
    s = final.T @ (weight[:, None] * final)
    mu, v = np.linalg.eigh(s)
    mu, unit = np.maximum(mu[::-1], 0.0), v[:, ::-1].T.copy()
    with np.errstate(divide="ignore"):
        omega = 1.0 / np.sqrt(mu)
    n_w = elements.x_m.size + len(spec.masses)
    base = -(weight[:n_w] @ final[:n_w])
    solution = BeamSolution(elements, frame, omega, mu, unit, base)
    unit[:SIGNED_MODES] *= _signs(solution, spec)[:, None]
    return solution


def _inertia(spec: BeamSpec, elements: Elements) -> tuple[Array, Array]:
    """Raw rows and weights whose weighted squares make the kinetic energy."""
    rows = [gauss_rows(elements)]
    weight = [(elements.section.mass * elements.weight_m).ravel()]
    if spec.masses:
        x = np.array([m.x_m for m in spec.masses])
        rows += [point_rows(elements, x, 0), point_rows(elements, x, 1)]
        weight += [
            np.array([m.mass_kg for m in spec.masses]),
            np.array([m.rotary_inertia_kg_m2 for m in spec.masses]),
        ]
    return np.concatenate(rows), np.concatenate(weight)


def _inertia_rigid_part(spec: BeamSpec, elements: Elements) -> Array:
    parts = [rigid_part(elements.x_m.ravel(), 0)]
    if spec.masses:
        x = np.array([m.x_m for m in spec.masses])
        parts += [rigid_part(x, 0), rigid_part(x, 1)]
    return np.concatenate([p for p in parts if p is not None])


def _mass_normalise_rigid(
    frame: Frame, elements: Elements, rows: Array, weight: Array, spec: BeamSpec
) -> Frame:
    """Mass-normalise the free rigid directions and remember their M-products, so that every row
    becomes orthogonal to them (an unsupported beam then has only its elastic modes)."""
    if frame.n_rigid == 0:
        return frame
    part = _inertia_rigid_part(spec, elements)
    shapes = part @ frame.rigid
    lower = np.linalg.cholesky(shapes.T @ (weight[:, None] * shapes))
    rigid = frame.rigid @ np.linalg.inv(lower).T
    held = frame.apply(rows, part)
    load = (part @ rigid).T @ (weight[:, None] * held)
    return replace(frame, rigid=rigid, rigid_load=load)


def _signs(solution: BeamSolution, spec: BeamSpec) -> Array:
    """Signs of the first modes that make the tip deflection positive; its slope where the tip cannot move, its
    curvature where it can do neither."""
    unit, span = solution.unit[:SIGNED_MODES], spec.span_m
    value = np.zeros(len(unit))
    size = np.zeros(len(unit))
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
        if np.all(np.abs(value) > 1e-3 * np.abs(value).max()):
            break
    return np.where(value < 0.0, -1.0, 1.0)
