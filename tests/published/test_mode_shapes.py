"""Mode shapes, curvature and modal integrals of the uniform cantilever.

Values: Young D. & Felgar R.P. 1949, Tables of Characteristic Functions Representing Normal
Modes of Vibration of a Beam, Univ. of Texas Publication 4913 (citation from memory; each number
recomputed here from the closed form in 30 digits).
"""

import mpmath as mp
import numpy as np
import pytest

from tests.published.build import bare, shape, unit_beam

X = np.linspace(0.0, 1.0, 11)
SHAPE = [
    [0, 0.03354699962, 0.1277418627, 0.2729658738, 0.4597687501, 0.6790462257, 0.9222691075,
     1.181752596, 1.450955383, 1.724799087, 2],
    [0, 0.1852585963, 0.6021099811, 1.052265822, 1.366938896, 1.427331664, 1.178951877,
     0.6341035976, -0.1400717251, -1.047503559, -2],
    [0, 0.4561378033, 1.209011937, 1.512478727, 1.051849259, 0.03937518964, -0.947530483,
     -1.314851849, -0.789747354, 0.4570151853, 2],
    [0, 0.7700161702, 1.507580516, 0.8677390545, -0.6311190918, -1.414237288, -0.6529899506,
     0.7947812324, 1.286075298, 0.1040666453, -2],
    [0, 1.07449294, 1.319249581, -0.422573928, -1.39309373, 0.001702874217, 1.400508802,
     0.4514567072, -1.200896172, -0.5880122792, 2],
]  # fmt: skip
LAMBDA = [1.875104069, 4.694091133, 7.854757438, 10.99554073, 14.13716839]
SIGMA = [0.7340955138, 1.018467319, 0.9992244965, 1.000033553, 0.9999985501]
MASS_FRACTION = [0.61307609, 0.1883003611, 0.06473223169, 0.03308689028, 0.02001399882]


@pytest.fixture(scope="module")
def cantilever():
    return bare(unit_beam())


def exact(mode: int, x: float, derivative: int = 0) -> float:
    """phi_n (or its curvature over beta^2) from the closed form, tip value +/-2."""
    with mp.workdps(30):
        b = mp.findroot(lambda v: mp.cos(v) * mp.cosh(v) + 1, LAMBDA[mode])
        sigma = (mp.sinh(b) - mp.sin(b)) / (mp.cosh(b) + mp.cos(b))
        sign = -1 if derivative == 0 else 1
        return float(mp.cosh(b * x) + sign * mp.cos(b * x) - sigma * (mp.sinh(b * x) + sign * mp.sin(b * x)))


def sign(values: np.ndarray) -> np.ndarray:
    """Turns Young & Felgar's sign (root curvature up) into ours (tip deflection up)."""
    return np.array([1, -1, 1, -1, 1])[:, None] * values


@pytest.mark.parametrize("mode", range(5))
def test_printed_shapes_follow_the_closed_form(mode):
    assert [exact(mode, x) for x in X] == pytest.approx(SHAPE[mode], abs=1e-8)


def test_shapes_are_mass_normalised_with_the_tip_up(cantilever):
    found = shape(cantilever, cantilever.deflection_row(X))[:5]
    assert found == pytest.approx(sign(np.array(SHAPE)), abs=2e-7)


def test_curvature_is_the_reflected_shape(cantilever):
    """phi''(x)/beta^2 = -/+ phi(L - x)."""
    found = shape(cantilever, cantilever.curvature_row(X))[:5] / np.square(LAMBDA)[:, None]
    assert found == pytest.approx(np.array(SHAPE)[:, ::-1], abs=5e-5)


def test_tip_slope(cantilever):
    """phi'(L)/beta = 2 sigma (-1)^(n+1) in Young & Felgar's sign."""
    found = shape(cantilever, cantilever.slope_row(1.0))[:5] / LAMBDA
    assert found == pytest.approx(2 * np.array(SIGMA), rel=1e-6)


def test_effective_modal_mass(cantilever):
    """Gamma_n = 2 sigma_n/lambda_n; the familiar 61.3, 18.8, 6.5, 3.3, 2.0 % of the mass."""
    found = shape(cantilever, cantilever.base_row())[:5]
    assert found**2 == pytest.approx(MASS_FRACTION, rel=1e-6)
    assert (2 * np.array(SIGMA) / LAMBDA) ** 2 == pytest.approx(MASS_FRACTION, rel=1e-8)


def test_base_excitation_factor_of_the_first_mode(cantilever):
    """Erturk A. & Inman D.J. 2008, J. Intell. Mater. Syst. Struct. 19, 1311-1325: 1.566."""
    participation = shape(cantilever, cantilever.base_row())[0]
    tip = shape(cantilever, cantilever.deflection_row(1.0))[0]
    assert abs(participation * tip) == pytest.approx(1.565983512, rel=1e-6)


def test_static_tip_deflection_and_its_modal_shares(cantilever):
    """F L^3/(3 EI) shared as 12/lambda_n^4 (standard modal expansion)."""
    row = np.asarray(cantilever.deflection_row(1.0))
    compliance = row @ row
    assert compliance == pytest.approx(1 / 3, rel=1e-10)
    shares = shape(cantilever, row)[:5] ** 2 / cantilever.omega_rad_s[:5] ** 2 / compliance
    printed = [0.9706881801, 0.0247158288, 0.003152463982, 0.0008209465438, 0.000300421854]
    assert shares == pytest.approx(printed, rel=1e-6)


def test_effective_tip_mass_of_the_first_mode(cantilever):
    """A quarter of the beam's mass for the exact first mode (Rao, Mechanical Vibrations)."""
    assert 1 / shape(cantilever, cantilever.deflection_row(1.0))[0] ** 2 == pytest.approx(0.25, rel=1e-7)


@pytest.mark.parametrize(
    ("mode", "nodes"),
    [(2, [0.2165554495]), (3, [0.1323224084, 0.4964521266]),
     (4, [0.09443599305, 0.3559120618, 0.6416624822]),
     (5, [0.07345299801, 0.276776413, 0.5000851738, 0.7212482893])],
)  # fmt: skip
def test_strain_nodes(cantilever, mode, nodes):
    """Curvature zeros; one minus the displacement nodes 0.7834; 0.5035, 0.8677; 0.3583, 0.6441,
    0.9056 of Blevins 1979 (from memory; recomputed from the closed form)."""
    assert [exact(mode - 1, x, 2) for x in nodes] == pytest.approx([0.0] * len(nodes), abs=1e-7)
    here, beside = (
        shape(cantilever, cantilever.curvature_row(np.array(nodes) + step))[mode - 1] for step in (0.0, 1e-3)
    )
    assert here / (beside - here) * 1e-3 == pytest.approx(np.zeros(len(nodes)), abs=1e-6)
