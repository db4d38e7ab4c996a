"""From geometry to charge: moment per volt g(x) and the blocked capacitance matrix.

    M_b = EI w'' + g V,   q' = -g w'' + c V,   g = e31 b_p (z_p - z_n)

with no axial force, so patches over the same x share the axial strain and the capacitance is a
full matrix: C_jk = integral (e31 b)_j (e31 b)_k / A1 over their common working length. Leading axes
are layouts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.mesh import Mesh
from core.beam.section import Section
from core.piezo.package import Plates

Array = NDArray[np.float64]


def working(mesh: Mesh, plates: Plates) -> NDArray[np.bool_]:
    """(..., J, e) elements under each plate's working part."""
    middle = mesh.middle_m[..., None, :]
    return (middle > plates.x_a_eff_m[..., None]) & (middle < plates.x_b_eff_m[..., None])


def mid_height_m(section: Section, plates: Plates) -> Array:
    """(..., J, e, q) height of each ceramic's mid-plane above the underside."""
    offset = plates.mid_offset_m[..., None, None]
    on_top = plates.on_top[:, None, None]
    return np.where(on_top, section.top_m[..., None, :, :] + offset, -offset)


def moment_density(mesh: Mesh, section: Section, plates: Plates) -> Array:
    """(..., J, e, q) bending moment per volt g(x) of each plate, N m/V, zero where it does not work."""
    arm = mid_height_m(section, plates) - section.neutral_axis_m[..., None, :, :]
    force = plates.coefficients.e31_c_m2 * plates.width_m
    return force[..., None, None] * arm * working(mesh, plates)[..., None]


def blocked_capacitance(mesh: Mesh, section: Section, plates: Plates) -> Array:
    """(..., J, J) blocked capacitance matrix, F, end zones included at their free permittivity."""
    c = plates.coefficients
    force = (c.e31_c_m2 * plates.width_m)[..., None] * working(mesh, plates)
    compliance = (mesh.weight_m / section.axial).sum(axis=-1)
    inside = plates.x_b_eff_m - plates.x_a_eff_m
    ends = (plates.x_b_m - plates.x_a_m) - inside
    own = plates.width_m / plates.thickness_m * (c.permittivity_blocked * inside + c.permittivity_free * ends)
    common = (force * compliance[..., None, :]) @ np.swapaxes(force, -1, -2)
    return np.asarray(common + own[..., None] * np.eye(len(plates)))
