"""Modal strain energy by layer and by patch, at short circuit.

With no axial force the strain at height z is -(z - z_n) w'', so each layer's energy is
`1/2 integral E b t ((z - z_n)^2 + t^2/12) w''^2 dx`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.basis import Elements
from core.beam.section import interpolate, stack, strip_mid_height
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
    loss_factor: Array
    """(N,) eta_n = sum eta_i U_i / U (Johnson & Kienholz 1982, AIAA J. 20, 1284)."""


def energy_shares(
    spec: BeamSpec,
    elements: Elements,
    bonded: BondedStrips | None,
    omega: Array,
    curvature: Array,
    n_plates: int,
) -> EnergyShares:
    """Shares from the mass-normalised curvature (N, e, q) at the Gauss points."""
    n_modes = len(omega)
    square = (curvature**2 * elements.weight_m).reshape(n_modes, -1).T / omega**2
    x, zn = elements.x_m, elements.section.neutral_axis_m
    t, z, eb, _ = stack(spec, x, elements.mesh.segment)
    per_modulus = t * ((z - zn) ** 2 + t * t / 12.0)
    layers = (eb * per_modulus).reshape(len(t), -1) @ square
    loss = interpolate(spec, spec.loss_width, x, elements.mesh.segment)
    eta = (loss * per_modulus).sum(axis=0).ravel() @ square
    ceramic, package = np.zeros((n_plates, n_modes)), np.zeros((n_plates, n_modes))
    if bonded is not None and elements.active is not None:
        s = bonded.strips
        zs = strip_mid_height(s, elements.section.top_m)
        st = s.thickness_m[:, None, None]
        shape = st * ((zs - zn) ** 2 + st * st / 12.0) * elements.active[:, :, None]
        own = (s.extra_ei_nm2[:, None] * elements.active)[:, :, None]
        density = s.stiffness_width[:, None, None] * shape + own
        share = density.reshape(len(density), -1) @ square
        np.add.at(package, bonded.plate, share)
        np.add.at(ceramic, bonded.plate[bonded.is_ceramic], share[bonded.is_ceramic])
        lossy = bonded.loss_width[:, None, None] * shape
        eta = eta + lossy.sum(axis=0).ravel() @ square
    return EnergyShares(layers, ceramic, package, eta)
