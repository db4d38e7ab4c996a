"""Shear lag: how far inside its ends a bonded ceramic starts to work."""

from __future__ import annotations

import numpy as np

from core.beam.mesh import segments
from core.beam.section import section
from core.beam.spec import BeamSpec


def bare_section_at(spec: BeamSpec, x: float) -> tuple[float, float, float, float]:
    """A1 (N), EI (N m^2), neutral axis and thickness (m) of the bare structure at x."""
    near = 1e-9 * spec.span_m
    point = min(max(x, near), spec.span_m - near)
    element = segments(spec, np.array([point - 0.5 * near, point + 0.5 * near]))
    sec = section(spec, np.array([[point]]), element, None, None)
    values = (sec.axial, sec.bending, sec.neutral_axis_m, sec.top_m)
    return tuple(float(v[0, 0]) for v in values)  # type: ignore[return-value]


def shear_lag_m(
    spec: BeamSpec,
    x: float,
    *,
    on_top: bool,
    paired: bool,
    width_m: float,
    thickness_m: float,
    modulus_pa: float,
    bond: tuple[float, float],
    skin: tuple[float, float],
) -> float:
    """Build-up length 1/Gamma of the ceramic strain, m, at a ceramic end near x.

    Gamma^2 = b_p/(t_b/G_b + t_s/G_s) [1/(E_p b_p t_p) + 1/A1 + c_s c_p/EI], for a patch on one
    face (Crawley & de Luis 1987, AIAA J. 25, 1373, equation of the bonded actuator, extended to
    an unsymmetric base); for a bending pair the axial term drops and the bending term doubles.
    `bond` and `skin` are (thickness, shear modulus); c_s and c_p are the distances of the bonded
    face and of the ceramic's mid-plane from the bare neutral axis.
    """
    a1, ei, zn, top = bare_section_at(spec, x)
    c_s = (top - zn) if on_top else zn
    c_p = c_s + bond[0] + skin[0] + 0.5 * thickness_m
    axial, bending = 1.0 / a1, c_s * c_p / ei
    if paired:
        axial, bending = 0.0, 2.0 * bending
    compliance = bond[0] / bond[1] + (skin[0] / skin[1] if skin[0] else 0.0)
    if compliance == 0.0:
        return 0.0
    gamma2 = width_m / compliance * (1.0 / (modulus_pa * width_m * thickness_m) + axial + bending)
    return float(gamma2**-0.5)
