"""The C1 trial space: curvature polynomials per element, made orthonormal in strain energy.

Deflection is the curvature integrated twice, plus the rigid field a + b x that the restraints
leave or hold. In these unknowns the bending stiffness is the identity, so

* an element of a micrometre is as harmless as one of a metre,
* the eigenproblem is `S u = mu u` with `S = G^T W G` and `mu = 1/omega^2` (largest first, which
  keeps the low modes accurate to rounding),
* the static compliance between two functionals r and s is simply `r . s`.

This spans the same space as hierarchical C1 beam elements of degree n_terms + 1 (Szabo & Babuska
1991, Finite Element Analysis), so frequencies approach from above (Rayleigh-Ritz).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.legendre import Reference, curvature_table, deflection_table, reference, slope_table
from core.beam.mesh import Mesh
from core.beam.restraint import Restraint, choose_primary
from core.beam.section import Section, Strips, section, strip_active
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

EXTRA_POINTS = 2
"""Gauss points beyond the term count: exact for m w^2 with linear m up to rounding, and ample for
the ratio z_n = B1/A1 in a tapered element."""


@dataclass(frozen=True)
class Elements:
    """Element tables before any support: everything refers to raw curvature coefficients."""

    mesh: Mesh
    ref: Reference
    x_m: Array
    """(e, q) Gauss points."""
    section: Section
    active: NDArray[np.bool_] | None
    """(k, e) strips present over each element."""
    to_raw: Array
    """(e, d, d) raw Legendre coefficients per orthonormal one: kappa = P (to_raw c)."""
    keep: NDArray[np.bool_]
    """(e * d,) orthonormal terms kept."""

    @cached_property
    def weight_m(self) -> Array:
        """(e, q) integration weights in x."""
        return self.mesh.length_m[:, None] * self.ref.weight


def build_elements(spec: BeamSpec, mesh: Mesh, strips: Strips | None) -> Elements:
    """Evaluate the section and orthonormalise the curvature terms of every element."""
    d = int(mesh.terms.max())
    ref = reference(d, d + EXTRA_POINTS)
    h = mesh.length_m
    x = mesh.bounds_m[:-1, None] + h[:, None] * ref.s
    active = None
    if strips is not None:
        active = strip_active(strips, mesh.middle_m)
    sec = section(spec, x, mesh.segment, strips, active)
    return Elements(
        mesh=mesh,
        ref=ref,
        x_m=x,
        section=sec,
        active=active,
        to_raw=orthonormal(sec.bending * ref.weight * h[:, None], ref.curvature),
        keep=(np.arange(d) < mesh.terms[:, None]).ravel(),
    )


def orthonormal(weighted_stiffness: Array, table: Array) -> Array:
    """Per element the upper-triangular T with (P T)^T diag(w EI) (P T) = 1; shape (..., e, d, d).

    Hierarchical: the first n columns are the orthonormal set of the first n polynomials.
    """
    gram = np.matmul(table.T * weighted_stiffness[..., None, :], table)
    lower = np.linalg.cholesky(gram)
    return np.swapaxes(np.linalg.inv(lower), -1, -2)


def point_rows(elements: Elements, x: Array, order: int, *, side: str = "right") -> Array:
    """Rows of deflection (0), slope (1) or curvature (2) at x for the orthonormal unknowns.

    Counted from a fixed left end; shape x.shape + (n_kept,). At an element boundary the
    curvature is that of the element on the given side.
    """
    x = np.asarray(x, dtype=float)
    flat = x.ravel()
    bounds, h = elements.mesh.bounds_m, elements.mesh.length_m
    e = np.clip(np.searchsorted(bounds, flat, side="right" if side == "right" else "left") - 1, 0, len(h) - 1)
    s = (flat - bounds[e]) / h[e]
    d = elements.ref.curvature.shape[1]
    rows = np.zeros((len(flat), len(h), d))
    own = (curvature_table, slope_table, deflection_table)[2 - order](s, d) * (h[e] ** (2 - order))[:, None]
    rows[np.arange(len(flat)), e] = np.matmul(own[:, None, :], elements.to_raw[e])[:, 0]
    if order < 2:
        slope, deflection = _end_gains(elements)
        before = np.arange(len(h)) < e[:, None]
        if order == 1:
            gain = np.broadcast_to(slope, (len(flat), *slope.shape))
        else:
            gain = (flat[:, None] - bounds[1:])[:, :, None] * slope + deflection
        rows += gain * before[:, :, None]
    rows = rows.reshape(len(flat), -1)[:, elements.keep]
    return rows.reshape(*x.shape, rows.shape[-1])


def _end_gains(elements: Elements) -> tuple[Array, Array]:
    """Slope and deflection gained over each element per orthonormal unknown, (e, d) each."""
    h = elements.mesh.length_m[:, None]
    slope = h * elements.to_raw[:, 0, :]
    deflection = h**2 * np.matmul(elements.ref.end_deflection, elements.to_raw)
    return slope, deflection


def tip_rows(elements: Elements, order: int) -> Array:
    """(n_kept,) deflection (0) or slope (1) at the right-hand end of the span."""
    slope, deflection = _end_gains(elements)
    bounds = elements.mesh.bounds_m
    gain = slope if order == 1 else (bounds[-1] - bounds[1:])[:, None] * slope + deflection
    return gain.ravel()[elements.keep]


def gauss_rows(elements: Elements) -> Array:
    """Deflection rows at all Gauss points, (e * q, n_kept), from a fixed left end."""
    h, bounds = elements.mesh.length_m, elements.mesh.bounds_m
    n_e, q = elements.x_m.shape
    slope, deflection = _end_gains(elements)
    # Flat element-and-term axis: long inner loops, half the time of a trailing axis of five.
    d = slope.shape[1]
    distance = np.repeat(elements.x_m[:, :, None] - bounds[1:], d, axis=-1)
    before = np.repeat(np.tri(n_e, k=-1), d, axis=-1)[:, None]
    rows = (distance * slope.ravel() + deflection.ravel()) * before
    rows = rows.reshape(n_e, q, n_e, d)
    i = np.arange(n_e)
    own = np.matmul(elements.ref.deflection, elements.to_raw) * (h**2)[:, None, None]
    rows[i, :, i, :] = own
    return rows.reshape(n_e * q, -1)[:, elements.keep]


def curvature_moments(elements: Elements, density: Array) -> Array:
    """Rows of integral(density w'' dx) for densities given at the Gauss points.

    `density` is (..., e, q); the result (..., n_kept).
    """
    raw = np.matmul(density * elements.weight_m, elements.ref.curvature)
    rows = np.matmul(raw[..., None, :], elements.to_raw)[..., 0, :]
    return rows.reshape(*rows.shape[:-2], rows.shape[-2] * rows.shape[-1])[..., elements.keep]


@dataclass(frozen=True)
class Frame:
    """How rows in raw unknowns become rows in the final ones, where the stiffness is the identity.

    Final unknowns: the deflections of the (at most two) primary restraints, scaled by the root
    of their stiffness, then the curvature terms, minus rigid-body motion where nothing holds it,
    with further springs folded in by rank-one factors.
    """

    solve_rigid: Array
    """(2, p) rigid field (a, b) per unit deflection of the primary restraints."""
    primary_rows: Array
    """(p, n_c) rows of the primary restraints in curvature unknowns."""
    root_flexibility: Array
    """(p,) 1/sqrt(k) of the primary restraints; zero when held."""
    rigid: Array
    """(2, n_rigid) coefficients (a, b) of the mass-normalised rigid-body modes."""
    rigid_load: Array = field(default_factory=lambda: np.zeros((0, 0)))
    """(n_rigid, n) M-products of the rigid modes with the unknowns."""
    factors: tuple[tuple[Array, float], ...] = ()
    """(unit vector, gamma): rows become rows - gamma (rows . v) v."""

    @property
    def n_rigid(self) -> int:
        return self.rigid.shape[1]

    def apply(self, rows_c: Array, rigid_part: Array | None) -> Array:
        """Final rows from curvature rows (..., n_c) and what they say of (a, b), (..., 2)."""
        p = len(self.root_flexibility)
        out = np.zeros((*rows_c.shape[:-1], p + rows_c.shape[-1]))
        out[..., p:] = rows_c
        if rigid_part is not None:
            if p:
                per_restraint = rigid_part @ self.solve_rigid
                out[..., :p] = per_restraint * self.root_flexibility
                out[..., p:] -= per_restraint @ self.primary_rows
            if self.n_rigid and self.rigid_load.size:
                out -= (rigid_part @ self.rigid) @ self.rigid_load
        return fold(out, self.factors)


def fold(rows: Array, factors: tuple[tuple[Array, float], ...]) -> Array:
    """Apply rank-one factors to rows (..., n)."""
    for v, gamma in factors:
        rows = rows - gamma * (rows @ v)[..., None] * v
    return rows


def stiffen(row: Array, stiffness: float) -> tuple[Array, float] | None:
    """Factor F = 1 - gamma v v^T with F F^T = (1 + k r r^T)^-1; exact for any k, inf included."""
    norm2 = float(row @ row)
    if norm2 == 0.0 or stiffness == 0.0:
        return None
    gamma = 1.0 if np.isinf(stiffness) else 1.0 - 1.0 / np.sqrt(1.0 + stiffness * norm2)
    return row / np.sqrt(norm2), gamma


def restraint_row(elements: Elements, r: Restraint) -> tuple[Array, Array]:
    """Curvature row and rigid part of a restraint's deflection or slope."""
    if r.x_m == 0.0:
        row = np.zeros(int(elements.keep.sum()))  # integration starts at rest there
    elif r.x_m == elements.mesh.bounds_m[-1]:
        row = tip_rows(elements, r.order)
    else:
        row = point_rows(elements, np.array(r.x_m), r.order)
    return row, np.array([1.0, r.x_m]) if r.order == 0 else np.array([0.0, 1.0])


def primary_frame(
    elements: Elements, found: tuple[Restraint, ...], span_m: float
) -> tuple[Frame, list[Restraint]]:
    """Frame with the primary restraints solved, and the restraints left over.

    `Frame.rigid` holds the free rigid directions, not yet mass-normalised.
    """
    chosen = choose_primary(found, span_m)
    rest = [r for i, r in enumerate(found) if i not in chosen]
    n_c = int(elements.keep.sum())
    rows, rigid = np.zeros((len(chosen), n_c)), np.zeros((len(chosen), 2))
    for j, i in enumerate(chosen):
        rows[j], rigid[j] = restraint_row(elements, found[i])
    scale = np.array([1.0, span_m])
    scaled = rigid * np.array([1.0, 1.0 / span_m])
    inverse = (
        np.linalg.pinv(scaled) if len(chosen) == 1 else np.linalg.inv(scaled) if len(chosen) else scaled.T
    )
    solve_rigid = inverse / scale[:, None]
    if len(chosen) == 2:
        free = np.zeros((2, 0))
    elif len(chosen) == 1:
        free = (np.array([[-scaled[0, 1]], [scaled[0, 0]]])) / scale[:, None]
    else:
        free = np.array([[1.0, -0.5], [0.0, 1.0]]) / scale[:, None]
    flexibility = np.array(
        [0.0 if np.isinf(found[i].stiffness) else found[i].stiffness ** -0.5 for i in chosen]
    )
    return Frame(solve_rigid, rows, flexibility, free), rest
