"""Curves over many places, most of them told by their neighbours."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.project import library
from core.project.edit import with_candidate, with_patch, with_structure
from core.study.placement import position
from core.study.placement.between import between
from core.study.placement.position import damping_against_position

X = np.linspace(0.0, 1.0, 120)


def counted(curve):
    asked = []

    def work(x):
        asked.extend(x.tolist())
        return np.stack(curve(x), axis=-1)

    return work, asked


def test_a_smooth_curve_is_worked_out_at_few_places_and_known_at_all():
    def curve(x):
        return np.sin(9.0 * x) ** 2, np.exp(-x)

    work, asked = counted(curve)
    found = between(X, 4, np.zeros(0), work)
    assert len(asked) < 45
    assert np.abs(found - np.stack(curve(X), axis=-1)).max() < 1e-3


@pytest.mark.parametrize("told", [True, False])
def test_a_step_is_followed_to_its_place(told):
    def curve(x):
        return (np.where(x < 0.437, 1.0, 2.0) * np.cos(3.0 * x),)

    work, asked = counted(curve)
    found = between(X, 4, np.array([0.437]) if told else np.zeros(0), work)
    assert len(asked) < 80
    assert np.abs(found[:, 0] - curve(X)[0]).max() < 5e-3 * 2.0


def test_a_place_without_a_value_is_worked_out_itself_and_spoils_no_other():
    def curve(x):
        return (np.where((x > 0.4) & (x < 0.5), np.nan, x * x),)

    found = between(X, 4, np.zeros(0), counted(curve)[0])[:, 0]
    np.testing.assert_allclose(found, curve(X)[0], atol=1e-3)


def counted_layouts(monkeypatch):
    """How many places the strip solves at a time, nothing remembered so far."""
    worked_out, solved = position.solve, []

    def solve(*args, **kwargs):
        solved.append(len(next(iter(kwargs["variation"].values()))))
        return worked_out(*args, **kwargs)

    position._beam_at.cache_clear()
    monkeypatch.setattr(position, "solve", solve)
    return solved


@pytest.mark.parametrize("level", ["plain", "section", "across"])
@pytest.mark.parametrize("name", ["touring-ski", "lab-beam", "louvre-blade", "half-board", "gantry-bracket"])
def test_the_strip_is_that_of_every_place_by_itself(name, level, monkeypatch):
    project = with_structure(library.example(name), level=level)
    candidate, solved = project.candidate(), counted_layouts(monkeypatch)
    strip = damping_against_position(project, candidate.id, candidate.patches[0].id)
    assert sum(solved) <= 60 and len(strip.x_start_m) == 120
    exact = damping_against_position(project, candidate.id, candidate.patches[0].id, x_start_m=strip.x_start_m)
    kinks = 3e-3 if name == "half-board" else 2e-3  # where another place of the ceramic becomes the worst
    for told, each, near in (
        (strip.zeta, exact.zeta, 2e-3), (strip.k2, exact.k2, 6e-3),
        (strip.tension, exact.tension, kinks), (strip.compression, exact.compression, kinks),
    ):  # fmt: skip
        assert (np.abs(told - each) <= near * np.abs(each).max(axis=0) + 1e-15).all()
    assert strip.held == exact.held
    np.testing.assert_array_equal(strip.best_x_m, exact.best_x_m)


def test_a_hand_at_a_circuit_moves_no_patch(monkeypatch):
    """Layouts stay as they were solved; what hangs on them is that of now."""
    project = with_structure(library.example("touring-ski"), level="plain")
    candidate, solved = project.candidate(), counted_layouts(monkeypatch)
    patch, (group,) = candidate.patches[0], candidate.groups
    damping_against_position(project, candidate.id, patch.id)
    before = len(solved)
    circuit = replace(group.circuit, tuning=replace(group.circuit.tuning, mode=2))
    retuned = with_candidate(project, replace(candidate, groups=(replace(group, circuit=circuit),)))
    kept = damping_against_position(retuned, candidate.id, patch.id)
    assert before and len(solved) == before
    position._beam_at.cache_clear()
    position._ground.cache_clear()
    anew = damping_against_position(retuned, candidate.id, patch.id)
    assert len(solved) > before
    np.testing.assert_array_equal(kept.zeta, anew.zeta)
    np.testing.assert_array_equal(kept.tension, anew.tension)
    assert kept.held == anew.held
    longer = with_candidate(project, replace(candidate, patches=(replace(patch, length_m=0.9 * patch.length_m),)))
    assert (damping_against_position(longer, candidate.id, patch.id).k2[:, 0].max() < kept.k2[:, 0].max())


def test_the_strip_is_told_at_the_temperature_of_reference():
    """As a prediction is: the layouts kept know of no service."""
    project = with_structure(library.example("touring-ski"), level="plain")
    x = np.array([0.1, 0.3])
    told = []
    for celsius in (20.0, 60.0):
        there = replace(project, service=replace(project.service, reference_c=celsius))
        strip = damping_against_position(there, "A", "P1", modes=3, x_start_m=x)
        moved = with_patch(there, "A", replace(there.candidate("A").patch("P1"), x_start_m=float(x[1])))
        assert strip.k2[1] == pytest.approx([m.k2 for m in predict(moved).modes[:3]], rel=1e-5)
        told.append(strip.k2[1, 0])
    assert abs(told[1] / told[0] - 1.0) > 1e-3
