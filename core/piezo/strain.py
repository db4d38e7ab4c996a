"""Static strain of the ceramics under forces on the structure, circuits at rest; one layout or many."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.piezo.ceramic_strain import ceramic_strains
from core.piezo.coupled_beam import CoupledBeam

Array = NDArray[np.float64]


@dataclass(frozen=True)
class StaticStrain:
    """Of S forces and J ceramics, (..., S, J) each: largest tensile and largest compressive strain (a
    positive number) of the working part, the voltage the bend makes on open leads, and that which stands there once
    nothing flows any more."""

    tension: Array
    compression: Array
    open_voltage: Array
    standing_voltage: Array


def static_strain(
    beam: CoupledBeam, x_m: Array, force_n: Array, volts: Callable[[Array], Array] | None = None
) -> StaticStrain:
    """Strain and voltage under each force alone, at x_m (S,); nothing where nothing holds the part.

    volts : what stands across the ports (..., S, P), of the charges (..., S, P) that bending brings there, where any keeps
    one; None where all conduct.
    """
    lead, plates = beam.omega_rad_s.shape[:-1], beam.ceramics
    if beam.n_rigid or not len(plates) or not len(x_m):
        nothing = np.zeros((*lead, len(x_m), len(plates)))
        return StaticStrain(nothing, nothing, nothing, nothing)
    vectors = beam.deflection_row(x_m) * force_n[:, None]
    charge = vectors @ np.swapaxes(beam.theta_rows, -1, -2)
    open_voltage = np.swapaxes(np.linalg.solve(beam.free_f, np.swapaxes(charge, -1, -2)), -1, -2)
    strains, standing = beam.ceramic_strains, np.zeros_like(open_voltage)
    if volts is not None:
        across = volts(vectors @ np.swapaxes(beam.port_rows, -1, -2))
        vectors = vectors - across @ beam.port_rows
        standing = across[..., : len(beam.group_ids)] @ np.swapaxes(beam.terminals.combine, -1, -2)
        strains = ceramic_strains(beam.section, beam.sections.bonded, plates.thickness_m, beam.spec.level, with_volts=True)
    curvature = beam.beam.bending.bent(vectors)
    rule = beam.mesh.rule
    everywhere = np.concatenate([np.eye(len(rule.s)), rule.to(np.array([0.0, 1.0]))], axis=1)
    pulled, pushed = (np.zeros((*lead, len(x_m), len(plates))) for _ in range(2))
    for j, own in enumerate(strains):
        for row, bend in enumerate(own.bend):
            strain = bend[..., None, :, :] * curvature
            for other, volt in enumerate(own.volt[:, row]):
                strain = strain + standing[..., other, None, None] * volt[..., None, :, :]
            strain = strain @ everywhere
            pulled[..., j] = np.maximum(pulled[..., j], strain.max(axis=(-1, -2)))
            pushed[..., j] = np.maximum(pushed[..., j], -strain.min(axis=(-1, -2)))
    return StaticStrain(pulled, pushed, open_voltage, standing)


def static_use(beam: CoupledBeam, strain: StaticStrain) -> Array:
    """(..., J, 3) worst static strain in tension, in compression and field of each ceramic, on open leads or of what stands there
    where that is more, each over its allowable: 1 is the limit."""
    limits = [p.limits for p in beam.ceramics.packages]

    def allowed(name: str) -> Array:
        return np.array([getattr(item, name).value for item in limits])

    fields = np.stack([strain.open_voltage, strain.standing_voltage]) / beam.ceramics.thickness_m[..., None, :]
    along = np.maximum(fields, 0.0).max(axis=0) / allowed("field_along_v_m")
    against = np.maximum(-fields, 0.0).max(axis=0) / allowed("field_against_v_m")
    each = [
        strain.tension / allowed("tensile_strain"),
        strain.compression / allowed("compressive_strain"),
        np.maximum(along, against),
    ]
    return np.stack(each, axis=-1).max(axis=-3, initial=0.0)
