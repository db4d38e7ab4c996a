"""Modal strain energy by layer and by patch, at short circuit.

With no axial force the strain at height z is -(z - z_n) w'', so each layer's energy is
`1/2 integral E b t ((z - z_n)^2 + t^2/12) w''^2 dx`. Leading axes are layouts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.bending import flattened
from core.beam.mesh import Mesh
from core.beam.section import Layers, Section, interpolate
from core.beam.spec import BeamSpec
from core.piezo.package import BondedStrips

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sections:
    """A layout, or many, at the points of a mesh; `active` (..., k, e) tells which strips lie over
    which elements, None without a patch."""

    spec: BeamSpec
    mesh: Mesh
    section: Section
    layers: Layers
    bonded: BondedStrips | None
    active: NDArray[np.bool_] | None


@dataclass(frozen=True)
class EnergyShares:
    """Shares of each mode's strain energy; all arrays end in the mode axis (N,)."""

    layers: Array
    """(..., n_layers, N)"""
    ceramic: Array
    """(..., J, N)"""
    package: Array
    """(..., J, N) ceramic, skins and bond together."""


def energy_density(mesh: Mesh, omega: Array, curvature: Array) -> Array:
    """(..., N, e, q) integration weight times curvature squared over omega squared, from the
    mass-normalised curvature: times a stiffness and summed, a share of the energy."""
    return curvature**2 * mesh.weight_m[..., None, :, :] / omega[..., None, None] ** 2


def energy_shares(at: Sections, density: Array, n_plates: int) -> EnergyShares:
    """Shares from the density of `energy_density`."""
    own = np.moveaxis(at.layers.stiffness_width * _per_modulus(at), 0, -3)
    layers = flattened(own) @ np.swapaxes(flattened(density), -1, -2)
    lead = density.shape[:-3]
    ceramic, package = (np.zeros((*lead, n_plates, density.shape[-3])) for _ in range(2))
    if at.bonded is not None:
        strips = at.bonded.strips
        bent, plain = _strip_energy(at, density)
        share = (strips.stiffness_width * strips.thickness_m)[..., None] * bent
        share = share + strips.extra_ei_nm2[..., None] * plain
        for j in range(n_plates):
            mine = at.bonded.plate == j
            package[..., j, :] = share[..., mine, :].sum(axis=-2)
            ceramic[..., j, :] = share[..., mine & at.bonded.is_ceramic, :].sum(axis=-2)
    return EnergyShares(layers, ceramic, package)


def loss_factors(at: Sections, density: Array) -> Array:
    """(..., N) eta_n = sum eta_i U_i / U (Johnson & Kienholz 1982, AIAA J. 20, 1284)."""
    spec = at.spec
    loss = (interpolate(spec, spec.loss_width, at.mesh.x_m, at.mesh.segment) * _per_modulus(at)).sum(axis=0)
    eta = (density * loss[..., None, :, :]).sum(axis=(-1, -2))
    if at.bonded is not None:
        lossy = at.bonded.loss_width * at.bonded.strips.thickness_m
        eta = eta + (lossy[..., None] * _strip_energy(at, density)[0]).sum(axis=-2)
    return np.asarray(eta)


def _per_modulus(at: Sections) -> Array:
    """(n_layers, ..., e, q) bending stiffness of each layer per E b."""
    t, z = at.layers.thickness_m, at.layers.middle_m
    return t * ((z - at.section.neutral_axis_m) ** 2 + t * t / 12.0)


def _strip_energy(at: Sections, density: Array) -> tuple[Array, Array]:
    """(..., k, N) integral of the density over each strip's length, with its squared distance from the
    neutral axis, own thickness included, and without.

    On top that distance is (top - z_n) + d, below -(z_n + d): three moments per element and face do.
    """
    assert at.bonded is not None and at.active is not None
    strips, sec = at.bonded.strips, at.section
    d = strips.offset_m + 0.5 * strips.thickness_m
    on = at.active.astype(float)
    plain = on @ np.swapaxes(density.sum(axis=-1), -1, -2)
    second = []
    for height in (sec.top_m - sec.neutral_axis_m, sec.neutral_axis_m):
        h = height[..., None, :, :]
        once, twice = (density * h).sum(axis=-1), (density * h * h).sum(axis=-1)
        once, twice = (on @ np.swapaxes(v, -1, -2) for v in (once, twice))
        second.append(twice + 2.0 * d[..., None] * once)
    bent = np.where(strips.on_top[:, None], *second)
    return bent + (d * d + strips.thickness_m**2 / 12.0)[..., None] * plain, plain
