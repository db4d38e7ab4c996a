"""The bent beam as an operator, made of sections and restraints, and narrowed to what loads move of further functions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from core.beam.across import held_unknowns
from core.beam.bending import Bending
from core.beam.functions import Aslant, Beside
from core.beam.further import Further, Inertia
from core.beam.further_energy import Stiffness, further_of
from core.beam.mesh import Mesh
from core.beam.motion import Loads, boundary_of
from core.beam.restraint import Restraint, primary_restraints
from core.beam.section import Section
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


def bending_of(spec: BeamSpec, mesh: Mesh, section: Section, supports: tuple[Restraint, ...]) -> Bending:
    """The operator of sections on a mesh; `supports` are the restraints that fix which of them are
    primary and which give (the nominal ones where the spec holds many structures)."""
    return restrained(unrestrained(spec, mesh, section, supports))


def unrestrained(
    spec: BeamSpec, mesh: Mesh, section: Section, supports: tuple[Restraint, ...], *, loose: bool = False
) -> Bending:
    """`bending_of` on its primary restraints alone. `loose`: with further functions it is to be `narrowed` before its
    vectors mean anything."""
    primary = primary_restraints(supports, spec.span_m)
    sprung = [primary.chosen[j] for j in primary.elastic]
    at = [boundary_of(mesh, x) for x in spec.mass_x_m.tolist()]
    bounds = mesh.bounds_m
    mass_boundary = np.stack(at, axis=-2) if at else np.zeros((*bounds.shape[:-1], 0, bounds.shape[-1]))
    return Bending(
        spec, mesh, section, primary, supports, np.sqrt(spec.stiffness[..., sprung]), mass_boundary,
        _further(spec, mesh, section, supports, loose),
    )  # fmt: skip


def restrained(plain: Bending) -> Bending:
    """An unrestrained operator with its further restraints."""
    made = plain
    for i, row in zip(plain.primary.rest, _rest_rows(plain), strict=True):
        made = made.stiffened(row, plain.spec.stiffness[..., i])
    return made


def _rest_rows(plain: Bending) -> list[Array]:
    """(..., n) of every restraint that is not primary."""
    out = []
    for i in plain.primary.rest:
        r = plain.supports[i]
        at_r = boundary_of(plain.mesh, r.x_m)[..., None, :]
        none = np.zeros_like(at_r)
        inside = np.zeros((*at_r.shape[:-1], *plain.mesh.x_m.shape[-2:]))
        loads = Loads(inside, *((at_r, none) if r.order == 0 else (none, at_r)))
        out.append(plain.rows(loads)[..., 0, :])
    return out


def narrowed(plain: Bending, start: Array, others: Array) -> tuple[Bending, Array, Array]:
    """A loose operator whose further functions move only as under some loads, and these vectors in its unknowns:
    `start` (..., k, n), which do not depend on each other, and `others`, which may. Exact for what they are, and for
    what others do together; in between by Galerkin, so that errors are squared."""
    if not isinstance(plain.further, Further):
        return plain, start, others
    here, count = start.shape[-1] - plain.further.size, start.shape[-2]
    every = np.concatenate([others, *(row[..., None, :] for row in _rest_rows(plain))], axis=-2)
    left, loads = plain.further.narrowed(start[..., here:], every[..., here:])
    if plain.rolls is not None:
        values = plain.at_masses(left.basis)
        own, beside = plain.rolls
        roll = np.einsum("...Krf,...Kfg,...Ksg->...rs", values, own, values)
        lever = None if beside is None else np.einsum("...Krf,...Kf->...Kr", values, beside)
        left = replace(left, own=left.own + roll, lever=lever)
    found = np.concatenate([np.concatenate([start, others], axis=-2)[..., :here], loads[..., : count + others.shape[-2], :]], axis=-1)
    return replace(plain, further=left), found[..., :count, :], found[..., count:, :]


def _further(
    spec: BeamSpec, mesh: Mesh, section: Section, supports: tuple[Restraint, ...], loose: bool
) -> Further | None:
    own = section.further
    if own is None:
        return None
    held = held_unknowns(own.functions, spec, mesh, supports)
    orders, weight = tuple(f.order for f in own.functions), mesh.weight_m[..., None, :]
    turned, warp = (None, 0) if own.turned is None else (own.turned[..., own.warp, :] * mesh.weight_m, own.warp)
    inertia = Inertia(own.beside * weight, own.own_mass * weight[..., None, :], turned, warp)
    doubtful = [i for i, f in enumerate(own.functions) if isinstance(f, Beside | Aslant)]
    stiffness = Stiffness(own.coupling, own.own)
    return further_of(mesh, orders, section.centreline_bending, stiffness, inertia, held, loose=loose, doubtful=doubtful)
