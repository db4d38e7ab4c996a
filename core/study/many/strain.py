"""Strain of many layouts: energy shares and loss of every mode, static strain under the service."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.legendre import reference
from core.beam.section import interpolate, layers_at, strip_mid_height
from core.beam.spec import BeamSpec
from core.piezo.package import BondedStrips, CeramicPlate
from core.project.model import Project
from core.study.many.trials import POINTS, Trials, deflection_at, working_span

Array = NDArray[np.float64]


def static_answers(
    project: Project,
    spec: BeamSpec,
    plates: tuple[CeramicPlate, ...],
    moving: tuple[int, ...],
    t: Trials,
    to_final: Array,
    theta: Array,
    free_f: Array,
) -> tuple[Array, Array, Array]:
    """Strain of the moving plates under each static force of the service, circuits at rest.

    Returns the largest tensile and compressive strain, (P, n_static) each, and (P, 3) the worst
    tension, compression and open-lead field over their allowables. `theta` (P, J, v) in trial
    terms, `free_f` (P, J, J) static free capacitance of the plates.
    """
    forces = project.service.static_forces
    tension, use = np.zeros((len(to_final), len(forces))), np.zeros((len(to_final), 3))
    compression = np.zeros_like(tension)
    if not forces or len(spec.restraints) == 0 or not moving:
        return tension, compression, use
    middle = 0.5 * (t.bounds_m[:, 1:] + t.bounds_m[:, :-1])
    held = np.linalg.inv(free_f)
    for i, force in enumerate(forces):
        row = deflection_at(t, spec.span_m if force.x_m is None else force.x_m)
        answer = np.einsum("pvn,pn->pv", to_final, np.einsum("pv,pvn->pn", row, to_final)) * force.force_n
        kappa = np.einsum("peqv,pv->peq", t.curvature, answer)
        voltage = np.einsum("pjk,pkv,pv->pj", held, theta, answer)
        for j in moving:
            pulled, pushed = _strain_range(plates[j], t, kappa, middle)
            tension[:, i] = np.maximum(tension[:, i], pulled)
            compression[:, i] = np.maximum(compression[:, i], pushed)
            use = np.maximum(use, _use(plates[j], pulled, pushed, voltage[:, j]))
    return tension, compression, use


def _strain_range(plate: CeramicPlate, t: Trials, kappa: Array, middle: Array) -> tuple[Array, Array]:
    """Largest tensile and compressive strain of one plate's working part, (P,) each."""
    on = working_span(plate, middle)[..., None]
    offset, half = (np.reshape(v, (-1, 1, 1)) for v in (plate.mid_offset_m, 0.5 * plate.thickness_m))
    arm = (t.section.top_m + offset if plate.on_top else -offset) - t.section.neutral_axis_m
    pulled = pushed = np.zeros(len(kappa))
    for side in (-half, half):
        strain = (-(arm + side) * kappa) @ _to_points_and_ends() * on
        pulled = np.maximum(pulled, strain.max(axis=(1, 2)))
        pushed = np.maximum(pushed, -strain.min(axis=(1, 2)))
    return pulled, pushed


@lru_cache(maxsize=1)
def _to_points_and_ends() -> Array:
    """(q, q + 2) from values at the Gauss points of an element to the same and both its ends, by the
    polynomial through them: the largest strain is at an end of the ceramic."""
    s = reference(3, POINTS).s
    ends = np.vander([0.0, 1.0], len(s)) @ np.linalg.inv(np.vander(s, len(s)))
    return np.concatenate([np.eye(len(s)), ends.T], axis=1)


def _use(plate: CeramicPlate, pulled: Array, pushed: Array, voltage: Array) -> Array:
    limits, field = plate.package.limits, voltage / plate.thickness_m
    along = np.maximum(field, 0.0) / limits.field_along_v_m.value
    against = np.maximum(-field, 0.0) / limits.field_against_v_m.value
    return np.stack(
        [
            pulled / limits.tensile_strain.value,
            pushed / limits.compressive_strain.value,
            np.maximum(along, against),
        ],
        axis=-1,
    )


def energy_terms(
    spec: BeamSpec,
    bonded: BondedStrips,
    n_plates: int,
    t: Trials,
    shapes: Array,
    *,
    loss: bool,
    ceramic: bool,
) -> tuple[Array, Array]:
    """Loss factor (P, v) and energy share of each ceramic (P, v, J); empty where not asked for."""
    n_layouts, v = len(shapes), shapes.shape[-1]
    columns: list[Array] = []
    if loss:
        columns.append(_loss_density(spec, bonded, t))
    if ceramic:
        columns += list(np.moveaxis(_ceramic_density(bonded, n_plates, t), 1, 0))
    if not columns:
        return np.zeros((n_layouts, 0)), np.zeros((n_layouts, v, 0))
    kappa = t.curvature.reshape(n_layouts, -1, t.curvature.shape[-1]) @ shapes
    density = np.stack([c * t.weight_m for c in columns], axis=1).reshape(n_layouts, len(columns), -1)
    found = density @ kappa**2
    eta = found[:, 0] if loss else np.zeros((n_layouts, 0))
    return eta, np.swapaxes(found[:, 1 if loss else 0 :], -1, -2)


def _loss_density(spec: BeamSpec, bonded: BondedStrips, t: Trials) -> Array:
    zn = t.section.neutral_axis_m
    layers = layers_at(spec, t.x_m, t.mesh_segment)
    thick, z = layers.thickness_m, layers.middle_m
    per_modulus = thick * ((z - zn) ** 2 + thick**2 / 12.0)
    base = (interpolate(spec, spec.loss_width, t.x_m, t.mesh_segment) * per_modulus).sum(axis=0)
    return base + (_per_strip(bonded.loss_width, len(zn)) * _strip_shape(bonded, t)).sum(axis=1)


def _ceramic_density(bonded: BondedStrips, n_plates: int, t: Trials) -> Array:
    """(P, J, e, q) bending stiffness of each ceramic about the section's neutral axis."""
    s, n_layouts = bonded.strips, len(t.x_m)
    own = _per_strip(s.stiffness_width, n_layouts) * _strip_shape(bonded, t)
    own = own + _per_strip(s.extra_ei_nm2, n_layouts) * t.active[..., None]
    is_ceramic = np.broadcast_to(bonded.is_ceramic, s.x0_m.shape)
    is_ceramic = is_ceramic.reshape(-1, is_ceramic.shape[-1])[0]
    return np.stack([own[:, is_ceramic & (bonded.plate == j)].sum(axis=1) for j in range(n_plates)], axis=1)


def _strip_shape(bonded: BondedStrips, t: Trials) -> Array:
    """(P, k, e, q) bending stiffness of each strip per stiffness width."""
    s = bonded.strips
    zs = strip_mid_height(s, t.section.top_m)
    st = s.thickness_m[..., :, None, None]
    return st * ((zs - t.section.neutral_axis_m[:, None]) ** 2 + st**2 / 12.0) * t.active[..., None]


def _per_strip(values: Array, n_layouts: int) -> Array:
    return np.broadcast_to(values, (n_layouts, values.shape[-1]))[..., None, None]


def inherent_damping(project: Project, loss_factor: Array, shape: tuple[int, ...]) -> Array:
    """(P, v) inherent damping ratio of every mode."""
    damping = project.structure.damping
    if damping.from_loss_factors:
        return 0.5 * loss_factor
    given = np.asarray(damping.ratios, dtype=float)
    return np.broadcast_to(given[np.minimum(np.arange(shape[-1]), len(given) - 1)], shape)
