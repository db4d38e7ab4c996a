"""Modal strain energy by layer and by patch, at short circuit.

With no axial force the strain at height z is -(z - z_n) w'', so each layer's energy is
`1/2 integral E b t ((z - z_n)^2 + t^2/12) w''^2 dx`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.basis import Elements
from core.beam.section import interpolate, strip_mid_height
from core.beam.spec import BeamSpec
from core.piezo.package import BondedStrips

Array = NDArray[np.float64]


@dataclass(frozen=True)
class EnergyShares:
    """Shares of each mode's strain energy; all arrays end in the mode axis (N,)."""

    layers: Array
    """(n_layers, N)"""
    ceramic: Array
    """(n_plates, N)"""
    package: Array
    """(n_plates, N) ceramic, skins and bond together."""


def energy_density(elements: Elements, omega: Array, curvature: Array) -> Array:
    """(e * q, N) integration weight times curvature squared over omega squared, from the
    mass-normalised curvature (N, e, q): times a stiffness and summed, a share of the energy."""
    return (curvature**2 * elements.weight_m).reshape(len(omega), -1).T / omega**2


def energy_shares(
    elements: Elements, bonded: BondedStrips | None, density: Array, n_plates: int
) -> EnergyShares:
    """Shares from the density of `energy_density`."""
    own = elements.layers.stiffness_width * _per_modulus(elements)
    layers = own.reshape(len(own), -1) @ density
    ceramic, package = np.zeros((n_plates, density.shape[1])), np.zeros((n_plates, density.shape[1]))
    if bonded is not None and elements.active is not None:
        s = bonded.strips
        extra = (s.extra_ei_nm2[:, None] * elements.active)[:, :, None]
        stiffness = s.stiffness_width[:, None, None] * _strip_shape(elements, bonded) + extra
        share = stiffness.reshape(len(stiffness), -1) @ density
        np.add.at(package, bonded.plate, share)
        np.add.at(ceramic, bonded.plate[bonded.is_ceramic], share[bonded.is_ceramic])
    return EnergyShares(layers, ceramic, package)


def loss_factors(spec: BeamSpec, elements: Elements, bonded: BondedStrips | None, density: Array) -> Array:
    """(N,) eta_n = sum eta_i U_i / U (Johnson & Kienholz 1982, AIAA J. 20, 1284)."""
    loss = interpolate(spec, spec.loss_width, elements.x_m, elements.mesh.segment) * _per_modulus(elements)
    eta = loss.sum(axis=0).ravel() @ density
    if bonded is not None and elements.active is not None:
        lossy = bonded.loss_width[:, None, None] * _strip_shape(elements, bonded)
        eta = eta + lossy.sum(axis=0).ravel() @ density
    return eta


def _per_modulus(elements: Elements) -> Array:
    """(n_layers, e, q) bending stiffness of each layer per E b."""
    t, z = elements.layers.thickness_m, elements.layers.middle_m
    return t * ((z - elements.section.neutral_axis_m) ** 2 + t * t / 12.0)


def _strip_shape(elements: Elements, bonded: BondedStrips) -> Array:
    """(k, e, q) bending stiffness of each strip per E b, zero where it does not lie."""
    assert elements.active is not None
    z = strip_mid_height(bonded.strips, elements.section.top_m)
    t = bonded.strips.thickness_m[:, None, None]
    return t * ((z - elements.section.neutral_axis_m) ** 2 + t * t / 12.0) * elements.active[:, :, None]
