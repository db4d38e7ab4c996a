"""Coupling, wiring and capacitance of a layout; facts that hold for any layout."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.section import section
from core.piezo.layout import solve
from core.project.patch import Bond
from tests.core.scenes import lab, one_group, placed, two_faces
from tests.levels import beam_example


def test_pair_of_wrong_polarity_has_no_bending_coupling():
    project, good = placed(lab(), face="both", pair_bending=True)
    _, wrong = placed(lab(), face="both", pair_bending=False)
    good_k2, wrong_k2 = (solve(project, c).k2[0] for c in (good, wrong))
    assert good_k2 > 0.01
    assert wrong_k2 < 1e-12


def test_flipping_every_sign_changes_nothing():
    project = lab()
    candidate = two_faces(project)
    one = solve(project, one_group(candidate, 1, -1))
    other = solve(project, one_group(candidate, -1, 1))
    assert one.k2 == pytest.approx(other.k2, rel=1e-12)
    assert one.group_theta == pytest.approx(-other.group_theta, rel=1e-12)


def test_series_and_parallel_pair_couple_alike_with_a_quarter_of_the_capacitance():
    """Equal patches: series halves theta and quarters C, so K^2 is the same."""
    project = lab()
    candidate = two_faces(project)
    parallel = solve(project, one_group(candidate, 1, -1))
    series = solve(project, one_group(candidate, 1, -1, wiring="series"))
    assert series.k2[:4] == pytest.approx(parallel.k2[:4], rel=1e-9)
    assert 4 * series.group_blocked_f[0, 0] == pytest.approx(parallel.group_blocked_f[0, 0], rel=1e-9)


def test_series_group_follows_the_rule_of_inverse_capacitance():
    """1/C_g = s^T C^-1 s and theta_g = C_g theta C^-1 s, here for unequal patches."""
    project = lab()
    candidate = two_faces(project)
    shorter = replace(candidate.patches[1], length_m=0.03)
    candidate = replace(candidate, patches=(candidate.patches[0], shorter))
    model = solve(project, one_group(candidate, 1, -1, wiring="series"))
    s = np.array([1.0, -1.0])
    inverse = np.linalg.inv(model.blocked_f)
    c_g = 1.0 / (s @ inverse @ s)
    assert model.group_blocked_f[0, 0] == pytest.approx(c_g, rel=1e-9)
    assert model.group_theta[:, 0] == pytest.approx(model.theta @ inverse @ s * c_g, rel=1e-9)


def test_floating_node_of_a_series_group_stiffens_the_beam():
    project = lab()
    candidate = two_faces(project)
    unequal = replace(candidate.patches[1], x_start_m=0.12)
    candidate = replace(candidate, patches=(candidate.patches[0], unequal))
    parallel = solve(project, one_group(candidate, 1, -1))
    series = solve(project, one_group(candidate, 1, -1, wiring="series"))
    assert (series.omega_rad_s[:5] > parallel.omega_rad_s[:5]).all()


def test_patches_on_both_faces_share_capacitance():
    """Ceramics over each other share the axial strain; where they contract across together also the bending
    across, which has the other sign."""
    plain = replace(lab(), structure=replace(lab().structure, level="plain"))
    model = solve(plain, two_faces(plain))
    assert 0.005 < model.blocked_f[0, 1] / model.blocked_f[0, 0] < 0.1
    together = solve(lab(), two_faces(lab()))
    assert together.blocked_f[0, 1] < model.blocked_f[0, 1]
    assert (np.linalg.eigvalsh(together.blocked_f) > 0.0).all()


def test_all_groups_open_is_at_least_each_alone():
    model = solve(lab(), two_faces(lab()))
    assert (model.k2[:5] >= model.group_k2[:5].max(axis=1)).all()
    assert model.k2[0] == pytest.approx(model.group_k2[0].sum(), rel=0.15)


def test_open_circuit_frequency_from_the_stiffened_beam():
    """K^2 against an independent route: the matrix K + theta theta^T / C itself."""
    project, candidate = placed(lab())
    model = solve(project, candidate)
    u, row, c = model.beam.unit, model.group_theta_rows[0], model.group_blocked_f[0, 0]
    flexibility = u.T @ (model.beam.mu_s2[:, None] * u)
    stiffness = np.eye(len(row)) + np.outer(row, row) / c
    lower = np.linalg.inv(np.linalg.cholesky(stiffness))
    opened = np.linalg.eigvalsh(lower @ flexibility @ lower.T)[::-1]
    assert model.beam.mu_s2[:3] / opened[:3] - 1 == pytest.approx(model.k2[:3], rel=1e-8)


def test_modal_capacitance_lies_between_blocked_and_free_for_mode_1():
    model = solve(*placed(lab()))
    c_1 = model.modal_capacitance_f[0, 0]
    assert model.group_blocked_f[0, 0] < c_1 < model.group_free_f[0, 0]
    theta, k2, omega = model.group_theta[0, 0], model.k2[0], model.omega_rad_s[0]
    assert theta**2 / (k2 * omega**2) == pytest.approx(c_1, rel=1e-9)


def test_k2_never_beats_its_energy_ceiling():
    for start in (0.005, 0.03, 0.09, 0.15, 0.22):
        use = solve(*placed(lab(), x_start_m=start)).electrode_use[:6]
        assert (use < 1.02).all()


def test_soft_thick_bond_leaves_no_working_length():
    project, candidate = placed(lab(), bond=Bond("epoxy bond, stiff", 5e-4, 1e4))
    patch = candidate.patches[0]
    candidate = replace(candidate, patches=(replace(patch, bond=replace(patch.bond, material=lab().packages[0].bond.material)),))
    model = solve(project, candidate)
    assert model.plates[0].x_a_eff_m == model.plates[0].x_b_eff_m
    assert model.k2[0] == 0.0
    assert model.group_blocked_f[0, 0] > 0.0


def test_energy_shares_add_up_to_one():
    model = solve(*placed(lab()))
    total = model.energy.layers.sum(axis=0) + model.package_share
    assert total[:8] == pytest.approx(np.ones(8), rel=1e-6)


def test_temperature_changes_capacitance_by_its_coefficient():
    project, candidate = placed(lab())
    warm = solve(project, candidate, temperature_c=30.0)
    cold = solve(project, candidate, temperature_c=10.0)
    rise = project.packages[0].ceramic.eps33t_relative.per_kelvin * 20.0
    assert rise > 0
    assert warm.group_free_f[0, 0] / cold.group_free_f[0, 0] - 1 == pytest.approx(rise, rel=0.3)


def test_a_section_is_that_of_the_bare_structure_but_where_a_package_lies_or_ends():
    """Told only there in a layout, it is the one worked out everywhere."""
    project = beam_example("touring-ski")
    model = solve(project, project.candidate("A"), 8)
    at = model.sections
    anew = section(at.spec, at.mesh.x_m, at.mesh.segment, at.bonded.strips, at.active)
    for kept, whole in zip(at.section.values, anew.values, strict=True):
        np.testing.assert_allclose(kept, whole, rtol=1e-10)
    untouched = (at.mesh.of_base >= 0) & ~at.active.any(axis=0)
    np.testing.assert_allclose(at.section.bending[untouched], anew.bending[untouched], rtol=1e-13)
    assert untouched.any() and not untouched.all()
