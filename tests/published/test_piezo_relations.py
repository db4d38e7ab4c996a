"""Coefficients of the four Navy types, free across by themselves (plain) and with both strains held."""

import numpy as np
import pytest

from core.piezo.ceramic import coefficients
from tests.published.build import EPS0, ceramic

TYPES = {
    # s11E, s12E [1e-12], d31 [1e-12], eps_r: typical sets, Jaffe, Cook & Jaffe 1971 / Berlincourt,
    # Curran & Jaffe 1964, under the designations of MIL-STD-1376B (from memory).
    "I": (12.3, -4.05, -123, 1300),
    "II": (16.4, -5.74, -171, 1700),
    "III": (11.5, -3.7, -97, 1000),
    "VI": (16.5, -4.78, -274, 3400),
}
DERIVED = {
    # E_p, k31, e31, eps33S; e31, eps33S with both strains held
    "I": (8.130081301e10, 0.3268936728, -10.0, 1.028044416e-08, -14.90909091, 7.842807793e-09),
    "II": (6.097560976e10, 0.3441718615, -10.42682927, 1.326913148e-08, -16.0412758, 9.566002959e-09),
    "III": (8.695652174e10, 0.3039824067, -8.434782609, 8.0360139e-09, -12.43589744, 6.44162371e-09),
    "VI": (6.060606061e10, 0.3887718106, -16.60606061, 2.555417796e-08, -23.37883959, 1.729263447e-08),
}
PRINTED_K31 = {"I": 0.33, "II": 0.34, "III": 0.30, "VI": 0.39}
PRINTED_KP = {"I": 0.58, "II": 0.60, "III": 0.51, "VI": 0.65}


def of(name: str, level: str):
    s11, s12, d31, eps = TYPES[name]
    made = ceramic(s11e=s11 * 1e-12, d31=d31 * 1e-12, eps_r=eps, nu=-s12 / s11)
    return coefficients(made, level=level, temperature_c=None)


@pytest.mark.parametrize("name", TYPES)
def test_transverse_coefficients(name):
    """IEEE Std 176-1987: e31 = d31/s11E, eps33S = eps33T (1 - k31^2), k31^2 = d31^2/(s11E eps33T).
    Erturk & Inman 2011, Piezoelectric Energy Harvesting, give -10.4 C/m^2 and 13.3 nF/m for Type
    II, -16.6 C/m^2 and 25.55 nF/m for Type VI (from memory)."""
    found, (modulus, k31, e31, eps, _, _) = of(name, "plain"), DERIVED[name]
    assert found.modulus_pa == pytest.approx(modulus, rel=1e-9)
    assert np.sqrt(found.k31_squared) == pytest.approx(k31, rel=1e-8)
    assert found.e_x_c_m2 == pytest.approx(e31, rel=1e-9)
    assert found.permittivity_blocked == pytest.approx(eps, rel=1e-8)


@pytest.mark.parametrize("name", TYPES)
def test_coefficients_with_both_strains_held(name):
    """Both strains held: e31 = d31/(s11E (1 - nu)), eps33S = eps33T - 2 d31^2/(s11E (1 - nu)), plane stress
    E = 1/(s11E (1 - nu^2)) (IEEE Std 176-1987)."""
    s11, s12, _, _ = TYPES[name]
    found, (*_, e31, eps) = of(name, "section"), DERIVED[name]
    assert found.e_x_c_m2 == pytest.approx(e31, rel=1e-8)
    assert found.permittivity_blocked == pytest.approx(eps, rel=1e-8)
    assert found.q_x_pa == pytest.approx(1 / (s11 * 1e-12 * (1 - (s12 / s11) ** 2)), rel=1e-12)


@pytest.mark.parametrize("name", TYPES)
def test_sets_agree_with_their_printed_couplings(name):
    """k31 and kp = k31 sqrt(2/(1 - nu)) (IEEE Std 176) against the couplings printed with the sets."""
    k31 = np.sqrt(of(name, "plain").k31_squared)
    s11, s12, _, _ = TYPES[name]
    assert k31 == pytest.approx(PRINTED_K31[name], rel=0.02)
    assert k31 * np.sqrt(2 / (1 + s12 / s11)) == pytest.approx(PRINTED_KP[name], rel=0.03)


def test_polymer_film():
    """Typical PVDF: d31 23 pC/N, E 3 GPa, eps_r 12 give k31 about 0.12 and g31 about 0.216 V m/N
    (widely printed, from memory)."""
    made = ceramic(s11e=1 / 3e9, d31=23e-12, eps_r=12.0)
    found = coefficients(made, level="plain", temperature_c=None)
    assert np.sqrt(found.k31_squared) == pytest.approx(0.1222147083, rel=1e-8)
    assert pytest.approx(0.2164700712, rel=1e-9) == 23e-12 / (12 * EPS0)


def test_bar_resonator_says_the_same_k31():
    """IEEE Std 176-1987, measurement of k31: k^2/(1 - k^2) = (pi/2)(fp/fs) tan((pi/2)(fp - fs)/fs);
    Type II gives fp/fs = 1.051669218."""
    ratio = 1.051669218
    measured = np.pi / 2 * ratio * np.tan(np.pi / 2 * (ratio - 1))
    k2 = of("II", "section").k31_squared
    assert measured == pytest.approx(k2 / (1 - k2), rel=1e-7)
