"""Preferred values of IEC 60063, and a candidate predicted with the parts that it is built from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from core.circuit.connect import hold
from core.circuit.preferred import SERIES, best, chosen, nearest
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Build, Circuit, Tuning
from core.project.edit import with_candidate
from tests.core.predict.scenes import lab


def test_the_nearest_is_the_nearest_in_ratio_across_decades_too():
    assert nearest(9.7e3, "E12") == 1e4
    assert nearest(1.25, "E12") == 1.2
    assert nearest(118e3, "E24") == 120e3
    assert all(nearest(v, name) == v for name, series in SERIES.items() for v in series)


def test_the_fine_series_is_the_standards():
    """IEC 60063, E96: 96 steps of two decimals (from memory: 1.00 1.02 1.05 1.07 1.10 ... 9.53 9.76)."""
    assert SERIES["E96"][:5] == (1.00, 1.02, 1.05, 1.07, 1.10)
    assert SERIES["E96"][-2:] == (9.53, 9.76)
    assert {1.21, 2.00, 2.37, 3.16, 4.99, 6.04, 7.50, 8.06} < set(SERIES["E96"])


@given(value=st.floats(1e-12, 1e9), name=st.sampled_from(list(SERIES)), pairs=st.booleans())
def test_a_part_lies_on_its_side_and_is_taken_once(value, name, pairs):
    up, down = (chosen(value, name, pairs, side) for side in ("up", "down"))
    near = chosen(value, name, pairs)
    assert down <= value * (1 + 1e-8) and up >= value * (1 - 1e-8)
    assert min(abs(np.log(up / value)), abs(np.log(down / value))) >= abs(np.log(near / value)) - (2e-3 if pairs else 1e-9)
    # what is in effect is looked up again for the parts list, without its side
    for taken in (near, up, down):
        assert chosen(taken, name, pairs) == pytest.approx(taken, rel=1e-12 if pairs or taken is near else 1e-8)


def test_many_values_are_taken_as_each_by_itself():
    values = np.geomspace(1e-9, 1e9, 500)
    for name in SERIES:
        for side in ("nearest", "up", "down"):
            singly = [nearest(float(v), name, side) for v in values]
            assert np.allclose(nearest(values, name, side), singly, rtol=1e-12, atol=0)


def test_a_pair_comes_nearer_than_a_part():
    pair = best(7.62e3, "E12", pairs=True)
    assert pair.total == pytest.approx(7.62e3, rel=0.005)
    assert nearest(pair.first, "E12") == pair.first and nearest(pair.second, "E12") == pair.second
    assert pair.total == pytest.approx(pair.first + pair.second if pair.adds else 1 / (1 / pair.first + 1 / pair.second))
    assert best(6.8e3, "E12", pairs=True).second is None


def _built(series: str, pairs: bool = False, name: str = "lab-beam", letter: str = "B"):
    project = library.example(name)
    candidate = project.candidate(letter)
    return with_candidate(project, replace(candidate, build=replace(candidate.build, series=series, pairs=pairs)))


def _values(project, letter):
    return {v.name: v.value for g in predict(project, letter).groups for v in g.values}


def test_the_prediction_is_of_the_parts():
    ideal, project = _built("exact"), _built("E12")
    letter = next(c.id for c in ideal.candidates if c.groups and c.groups[0].circuit.kind == "series R-L")
    ideal, project = _built("exact", letter=letter), _built("E12", letter=letter)
    wanted, taken = _values(ideal, letter), _values(project, letter)
    assert taken == {n: nearest(v, "E12") for n, v in wanted.items()} != wanted
    told = {v.name: v.wanted for g in predict(project, letter).groups for v in g.values}
    assert told == pytest.approx({n: None if nearest(v, "E12") == v else v for n, v in wanted.items()})
    mode = project.candidate(letter).groups[0].circuit.tuning.mode - 1
    lost = predict(ideal, letter).modes[mode].zeta - predict(project, letter).modes[mode].zeta
    assert lost > 1e-5
    fine = predict(_built("E12", pairs=True, letter=letter), letter).modes[mode].zeta
    assert predict(ideal, letter).modes[mode].zeta - fine < 0.2 * lost


def test_held_values_may_wander_from_their_parts():
    project = _built("E12")
    solved = predict(project, "B").solved
    held = hold(solved.candidate, solved.system)
    assert held.build.series == "exact"
    moved = {n: 1.03 * v for n, v in held.groups[0].circuit.values.items()}
    wandered = replace(held, groups=(replace(held.groups[0], circuit=replace(held.groups[0].circuit, values=moved)),))
    assert _values(with_candidate(project, wandered), "B") == pytest.approx(moved)


def test_a_negative_capacitance_is_never_taken_across_its_limit():
    from core.circuit.connect import in_parts
    from core.circuit.registry import CIRCUITS
    from core.project.candidate import Build

    for kind, away in (("negative C series R", 1), ("negative C parallel R", -1)):
        for value in np.geomspace(1e-9, 1e-6, 60):
            values = {"negative_capacitance_f": float(value), "resistance_ohm": 1e4}
            taken = in_parts(CIRCUITS[kind], values, Build(series="E12"))["negative_capacitance_f"]
            assert away * (taken / value - 1.0) >= -1e-9


def test_the_resistor_is_tuned_again_for_the_inductor_that_is_taken():
    """A coil off by some per cent wants another resistor: more damping is left than with that of the coil asked for."""
    best = Tuning(1, "optimum")
    ideal, project = (lab(circuit=Circuit("series R-L", tuning=best)) for _ in range(2))
    project = with_candidate(project, replace(project.candidate(), build=Build(series="E12")))
    asked = {v.name: v.value for v in predict(ideal).groups[0].values}
    taken = {v.name: v for v in predict(project).groups[0].values}
    again = taken["resistance_ohm"].wanted
    assert taken["inductance_h"].value == nearest(asked["inductance_h"], "E12") != asked["inductance_h"]
    assert taken["inductance_h"].wanted == asked["inductance_h"]

    def left(ohm):
        values = {"inductance_h": taken["inductance_h"].value, "resistance_ohm": ohm}
        return predict(lab(circuit=Circuit("series R-L", values))).modes[0].zeta

    assert abs(again / asked["resistance_ohm"] - 1.0) > 0.01
    assert left(again) > left(asked["resistance_ohm"])
    assert left(again) > max(left(0.97 * again), left(1.03 * again))
