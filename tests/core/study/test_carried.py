"""Samples close to a layout at the level 'across': carried over from free sections, or in full where that does not serve."""

from __future__ import annotations

import numpy as np
import pytest

from core.piezo.layout import solve
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_structure
from core.study.carried import free_sections
from core.study.layouts import layouts


@pytest.mark.parametrize("key", ["lab-beam", "touring-ski", "louvre-blade"])
def test_as_drawn_all_is_as_predicted(key):
    project = with_structure(library.example(key), level="across")
    candidate, found = project.candidate("A"), predict(project, "A")
    path = f"candidates[A].patches[{candidate.patches[0].id}].x_start_m"
    samples = layouts(project, candidate, {path: np.full(3, candidate.patches[0].x_start_m)}, 3, near=True)
    f, k2, zeta = (np.array([getattr(m, name) for m in found.modes[:3]]) for name in ("f_short_hz", "k2", "zeta"))
    told = k2 > 1e-4
    assert samples.beam.omega_rad_s[0, :3] / (2 * np.pi) == pytest.approx(f, rel=1e-6)
    assert samples.beam.k2[0, :3][told] == pytest.approx(k2[told], rel=3e-4)
    assert samples.beam.group_free_f[0, 0, 0] == pytest.approx(found.groups[0].free_capacitance_f, rel=1e-6)
    assert samples.damping(3)[0][told] == pytest.approx(zeta[told], rel=2e-3)


def test_a_sample_differs_as_it_does_in_full():
    """A ceramic 5 % thinner and thicker: K^2 of carried samples moves as that of full ones, to 2 % of it."""
    project = with_structure(library.example("lab-beam"), level="across")
    candidate = project.candidate("A")
    path = f"candidates[A].patches[{candidate.patches[0].id}].ceramic_thickness_m"
    thickness = solve(project, candidate).plates[0].thickness_m
    varied = {path: thickness * np.array([0.95, 1.0, 1.05])}
    near = layouts(project, candidate, varied, 3, near=True).beam
    full = solve(project, candidate, near.n_kept, variation=varied)
    assert near.omega_rad_s[:, :3] == pytest.approx(full.omega_rad_s[:, :3], rel=3e-4)
    assert near.k2[:, :2] == pytest.approx(full.k2[:, :2], rel=0.01)
    assert near.group_free_f[:, 0, 0] == pytest.approx(full.group_free_f[:, 0, 0], rel=2e-3)


def test_modes_that_curve_across_are_not_carried_over():
    """C1 of the half board is its mode 3: asked for three modes, samples are solved in full."""
    project = with_structure(library.example("half-board"), level="across")
    candidate = project.candidate("B")
    varied = {f"candidates[B].patches[{candidate.patches[0].id}].x_start_m": np.array([candidate.patches[0].x_start_m])}
    assert layouts(project, candidate, varied, 2, near=True).beam.carried is not None
    assert layouts(project, candidate, varied, 3, near=True).beam.carried is None


def test_free_sections_are_those_of_the_lower_levels():
    project = library.example("lab-beam")
    assert free_sections(with_structure(project, level="across")).structure.level == "section"
    plain = with_structure(project, level="plain")
    assert free_sections(plain) is plain
