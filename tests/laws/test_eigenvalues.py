"""Rayleigh's theorems: bounds, what mass and stiffness do, interlacing."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from core.project.structure import GroundSpring, PointMass
from tests.laws.drawn import (
    MATERIALS,
    between,
    law,
    modes,
    patched,
    structures,
    with_structure,
    without_patch,
)
from tests.published.build import project

ROUNDING = 1e-7
"""Both sides of a comparison are converged to about this in mode 8."""


def points(beam):
    """Gauss points x, mass m(x) dx and the deflection rows there."""
    x = beam.mesh.x_m.ravel()
    return x, (beam.section.mass * beam.mesh.weight_m).ravel(), np.asarray(beam.deflection_row(x))


@law
@given(patched())
def test_first_frequency_lies_between_dunkerley_and_rayleigh(made):
    """1/omega_1^2 <= integral m c(x, x) dx (Dunkerley, from below); the static shape under the beam's own
    weight gives Rayleigh's quotient (from above)."""
    beam = modes(made)
    _, mass, rows = points(beam)
    lowest = 1 / float(mass @ np.sum(rows**2, axis=1))
    load = mass @ rows
    deflection = rows @ load
    highest = float(load @ load) / float(mass @ deflection**2)
    assert lowest <= beam.omega_rad_s[0] ** 2 * (1 + ROUNDING)
    assert beam.omega_rad_s[0] ** 2 <= highest * (1 + ROUNDING)


@law
@given(patched(), between(0.0, 1.0), between(0.001, 1.0), st.booleans())
def test_a_mass_lowers_every_frequency(made, at, mass, turns):
    """And a point mass without rotary inertia by at most one place: f_(n-1) <= f_n' <= f_n."""
    inertia = mass * 1e-4 if turns else 0.0
    heavier = with_structure(made, masses=(PointMass("m", at * made.structure.span_m, mass, inertia),))
    before, after = modes(made).omega_rad_s[:8], modes(heavier).omega_rad_s[:8]
    assert np.all(after <= before * (1 + ROUNDING))
    if not turns:
        assert np.all(after[1:] >= before[:-1] * (1 - ROUNDING))


@law
@given(patched(), between(0.0, 1.0), between(1.0, 7.0))
def test_a_spring_raises_every_frequency(made, at, exponent):
    """By at most one place: f_n <= f_n' <= f_(n+1)."""
    spring = GroundSpring("k", at * made.structure.span_m, 10**exponent)
    before = modes(made).omega_rad_s[:8]
    after = modes(with_structure(made, springs=(spring,))).omega_rad_s[:8]
    assert np.all(after >= before * (1 - ROUNDING))
    assert np.all(after[:-1] <= before[1:] * (1 + ROUNDING))


@law
@given(structures(), between(1.01, 3.0))
def test_stiffer_material_raises_and_denser_lowers(structure, factor):
    """One material of the lay-up at a time; all of them together by the square root of the factor."""
    base = modes(project(structure, MATERIALS)).omega_rad_s[:8]
    name = structure.layers[0].pieces[0].material
    stiffer = [(n, e * factor if n == name else e, rho) for n, e, rho in MATERIALS]
    denser = [(n, e, rho * factor if n == name else rho) for n, e, rho in MATERIALS]
    assert np.all(modes(project(structure, stiffer)).omega_rad_s[:8] >= base * (1 - ROUNDING))
    assert np.all(modes(project(structure, denser)).omega_rad_s[:8] <= base * (1 + ROUNDING))
    all_denser = modes(project(structure, [(n, e, rho * factor) for n, e, rho in MATERIALS])).omega_rad_s[:8]
    np.testing.assert_allclose(all_denser, base / factor**0.5, rtol=1e-9)


@law
@given(patched())
def test_opening_the_leads_raises_every_frequency_but_not_past_the_next(made):
    """K^2 >= 0, and omega_oc lies below the next omega_sc (one electrode is one constraint)."""
    beam = modes(made)
    opened = beam.omega_rad_s**2 * (1 + beam.k2)
    assert np.all(beam.k2 >= 0)
    assert np.all(opened[:-1] <= beam.omega_rad_s[1:] ** 2 * (1 + ROUNDING))


@law
@given(patched())
def test_coupling_stays_below_its_energy_ceiling(made):
    """K^2 <= k31^2/(1 - k31^2) times the ceramic's share of the strain energy, reached only under uniform
    strain (Cauchy-Schwarz)."""
    beam = modes(made)
    k2 = beam.plates[0].coefficients.k31_squared
    assert np.all(beam.k2[:8] <= k2 / (1 - k2) * beam.ceramic_share[:8] * (1 + 1e-6))


@law
@given(patched())
def test_free_capacitance_exceeds_blocked(made):
    beam = modes(made)
    assert beam.group_free_f[0, 0] > beam.group_corrected_f[0, 0] >= beam.group_blocked_f[0, 0] * (1 - 1e-12)
    bare = modes(without_patch(made))
    assert np.isclose(bare.total_mass_kg, beam.bare_mass_kg, rtol=1e-9)


@law
@given(patched())
def test_modes_are_orthonormal(made):
    """phi^T M phi = 1 over the sampled mass, attachments none."""
    beam = modes(made)
    _, mass, rows = points(beam)
    phi = rows @ (beam.units[:6] * beam.omega_rad_s[:6, None]).T
    np.testing.assert_allclose((phi * mass[:, None]).T @ phi, np.eye(6), atol=1e-9)


@law
@given(patched())
def test_strain_energy_shares_make_the_whole(made):
    """Ceramic within package, layers and packages together the whole, less what an elastic root holds."""
    beam = modes(made)
    whole = sum(beam.layer_share.values())[:8] + beam.package_share[:8]
    assert np.all(beam.ceramic_share[:8] <= beam.package_share[:8] + 1e-12)
    assert np.all(whole <= 1 + 1e-9)
    if made.structure.root.kind != "elastic":
        np.testing.assert_allclose(whole, 1.0, atol=1e-9)
