"""Problems of material and package data: constants out of range, limits, ranges out of order."""

from __future__ import annotations

import math

from core import units
from core.project.checking import Found, Problem, by_identity, constant, number, tell, unique
from core.project.fields import FIELDS
from core.project.material import Material
from core.project.patch import Bond, Ceramic, Package, PatchLimits
from core.project.ranges import (
    DENSITY,
    EDGE,
    FIELD_STRENGTH,
    LENGTH,
    LOSS,
    MODULUS,
    PLAN,
    POISSON,
    STRAIN,
    TEMPERATURE,
)
from core.units.constants import VACUUM_PERMITTIVITY_F_M
from core.units.words import celsius

BOND_THICKNESS = FIELDS["bond.thickness_m"].range
SHEAR_MODULUS = FIELDS["bond.shear_modulus_pa"].range


@by_identity
def material_problems(materials: tuple[Material, ...]) -> tuple[Problem, ...]:
    """Everything wrong with the materials of a project."""
    found: Found = []
    unique(found, "materials", "material", (m.name for m in materials))
    for material in materials:
        path, name = f"materials[{material.name}]", f'of "{material.name}"'
        constant(
            found, f"{path}.youngs_modulus_pa", f"Young's modulus {name}", material.youngs_modulus_pa, MODULUS
        )
        constant(found, f"{path}.density_kg_m3", f"Density {name}", material.density_kg_m3, DENSITY)
        constant(found, f"{path}.loss_factor", f"Loss factor {name}", material.loss_factor, LOSS)
        constant(found, f"{path}.poisson_ratio", f"Poisson's ratio {name}", material.poisson_ratio, POISSON)
        _across(found, path, name, material)
        for key, what in (("shear_modulus_pa", "in plane"), ("shear_modulus_through_pa", "through thickness")):
            shear = getattr(material, key)
            if shear is not None:
                constant(found, f"{path}.{key}", f"Shear modulus {what} {name}", shear, MODULUS)
        _temperatures(found, path, f'material "{material.name}"', material.temperature_range_c)
        number(
            found,
            f"{path}.reference_temperature_c",
            f"Reference temperature {name}",
            material.reference_temperature_c,
            TEMPERATURE,
        )
    return tuple(found)


def _across(found: Found, path: str, name: str, material: Material) -> None:
    """A modulus across, and whether contraction and moduli go together: nu^2 E_across/E_along below 1."""
    across = material.youngs_modulus_across_pa
    if across is None:
        return
    at = f"{path}.youngs_modulus_across_pa"
    if not constant(found, at, f"Modulus across {name}", across, MODULUS):
        return
    along, nu = material.youngs_modulus_pa.value, material.poisson_ratio.value
    if along > 0.0 and nu * nu * across.value >= along:
        tell(
            found,
            at,
            f"Modulus across {name} of {units.show_with_unit(across.value, 'GPa', significant=3)} does not go with {units.show_with_unit(along, 'GPa', significant=3)} along and "
            f"a Poisson's ratio of {nu:g}: it must be below {units.show_with_unit(along / nu**2, 'GPa', significant=3)}. Poisson's ratio is the "
            "contraction across when pulled along; check which of the two moduli is which.",
        )


@by_identity
def package_problems(packages: tuple[Package, ...], materials: tuple[Material, ...]) -> tuple[Problem, ...]:
    """Everything wrong with the patch packages of a project."""
    found: Found = []
    unique(found, "packages", "package", (p.name for p in packages))
    names = {m.name for m in materials}
    for package in packages:
        path, name = f"packages[{package.name}]", f'of package "{package.name}"'
        _sizes(found, path, name, package)
        for which, skin in (("lower_skin", package.lower_skin), ("upper_skin", package.upper_skin)):
            words = which.replace("_", " ")
            known_material(found, f"{path}.{which}.material", f"The {words} {name}", skin.material, names)
            number(
                found,
                f"{path}.{which}.thickness_m",
                f"Thickness of the {words} {name}",
                skin.thickness_m,
                FIELDS[f"{which}.thickness_m"].range,
            )
        check_bond(found, f"{path}.bond", f"The bond {name}", package.bond, names)
        _ceramic(found, f"{path}.ceramic", package.ceramic)
        _limits(found, f"{path}.limits", name, package.limits)
    return tuple(found)


def known_material(found: Found, path: str, what: str, material: str, names: set[str]) -> None:
    """Report a material name the project does not hold."""
    if material not in names:
        tell(
            found,
            path,
            f'{what} names the material "{material}", which the project does not hold. '
            "Choose one of the list or add it.",
        )


def check_bond(found: Found, path: str, what: str, bond: Bond, names: set[str]) -> None:
    """Report what is wrong with a bond line."""
    known_material(found, f"{path}.material", what, bond.material, names)
    number(
        found,
        f"{path}.thickness_m",
        f"{what}: thickness",
        bond.thickness_m,
        BOND_THICKNESS,
        "25 to 100 µm is usual.",
    )
    number(
        found,
        f"{path}.shear_modulus_pa",
        f"{what}: shear modulus",
        bond.shear_modulus_pa,
        SHEAR_MODULUS,
        "A stiff epoxy has about 1 GPa.",
    )


def _sizes(found: Found, path: str, name: str, package: Package) -> None:
    number(found, f"{path}.length_m", f"Ceramic length {name}", package.length_m, PLAN)
    number(found, f"{path}.width_m", f"Ceramic width {name}", package.width_m, PLAN)
    number(
        found,
        f"{path}.ceramic_thickness_m",
        f"Ceramic thickness {name}",
        package.ceramic_thickness_m,
        FIELDS["ceramic_thickness_m"].range,
    )
    number(found, f"{path}.margin_m", f"Margin {name}", package.margin_m, EDGE)
    if package.side_margin_m is not None:
        number(found, f"{path}.side_margin_m", f"Side margin {name}", package.side_margin_m, EDGE)
    number(
        found, f"{path}.lead_length_m", f"Lead length {name}", package.lead_length_m, LENGTH
    )
    number(
        found,
        f"{path}.lead_bend_radius_m",
        f"Bend radius of the leads {name}",
        package.lead_bend_radius_m,
        FIELDS["lead_bend_radius_m"].range,
    )


def _ceramic(found: Found, path: str, ceramic: Ceramic) -> None:
    name = f'of ceramic "{ceramic.name}"'
    fine = constant(found, f"{path}.d31_c_n", f"d31 {name}", ceramic.d31_c_n, FIELDS["d31_c_n"].range)
    fine &= constant(
        found,
        f"{path}.eps33t_relative",
        f"Relative permittivity {name}",
        ceramic.eps33t_relative,
        FIELDS["eps33t_relative"].range,
    )
    fine &= constant(
        found, f"{path}.s11e_1_pa", f"Compliance s11E {name}", ceramic.s11e_1_pa, FIELDS["s11e_1_pa"].range
    )
    constant(found, f"{path}.density_kg_m3", f"Density {name}", ceramic.density_kg_m3, DENSITY)
    constant(
        found,
        f"{path}.tan_delta",
        f"Dissipation factor {name}",
        ceramic.tan_delta,
        FIELDS["tan_delta"].range,
    )
    fine &= constant(
        found, f"{path}.poisson_ratio", f"Poisson's ratio {name}", ceramic.poisson_ratio, POISSON
    )
    constant(found, f"{path}.loss_factor", f"Loss factor {name}", ceramic.loss_factor, LOSS)
    constant(
        found,
        f"{path}.pyroelectric_c_m2_k",
        f"Pyroelectric coefficient {name}",
        ceramic.pyroelectric_c_m2_k,
        FIELDS["pyroelectric_c_m2_k"].range,
    )
    _temperatures(found, path, f'ceramic "{ceramic.name}"', ceramic.temperature_range_c)
    number(
        found,
        f"{path}.reference_temperature_c",
        f"Reference temperature {name}",
        ceramic.reference_temperature_c,
        TEMPERATURE,
    )
    if ceramic.curie_temperature_c is not None:
        number(
            found,
            f"{path}.curie_temperature_c",
            f"Curie temperature {name}",
            ceramic.curie_temperature_c,
            TEMPERATURE,
        )
    if fine:
        nu = ceramic.poisson_ratio.value
        d32, s22 = ceramic.d32_c_n, ceramic.s22e_1_pa
        for key, value in (("d32_c_n", d32), ("s22e_1_pa", s22), ("d33_c_n", ceramic.d33_c_n)):
            about = FIELDS[key]
            if value is not None and not constant(found, f"{path}.{key}", f"{about.label} {name}", value, about.range):
                return
        if s22 is not None and nu * nu * ceramic.s11e_1_pa.value >= s22.value:
            tell(found, f"{path}.s22e_1_pa", f"Compliance s22E {name} does not go with s11E and a Poisson's ratio of "
                 f"{nu:g}: it must be above {units.show_with_unit(nu * nu * ceramic.s11e_1_pa.value, '1/TPa', significant=3)}.")  # fmt: skip
            return
        k31_squared, planar = coupling_squared(
            ceramic.d31_c_n.value,
            ceramic.s11e_1_pa.value,
            ceramic.eps33t_relative.value,
            nu,
            None if d32 is None else d32.value,
            None if s22 is None else s22.value,
        )
        _coupling(found, path, name, k31_squared, planar)


def coupling_squared(
    d31_c_n: float,
    s11e_1_pa: float,
    eps33t_relative: float,
    poisson_ratio: float,
    d32_c_n: float | None = None,
    s22e_1_pa: float | None = None,
) -> tuple[float, float]:
    """k31^2 and d Q d/eps33T, which is kp^2 = 2 k31^2/(1 - nu) where both ways are alike; the blocked permittivity
    is positive while both are below 1 (IEEE Std 176)."""
    d32, s22 = (b if a is None else a for a, b in ((d32_c_n, d31_c_n), (s22e_1_pa, s11e_1_pa)))
    ratio = s11e_1_pa / s22
    mixed = d31_c_n**2 + ratio * (2.0 * poisson_ratio * d31_c_n * d32 + d32**2)
    scale = 1.0 / (s11e_1_pa * eps33t_relative * VACUUM_PERMITTIVITY_F_M)
    return d31_c_n**2 * scale, mixed * scale / (1.0 - ratio * poisson_ratio**2)


def _coupling(found: Found, path: str, name: str, k31_squared: float, planar: float) -> None:
    if max(k31_squared, planar) >= 1.0:
        tell(
            found,
            f"{path}.d31_c_n.value",
            f"d31, permittivity and s11E {name} give a coupling factor k31 of {math.sqrt(k31_squared):.2f} "
            f"(planar {math.sqrt(planar):.2f}); both must be below 1. "
            "Check the three values and their units.",
        )


def _limits(found: Found, path: str, name: str, limits: PatchLimits) -> None:
    constant(found, f"{path}.tensile_strain", f"Tensile strain limit {name}", limits.tensile_strain, STRAIN)
    constant(
        found,
        f"{path}.compressive_strain",
        f"Compressive strain limit {name}",
        limits.compressive_strain,
        STRAIN,
    )
    constant(
        found,
        f"{path}.field_along_v_m",
        f"Field limit along the poling {name}",
        limits.field_along_v_m,
        FIELD_STRENGTH,
    )
    constant(
        found,
        f"{path}.field_against_v_m",
        f"Field limit against the poling {name}",
        limits.field_against_v_m,
        FIELD_STRENGTH,
    )
    constant(
        found,
        f"{path}.bond_shear_pa",
        f"Bond shear limit {name}",
        limits.bond_shear_pa,
        FIELDS["limits.bond_shear_pa"].range,
    )
    _temperatures(found, path, f"the limits {name}", limits.temperature_c, "temperature_c")


def _temperatures(
    found: Found, path: str, what: str, span_c: tuple[float, float], field: str = "temperature_range_c"
) -> None:
    cold, hot = span_c
    fine = number(found, f"{path}.{field}[0]", f"Lowest temperature of {what}", cold, TEMPERATURE)
    fine &= number(found, f"{path}.{field}[1]", f"Highest temperature of {what}", hot, TEMPERATURE)
    if fine and cold > hot:
        tell(
            found,
            f"{path}.{field}",
            f"The temperature range of {what} runs from {celsius(cold)} down to {celsius(hot)}. Swap the two.",
        )
