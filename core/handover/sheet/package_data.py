"""Shop values that follow from geometry and package data alone.

No prediction enters: a plate capacitor, a bent strip, the half-Curie rule.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from core.handover.drawing.items import SheetError
from core.piezo.ceramic import coefficients
from core.project.patch import Package
from core.project.sheet import Sheet
from core.project.structure import Level
from core.units import words

USUAL_CAPACITANCE_TOLERANCE = 0.2
"""Where the package states none: suppliers' standard tolerance at 1 kHz."""
CERAMIC_DENSITY_KG_M3 = 4000.0
"""Above it the active layer is a (lead-bearing) ceramic, below it a polymer film."""


def capacitance_tolerance(package: Package) -> float:
    """Relative tolerance of the permittivity as stated, else the usual one."""
    stated = package.ceramic.eps33t_relative.tolerance
    return USUAL_CAPACITANCE_TOLERANCE if stated is None else stated


def largest_clamping_drop(package: Package, level: Level) -> float:
    """Largest relative fall of capacitance that bonding alone can cause: that of a perfectly stiff part, which
    prevents all strain in the directions that the level of the mechanics couples; a real one less.

    Along only (plain) it is d31^2/(s11E eps33T), in both directions of the face about three times as much.
    """
    held = coefficients(package.ceramic, level=level, temperature_c=None)
    return float(1.0 - held.permittivity_blocked / held.permittivity_free)


def is_ceramic(package: Package) -> bool:
    """Whether the active layer is as dense as a ceramic."""
    return package.ceramic.density_kg_m3.value > CERAMIC_DENSITY_KG_M3


def least_bend_radius_m(package: Package) -> float:
    """Radius to which the loose package may be bent: ceramic half thickness over tensile strain,
    rounded up to two figures."""
    radius = package.ceramic_thickness_m / 2 / package.limits.tensile_strain.value
    step = 10.0 ** (math.floor(math.log10(radius)) - 1)
    return math.ceil(radius / step - 1e-9) * step


@dataclass(frozen=True)
class HeatLimit:
    """The hottest a package may get in cure, degC, and why."""

    limit_c: float
    reason: str

    @property
    def words(self) -> str:
        return f"{words.celsius(round(self.limit_c))} ({self.reason})"


def heat_limit(package: Package) -> HeatLimit:
    """Upper temperature in cure and use: the lower of the package's limit and half the Curie
    temperature in degrees Celsius."""
    package_c = package.limits.temperature_c[1]
    curie_c = package.ceramic.curie_temperature_c
    if curie_c is None:
        return HeatLimit(package_c, "package limit")
    if curie_c / 2 < package_c:
        return HeatLimit(curie_c / 2, "half the Curie temperature")
    return HeatLimit(package_c, f"package limit; half the Curie temperature is {words.celsius(round(curie_c / 2))}")


def check_cure(sheet: Sheet, packages: tuple[Package, ...]) -> None:
    """Refuse a cure text that names a temperature above what a package stands."""
    named = [float(text.replace(",", ".")) for text in
             re.findall(r"(\d+(?:[.,]\d+)?)\s*(?:°|º|deg\.?)\s*C\b", sheet.cure)]  # fmt: skip
    for package in packages:
        limit = heat_limit(package)
        if named and max(named) > limit.limit_c + 1e-9:
            raise SheetError(
                f"The cure text says {words.celsius(max(named))}; package '{package.name}' stands at most "
                f"{words.celsius(limit.limit_c)} ({limit.reason}). Lower the cure temperature."
            )
