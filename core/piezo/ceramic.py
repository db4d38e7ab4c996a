"""One-dimensional coefficients of a ceramic plate poled along z and strained along x."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from core.beam.spec import at_temperature
from core.project.model import Ceramic

VACUUM_PERMITTIVITY_F_M = 8.8541878128e-12
"""CODATA 2018."""


@dataclass(frozen=True)
class Coefficients:
    """Effective constants in the beam's single strain (IEEE Std 176-1987, section 4 relations).

    `permittivity_free` is at zero axial stress: the capacitance of the ends that the bond leaves
    unstrained.
    """

    modulus_pa: float
    e31_c_m2: float
    permittivity_blocked: float
    permittivity_free: float
    density_kg_m3: float
    tan_delta: float
    loss_factor: float
    k31_squared: float

    @property
    def field_stiffening_pa(self) -> float:
        """e31^2/eps33S: what the field's linear part adds to the ceramic's own bending, because
        the strain varies through the thickness and D3 cannot."""
        return self.e31_c_m2**2 / self.permittivity_blocked


def coefficients(ceramic: Ceramic, *, wide_strip: bool, temperature_c: float | None) -> Coefficients:
    """e31 = d31 E_p, eps33S = eps33T - d31^2 E_p; in a wide strip the lateral strain is
    suppressed too: E_p -> 1/(s11E (1 - nu^2)), e31 -> d31/(s11E (1 - nu)),
    eps33S -> eps33T - 2 d31^2/(s11E (1 - nu)). Constants may be arrays of samples."""
    if isinstance(ceramic.d31_c_n.value, float | int):
        try:
            return _remembered(ceramic, wide_strip, temperature_c)
        except TypeError:  # another constant is an array of samples, which nothing remembers
            pass
    return _computed(ceramic, wide_strip, temperature_c)


@lru_cache(maxsize=64)
def _remembered(ceramic: Ceramic, wide_strip: bool, temperature_c: float | None) -> Coefficients:
    return _computed(ceramic, wide_strip, temperature_c)


def _computed(ceramic: Ceramic, wide_strip: bool, temperature_c: float | None) -> Coefficients:
    ref = ceramic.reference_temperature_c
    d31 = at_temperature(ceramic.d31_c_n, ref, temperature_c)
    s11 = at_temperature(ceramic.s11e_1_pa, ref, temperature_c)
    eps = at_temperature(ceramic.eps33t_relative, ref, temperature_c) * VACUUM_PERMITTIVITY_F_M
    nu = ceramic.poisson_ratio.value
    if wide_strip:
        modulus, e31 = 1.0 / (s11 * (1.0 - nu**2)), d31 / (s11 * (1.0 - nu))
        blocked, free = eps - 2.0 * d31**2 / (s11 * (1.0 - nu)), eps - d31**2 / s11
    else:
        modulus, e31 = 1.0 / s11, d31 / s11
        blocked, free = eps - d31**2 / s11, eps
    return Coefficients(
        modulus_pa=modulus,
        e31_c_m2=e31,
        permittivity_blocked=blocked,
        permittivity_free=free,
        density_kg_m3=ceramic.density_kg_m3.value,
        tan_delta=ceramic.tan_delta.value,
        loss_factor=ceramic.loss_factor.value,
        k31_squared=d31**2 / (s11 * eps),
    )
