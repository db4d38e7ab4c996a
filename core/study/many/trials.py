"""Trial functions of many layouts: smooth bending moments over each layout's own stiffness.

A patch changes the bending stiffness by a jump but leaves the bending moment of a mode smooth, so
the trial curvatures are `moment(x)/EI(x)` with the bare structure's modal moments, plus the static
answers: linear moments, each plate's own actuation, each sprung support. Integrated twice and fitted
to the restraints they are admissible shapes of every layout.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.basis import build_elements
from core.beam.legendre import Reference, curvature_table, deflection_table, reference
from core.beam.mesh import build_mesh, segments
from core.beam.modes import solve_beam
from core.beam.restraint import choose_primary
from core.beam.section import Section, section, strip_active
from core.beam.spec import BeamSpec
from core.piezo.package import BondedStrips, CeramicPlate, per_layout

Array = NDArray[np.float64]

POINTS = 5
"""Gauss points per element; with the moments of low modes five integrate to rounding."""
MORE_POWERS = 4
"""A mode's moment is its curvature times the bending stiffness: so many powers more than it."""
TRIAL_MODES = 12
"""Modal moments; for five modes K^2 is then within 2e-4 (see the sweep's test)."""


@dataclass(frozen=True)
class Trials:
    """Trial functions of P layouts on their own meshes; arrays are (P, e, q, v)."""

    x_m: Array
    weight_m: Array
    length_m: Array
    section: Section
    curvature: Array
    deflection: Array
    slope_start: Array
    deflection_start: Array
    """(P, e + 1, v) at the element boundaries, rigid part included."""
    bounds_m: Array
    active: NDArray[np.bool_]
    mesh_segment: NDArray[np.intp]


@lru_cache(maxsize=8)
def _bare(spec: BeamSpec, n_modes: int) -> tuple[Array, Array]:
    """Element bounds of the structure without patches, and the bending moments of its modes, each of
    unit energy: (e, D, n_trial) coefficients of the powers of t from -1 to 1 over each element."""
    elements = build_elements(spec, build_mesh(spec, np.array([]), n_modes), None)
    beam = solve_beam(spec, elements)
    n = min(TRIAL_MODES, len(beam.omega_rad_s))
    raw, bounds = beam.raw_coefficients(beam.unit[:n]), elements.mesh.bounds_m
    degree = raw.shape[-1] + MORE_POWERS
    s = reference(3, degree).s
    x = bounds[:-1, None] + np.diff(bounds)[:, None] * s
    stiffness = section(spec, x, segments(spec, bounds), None, None).bending
    moments = (raw @ curvature_table(s, raw.shape[-1]).T) * stiffness
    powers = np.linalg.inv(np.vander(2.0 * s - 1.0, degree, increasing=True))
    return bounds, powers @ np.moveaxis(moments, 0, -1)


def build_trials(
    spec: BeamSpec,
    bonded: BondedStrips,
    plates: tuple[CeramicPlate, ...],
    n_layouts: int,
    n_modes: int,
    nominal: BeamSpec | None = None,
) -> tuple[Trials, tuple[int, ...]]:
    """Trial functions and the primary restraints they fit. Where `spec` holds many structures,
    `nominal` is the one they vary about."""
    strips, nominal = bonded.strips, nominal or spec
    base, powers = _bare(nominal, n_modes)
    ends = np.concatenate(
        [np.broadcast_to(e, (n_layouts, e.shape[-1])) for e in (strips.x0_m, strips.x1_m)], axis=-1
    )
    ends = _distinct_columns(np.clip(ends, 0.0, spec.span_m))
    bounds = np.sort(np.concatenate([np.broadcast_to(base, (n_layouts, len(base))), ends], axis=-1), axis=-1)
    h = bounds[:, 1:] - bounds[:, :-1]
    middle = 0.5 * (bounds[:, 1:] + bounds[:, :-1])
    ref = reference(3, POINTS)
    x = bounds[:, :-1, None] + h[..., None] * ref.s
    segment = segments(spec, bounds)
    active = strip_active(strips, middle) & (h[:, None, :] > 0.0)
    sec = section(spec, x, segment, strips, active)
    moments = [_bare_moments(base, powers, x, middle)]
    moments += [np.ones_like(x)[..., None], (1.0 - x / spec.span_m)[..., None]]
    moments += [plate_moment(plate, sec, middle)[..., None] for plate in plates]
    primary = choose_primary(nominal.restraints, spec.span_m)
    sprung = [i for i in primary if np.isfinite(nominal.restraints[i].stiffness)]
    flat = np.zeros((*x.shape, len(sprung)))
    curvature = np.concatenate([*moments, flat], axis=-1) / sec.bending[..., None]
    return _integrate(spec, bounds, h, ref, x, sec, curvature, active, segment, primary, len(sprung)), primary


def _distinct_columns(ends: Array) -> Array:
    """Drop columns that repeat an earlier one for every layout."""
    keep: list[int] = []
    for j in range(ends.shape[-1]):
        if not any(np.array_equal(ends[:, j], ends[:, k]) for k in keep):
            keep.append(j)
    return ends[:, keep]


def _bare_moments(base: Array, powers: Array, x: Array, middle: Array) -> Array:
    """Modal bending moments of the bare structure at x, (P, e, q, n_trial)."""
    e = np.clip(np.searchsorted(base, middle) - 1, 0, len(base) - 2)
    left, right = base[e][..., None], base[e + 1][..., None]
    t = (2.0 * x - left - right) / (right - left)
    table = np.ones((*t.shape, powers.shape[1]))
    for k in range(1, powers.shape[1]):
        np.multiply(table[..., k - 1], t, out=table[..., k])
    return np.matmul(table, powers[e])


def working_span(plate: CeramicPlate, middle_m: Array) -> NDArray[np.bool_]:
    """Whether the plate works over each element, from the elements' middles (P, e)."""
    return (middle_m > np.expand_dims(plate.x_a_eff_m, -1)) & (middle_m < np.expand_dims(plate.x_b_eff_m, -1))


def plate_moment(plate: CeramicPlate, sec: Section, middle: Array) -> Array:
    """A plate's moment per volt over its working part, (P, e, q)."""
    on = working_span(plate, middle)
    offset = np.reshape(plate.mid_offset_m, (-1, 1, 1))
    height = sec.top_m + offset if plate.on_top else -offset
    width = np.reshape(plate.width_m, (-1, 1, 1))
    e31 = per_layout(plate.coefficients.e31_c_m2, 2)
    return e31 * width * (height - sec.neutral_axis_m) * on[..., None]


def _integrate(
    spec: BeamSpec,
    bounds: Array,
    h: Array,
    ref: Reference,
    x: Array,
    sec: Section,
    curvature: Array,
    active: NDArray[np.bool_],
    segment: NDArray[np.intp],
    primary: tuple[int, ...],
    n_sprung: int,
) -> Trials:
    """Integrate the trial curvatures twice and fit the rigid field to the primary restraints."""
    to_legendre = (2.0 * np.arange(POINTS) + 1.0)[:, None] * (
        curvature_table(ref.s, POINTS) * ref.weight[:, None]
    ).T
    inner = deflection_table(ref.s, POINTS) @ to_legendre
    end_slope = ref.weight
    end_deflection = deflection_table(np.array([1.0]), POINTS)[0] @ to_legendre
    hh = h[..., None]
    gained_slope = hh * np.einsum("q,peqv->pev", end_slope, curvature)
    slope = np.concatenate([np.zeros_like(gained_slope[:, :1]), np.cumsum(gained_slope, axis=1)], axis=1)
    gained = hh * slope[:, :-1] + hh**2 * np.einsum("q,peqv->pev", end_deflection, curvature)
    start = np.concatenate([np.zeros_like(gained[:, :1]), np.cumsum(gained, axis=1)], axis=1)
    a, b = _rigid_fit(spec, bounds, slope, start, primary, n_sprung)
    start = start + a[:, None] + b[:, None] * bounds[..., None]
    slope = slope + b[:, None]
    own = np.matmul(inner, curvature) * (hh**2)[:, :, None]
    step = hh[:, :, None] * ref.s[:, None]
    deflection = start[:, :-1, None] + step * slope[:, :-1, None] + own
    weight = hh * ref.weight
    return Trials(x, weight, h, sec, curvature, deflection, slope, start, bounds, active, segment)


def at_boundary(bounds: Array, values: Array, x: float) -> Array:
    """Boundary values (P, e + 1, v) at a point that is a boundary of every layout: (P, v)."""
    index = np.abs(bounds - x).argmin(axis=1)
    return values[np.arange(len(bounds)), index]


def _rigid_fit(
    spec: BeamSpec, bounds: Array, slope: Array, start: Array, primary: tuple[int, ...], n_sprung: int
) -> tuple[Array, Array]:
    """Rigid field (a, b) per trial that makes it vanish at the primary restraints; the last trials
    are unit deflections of the sprung ones."""
    n_layouts, _, v = start.shape
    if not primary:
        return np.zeros((n_layouts, v)), np.zeros((n_layouts, v))
    chosen = [spec.restraints[i] for i in primary]
    target = np.zeros((len(chosen), v))
    sprung = [j for j, r in enumerate(chosen) if np.all(np.isfinite(r.stiffness))]
    for k, j in enumerate(sprung):
        target[j, v - n_sprung + k] = 1.0
    values = np.stack([at_boundary(bounds, start if r.order == 0 else slope, r.x_m) for r in chosen], axis=1)
    scale = np.array([1.0, spec.span_m])
    rigid = np.array(
        [[1.0, r.x_m / spec.span_m] if r.order == 0 else [0.0, 1.0 / spec.span_m] for r in chosen]
    )
    fit = np.linalg.pinv(rigid) / scale[:, None]
    ab = np.einsum("ij,pjv->piv", fit, target - values)
    return ab[:, 0], ab[:, 1]


def deflection_at(t: Trials, x: float) -> Array:
    """(P, v) trial deflections at any x, by the element's own cubic through its ends and slopes."""
    index = np.clip((t.bounds_m <= x).sum(axis=1) - 1, 0, t.bounds_m.shape[1] - 2)
    rows = np.arange(len(index))
    h = t.length_m[rows, index][:, None]
    s = (x - t.bounds_m[rows, index])[:, None] / np.where(h > 0.0, h, 1.0)
    w0, w1 = t.deflection_start[rows, index], t.deflection_start[rows, index + 1]
    b0, b1 = t.slope_start[rows, index], t.slope_start[rows, index + 1]
    return (
        (1 - 3 * s**2 + 2 * s**3) * w0
        + (s - 2 * s**2 + s**3) * h * b0
        + (3 * s**2 - 2 * s**3) * w1
        + (s**3 - s**2) * h * b1
    )


def functional_rows(spec: BeamSpec, t: Trials, points_m: tuple[float | None, ...]) -> Array:
    """(P, R, v) deflection of every trial at each x; None is the load of a unit base acceleration,
    minus the integral of m w with the attached masses."""
    n_layouts, _, _, v = t.curvature.shape
    out = np.zeros((n_layouts, len(points_m), v))
    for i, x in enumerate(points_m):
        if x is not None:
            out[:, i] = deflection_at(t, x)
            continue
        out[:, i] = -np.einsum("peq,peqv->pv", t.weight_m * t.section.mass, t.deflection)
        for point in spec.masses:
            out[:, i] -= per_layout(point.mass_kg, 1) * at_boundary(t.bounds_m, t.deflection_start, point.x_m)
    return out
