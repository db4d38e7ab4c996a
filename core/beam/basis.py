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
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.legendre import Reference, curvature_table, deflection_table, reference, slope_table
from core.beam.mesh import Mesh
from core.beam.restraint import Restraint, choose_primary
from core.beam.section import Layers, Section, Strips, layers_at, section_of, strip_active
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
    layers: Layers
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

    @cached_property
    def gains(self) -> tuple[Array, Array]:
        """Slope and deflection gained over each element per orthonormal unknown, (e, d) each."""
        h = self.mesh.length_m[:, None]
        return h * self.to_raw[:, 0, :], h**2 * np.matmul(self.ref.end_deflection, self.to_raw)

    @cached_property
    def kept(self) -> NDArray[np.intp]:
        """(n_kept,) indices of the terms kept."""
        return np.flatnonzero(self.keep)


def build_elements(spec: BeamSpec, mesh: Mesh, strips: Strips | None) -> Elements:
    """Evaluate the section and orthonormalise the curvature terms of every element."""
    d = int(mesh.terms.max())
    ref = reference(d, d + EXTRA_POINTS)
    h = mesh.length_m
    x = mesh.bounds_m[:-1, None] + h[:, None] * ref.s
    active = None
    if strips is not None:
        active = strip_active(strips, mesh.middle_m)
    layers = layers_at(spec, x, mesh.segment)
    sec = section_of(layers, strips, active)
    return Elements(
        mesh=mesh,
        ref=ref,
        x_m=x,
        layers=layers,
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
    e = np.searchsorted(bounds[1:-1], flat, side="right" if side == "right" else "left")
    s = (flat - bounds[e]) / h[e]
    d = elements.ref.curvature.shape[1]
    rows = np.zeros((len(flat), len(h), d))
    own = (curvature_table, slope_table, deflection_table)[2 - order](s, d) * (h[e] ** (2 - order))[:, None]
    rows[np.arange(len(flat)), e] = np.matmul(own[:, None, :], elements.to_raw[e])[:, 0]
    if order < 2:
        slope, deflection = elements.gains
        before = np.arange(len(h)) < e[:, None]
        if order == 1:
            gain = np.broadcast_to(slope, (len(flat), *slope.shape))
        else:
            gain = (flat[:, None] - bounds[1:])[:, :, None] * slope + deflection
        rows += gain * before[:, :, None]
    rows = rows.reshape(len(flat), -1)[:, elements.kept]
    return rows.reshape(*x.shape, rows.shape[-1])


def tip_rows(elements: Elements, order: int) -> Array:
    """(n_kept,) deflection (0) or slope (1) at the right-hand end of the span."""
    slope, deflection = elements.gains
    bounds = elements.mesh.bounds_m
    gain = slope if order == 1 else (bounds[-1] - bounds[1:])[:, None] * slope + deflection
    return gain.ravel()[elements.kept]


def curvature_moments(elements: Elements, density: Array) -> Array:
    """Rows of integral(density w'' dx) for densities given at the Gauss points.

    `density` is (..., e, q); the result (..., n_kept).
    """
    raw = np.matmul(density * elements.weight_m, elements.ref.curvature)
    rows = np.matmul(raw[..., None, :], elements.to_raw)[..., 0, :]
    return rows.reshape(*rows.shape[:-2], rows.shape[-2] * rows.shape[-1])[..., elements.kept]


@dataclass(frozen=True)
class Frame:
    """How rows in raw unknowns become rows in the final ones, where the stiffness is the identity.

    Final unknowns: the deflections of the (at most two) primary restraints where these are elastic,
    scaled by the root of their stiffness, then the curvature terms, minus rigid-body motion where
    nothing holds it, with further springs folded in by rank-one factors.
    """

    primary: Primary
    primary_rows: Array
    """(p, n_c) rows of the primary restraints in curvature unknowns."""
    rigid: Array
    """(2, n_rigid) coefficients (a, b) of the mass-normalised rigid-body modes."""
    rigid_load: Array = field(default_factory=lambda: np.zeros((0, 0)))
    """(n_rigid, n) M-products of the rigid modes with the unknowns."""
    factors: tuple[tuple[Array, float], ...] = ()
    """(unit vector, gamma): rows become rows - gamma (rows . v) v."""

    @property
    def n_rigid(self) -> int:
        return self.rigid.shape[1]

    @property
    def n_springs(self) -> int:
        """How many unknowns are deflections of elastic primary restraints; they come first."""
        return self.primary.per_spring.shape[1]

    @cached_property
    def lines(self) -> Array:
        """(2, n) the straight line (a, b) that comes with each unknown before the factors."""
        out = np.concatenate(
            [self.primary.per_spring, -(self.primary.solve_rigid @ self.primary_rows)], axis=1
        )
        return out - self.rigid @ self.rigid_load if self.rigid_load.size else out

    def apply(self, rows_c: Array, rigid_part: Array | None) -> Array:
        """Final rows from curvature rows (..., n_c) and what they say of (a, b), (..., 2)."""
        springs = self.n_springs
        if rigid_part is None:
            out = np.zeros((*rows_c.shape[:-1], springs + rows_c.shape[-1]))
        else:
            out = rigid_part @ self.lines
        out[..., springs:] += rows_c
        return fold(out, self.factors)

    def unfold(self, vectors: Array) -> Array:
        """What vectors (k, n) in the final unknowns are before the factors."""
        for v, gamma in reversed(self.factors):
            vectors = vectors - gamma * (vectors @ v)[:, None] * v
        return vectors


@dataclass(frozen=True, eq=False)
class Primary:
    """The (at most two, p) restraints that fix the rigid-body motion, and those left over."""

    chosen: tuple[Restraint, ...]
    rest: tuple[Restraint, ...]
    solve_rigid: Array
    """(2, p) rigid field (a, b) per unit deflection of the primary restraints."""
    per_spring: Array
    """(2, p_elastic) rigid field per unknown of an elastic primary restraint, 1/sqrt(k) its scale."""
    free: Array
    """(2, n_rigid) rigid directions that nothing holds, not mass-normalised."""


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
        row = np.zeros(len(elements.kept))  # integration starts at rest there
    elif r.x_m == elements.mesh.bounds_m[-1]:
        row = tip_rows(elements, r.order)
    else:
        row = point_rows(elements, np.array(r.x_m), r.order)
    return row, _rigid_row(r)


def _rigid_row(r: Restraint) -> Array:
    return np.array([1.0, r.x_m]) if r.order == 0 else np.array([0.0, 1.0])


@lru_cache(maxsize=64)
def primary_restraints(found: tuple[Restraint, ...], span_m: float) -> Primary:
    """Choose the primary restraints and solve the rigid field for them."""
    indices = choose_primary(found, span_m)
    chosen = tuple(found[i] for i in indices)
    scale = np.array([1.0, span_m])
    scaled = np.array([_rigid_row(r) for r in chosen]).reshape(-1, 2) / scale
    if len(chosen) == 2:
        inverse, free = np.linalg.inv(scaled), np.zeros((2, 0))
    elif len(chosen) == 1:
        inverse, free = np.linalg.pinv(scaled), np.array([[-scaled[0, 1]], [scaled[0, 0]]])
    else:
        inverse, free = np.zeros((2, 0)), np.array([[1.0, -0.5], [0.0, 1.0]])
    solve_rigid = inverse / scale[:, None]
    elastic = [(j, r.stiffness**-0.5) for j, r in enumerate(chosen) if np.isfinite(r.stiffness)]
    per_spring = [solve_rigid[:, j] * flexibility for j, flexibility in elastic]
    return Primary(
        chosen=chosen,
        rest=tuple(r for i, r in enumerate(found) if i not in indices),
        solve_rigid=solve_rigid,
        per_spring=np.array(per_spring).reshape(-1, 2).T,
        free=free / scale[:, None],
    )


def primary_frame(elements: Elements, primary: Primary) -> Frame:
    """Frame with the primary restraints solved; its `rigid` is not yet mass-normalised."""
    rows = np.zeros((len(primary.chosen), len(elements.kept)))
    for j, restraint in enumerate(primary.chosen):
        rows[j] = restraint_row(elements, restraint)[0]
    return Frame(primary, rows, primary.free)
