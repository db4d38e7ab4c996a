"""Coefficients of a ceramic plate poled along z in plane stress."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from core.beam.free_strip import plane_stress
from core.beam.spec import warming
from core.beam.varied import Number, Variation, number
from core.project.patch import Ceramic, Package, Patch
from core.project.structure import Level
from core.units.constants import VACUUM_PERMITTIVITY_F_M

N = TypeVar("N", bound=Number)


def free_capacitance_f(patch: Patch, package: Package) -> float:
    """Capacitance of the unbonded patch at 1 kHz, one ceramic of it: eps33T l b / t."""
    permittivity = package.ceramic.eps33t_relative.value * VACUUM_PERMITTIVITY_F_M
    return permittivity * patch.length_m * patch.width_m / package.ceramic_thickness_m


@dataclass(frozen=True)
class Coefficients(Generic[N]):
    """Effective constants with both strains of the plate held (IEEE Std 176-1987, section 4 relations).

    `permittivity_free` is at zero stress: the capacitance of the ends that the bond leaves unstrained.
    `modulus_pa` is 1/s11E, the plate's own along the span.
    """

    modulus_pa: N
    d31_c_n: N
    q_x_pa: N
    q_xy_pa: N
    q_y_pa: N
    shear_pa: N
    e_x_c_m2: N
    e_y_c_m2: N
    permittivity_blocked: N
    permittivity_free: N
    density_kg_m3: N
    tan_delta: N
    loss_factor: N
    k31_squared: N


def coefficients(
    ceramic: Ceramic,
    *,
    level: Level,
    temperature_c: float | None,
    variation: Variation | None = None,
    path: str = "",
) -> Coefficients[Number]:
    """At the level 'section' e = Q d and eps = eps33T - d e of plane stress, which with d32 = d31 and one
    modulus is e' = d31 E/(1 - nu) both ways and eps33T - 2 d31^2 E/(1 - nu); at 'plain' the plate is free
    across by itself: e31 = d31 E and eps33S = eps33T - d31^2 E.

    `path` is the ceramic's in the project, under which `variation` may hold its constants.
    """
    ref, varied = ceramic.reference_temperature_c, variation or {}

    def of(name: str) -> Number:
        return number(varied, f"{path}.{name}", getattr(ceramic, name).value)

    def warm(name: str) -> Number:
        return of(name) * warming(getattr(ceramic, name), ref, temperature_c)

    d31, s11 = warm("d31_c_n"), warm("s11e_1_pa")
    eps = warm("eps33t_relative") * VACUUM_PERMITTIVITY_F_M
    d32 = d31 if ceramic.d32_c_n is None else warm("d32_c_n")
    ratio = 1.0 if ceramic.s22e_1_pa is None else s11 / warm("s22e_1_pa")
    nu = of("poisson_ratio")
    if level == "plain":
        nu, d32 = 0.0, 0.0
    q_x, q_xy, q_y = plane_stress(1.0 / s11, nu, ratio)
    e_x, e_y = q_x * d31 + q_xy * d32, q_xy * d31 + q_y * d32
    return Coefficients(
        modulus_pa=1.0 / s11,
        d31_c_n=d31,
        q_x_pa=q_x,
        q_xy_pa=q_xy,
        q_y_pa=q_y,
        shear_pa=1.0 / (2.0 * s11 * (1.0 + nu)),
        e_x_c_m2=e_x,
        e_y_c_m2=e_y,
        permittivity_blocked=eps - d31 * e_x - d32 * e_y,
        permittivity_free=eps,
        density_kg_m3=of("density_kg_m3"),
        tan_delta=of("tan_delta"),
        loss_factor=of("loss_factor"),
        k31_squared=d31 * d31 / (s11 * eps),
    )
