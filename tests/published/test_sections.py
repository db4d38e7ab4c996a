"""Section stiffness of lay-ups: neutral axis, EI, bimetal curvature."""

import numpy as np
import pytest

from core.beam.section import section
from core.beam.spec import beam_spec
from core.project.structure import Piece
from tests.published.build import ceramic, material, package, place, strip, with_patch

INCH, PSI = 0.0254, 6894.757293


def section_of(structure, materials):
    """Section at mid-span of a structure that is uniform there."""
    spec = beam_spec(structure, tuple(materials))
    return section(spec, np.array([[structure.span_m / 2]]), np.array([0]), None, None)


def test_wood_and_steel_beam():
    """Gere & Timoshenko, Mechanics of Materials, composite-beam Example 6-1: wood 4 x 6 in over
    steel 4 x 0.5 in, E 1.5e6 and 30e6 psi: neutral axis 5.031 in below the top, I1 = 171.0 in^4,
    I2 = 3.01 in^4; stresses for 60 kip in: -1310, 251, 5030, 7620 psi (from memory, rounded there)."""
    beam = strip(2.0, 4 * INCH, [("steel", 0.5 * INCH), ("wood", 6 * INCH)])
    made = section_of(beam, [material("steel", 30e6 * PSI, 7850), material("wood", 1.5e6 * PSI, 500)])
    below_top = 6.5 * INCH - float(made.neutral_axis_m[0, 0])
    assert below_top / INCH == pytest.approx(5.03125, rel=1e-9)
    bending = float(made.bending[0, 0])
    assert bending == pytest.approx((1.5e6 * 171.0 + 30e6 * 3.01) * PSI * INCH**4, rel=1e-3)
    assert bending == pytest.approx(995556.641, rel=1e-8)
    per_inch = 6779.089742 / bending * INCH
    heights = {"wood top": (-5.03125, 1.5e6, -1305), "wood foot": (0.96875, 1.5e6, 251.4),
               "steel top": (0.96875, 30e6, 5027), "steel foot": (1.46875, 30e6, 7622)}  # fmt: skip
    for distance, modulus_psi, stress_psi in heights.values():
        assert per_inch * distance * modulus_psi == pytest.approx(stress_psi, rel=1e-3)


def test_aluminium_with_a_ceramic_layer():
    """Transformed section (any mechanics-of-materials text), and the closed form for two layers of
    Roark & Young, bimetallic beams (from memory): K1 = 4 + 6 r + 4 r^2 + n r^3 + 1/(n r)."""
    e_a, e_b, t_a, t_b, b = 1 / 16.4e-12, 70e9, 0.0005, 0.002, 0.02
    made = section_of(
        strip(0.3, b, [("al", t_b), ("cer", t_a)]), [material("al", e_b, 2700), material("cer", e_a, 7750)]
    )
    assert float(made.axial[0, 0]) == pytest.approx(3409756.098, rel=1e-9)
    assert float(made.neutral_axis_m[0, 0]) == pytest.approx(0.001223533619, rel=1e-9)
    r, n = t_a / t_b, e_a / e_b
    k1 = 4 + 6 * r + 4 * r**2 + n * r**3 + 1 / (n * r)
    assert k1 == pytest.approx(10.35561063, rel=1e-9)
    closed = b * t_b**3 * t_a * e_a * e_b * k1 / (12 * (t_a * e_a + t_b * e_b))
    assert float(made.bending[0, 0]) == pytest.approx(closed, rel=1e-12)
    assert closed == pytest.approx(1.728404253, rel=1e-9)


@pytest.mark.parametrize(
    ("m", "n", "curvature"), [(1.0, 1.0, 1.5), (0.5, 2.0, 1.459459459), (0.25, 0.871, 0.9052695193)]
)
def test_bimetal_curvature(m, n, curvature):
    """Timoshenko S. 1925, Analysis of bi-metal thermostats, J. Opt. Soc. Am. 11, 233-255, eq. (4):
    free-strain difference 1e-3, total thickness 1 mm; m = t1/t2, n = E1/E2. Here the free strain is
    d31 V/t_p of a ceramic over the whole span. Timoshenko has no field inside the layer, so the
    permittivity is made large enough that its linear part stiffens nothing."""
    t1, t2, span, e2 = 1e-3 * m / (1 + m), 1e-3 / (1 + m), 0.1, 70e9
    plate = package(ceramic(s11e=1 / (n * e2), d31=-1e-10, eps_r=1e12), span, 0.01, t1)
    base = strip(span, 0.01, [("base", t2)])
    beam = with_patch(base, [("base", e2, 2700.0)], plate, place(plate, 0.0))
    volts = 1e-3 * t1 / 1e-10
    theta = np.asarray(beam.group_theta_rows)[0]
    slope = volts * float(theta @ np.asarray(beam.slope_row(span)))
    assert abs(slope) / span == pytest.approx(curvature, rel=1e-8)


def test_pieces_side_by_side():
    """Two steel edges of 2 mm beside a core share one height: EI is the sum of E b t^3/12."""
    layers = [("core", 0.01, (Piece("steel", 0.002, count=2), Piece("core")))]
    made = section_of(strip(1.0, 0.1, layers), [material("core", 9e9, 420), material("steel", 200e9, 7850)])
    expected = (9e9 * 0.096 + 200e9 * 0.004) * 0.01**3 / 12
    assert float(made.bending[0, 0]) == pytest.approx(expected, rel=1e-12)
    assert float(made.mass[0, 0]) == pytest.approx((420 * 0.096 + 7850 * 0.004) * 0.01, rel=1e-12)
