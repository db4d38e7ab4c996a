"""K^2 to 1e-6 (relative) down to 1e-10, and next to slivers, against the exact transfer matrix.

The reference solves short and open circuit in 40 digits and subtracts; nothing is discretised.
"""

import numpy as np
import pytest

from core.project.patch import Bond
from core.project.structure import Piece
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
from tests.reference.transfer_matrix import Joint, Uniform, coupling, frequencies

E, RHO, B, H, SPAN = 70e9, 2700.0, 0.02, 0.002, 0.3
EI_0, M_0 = E * B * H**3 / 12, RHO * B * H
AL = ("al", E, RHO)
S11, T_P, RHO_P = 16.4e-12, 0.00025, 7750.0


def patch_section(d31: float, eps_r: float = 1700.0):
    """EI, m, g, c of the strip with a ceramic on top, perfect bond, field varying in it."""
    e_p = 1 / S11
    a = E * B * H + e_p * B * T_P
    z_n = (E * B * H * H / 2 + e_p * B * T_P * (H + T_P / 2)) / a
    d = E * B * H**3 / 3 + e_p * B * ((H + T_P) ** 3 - H**3) / 3
    e31, eps_s = d31 * e_p, eps_r * EPS0 - d31**2 * e_p
    ei = d - a * z_n**2 + e31**2 / eps_s * B * T_P**3 / 12
    g = e31 * B * (H + T_P / 2 - z_n)
    return ei, M_0 + RHO_P * B * T_P, g, B * eps_s / T_P + (e31 * B) ** 2 / a


PROMISED_TO = 1e-10
"""K^2 below this is held to what the share is of it."""


def chain(x_a, x_b, d31):
    ei, m, g, c = patch_section(d31)
    pieces = [Uniform(x_a, EI_0, M_0)] if x_a > 0 else []
    pieces += [Uniform(x_b - x_a, ei, m, (g,), ((c,),)), Uniform(SPAN - x_b, EI_0, M_0)]
    return pieces


def engine(x_a, length, d31, structure=None):
    plate = package(ceramic(s11e=S11, d31=d31, rho=RHO_P), length, B, T_P)
    return with_patch(structure or strip(SPAN, B, [("al", H)]), [AL], plate, place(plate, x_a))


def check(beam, pieces, modes=8, rel=1e-6, **options):
    exact = coupling(pieces, beam.omega_rad_s[:modes], electrodes=1, **options)
    assert beam.omega_rad_s[:modes] == pytest.approx([float(s) for s, _, _ in exact], rel=1e-6)
    assert beam.k2[:modes] == pytest.approx([float(k) for _, _, k in exact], rel=rel, abs=PROMISED_TO * rel)


@pytest.mark.parametrize("d31", [-171e-12, -171e-14, -15e-15, -1e-18], ids=lambda d: f"d31 {d:g}")
def test_strong_to_hopeless_coupling(d31):
    """K^2 from 1e-2 down to far below 1e-10 keeps its digits."""
    check(engine(0.005, 0.05, d31), chain(0.005, 0.055, d31))


def test_weak_because_it_sits_on_a_strain_node():
    """A patch over the node of mode 2 (x/L = 0.2166) nearly cancels itself there."""
    x = 0.2165554495 * SPAN - 0.025
    beam = engine(x, 0.05, -171e-12)
    assert beam.k2[1] < 1e-5
    check(beam, chain(x, x + 0.05, -171e-12))


@pytest.mark.parametrize("gap", [1e-6, 1e-9, 1e-3])
def test_patch_end_beside_another_boundary(gap):
    """A station (no change of section) lies `gap` inside or outside the patch's ends."""
    for at in (0.055 - gap, 0.055 + gap, 0.005 + gap, 0.005 - gap):
        structure = strip(SPAN, B, [("al", H)], stations=(0.0, at, SPAN))
        check(engine(0.005, 0.05, -171e-12, structure), chain(0.005, 0.055, -171e-12))


@pytest.mark.parametrize("gap", [1e-6, 1e-8])
def test_patch_end_beside_the_clamp(gap):
    check(engine(gap, 0.05, -171e-12), chain(gap, gap + 0.05, -171e-12))


@pytest.mark.parametrize("gap", [1e-6, 1e-8])
def test_patch_end_beside_a_mass(gap):
    """A point mass sits `gap` beyond the patch's tip-side end."""
    structure = strip(SPAN, B, [("al", H)], masses=[(0.055 + gap, 0.01, 1e-6)])
    ei, m, g, c = patch_section(-171e-12)
    pieces = [
        Uniform(0.005, EI_0, M_0), Uniform(0.05, ei, m, (g,), ((c,),)), Uniform(gap, EI_0, M_0),
        Joint(0.01, 1e-6), Uniform(SPAN - 0.055 - gap, EI_0, M_0),
    ]  # fmt: skip
    check(engine(0.005, 0.05, -171e-12, structure), pieces)


@pytest.mark.parametrize("gap", [1e-6, -1e-6])
def test_patch_end_beside_the_end_of_a_layer(gap):
    """A doubler of 0.5 mm ends a micrometre before or after the patch does."""
    end = 0.055 + gap
    layers = [("al", 0.5e-3, (Piece("al", end_m=end),)), ("al", H)]
    beam = engine(0.005, 0.05, -171e-12, strip(SPAN, B, layers))
    thick, thin = H + 0.5e-3, H

    def section(depth, patched):
        e_p, t = 1 / S11, T_P if patched else 0.0
        a = E * B * depth + e_p * B * t
        z = (E * B * depth**2 / 2 + e_p * B * t * (depth + t / 2)) / a
        d = E * B * depth**3 / 3 + e_p * B * ((depth + t) ** 3 - depth**3) / 3
        m = RHO * B * depth + RHO_P * B * t
        if not patched:
            return d - a * z * z, m
        e31, eps_s = -171e-12 * e_p, 1700 * EPS0 - 171e-12**2 * e_p
        ei = d - a * z * z + e31**2 / eps_s * B * t**3 / 12
        return ei, m, (e31 * B * (depth + t / 2 - z),), ((B * eps_s / t + (e31 * B) ** 2 / a,),)

    between = Uniform(abs(gap), *(section(thick, False) if gap > 0 else section(thin, True)))
    pieces = [
        Uniform(0.005, *section(thick, False)), Uniform(min(end, 0.055) - 0.005, *section(thick, True)),
        between, Uniform(SPAN - max(end, 0.055), *section(thin, False)),
    ]  # fmt: skip
    check(beam, pieces)


def test_finite_bond_with_end_zones():
    """Bond and shear-lag ends as pieces of their own: stiffness without ceramic, capacitance free."""
    bond = Bond("glue", 50e-6, 1e9)
    plate = package(ceramic(s11e=S11, rho=RHO_P), 0.05, B, T_P, bond=bond)
    beam = with_patch(strip(SPAN, B, [("al", H)]), [AL, ("glue", 2.7e9, 1200.0)], plate, place(plate, 0.005))
    e_p, t_b, e_g = 1 / S11, 50e-6, 2.7e9
    c_s, c_p = H / 2, H / 2 + t_b + T_P / 2
    lag = (B / (t_b / 1e9) * (1 / (e_p * B * T_P) + 1 / (E * B * H) + c_s * c_p / EI_0)) ** -0.5
    assert beam.plates[0].x_a_eff_m - 0.005 == pytest.approx(lag, rel=1e-9)

    def stack(*layers):
        z = np.cumsum([0.0, *(t for _, t in layers)])
        a = sum(e * B * t for e, t in layers)
        b = sum(e * B * (z[i + 1] ** 2 - z[i] ** 2) / 2 for i, (e, _) in enumerate(layers))
        d = sum(e * B * (z[i + 1] ** 3 - z[i] ** 3) / 3 for i, (e, _) in enumerate(layers))
        return a, b / a, d - b * b / a

    e31, eps_t = -171e-12 * e_p, 1700 * EPS0
    eps_s = eps_t - 171e-12**2 * e_p
    _, _, ei_end = stack((E, H), (e_g, t_b))
    a, z_n, ei = stack((E, H), (e_g, t_b), (e_p, T_P))
    ei += e31**2 / eps_s * B * T_P**3 / 12
    m = M_0 + 1200.0 * B * t_b + RHO_P * B * T_P
    g = e31 * B * (H + t_b + T_P / 2 - z_n)
    end = Uniform(lag, ei_end, m, (0.0,), ((B * eps_t / T_P,),))
    work = Uniform(0.05 - 2 * lag, ei, m, (g,), ((B * eps_s / T_P + (e31 * B) ** 2 / a,),))
    check(beam, [Uniform(0.005, EI_0, M_0), end, work, end, Uniform(SPAN - 0.055, EI_0, M_0)])


def test_two_patches_open_together_and_in_series():
    """Two patches of different length; in series the node between them floats and stiffens the beam."""
    plate = package(ceramic(s11e=S11, rho=RHO_P), 0.04, B, T_P)
    patches = [place(plate, 0.01, id="P1"), place(plate, 0.07, id="P2", length=0.06)]
    chain_2 = _two_electrodes()
    for wiring, rows_sc in (("parallel", "shorted"), ("series", [((1, 1), (0, 0)), ((0, 0), (1, -1))])):
        beam = solved(
            project(strip(SPAN, B, [("al", H)]), [AL], [plate], patches, [group("P1", "P2", wiring=wiring)])
        )
        rows_oc = [((1, -1), (0, 0)), ((0, 0), (1, 1))] if wiring == "parallel" else "open"
        exact_sc = _frequencies(chain_2, beam, rows_sc)
        exact_oc = _frequencies(chain_2, beam, rows_oc)
        assert beam.omega_rad_s[:4] == pytest.approx([float(x) for x in exact_sc], rel=1e-7)
        k2 = [float((o**2 - s**2) / s**2) for s, o in zip(exact_sc, exact_oc, strict=True)]
        assert beam.k2[:4] == pytest.approx(k2, rel=1e-6)


def _two_electrodes():
    ei, m, g, c = patch_section(-171e-12)
    return [
        Uniform(0.01, EI_0, M_0), Uniform(0.04, ei, m, (g, 0.0), ((c, 0.0), (0.0, 0.0))),
        Uniform(0.02, EI_0, M_0), Uniform(0.06, ei, m, (0.0, g), ((0.0, 0.0), (0.0, c))),
        Uniform(0.17, EI_0, M_0),
    ]  # fmt: skip


def _frequencies(pieces, beam, wiring):
    return frequencies(pieces, beam.omega_rad_s[:4], electrodes=2, wiring=wiring)


def test_pair_shares_the_axial_strain():
    """Top and underside patches of different length in two groups: off-diagonal capacitance."""
    made = ceramic(s11e=S11, rho=RHO_P)
    plate = package(made, 0.06, B, T_P)
    patches = [place(plate, 0.01, id="P1"), place(plate, 0.03, id="P2", face="underside", length=0.07)]
    beam = solved(project(strip(SPAN, B, [("al", H)]), [AL], [plate], patches))
    exact_sc = _frequencies(_overlapping(), beam, "shorted")
    exact_oc = _frequencies(_overlapping(), beam, "open")
    assert beam.omega_rad_s[:4] == pytest.approx([float(x) for x in exact_sc], rel=1e-7)
    k2 = [float((o**2 - s**2) / s**2) for s, o in zip(exact_sc, exact_oc, strict=True)]
    assert beam.k2[:4] == pytest.approx(k2, rel=1e-6)


def _overlapping():
    e_p = 1 / S11
    e31, eps_s = -171e-12 * e_p, 1700 * EPS0 - 171e-12**2 * e_p

    def uniform(length, top, below):
        layers = [(e_p, -T_P, 0.0)] * below + [(E, 0.0, H)] + [(e_p, H, H + T_P)] * top
        a = sum(e * B * (z1 - z0) for e, z0, z1 in layers)
        z_n = sum(e * B * (z1**2 - z0**2) / 2 for e, z0, z1 in layers) / a
        ei = sum(e * B * (z1**3 - z0**3) / 3 for e, z0, z1 in layers) - a * z_n**2
        ei += (top + below) * e31**2 / eps_s * B * T_P**3 / 12
        g = (top * e31 * B * (H + T_P / 2 - z_n), below * e31 * B * (-T_P / 2 - z_n))
        common, own = (e31 * B) ** 2 / a, B * eps_s / T_P
        c = ((top * (own + common), top * below * common), (top * below * common, below * (own + common)))
        return Uniform(length, ei, M_0 + (top + below) * RHO_P * B * T_P, g, c)

    spans = [(0.01, 0, 0), (0.02, 1, 0), (0.04, 1, 1), (0.03, 0, 1), (0.2, 0, 0)]
    return [uniform(*span) for span in spans]
