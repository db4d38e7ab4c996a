"""Sections told once along the part are those worked out by themselves; few unknowns give what many layouts give."""

from __future__ import annotations

import numpy as np
import pytest

from core.beam.orthonormal import orthonormal_moves
from core.beam.ritz import Accuracy
from core.piezo import layout
from core.project import library
from core.project.edit import with_structure


@pytest.mark.parametrize(("key", "level"), [("touring-ski", "across"), ("touring-ski", "shear"), ("lab-beam", "across")])
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
    few, many = (layout.solve(project, project.candidate("A"), accuracy=Accuracy(spare, 1)) for spare in (7, 25))
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
