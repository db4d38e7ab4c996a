"""The example lab beam with its candidate A as a three-dimensional piezoelectric solid: bond, skins and their ends resolved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from core.project import library
from tests.reference.elasticity_strip import EPS0, Isotropic
from tests.reference.solid_strip import Box, SolidCeramic, SolidResult, solve_solid


def solve_lab_beam(along: tuple[float, float, float], across: tuple[float, float, float]) -> SolidResult:
    """Candidate A; cells as in `solve_solid`. The ceramic's constants that the project does not hold are those of Type II."""
    project = library.example("lab-beam")
    patch, structure = project.candidate("A").patches[0], project.structure
    package = project.package(patch.package)

    def solid(name: str) -> Isotropic:
        m = project.material(name)
        return Isotropic(m.youngs_modulus_pa.value, m.poisson_ratio.value, m.density_kg_m3.value)

    own = package.ceramic
    s11 = own.s11e_1_pa.value
    ceramic = SolidCeramic(
        s11=s11, s12=-own.poisson_ratio.value * s11, d31=own.d31_c_n.value, d32=own.d31_c_n.value,
        eps33t=own.eps33t_relative.value * EPS0, density_kg_m3=own.density_kg_m3.value,
    )  # fmt: skip
    layer = structure.layers[0]
    strip, glue = solid(layer.pieces[0].material), solid(patch.bond.material)
    foil, over = solid(package.lower_skin.material), solid(package.upper_skin.material)
    a, b, margin, half = patch.x_start_m, patch.x_end_m, package.margin_m, 0.5 * patch.width_m
    whole = half + package.beside_m
    t_over = package.upper_skin.thickness_m
    z = np.cumsum([
        0.0, layer.thickness_m, patch.bond.thickness_m, package.lower_skin.thickness_m, package.ceramic_thickness_m, t_over
    ])  # fmt: skip
    boxes = [
        Box(strip, 0.0, structure.span_m, 0.0, 0.5 * structure.width_m, z[0], z[1]),
        Box(glue, a - margin, b + margin, 0.0, whole, z[1], z[2]),
        Box(foil, a - margin, b + margin, 0.0, whole, z[2], z[3]),
        Box(ceramic, a, b, 0.0, half, z[3], z[4]),
        Box(over, a, b, 0.0, half, z[4], z[5]),
        Box(over, a - margin, a, 0.0, whole, z[3], z[3] + t_over),
        Box(over, b, b + margin, 0.0, whole, z[3], z[3] + t_over),
    ]
    if whole > half:
        boxes.append(Box(over, a, b, half, whole, z[3], z[3] + t_over))
    even = [replace(box, **{n: round(float(getattr(box, n)), 9) for n in ("x0", "x1", "y0", "y1", "z0", "z1")}) for box in boxes]
    return solve_solid(even, along=along, across=across)
