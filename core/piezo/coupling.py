"""From geometry to coupling: moment per volt g(x) and the blocked capacitance matrix.

    M_b = EI w'' + g V,   q' = -g w'' + c V,   g = e31 b_p (z_p - z_n)

with no axial force, so patches over the same x share the axial strain and the capacitance is a
full matrix: C_jk = integral (e31 b)_j (e31 b)_k / A1 over their common working length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.basis import Elements
from core.piezo.package import CeramicPlate

Array = NDArray[np.float64]


def working(elements: Elements, plate: CeramicPlate) -> NDArray[np.bool_]:
    """(e,) elements under the plate's working part."""
    middle = elements.mesh.middle_m
    return (middle > plate.x_a_eff_m) & (middle < plate.x_b_eff_m)


def mid_height_m(elements: Elements, plate: CeramicPlate) -> Array:
    """(e, q) height of the ceramic's mid-plane above the underside."""
    if plate.on_top:
        return elements.section.top_m + plate.mid_offset_m
    return np.full_like(elements.section.top_m, -plate.mid_offset_m)


def moment_density(elements: Elements, plates: tuple[CeramicPlate, ...]) -> Array:
    """(J, e, q) bending moment per volt g(x) of each plate, N m/V, zero where it does not work."""
    out = np.zeros((len(plates), *elements.x_m.shape))
    for j, plate in enumerate(plates):
        on = working(elements, plate)
        arm = mid_height_m(elements, plate)[on] - elements.section.neutral_axis_m[on]
        out[j, on] = plate.coefficients.e31_c_m2 * plate.width_m * arm
    return out


def blocked_capacitance(elements: Elements, plates: tuple[CeramicPlate, ...]) -> Array:
    """(J, J) blocked capacitance matrix, F, end zones included at their free permittivity."""
    n = len(plates)
    force = np.zeros((n, *elements.x_m.shape))
    out = np.zeros((n, n))
    for j, plate in enumerate(plates):
        c = plate.coefficients
        force[j, working(elements, plate)] = c.e31_c_m2 * plate.width_m
        inside = plate.x_b_eff_m - plate.x_a_eff_m
        ends = (plate.x_b_m - plate.x_a_m) - inside
        per_length = plate.width_m / plate.thickness_m
        out[j, j] = per_length * (c.permittivity_blocked * inside + c.permittivity_free * ends)
    weight = elements.weight_m / elements.section.axial
    flat = force.reshape(n, elements.x_m.size)
    return out + (flat * weight.ravel()) @ flat.T
