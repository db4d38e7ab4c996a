"""What holding the layers of a section to contract across together changes, on the lab beam.

The figures are from a script of its own (one strip at a time, 2 x 2 blocks inverted by numpy), with the lag of
the bond and the constants of the example: K^2 of candidate A 1.229, 1.231, 1.231 times that of layers free by
themselves in modes 1 to 3, free capacitance 58.85 nF (a three-dimensional solid gives 58.8 nF, see test_solid).
"""

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.section import section
from core.beam.spec import beam_spec
from core.piezo.layout import solve
from core.project import library
from core.project.record import Constant
from core.project.structure import Piece
from tests.levels import together
from tests.published.build import material, plain, strip

KEYS = [key for key, _ in library.examples()]


def test_lab_beam_candidate_a():
    project = together(library.example("lab-beam"))
    held = solve(project, project.candidate("A"))
    free = solve(plain(project), project.candidate("A"))
    assert held.k2[:3] / free.k2[:3] == pytest.approx([1.229, 1.231, 1.231], abs=1.5e-3)
    assert held.group_free_f[0, 0] == pytest.approx(58.85e-9, rel=2e-4)
    assert free.group_free_f[0, 0] == pytest.approx(69.63e-9, rel=2e-4)


@pytest.mark.parametrize("key", KEYS)
def test_without_contraction_both_levels_are_one(key):
    """Every Poisson's ratio and d32 zero: nothing holds anything across."""
    project, zero = together(library.example(key)), Constant(0.0)
    materials = tuple(replace(m, poisson_ratio=zero) for m in project.materials)
    packages = tuple(
        replace(p, ceramic=replace(p.ceramic, poisson_ratio=zero, d32_c_n=zero)) for p in project.packages
    )
    project = replace(project, materials=materials, packages=packages)
    for candidate in project.candidates:
        one, other = solve(project, candidate), solve(plain(project), candidate)
        assert one.omega_rad_s[:8] == pytest.approx(other.omega_rad_s[:8], rel=1e-9)
        assert one.k2[:8] == pytest.approx(other.k2[:8], rel=1e-7, abs=1e-13)
        assert one.blocked_f == pytest.approx(other.blocked_f, rel=1e-9)


@pytest.mark.parametrize("key", KEYS)
def test_the_energy_of_layers_and_packages_is_all_there_is(key):
    """What each ply of the section adds to EI comes to the whole, whatever it is cut into."""
    project = library.example(key)
    for candidate in project.candidates:
        beam = solve(project, candidate)
        at = beam.sections
        total = at.layer_bending.sum(axis=-2)
        total[at.section.covered.index] += at.sheet_bending.sum(axis=-2)
        assert total == pytest.approx(at.section.bending, rel=1e-9)


def bending(structure, *materials):
    spec = beam_spec(structure, materials)
    return float(section(spec, np.array([[structure.span_m / 2]]), np.array([0]), None, None).bending[0, 0])


def test_one_material_bends_with_its_own_modulus():
    """Nothing holds its contraction, so a strip of one material has EI, not EI/(1 - nu^2)."""
    made = strip(1.0, 0.1, [("metal", 0.002), ("metal", 0.003)], level="section")
    assert bending(made, material("metal", 70e9, 2700.0, 0.33)) == pytest.approx(70e9 * 0.1 * 0.005**3 / 12, rel=1e-12)


def test_thick_faces_on_a_core_that_contracts_otherwise():
    """A layer of modulus E_2 and nu_2 between two of E_1, nu_1, symmetric: the strip's curvature across k follows
    from M_y = 0, D22 k = -D12 w'', and EI = b (D11 - D12^2/D22) (Jones 1999, Mechanics of Composite Materials,
    section 4.3, with the plate's A, B, D)."""
    faces, core, b, t, h = (70e9, 0.33), (3e9, 0.1), 0.05, 0.001, 0.008
    made = strip(1.0, b, [("face", t), ("core", h), ("face", t)], level="section")
    d = np.zeros(3)
    for (e, nu), low, high in ((core, -h / 2, h / 2), (faces, h / 2, h / 2 + t), (faces, -h / 2 - t, -h / 2)):
        d += e / (1 - nu**2) * np.array([1.0, nu, 1.0]) * (high**3 - low**3) / 3
    wanted = b * (d[0] - d[1] ** 2 / d[2])
    found = bending(made, material("face", faces[0], 2700.0, faces[1]), material("core", core[0], 60.0, core[1]))
    assert found == pytest.approx(wanted, rel=1e-12)
    free = sum(e * (hi**3 - lo**3) / 3 for (e, _), lo, hi in (
        (core, -h / 2, h / 2), (faces, h / 2, h / 2 + t), (faces, -h / 2 - t, -h / 2)))  # fmt: skip
    assert found > b * free


def test_wood_across_the_grain_holds_less():
    """Between faces that contract, a core as stiff across as along holds them more than wood does."""
    layers = [("face", 0.0006), ("wood", 0.008), ("face", 0.0006)]
    made = strip(0.8, 0.1, layers, level="section")
    face, wood = material("face", 28e9, 1900.0, 0.25), material("wood", 9e9, 420.0, 0.02)
    grain = replace(wood, youngs_modulus_across_pa=Constant(0.6e9))
    alike, along = (bending(made, face, w) for w in (wood, grain))
    lone = bending(replace(made, level="plain"), face, wood)
    assert alike > along > lone


def test_steel_edges_lie_at_the_edges():
    """Strips of different stacks bend with one w'' and contract each in its own way: EI is the sum over them."""
    layers = [("core", 0.004, (Piece("steel", 0.002, count=2), Piece("core"))), ("skin", 0.001)]
    made = strip(1.0, 0.1, layers, level="section")
    materials = [material("core", 9e9, 420.0, 0.3), material("steel", 200e9, 7850.0, 0.29), material("skin", 28e9, 1900.0, 0.2)]

    def alone(base, width):
        return strip(1.0, width, [(base, 0.004), ("skin", 0.001)], level="section")

    spec = [beam_spec(s, tuple(materials)) for s in (made, alone("core", 0.096), alone("steel", 0.004))]
    whole, *parts = (section(s, np.array([[0.5]]), np.array([0]), None, None) for s in spec)
    axial = sum(p.axial for p in parts)
    neutral = sum(p.axial * p.neutral_axis_m for p in parts) / axial
    total = sum(p.bending + p.axial * (p.neutral_axis_m - neutral) ** 2 for p in parts)
    assert whole.axial == pytest.approx(axial, rel=1e-12)
    assert whole.bending == pytest.approx(total, rel=1e-12)
