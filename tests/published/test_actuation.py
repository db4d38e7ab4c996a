"""What a voltage bends, what a force charges, how far in a bond lets the ceramic work.

Structures are driven statically through the exact compliance r . s of two functionals. The
papers take the field uniform through the ceramic; our model lets it vary (which stiffens a thick
ceramic by up to 1 %). Where a paper's mechanics are checked the permittivity is therefore made
large enough that the varying part stiffens nothing (`STILL`); where its capacitance is checked
the difference is stated.
"""

import numpy as np
import pytest

from core.project.patch import Bond
from tests.published.build import (
    EPS0,
    ceramic,
    group,
    package,
    place,
    project,
    solved,
    strip,
    with_patch,
)

STILL = 1e12
E_C, D31 = 1 / 16.4e-12, 171e-12
AL = ("al", 70e9, 2700.0)
BASE = strip(0.3, 0.02, [("al", 0.002)])


def charge_row(beam):
    return np.asarray(beam.group_theta_rows)[0]


def tip_deflection_per_volt(beam, span):
    """Static w(L)/V: the charge row against the deflection row (K w = -theta V)."""
    return -float(charge_row(beam) @ np.asarray(beam.deflection_row(span)))


def tip_slope_per_volt(beam, span):
    return -float(charge_row(beam) @ np.asarray(beam.slope_row(span)))


def patched(face="both", eps_r=STILL, polarity=1):
    """Aluminium 300 x 20 x 2 mm, Type II 50 x 20 x 0.5 mm from 10 mm, perfect bond."""
    plate = package(ceramic(d31=-D31, eps_r=eps_r), 0.05, 0.02, 0.0005)
    return with_patch(BASE, [AL], plate, place(plate, 0.01, face=face), polarity)


def test_patch_pair_static():
    """Crawley E.F. & Anderson E.H. 1990, J. Intell. Mater. Syst. Struct. 1, 4-25, Euler-Bernoulli
    model: M = E_c b d31 V (t_B + t_c), EI with both ceramics, w(L) = kappa l (L - mid-point)."""
    ei = 70e9 * 0.02 * 0.002**3 / 12 + 2 * E_C * 0.02 * (0.0005**3 / 12 + 0.0005 * 0.00125**2)
    assert ei == pytest.approx(2.864227642, rel=1e-9)
    curvature = E_C * 0.02 * D31 * 100 * 0.0025 / ei
    assert curvature == pytest.approx(0.01820181663, rel=1e-9)
    beam = patched()
    assert abs(100 * tip_deflection_per_volt(beam, 0.3)) == pytest.approx(0.0002411740704, rel=1e-8)
    assert abs(100 * tip_slope_per_volt(beam, 0.3)) == pytest.approx(0.0009100908317, rel=1e-8)


def test_single_patch_static():
    """The same beam with the top patch alone; curvature equals Timoshenko 1925 for a bimetal."""
    beam = patched("top")
    assert abs(100 * tip_deflection_per_volt(beam, 0.3)) == pytest.approx(0.000164095828, rel=1e-8)


def test_voltage_along_poling_lifts_the_tip():
    """Poled along +z on the top face, +V along poling: d31 < 0 shortens the top, the tip rises."""
    assert tip_deflection_per_volt(patched("top"), 0.3) > 0
    assert tip_deflection_per_volt(patched("top", polarity=-1), 0.3) < 0


def test_wrongly_wired_pair_does_not_bend():
    plate = package(ceramic(d31=-D31), 0.05, 0.02, 0.0005)
    patch = place(plate, 0.01, face="both", pair_bending=False)
    beam = with_patch(BASE, [AL], plate, patch)
    assert abs(tip_deflection_per_volt(beam, 0.3)) < 1e-12 * abs(tip_deflection_per_volt(patched(), 0.3))


def test_charge_per_force_is_deflection_per_volt():
    """Reciprocity, and the pair as a sensor: 0.1 N at the tip gives 2.411740704e-07 C (elementary)."""
    beam = patched()
    charge = 0.1 * float(charge_row(beam) @ np.asarray(beam.deflection_row(0.3)))
    assert abs(charge) == pytest.approx(2.411740704e-07, rel=1e-8)


def test_sensor_capacitance_and_voltage():
    """Blocked and free capacitance of the pair in parallel, and the voltage of 0.1 N (elementary),
    printed with a uniform field. The varying field stiffens the patch by 0.12 %: the blocked
    capacitance agrees exactly, what bending adds to it and the voltage to that."""
    beam = patched(eps_r=1700.0)
    blocked, free = beam.group_blocked_f[0, 0], beam.group_free_f[0, 0]
    assert blocked == pytest.approx(5.307652591e-08, rel=1e-8)
    assert free == pytest.approx(5.782120677e-08, rel=2e-4)
    volts = 0.1 * float(charge_row(beam) @ np.asarray(beam.deflection_row(0.3))) / free
    assert abs(volts) == pytest.approx(4.171031424, rel=2e-3)


def bimorph(h, span, width, wiring, *, s11e, d31, eps_r, rho=7750.0):
    """Two ceramic layers with next to nothing between, clamped at the root."""
    made = package(ceramic(s11e=s11e, d31=d31, eps_r=eps_r, rho=rho), span, width, h)
    patches = [place(made, 0.0, id="up"), place(made, 0.0, face="underside", id="down")]
    nothing = strip(span, width, [("air", 1e-9 * h)])
    wired = group(("up", 1), ("down", -1), wiring=wiring)
    return solved(project(nothing, [("air", 1.0, 1e-9)], [made], patches, [wired]))


SMITS = dict(h=0.00025, span=0.02, width=0.005, s11e=16.4e-12, d31=-D31)


@pytest.mark.parametrize(
    ("wiring", "deflection", "charge"),
    [("series", 2.052e-05, 4.104e-09), ("parallel", 4.104e-05, 8.208e-09)],
)
def test_bimorph_bender(wiring, deflection, charge):
    """Smits J.G., Dalke S.I. & Cooney T.K. 1991, The constituent equations of piezoelectric bimorphs,
    Sensors and Actuators A 28, 41-61: 3 d31 L^2 V/(8 h^2) in series, twice that in parallel; 50 V and
    0.01 N (citation from memory; re-derived by layer integration)."""
    beam = bimorph(**SMITS, eps_r=STILL, wiring=wiring)
    assert pytest.approx(2.052e-05, rel=1e-9) == 3 * D31 * 0.02**2 * 50 / (8 * 0.00025**2)
    assert abs(50 * tip_deflection_per_volt(beam, 0.02)) == pytest.approx(deflection, rel=1e-7)
    assert abs(50 * tip_slope_per_volt(beam, 0.02)) == pytest.approx(2 * deflection / 0.02, rel=1e-7)
    row = np.asarray(beam.deflection_row(0.02))
    assert abs(0.01 * float(charge_row(beam) @ row)) == pytest.approx(charge, rel=1e-7)
    assert 0.01 * float(row @ row) == pytest.approx(8.3968e-06, rel=1e-7)
    assert beam.omega_rad_s[0] / (2 * np.pi) == pytest.approx(566.3925062, rel=1e-7)


@pytest.mark.parametrize(
    ("wiring", "capacitance"), [("series", 2.921274466e-09), ("parallel", 1.168509786e-08)]
)
def test_bimorph_capacitance(wiring, capacitance):
    """Smits et al.: eps33T w L/(2 h) (1 - k31^2/4) in series, four times that in parallel, with the
    field uniform in each layer. Letting it vary makes the bender stiffer by the factor
    1 + k^2/(4 (1 - k^2)) and so lowers the part of the capacitance that bending adds."""
    beam = bimorph(**SMITS, eps_r=1700.0, wiring=wiring)
    k2 = D31**2 * E_C / (1700 * EPS0)
    plates = (0.25 if wiring == "series" else 1.0) * 2 * 1700 * EPS0 * 0.005 * 0.02 / 0.00025
    assert plates * (1 - k2 / 4) == pytest.approx(capacitance, rel=1e-9)
    blocked = plates * (1 - k2)
    stiffer = 1 + k2 / (4 * (1 - k2))
    assert beam.group_blocked_f[0, 0] == pytest.approx(blocked, rel=1e-7)
    assert beam.group_free_f[0, 0] == pytest.approx(blocked + (capacitance - blocked) / stiffer, rel=1e-7)


def test_polymer_bimorph():
    """PVDF bimorph of Wang Z., Chen S. & Han W. 1997, Finite Elements in Analysis and Design 26, 303-314,
    Tables 1-3 (confirmed; after Tzou 1989): deflection at 1 V, 20 to 100 mm. w = 3 e31 V x^2/(8 E t^2)
    with t = 0.5 mm, one layer; the printed 1.224e-07 at 60 mm has two digits swapped (1.242e-07)."""
    beam = bimorph(0.0005, 0.1, 0.005, "series", s11e=1 / 2e9, d31=-0.046 / 2e9, eps_r=STILL, rho=1800.0)
    x = np.array([0.02, 0.04, 0.06, 0.08, 0.1])
    found = np.abs(np.asarray(beam.deflection_row(x)) @ charge_row(beam))
    assert found == pytest.approx([1.38e-08, 5.52e-08, 1.242e-07, 2.208e-07, 3.45e-07], rel=1e-7)
    assert found == pytest.approx([1.4e-08, 5.52e-08, 1.242e-07, 2.208e-07, 3.451e-07], rel=0.02)


@pytest.mark.parametrize(
    ("thickness_ratio", "printed"),
    [(2.0, 0.5522827688), (4.0, 0.5322168606), (10.0, 0.3518123667), (20.0, 0.2129817444)],
)
def test_surface_strain_of_a_driven_pair(thickness_ratio, printed):
    """Crawley E.F. & de Luis J. 1987, AIAA J. 25, 1373-1385; Euler-Bernoulli form of Crawley & Anderson
    1990: kappa t_B/(2 Lambda) = 6 (1 + 1/T)/(6 + psi + 12/T + 8/T^2), psi = E_B T/E_c, T = t_B/t_c
    (formula from memory, equal to a laminate moment balance)."""
    t, psi = thickness_ratio, 1.148 * thickness_ratio
    assert 6 * (1 + 1 / t) / (6 + psi + 12 / t + 8 / t**2) == pytest.approx(printed, rel=1e-9)
    plate = package(ceramic(s11e=1.148 / 70e9, d31=-D31, eps_r=STILL), 0.1, 0.02, 0.002 / t)
    beam = with_patch(strip(0.1, 0.02, [("al", 0.002)]), [AL], plate, place(plate, 0.0, face="both"))
    free_strain = D31 / (0.002 / t)
    strain = abs(tip_slope_per_volt(beam, 0.1)) / 0.1 * 0.001
    assert strain / free_strain == pytest.approx(printed, rel=1e-8)


THIN = 1e-3


@pytest.mark.parametrize(
    ("face", "alpha", "length"),
    [("both", 6.0, 0.0008129428842), ("top", 4.0, None)],
    ids=["pair", "one face"],
)
def test_shear_lag_length(face, alpha, length):
    """Crawley & de Luis 1987: Gamma^2 = (G/t_b)[1/(E_c t_c) + alpha/(E_B t_B)], alpha = 6 for a bending
    pair (lost length 0.81 mm per end with 50 um of 1 GPa adhesive), 4 for a patch on one face. Their
    pin-force model leaves the thickness of ceramic and bond out: both are thinned here a thousandfold
    at the same E_c t_c and G/t_b."""
    compliance = 5e-5 / 1e9
    printed = (1 / compliance * (1 / (E_C * 0.0005) + alpha / (70e9 * 0.002))) ** -0.5
    if length:
        assert printed == pytest.approx(length, rel=1e-8)
    bond = Bond("no skin", 5e-5 * THIN, 1e9 * THIN)
    plate = package(ceramic(s11e=16.4e-12 * THIN, d31=-D31), 0.05, 0.02, 0.0005 * THIN, bond=bond)
    beam = with_patch(BASE, [AL], plate, place(plate, 0.1, face=face))
    assert beam.plates[0].x_a_eff_m - 0.1 == pytest.approx(printed, rel=1e-3)
    assert 0.15 - beam.plates[0].x_b_eff_m == pytest.approx(printed, rel=1e-3)


def test_ceramic_end_on_the_clamp_cannot_slide():
    """No shear lag where the section is held (a clamped end); the far end keeps its own."""
    bond = Bond("no skin", 5e-5, 1e9)
    plate = package(ceramic(d31=-D31), 0.05, 0.02, 0.0005, bond=bond)
    beam = with_patch(BASE, [AL], plate, place(plate, 0.0))
    assert beam.plates[0].x_a_eff_m == 0.0
    assert beam.plates[0].x_b_eff_m < 0.05 - 5e-4
