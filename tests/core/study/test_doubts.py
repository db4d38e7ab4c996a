"""The ranking of assumed inputs: each is a prediction anyone can repeat."""

import pytest
from msgspec.structs import replace

from core.predict.predict import held_circuits, predict
from core.project import library
from core.project.at_path import replaced_at, value_at
from core.project.provenance import inputs, strongest_first
from core.project.record import Constant
from core.study.doubts import doubts


@pytest.fixture(scope="module")
def lab():
    return library.example("lab-beam")


@pytest.fixture(scope="module")
def found(lab):
    return doubts(lab)


def test_the_strongest_comes_first_and_all_are_assumed(lab, found):
    effects = [doubt.effect for doubt in found]
    assert effects == sorted(effects, reverse=True)
    assert effects[0] > 0
    status = {row.path: row.status for row in inputs(lab)}
    assert {status.get(doubt.path, "assumed") for doubt in found} == {"assumed"}
    assert all(doubt.low <= doubt.nominal <= doubt.high for doubt in found)


def test_an_end_is_the_prediction_with_that_one_value(lab, found):
    doubt = next(d for d in found if d.path.endswith("ceramic.eps33t_relative"))
    held = held_circuits(lab, lab.candidate())
    fixed = replace(lab, candidates=tuple(held if c.id == held.id else c for c in lab.candidates))
    constant = value_at(lab, doubt.path)
    assert isinstance(constant, Constant)
    ends = [
        predict(replaced_at(fixed, doubt.path, replace(constant, value=constant.value * (1 + sign * constant.tolerance))))
        .modes[0]
        .zeta
        for sign in (-1, 1)
    ]
    assert (doubt.quantity, doubt.mode) == ("damping", 1)
    assert doubt.low == pytest.approx(min(ends), rel=1e-9)
    assert doubt.high == pytest.approx(max(ends), rel=1e-9)


def test_a_clamp_taken_as_rigid_is_doubted_though_it_has_no_tolerance(found):
    clamp = next(d for d in found if d.path == "structure.root.kind")
    assert clamp.effect > 0


def test_it_stops_when_told(lab):
    assert doubts(lab, stopped=lambda: True) == ()


def test_the_list_of_assumed_inputs_follows_the_ranking(lab, found):
    effects = {doubt.path: doubt.effect for doubt in found}
    ranked = strongest_first(lab, "A", effects)
    known = [effects[row.path] for row in ranked if row.path in effects]
    assert known == sorted(known, reverse=True)
    assert sorted(row.path for row in ranked) == sorted(r.path for r in inputs(lab) if r.status == "assumed")
