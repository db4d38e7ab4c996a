"""Blade of two thin skins on foam: the level 'shear' against plane elasticity.

600 x 100 mm, two 1 mm aluminium skins on 6 mm of foam 98 mm wide (E 30 MPa, nu 0.3, 60 kg/m3), every layer free across
by itself, as in plane elasticity. Bare values and the two-dimensional ones (frequencies converged to 3e-5, K^2 to 4e-4)
are of programs of their own. The rectangle's closed forms: EI_Phi = EI/84, S = 5/6 G b h.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.spec import beam_spec
from core.beam.warping import warping
from core.piezo.choice import warping_length_m
from core.piezo.layout import solve
from core.project import library
from core.project.edit import with_structure
from core.project.patch import Bond, Skin
from core.project.record import Constant
from core.project.structure import Piece
from tests.published.build import bare, ceramic, material, package, place, strip, with_patch
from tests.reference.elasticity_strip import Isotropic, PoledCeramic, Slab, solve_strip

SPAN = 0.6


def free(name: str, e_pa: float, rho: float, nu: float):
    """A material that contracts by itself: only its shear modulus remembers nu."""
    made = material(name, e_pa, rho, 0.0)
    return replace(made, shear_modulus_pa=Constant(e_pa / (2.0 * (1.0 + nu))))


MATERIALS = [
    free("aluminium", 70e9, 2700.0, 0.33),
    free("foam", 30e6, 60.0, 0.3),
    free("epoxy", 2.0 * 1.36e9, 1200.0, 0.36),
    free("foil", 4e9, 1450.0, 0.34),
]


def blade(**options):
    layers = [("aluminium", 1e-3), ("foam", 6e-3, (Piece("foam", 0.098),)), ("aluminium", 1e-3)]
    return strip(SPAN, 0.1, layers, level="shear", **options)


def with_ceramic(start: float):
    made = replace(ceramic(nu=0.0), d32_c_n=Constant(0.0))
    plate = package(made, 0.06, 0.06, 0.4e-3, bond=Bond("epoxy", 50e-6, 1e9), skin=Skin("foil", 0.1e-3))
    return with_patch(blade(), MATERIALS, plate, place(plate, start))


def test_bare_blade():
    beam = bare(blade(), MATERIALS)
    assert beam.section.bending[0, 0] == pytest.approx(172.7196, rel=1e-6)
    assert beam.omega_rad_s[:4] / (2 * np.pi) == pytest.approx([24.2482, 106.1217, 226.1935, 346.3978], rel=3e-6)
    tip = beam.deflection_row(SPAN)
    ei, s, phi = 172.7196, 9359.20, 1.1754
    length = np.sqrt(phi / s)
    closed = SPAN**3 / (3 * ei) + (SPAN - length * np.tanh(SPAN / length)) / s
    assert closed == pytest.approx(4.7977e-4, rel=1e-4)
    assert tip @ tip == pytest.approx(closed, rel=1e-5)
    assert warping_length_m(beam.spec) == pytest.approx(length, rel=1e-3)


@pytest.mark.parametrize(
    ("start", "f_hz", "k2", "per_volt"),
    [(0.010, (24.659, 106.37, 225.14, 343.00), (0.2756, 0.0484, 0.00296, 0.00717), -3.65e-7),
     (0.280, (24.023, 104.00, 224.96, 340.65), (0.0241, 0.1326, 0.0502, 0.0760), -1.81e-7)],
    ids=["at the root", "in mid-span"],
)  # fmt: skip
def test_patch_on_a_blade_against_plane_elasticity(start, f_hz, k2, per_volt):
    """Frequencies within 0.1 %, K^2 within 6 % where it is above 0.005 %, tip per volt within 2 %: what is left is the
    foam squeezed across its thickness."""
    beam = with_ceramic(start)
    assert beam.omega_rad_s[:4] / (2 * np.pi) == pytest.approx(f_hz, rel=1e-3)
    told = np.array(k2) > 5e-3
    assert 100 * beam.k2[:4][told] == pytest.approx(np.array(k2)[told], rel=0.06)
    assert 100 * beam.k2[:4] == pytest.approx(k2, rel=0.1)
    assert float(beam.deflection_row(SPAN) @ beam.theta_rows[0]) == pytest.approx(per_volt, rel=0.02)


@dataclass(frozen=True)
class Narrow(PoledCeramic):
    """A ceramic three fifths as wide as the blade, in a body of one width."""

    def stiffness_form(self):
        return tuple(0.6 * v for v in super().stiffness_form())


@pytest.mark.slow
@pytest.mark.parametrize(
    ("start", "f_hz", "k2", "per_volt"),
    [(0.010, (24.6594, 106.3689, 225.138, 343.006), (0.27563, 0.04841, 0.00296, 0.00717), -3.602e-7),
     (0.280, (24.0229, 104.0054, 224.966, 340.654), (0.02406, 0.13266, 0.05022, 0.07604), -1.781e-7)],
    ids=["at the root", "in mid-span"],
)  # fmt: skip
def test_plane_elasticity_of_our_own_gives_these_figures(start, f_hz, k2, per_volt):
    """Cells of 0.2 mm at the ends against 0.05 mm and twice as many through the thickness, which the figures are of: f within
    1.3e-4, K^2 3e-3. The model: f within 0.1 %, K^2 within 6 %, tip per volt within 2 %."""

    def of(e_pa, nu, rho, share=1.0):
        return Isotropic(share * e_pa, nu, share * rho)

    metal, foam = of(70e9, 0.33, 2700.0), of(30e6, 0.3, 60.0, 0.98)
    glue, foil = of(2 * 1.36e9, 0.36, 1200.0, 0.6), of(4e9, 0.34, 1450.0, 0.6)
    z, end = np.cumsum([0.0, 1e-3, 6e-3, 1e-3, 50e-6, 0.1e-3, 0.4e-3, 0.1e-3]), start + 0.06
    stack = [(metal, 2), (foam, 4), (metal, 2), (glue, 1), (foil, 1), (Narrow(density_kg_m3=0.6 * 7750.0), 2), (foil, 1)]
    slabs = [
        Slab(m, *((0.0, SPAN) if i < 3 else (start, end)), z[i], z[i + 1], cells) for i, (m, cells) in enumerate(stack)
    ]
    plane = solve_strip(slabs, 0.1, modes=4, finest=2e-4, growth=2.0, coarsest=8e-3)
    assert plane.f_short_hz == pytest.approx(f_hz, rel=2e-4)
    assert 100 * plane.k2 == pytest.approx(k2, rel=4e-3)
    assert plane.tip_m_per_v == pytest.approx(per_volt, rel=1e-3)
    beam = with_ceramic(start)
    assert beam.omega_rad_s[:4] / (2 * np.pi) == pytest.approx(plane.f_short_hz, rel=1e-3)
    told = plane.k2 > 5e-5
    assert beam.k2[:4][told] == pytest.approx(plane.k2[told], rel=0.06)
    assert float(beam.deflection_row(SPAN) @ beam.theta_rows[0]) == pytest.approx(plane.tip_m_per_v, rel=0.02)


def test_rectangle():
    """One layer, in closed form: S = 5/6 G b h, EI_Phi = EI/84, lambda = sqrt(EI_Phi/S)."""
    h, b, e, g = 0.01, 0.05, 70e9, 26e9
    w = warping(np.full((1, 1, 1), h), np.full((1, 1, 1), e * b), np.full((1, 1, 1), g * b))
    ei = e * b * h**3 / 12
    # the shear angle of the rotation is gamma = beta g with beta = 1.2, so that S gamma^2 = 1.2 G b h g^2
    assert w.stiffness[0, 0] == pytest.approx(1.2 * g * b * h, rel=1e-12)
    metal = replace(material("metal", e, 2700.0, 0.0), shear_modulus_pa=Constant(g))
    spec = beam_spec(strip(0.3, b, [("metal", h)], level="shear"), (metal,))
    assert warping_length_m(spec) == pytest.approx(np.sqrt(ei / 84 / (5 / 6 * g * b * h)), rel=1e-9)


def test_timoshenko_beam():
    """A thick metal cantilever, span over thickness 8: f1 to f3 of Timoshenko's beam with kappa = 5/6 from its
    characteristic equation (Huang 1961, J. Appl. Mech. 28, 579). The section's warping is held at the clamp, which
    Timoshenko's cannot be: 0.03 to 0.3 % stiffer."""
    span, h, b, e, nu, rho = 0.2, 0.025, 0.01, 70e9, 0.3, 2700.0
    metal = material("metal", e, rho, nu)
    found = bare(strip(span, b, [("metal", h)], level="shear"), [metal]).omega_rad_s[:3]
    assert found == pytest.approx(timoshenko(span, h, b, e, nu, rho), rel=4e-3)
    euler = bare(strip(span, b, [("metal", h)], level="section"), [metal]).omega_rad_s[:3]
    assert np.all(found > timoshenko(span, h, b, e, nu, rho)) and np.all(found < 0.99 * euler)


def timoshenko(span, h, b, e, nu, rho):
    """First three roots of the clamped-free determinant."""
    ei, shear, m, j = e * b * h**3 / 12, 5 / 6 * e / (2 * (1 + nu)) * b * h, rho * b * h, rho * b * h**3 / 12

    def determinant(omega: float) -> float:
        # y' = A y of deflection, rotation, moment, shear force; two free ends' conditions of two clamped solutions
        a = np.array([[0, 1, 0, 1 / shear], [0, 0, 1 / ei, 0], [0, -j * omega**2, 0, -1], [-m * omega**2, 0, 0, 0]])
        values, vectors = np.linalg.eig(a)
        end = (vectors * np.exp(values * span)) @ np.linalg.inv(vectors)
        return float(np.linalg.det(end[2:, 2:].real))

    grid = np.linspace(10.0, 3e5, 3000)
    sign = np.array([determinant(w) for w in grid])
    roots = []
    for i in np.flatnonzero(sign[1:] * sign[:-1] < 0)[:3]:
        low, up = grid[i], grid[i + 1]
        for _ in range(50):
            middle = 0.5 * (low + up)
            low, up = (middle, up) if determinant(middle) * determinant(low) > 0 else (low, middle)
        roots.append(0.5 * (low + up))
    return roots


def test_a_stiff_core_is_the_level_section():
    """Shear moduli without bound, no weight to turn: nothing warps."""
    project = library.example("lab-beam")
    stiff = tuple(replace(m, shear_modulus_through_pa=Constant(1e7 * m.youngs_modulus_pa.value)) for m in project.materials)
    project = replace(project, materials=stiff)
    one, other = (solve(with_structure(project, level=level), project.candidate("A")) for level in ("section", "shear"))
    assert other.k2[:3] == pytest.approx(one.k2[:3], rel=3e-4)
    assert other.omega_rad_s[:3] == pytest.approx(one.omega_rad_s[:3], rel=2e-4)  # rotary inertia
