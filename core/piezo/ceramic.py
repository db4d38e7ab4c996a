"""One-dimensional coefficients of a ceramic plate poled along z and strained along x."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from core.beam.spec import warming
from core.beam.varied import Number, Variation, number
from core.project.model import Ceramic

N = TypeVar("N", bound=Number)

VACUUM_PERMITTIVITY_F_M = 8.8541878128e-12
"""CODATA 2018."""


@dataclass(frozen=True)
class Coefficients(Generic[N]):
    """Effective constants in the beam's single strain (IEEE Std 176-1987, section 4 relations).

    `permittivity_free` is at zero axial stress: the capacitance of the ends that the bond leaves
    unstrained.
    """

    modulus_pa: N
    e31_c_m2: N
    permittivity_blocked: N
    permittivity_free: N
    density_kg_m3: N
    tan_delta: N
    loss_factor: N
    k31_squared: N

    @property
    def field_stiffening_pa(self) -> Number:
        """e31^2/eps33S: what the field's linear part adds to the ceramic's own bending, because
        the strain varies through the thickness and D3 cannot."""
        e31: Number = self.e31_c_m2
        return e31 * e31 / self.permittivity_blocked


def coefficients(
    ceramic: Ceramic,
    *,
    wide_strip: bool,
    temperature_c: float | None,
    variation: Variation | None = None,
    path: str = "",
) -> Coefficients[Number]:
    """e31 = d31 E_p, eps33S = eps33T - d31^2 E_p; in a wide strip the lateral strain is
    suppressed too: E_p -> 1/(s11E (1 - nu^2)), e31 -> d31/(s11E (1 - nu)),
    eps33S -> eps33T - 2 d31^2/(s11E (1 - nu)).

    `path` is the ceramic's in the project, under which `variation` may hold its constants.
    """
    ref, varied = ceramic.reference_temperature_c, variation or {}

    def of(name: str) -> Number:
        return number(varied, f"{path}.{name}", getattr(ceramic, name).value)

    def warm(name: str) -> Number:
        return of(name) * warming(getattr(ceramic, name), ref, temperature_c)

    d31, s11 = warm("d31_c_n"), warm("s11e_1_pa")
    eps, nu = warm("eps33t_relative") * VACUUM_PERMITTIVITY_F_M, ceramic.poisson_ratio.value
    if wide_strip:
        modulus, e31 = 1.0 / (s11 * (1.0 - nu**2)), d31 / (s11 * (1.0 - nu))
        blocked, free = eps - 2.0 * d31 * d31 / (s11 * (1.0 - nu)), eps - d31 * d31 / s11
    else:
        modulus, e31 = 1.0 / s11, d31 / s11
        blocked, free = eps - d31 * d31 / s11, eps
    return Coefficients(
        modulus_pa=modulus,
        e31_c_m2=e31,
        permittivity_blocked=blocked,
        permittivity_free=free,
        density_kg_m3=of("density_kg_m3"),
        tan_delta=of("tan_delta"),
        loss_factor=of("loss_factor"),
        k31_squared=d31 * d31 / (s11 * eps),
    )
