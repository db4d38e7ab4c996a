"""Which mode a circuit serves: one answer for prices, the board, the circuit card and the study over temperature."""

import pytest
from msgspec.structs import replace

from core.circuit.serving import served_by
from core.predict.predict import predict
from core.project.candidate import Build, Circuit, Tuning
from core.project.edit import with_candidate
from core.study.temperature.temperature import served_modes
from tests.core.predict.scenes import lab, two_groups


def by_hand(project, found):
    """The circuits of the candidate with the values in effect, and no rule."""
    candidate = project.candidate()
    groups = tuple(
        replace(group, circuit=Circuit(result.circuit, {v.name: v.value for v in result.values}))
        for group, result in zip(candidate.groups, found.groups, strict=True)
    )
    return with_candidate(project, replace(candidate, groups=groups))


@pytest.mark.parametrize("modes", [(1, 2), (2, 1), (2, 2)])
def test_each_of_two_circuits_set_by_hand_serves_the_mode_it_was_tuned_on(modes):
    """Whichever of both damps more: what the other does is not counted for it."""
    project = two_groups(lab(), *(Circuit("series R-L", tuning=Tuning(mode)) for mode in modes))
    fixed = by_hand(project, predict(project))
    found = predict(fixed)
    assert found.solved.serves == predict(project).solved.serves == tuple(mode - 1 for mode in modes)
    assert served_modes(fixed, fixed.candidate()) == found.solved.serves


def test_every_reader_names_the_same_mode_of_values_set_by_hand():
    tuned = lab(circuit=Circuit("series R-L", tuning=Tuning(2)))
    candidate = tuned.candidate()
    tuned = with_candidate(tuned, replace(candidate, build=Build(largest_coil_h=0.0)))
    fixed = by_hand(tuned, predict(tuned))
    for project in (tuned, fixed):
        found = predict(project)
        assert {price.mode for price in found.groups[0].prices} == {2}
        assert [one.mode for one in found.solved.board.simulated] == [2]
        assert served_modes(project, project.candidate()) == (1,)


def test_what_cannot_be_tuned_serves_no_mode():
    for kind in ("open", "shorted"):
        found = predict(lab(circuit=Circuit(kind)))
        assert served_by(found.solved.system, 0, None, 3) is None and found.solved.serves == (0,)
