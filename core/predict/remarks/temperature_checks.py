"""Problems of constants that change with temperature, at the temperatures the part will see."""

from __future__ import annotations

from core import units
from core.beam.spec import at_temperature
from core.project.checking import Found, Problem, Range, by_identity, tell
from core.project.material import Material
from core.project.material_checks import MODULUS, coupling_squared
from core.project.patch import Ceramic, Package
from core.project.record import Constant
from core.project.service import Service
from core.units.words import celsius as degrees

COMPLIANCE = Range("1/TPa", 0.0, above=True)
PERMITTIVITY = Range("1", 1.0)
CURE = "Check its change per kelvin and the service temperatures."


@by_identity
def temperature_problems(
    materials: tuple[Material, ...], packages: tuple[Package, ...], service: Service
) -> tuple[Problem, ...]:
    """Constants that their change per kelvin takes out of what is possible, cold, hot or as asked for."""
    found: Found = []
    asked = service.asked.temperature_c
    temperatures = {service.cold_c, service.reference_c, service.hot_c} | ({asked} - {None})
    for celsius in sorted(c for c in temperatures if c is not None):
        for material in materials:
            path, what = (
                f"materials[{material.name}].youngs_modulus_pa",
                f'Young\'s modulus of "{material.name}"',
            )
            _possible(
                found,
                path,
                what,
                material.youngs_modulus_pa,
                material.reference_temperature_c,
                celsius,
                MODULUS,
            )
        for package in packages:
            _ceramic(found, f"packages[{package.name}].ceramic", package.ceramic, celsius)
    return tuple(found)


def _ceramic(found: Found, path: str, ceramic: Ceramic, celsius: float) -> None:
    name, reference_c = f'of ceramic "{ceramic.name}"', ceramic.reference_temperature_c
    fine = _possible(
        found,
        f"{path}.s11e_1_pa",
        f"Compliance s11E {name}",
        ceramic.s11e_1_pa,
        reference_c,
        celsius,
        COMPLIANCE,
    )
    fine &= _possible(
        found, f"{path}.eps33t_relative", f"Relative permittivity {name}", ceramic.eps33t_relative, reference_c,
        celsius, PERMITTIVITY,
    )  # fmt: skip
    if not fine:
        return
    d31, s11, eps = (
        at_temperature(constant, reference_c, celsius)
        for constant in (ceramic.d31_c_n, ceramic.s11e_1_pa, ceramic.eps33t_relative)
    )
    across = (
        None if constant is None else at_temperature(constant, reference_c, celsius)
        for constant in (ceramic.d32_c_n, ceramic.s22e_1_pa)
    )
    now = max(coupling_squared(d31, s11, eps, ceramic.poisson_ratio.value, *across))
    if now >= 1.0:
        words = (
            f"d31, permittivity and s11E {name} give a coupling factor of 1 or more at {degrees(celsius)}. {CURE}"
        )
        tell(found, f"{path}.d31_c_n.per_kelvin", words)


def _possible(
    found: Found, path: str, what: str, constant: Constant, reference_c: float, celsius: float, allowed: Range
) -> bool:
    """Report a constant that is out of range at a temperature though it is fine at its reference."""
    value = at_temperature(constant, reference_c, celsius)
    if allowed.holds(value) or not allowed.holds(constant.value):
        return allowed.holds(value)
    shown = units.show_with_unit(value, allowed.unit)
    tell(
        found,
        f"{path}.per_kelvin",
        f"{what} is {shown} at {degrees(celsius)}, with {units.show_with_unit(constant.per_kelvin, '%/K')} from "
        f"{degrees(reference_c)}; it must be {allowed.words()}. {CURE}",
    )
    return False
