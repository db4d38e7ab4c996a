"""Sections told once along the part are those worked out by themselves; few unknowns give what many layouts give."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.orthonormal import orthonormal_moves
from core.beam.ritz import Accuracy
from core.piezo import layout
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_patch, with_structure
from core.study.placement.position import damping_against_position


@pytest.mark.parametrize(
    ("key", "level"),
    [
        ("touring-ski", "across"), ("touring-ski", "shear"), ("lab-beam", "across"), ("touring-ski", "plain"), ("gantry-bracket", "section"),
        ("half-board", "plain"),
    ],
)  # fmt: skip
def test_told_sections_are_those_worked_out(key, level, monkeypatch):
    project = with_structure(library.example(key), level=level)
    told = layout.solve(project, project.candidate("A"))
    monkeypatch.setattr(layout, "is_one", lambda *_: False)
    worked = layout.solve(project, project.candidate("A"))
    assert told.omega_rad_s[:5] == pytest.approx(worked.omega_rad_s[:5], rel=1e-9)
    assert told.k2[:5] == pytest.approx(worked.k2[:5], rel=1e-7)
    assert told.blocked_f == pytest.approx(worked.blocked_f, rel=1e-9)
    assert told.total_mass_kg == pytest.approx(worked.total_mass_kg, rel=1e-9)


@pytest.mark.parametrize("key", ["lab-beam", "louvre-blade"])
def test_more_vectors_change_nothing_that_is_seen(key):
    """Modes 1 to 4: f 1e-6, K^2 2e-5, and the static answer of the tip."""
    project = with_structure(library.example(key), level="across")
    few, many = (layout.solve(project, project.candidate("A"), accuracy=Accuracy(0, 1, further=spare)) for spare in (7, 25))
    assert few.omega_rad_s[:4] == pytest.approx(many.omega_rad_s[:4], rel=1e-6)
    assert few.k2[:4] == pytest.approx(many.k2[:4], rel=2e-5)
    assert few.tip_stiffness_n_m == pytest.approx(many.tip_stiffness_n_m, rel=1e-9)


def test_layouts_of_a_batch_are_those_alone():
    """Slivers and ends on boundaries among them."""
    project = with_structure(library.example("lab-beam"), level="across")
    candidate = project.candidate("A")
    patch = candidate.patches[0]
    x = np.array([0.0, 1e-9, 1e-5, 0.003, patch.x_start_m, 0.08])
    batch = layout.solve(project, candidate, variation={f"candidates[A].patches[{patch.id}].x_start_m": x})
    for i, start in enumerate(x.tolist()):
        alone = layout.solve(project, candidate, variation={f"candidates[A].patches[{patch.id}].x_start_m": np.array([start])})
        assert batch.omega_rad_s[i, :5] == pytest.approx(alone.omega_rad_s[0, :5], rel=1e-6)
        assert batch.k2[i, :4] == pytest.approx(alone.k2[0, :4], rel=1e-4)


def test_moves_are_orthonormal_whatever_depends_on_what():
    """K of the moves is their loads'; vectors that depend on those before them leave nothing."""
    rng = np.random.default_rng(1)
    root = rng.normal(size=(30, 30))
    stiffness = root @ root.T + np.eye(30)
    loads = rng.normal(size=(6, 30)) * np.array([1, 1e-3, 1, 1e4, 1, 1])[:, None]
    loads[2] = loads[0] + 1e-7 * loads[2]
    loads = np.concatenate([loads, loads[1:2] - loads[4:5], np.zeros((1, 30))])
    moves = orthonormal_moves(loads, np.linalg.solve(stiffness, loads.T).T, 6)
    found = moves @ stiffness @ moves.T
    assert found == pytest.approx(np.diag([1.0] * 6 + [0.0] * 2), abs=1e-6)


def test_a_part_that_comes_to_be_as_narrow_as_the_ceramic_is_predicted_all_along():
    """Beside the ceramic nothing is left where the part is as wide: sections there are no polynomials along the part."""
    lab = library.example("lab-beam")
    project = with_structure(lab, width_m=(0.04, 0.02), level="across")
    patch = project.candidate().patches[0]
    starts = np.array([0.12, 0.15, 0.154, 0.156, 0.158, 0.16, 0.164, 0.17, 0.174])
    found = [
        predict(with_patch(project, "A", replace(patch, x_start_m=x))).modes[0].f_short_hz for x in starts.tolist()
    ]
    slope = np.diff(found) / np.diff(starts)
    assert (slope < 0.0).all() and slope.min() > 1.3 * slope.max()
    strip = damping_against_position(project, "A", patch.id, n=60)
    wide = 0.04 - 0.02 * (strip.x_start_m + patch.length_m) / 0.3  # where its end lies
    assert np.isfinite(strip.zeta[wide > patch.width_m + 1e-4]).all()
    assert np.isnan(strip.zeta[wide < patch.width_m - 1e-4]).all()
    assert not strip.allowed[np.isnan(strip.tension)].any()
    assert np.isfinite(strip.zeta[strip.allowed]).all()
