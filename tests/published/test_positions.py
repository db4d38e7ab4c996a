"""Where a thin patch couples best on a uniform cantilever.

Thin limit: stiffness and mass of the patch do not count, so K_n^2 = (g^2/(C' EI)) J_n with
J_n = Delta_n^2/(l lambda_n^4), Delta_n the difference of the slope of mode n between the ends (tip
value 2). Problem of Ducarne J., Thomas O. & Deue J.-F. 2012, J. Sound Vib. 331, 3286-3303 (from
memory; their tables for a finite thickness could not be seen, the thin limit is worked out here).
"""

import mpmath as mp
import numpy as np
import pytest

from tests.published.build import EPS0, UNIT, ceramic, package, place, shape, unit_beam, with_patch

LAMBDA = [1.875104069, 4.694091133, 7.854757438, 10.99554073, 14.13716839]
T = 1e-6
D31, S11, EPS_R = 1e-3, 1e3, 1e9
"""A patch a millionth as thick as the beam, of weak coupling: nothing but its slope difference counts."""


def thin_patch(start: float, length: float):
    made = ceramic(s11e=S11, d31=D31, eps_r=EPS_R, rho=1e-3)
    plate = package(made, length, 1.0, T)
    return with_patch(unit_beam(), [UNIT], plate, place(plate, start))


def slope_difference(beam) -> np.ndarray:
    """|Delta_n| = theta_n/g, g = e31 b (h + t_p)/2 per volt."""
    return np.abs(beam.group_theta[:5, 0]) / (D31 / S11 * 0.5)


def figure_of_merit(beam) -> np.ndarray:
    """J_n from K_n^2 and the constants of the patch (EI = 1)."""
    per_length = (EPS_R * EPS0 - D31**2 / S11) / T
    return beam.k2[:5] * per_length / (D31 / S11 * 0.5) ** 2


def exact_slope(mode: int, x: float) -> mp.mpf:
    b = mp.findroot(lambda v: mp.cos(v) * mp.cosh(v) + 1, LAMBDA[mode])
    sigma = (mp.sinh(b) - mp.sin(b)) / (mp.cosh(b) + mp.cos(b))
    return b * (mp.sinh(b * x) + mp.sin(b * x) - sigma * (mp.cosh(b * x) - mp.cos(b * x)))


@pytest.mark.parametrize(
    ("mode", "start", "difference", "merit", "at_root"),
    [(1, 0.0, 0.6548119889, 0.3468420463, 0.6548119889), (2, 0.0, 3.35511908, 0.2318514466, 3.35511908),
     (3, 0.659288, 9.145720676, 0.2197377907, 7.531061084),
     (4, 0.743042, 17.50081225, 0.2095318484, 11.12680777),
     (5, 0.789446, 28.11360743, 0.197871583, 12.73600661)],
)  # fmt: skip
def test_best_place_of_a_short_patch(mode, start, difference, merit, at_root):
    """0.1 L long: modes 1 and 2 at the root, modes 3 to 5 at the outermost curvature antinode."""
    closed = abs(exact_slope(mode - 1, start + 0.1) - exact_slope(mode - 1, start))
    assert float(closed) == pytest.approx(difference, rel=1e-8)
    here = thin_patch(start, 0.1)
    assert slope_difference(here)[mode - 1] == pytest.approx(difference, rel=1e-5)
    assert figure_of_merit(here)[mode - 1] == pytest.approx(merit, rel=1e-5)
    assert slope_difference(thin_patch(0.0, 0.1))[mode - 1] == pytest.approx(at_root, rel=1e-5)
    beside = [thin_patch(x, 0.1) for x in (start - 0.02, start + 0.02) if x >= 0]
    assert all(slope_difference(b)[mode - 1] < difference for b in beside)


@pytest.mark.parametrize(
    ("mode", "starts", "differences"),
    [(2, [0, 0.479733], [3.35511908, 3.146071508]),
     (3, [0, 0.258043, 0.659288], [7.531061084, 7.89212633, 9.145720676]),
     (4, [0, 0.170593, 0.449417, 0.743042], [11.12680777, 15.08947719, 16.25031175, 17.50081225])],
)  # fmt: skip
def test_other_good_places(mode, starts, differences):
    """Every local maximum of the slope difference, the root first."""
    found = [slope_difference(thin_patch(x, 0.1))[mode - 1] for x in starts]
    assert found == pytest.approx(differences, rel=1e-5)


@pytest.mark.parametrize(
    ("mode", "start", "length", "merit", "full_length"),
    [(1, 0.0, 0.510457, 0.8756041603, 0.61307609), (2, 0.28978, 0.518445, 0.659669885, 0.1883003611),
     (3, 0.550791, 0.331679, 0.4644741619, 0.06473223169),
     (4, 0.679985, 0.236145, 0.3293690575, 0.03308689028),
     (5, 0.75107, 0.183694, 0.2562564164, 0.02001399882)],
)  # fmt: skip
def test_best_place_and_length_for_one_mode(mode, start, length, merit, full_length):
    """The best patch spans the outermost strain lobe; over the full length J equals the effective
    modal mass fraction 4 sigma^2/lambda^2."""
    assert figure_of_merit(thin_patch(start, length))[mode - 1] == pytest.approx(merit, rel=1e-5)
    for change in (-0.03, 0.03):
        assert figure_of_merit(thin_patch(start, length + change))[mode - 1] < merit
    assert figure_of_merit(thin_patch(0.0, 1.0))[mode - 1] == pytest.approx(full_length, rel=1e-4)


@pytest.mark.parametrize(
    ("mode", "length", "merit"),
    [(1, 0.510457, 0.8756041603), (2, 0.141188, 0.248946424), (3, 0.086089, 0.1516900164),
     (4, 0.061446, 0.1082717471), (5, 0.047793, 0.0842140957)],
)  # fmt: skip
def test_best_length_from_the_root(mode, length, merit):
    assert figure_of_merit(thin_patch(0.0, length))[mode - 1] == pytest.approx(merit, rel=1e-5)


def test_displacement_nodes():
    """0.7834; 0.5035, 0.8677; 0.3583, 0.6441, 0.9056 (Blevins 1979; Rao), to eight digits."""
    nodes = {2: [0.7834445505], 3: [0.5035478734, 0.8676775916], 4: [0.3583375178, 0.6440879382, 0.905564007]}
    beam = thin_patch(0.0, 0.1)
    for mode, places in nodes.items():
        values = shape(beam, beam.deflection_row(np.array(places)))[mode - 1]
        slopes = shape(beam, beam.slope_row(np.array(places)))[mode - 1]
        assert values / slopes == pytest.approx(np.zeros(len(places)), abs=1e-6)
