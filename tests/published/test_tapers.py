"""Tapered and stepped cantilevers: Omega = omega L^2 sqrt(rho A_0/(E I_0)), 0 at the root.

Citations from memory unless said otherwise. Wedge and cone are checked here against their
Bessel equations, stepped beams against the exact transfer matrix.
"""

import mpmath as mp
import numpy as np
import pytest

from core.project.structure import Piece
from tests.published.build import bare, lambdas, material, strip, unit_beam
from tests.reference.transfer_matrix import Uniform, frequencies

WEDGE = [5.315099424, 15.20716795, 30.01980915, 49.76334464, 74.44002865]
CONE = [8.719258855, 21.14566239, 38.45377123, 60.68013878, 87.83399129]
TRIANGLE = [7.156463357, 31.04130386, 75.48660285, 139.6079834, 223.4854514]


def omegas(structure, count):
    return bare(structure).omega_rad_s[:count]


def test_bessel_equations_of_wedge_and_cone():
    """Kirchhoff 1879: J1 I2 + J2 I1 = 0 and J2 I3 + J3 I2 = 0 at z, Omega = z^2/4."""
    for printed, k in ((WEDGE, 1), (CONE, 2)):
        for value in printed:
            z = mp.findroot(
                lambda z, k=k: mp.besselj(k, z) * mp.besseli(k + 1, z)
                + mp.besselj(k + 1, z) * mp.besseli(k, z),
                2 * np.sqrt(value),
            )
            assert float(z**2 / 4) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("width", "depth", "printed"),
    [(1.0, (1.0, 0.0), WEDGE), ((1.0, 0.0), (1.0, 0.0), CONE), ((1.0, 0.0), 1.0, TRIANGLE)],
    ids=["wedge", "cone", "triangle"],
)
def test_sharp_tips(width, depth, printed):
    """Naguleswaran S. 1994, J. Sound Vib. 172, 289-304 (wedge 5.315, 15.207, 30.02; cone 8.719,
    21.146, 38.454); the triangle after Mabie & Rogers 1964 (7.156)."""
    assert omegas(unit_beam(width=width, depth=depth), 5) == pytest.approx(printed, rel=1e-6)


DEPTH = {
    0.1: [3.55870207, 21.3381028, 58.97990492], 0.2: [3.608274873, 20.62101759, 56.19227837],
    0.3: [3.666749459, 19.88060639, 53.32219886], 0.4: [3.737076132, 19.11381276, 50.35365461],
    0.5: [3.823784847, 18.31726091, 47.26482701], 0.6: [3.93427749, 17.48785515, 44.02480936],
    0.7: [4.081712378, 16.62524993, 40.58787757], 0.8: [4.292494539, 15.74270017, 36.88455326],
    0.9: [4.630723862, 14.93079267, 32.83312118],
}  # fmt: skip
DOUBLE = {
    0.1: [3.673701358, 21.55025326, 59.18863717], 0.2: [3.855116795, 21.05674542, 56.63034506],
    0.3: [4.066932882, 20.55550669, 54.01518696], 0.4: [4.318778559, 20.04998385, 51.33463262],
    0.5: [4.625150252, 19.54761318, 48.57889933], 0.6: [5.009033317, 19.06486084, 45.73836133],
    0.7: [5.5092608, 18.64116192, 42.81040412], 0.8: [6.196391007, 18.38546739, 39.83362986],
    0.9: [7.204871649, 18.68016121, 37.12383466],
}  # fmt: skip
WIDTH = {
    0.1: [3.631027692, 22.25402989, 61.90962817], 0.2: [3.762859068, 22.50181395, 62.15251626],
    0.3: [3.916033858, 22.78595809, 62.4361206], 0.4: [4.096976382, 23.11864282, 62.77630584],
    0.5: [4.315170298, 23.51925662, 63.19919642], 0.6: [4.585312215, 24.02108015, 63.75146966],
    0.7: [4.931641982, 24.68727964, 64.52662733], 0.8: [5.397588334, 25.65582731, 65.74696073],
    0.9: [6.070386791, 27.29894404, 68.114496],
}  # fmt: skip


@pytest.mark.parametrize("c", DEPTH)
def test_tapers(c):
    """Downs B. 1977, J. Appl. Mech. 44, 737-742; Mabie & Rogers 1972, J. Acoust. Soc. Am. 51,
    1771-1774: depth taper, depth and width taper, width taper by the factor 1 - c at the tip."""
    ends = (1.0, 1.0 - c)
    assert omegas(unit_beam(depth=ends), 3) == pytest.approx(DEPTH[c], rel=2e-7)
    assert omegas(unit_beam(depth=ends, width=ends), 3) == pytest.approx(DOUBLE[c], rel=2e-7)
    assert omegas(unit_beam(width=ends), 3) == pytest.approx(WIDTH[c], rel=2e-7)


@pytest.mark.parametrize(
    ("width_ratio", "printed", "converged"),
    [(4, [23.289, 73.9, 165.23, 299.7, 478.1],
      [23.29226349, 73.91881909, 165.2853703, 299.7798845, 478.1800891]),
     (5, [24.308, 75.56, 167.21, 301.9, 480.4],
      [24.31123115, 75.57790701, 167.2519661, 301.9336968, 480.4585337])],
)  # fmt: skip
def test_double_tapered_sheet(width_ratio, printed, converged):
    """Guide VPCS sheet SDLL09/89 after Mabie H.H. & Rogers C.B. 1972, J. Acoust. Soc. Am. 51,
    1771-1774 (confirmed): f = lambda/(2 pi) (h1/L^2) sqrt(E/(12 rho)), h1 the tip's depth. The
    printed values are rounded low by up to 0.034 %; the converged ones are ours."""
    found = 4 * omegas(unit_beam(depth=(1.0, 0.25), width=(1.0, 1.0 / width_ratio)), 5)
    assert found == pytest.approx(printed, rel=1e-3)
    assert found == pytest.approx(converged, rel=2e-7)


STEPPED = [
    ("depth halved", [(0.5, 1, 1), (0.5, 1 / 8, 1 / 2)],
     [2.044784846, 3.855897515, 6.640445669, 9.042719641]),
    ("bar 1 to 0.5", [(0.5, 1, 1), (0.5, 1 / 16, 1 / 4)],
     [2.251660896, 3.84069813, 6.639322662, 9.123979383]),
    ("bar 1 to 0.8", [(0.5, 1, 1), (0.5, 0.8**4, 0.64)],
     [2.046608528, 4.454333465, 7.469141087, 10.3077392]),
    ("depth doubled", [(0.5, 1, 1), (0.5, 8, 2)],
     [1.605817704, 4.879792824, 9.421489241, 12.82486212]),
    ("width halved", [(0.5, 1, 1), (0.5, 0.5, 0.5)],
     [2.177340056, 4.727123973, 7.894855366, 10.93258043]),
    ("thick root", [(0.3, 1.5, 1.2), (0.7, 1, 1)],
     [2.019607963, 4.821876671, 7.991666269, 11.20596367]),
    ("thick band", [(0.1, 1, 1), (0.3, 1.8, 1.3), (0.6, 1, 1)],
     [2.004326524, 4.695084141, 7.964063204, 11.16207436]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "steps", "printed"), STEPPED, ids=[s[0] for s in STEPPED])
def test_stepped_beams(name, steps, printed):
    """Pieces (length, EI, m): problem of Jang S.K. & Bert C.W. 1989, J. Sound Vib. 130, 342-346;
    numbers from the exact transfer matrix."""
    roots = frequencies([Uniform(*step) for step in steps], np.square(printed))
    assert [float(mp.sqrt(r)) for r in roots] == pytest.approx(printed, rel=1e-9)
    ends = np.concatenate([[0.0], np.cumsum([s[0] for s in steps])])
    ends[-1] = 1.0
    pieces = tuple(
        Piece(f"step {i}", 1.0, start_m=float(ends[i]), end_m=float(ends[i + 1])) for i in range(len(steps))
    )
    materials = [material(f"step {i}", 12.0 * ei, m) for i, (_, ei, m) in enumerate(steps)]
    assert lambdas(strip(1.0, 1.0, [("step", 1.0, pieces)]), 4, materials) == pytest.approx(printed, rel=1e-7)


def test_stepped_depth_as_two_layers():
    """The first stepped beam again, as a lay-up whose upper half stops at mid-span."""
    layers = [("unit", 0.5), ("unit", 0.5, (Piece("unit", end_m=0.5),))]
    assert lambdas(strip(1.0, 1.0, layers), 4) == pytest.approx(STEPPED[0][2], rel=1e-7)
