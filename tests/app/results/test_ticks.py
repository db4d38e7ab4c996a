"""Marks of an axis and what they say."""

from __future__ import annotations

from itertools import pairwise

import pytest

from app.results.ticks import linear_ticks, log_ticks


@pytest.mark.parametrize(("low", "high"), [(0.7, 3.0), (-8.2, -1.1), (1.0, 1.4), (-3.0, 9.0)])
def test_log_marks_lie_inside_and_their_words_say_where_they_are(low, high):
    for at, text, labelled in log_ticks(low, high):
        assert low <= at <= high
        if labelled:
            number, _, prefix = text.partition(" ")
            power = {"": 0, "p": -12, "n": -9, "µ": -6, "m": -3, "k": 3, "M": 6, "G": 9}[prefix]
            assert float(number) * 10.0**power == pytest.approx(10.0**at, rel=1e-9)


@pytest.mark.parametrize(("low", "high"), [(-2.85, -2.55), (0.32, 0.66), (-3.6, -3.35), (0.31, 0.69), (0.9, 0.98)])
def test_a_log_axis_shorter_than_an_octave_or_two_still_tells_its_scale(low, high):
    marks = log_ticks(low, high, "m", wanted=4)
    assert sum(labelled for _, _, labelled in marks) >= 2
    assert all(low <= at <= high for at, _, _ in marks)


@pytest.mark.parametrize(
    ("low", "high", "unit"), [(0, 3.2, "s"), (-0.005, 0.005, "m"), (0, 0.04, "s"), (-1, 1, "")]
)
def test_linear_marks_are_evenly_spaced_and_told_apart(low, high, unit):
    marks = linear_ticks(low, high, unit)
    places = [at for at, _, _ in marks]
    assert 3 <= len(marks) <= 12
    assert all(low <= at <= high for at in places)
    steps = {round(b - a, 12) for a, b in pairwise(places)}
    assert len(steps) == 1
    assert len({text for _, text, _ in marks}) == len(marks)


def test_no_marks_on_an_axis_without_length():
    assert linear_ticks(1.0, 1.0) == []
    assert log_ticks(2.0, 2.0) == []


def test_a_decay_of_what_it_started_with_is_marked_in_per_cent():
    assert [text for _, text, _ in linear_ticks(-1.0, 1.0, "of the start", wanted=2)] == ["−100 %", "0 %", "100 %"]
    assert [text for _, text, _ in linear_ticks(0.0, 0.02, "of the start", wanted=4)][1] == "0.5 %"
