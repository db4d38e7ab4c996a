"""Numbers as a person reads them."""

from __future__ import annotations

from itertools import pairwise
from math import inf, nan

import pytest

from app.results import words
from app.results.ticks import linear_ticks, log_ticks


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (117991.3, "ohm", "118 kΩ"),
        (371.0, "H", "371 H"),
        (67.1e-9, "F", "67.1 nF"),
        (999.6, "H", "1.00 kH"),
        (0.0, "V", "0 V"),
        (-12.2, "V", "\N{MINUS SIGN}12.2 V"),
        (1.2e6, "Pa", "1.20 MPa"),
    ],
)
def test_engineering(value, unit, text):
    assert words.engineering(value, unit) == text


@pytest.mark.parametrize(
    ("ratio", "text"),
    [(0.0431, "4.31 %"), (0.0015, "0.15 %"), (4e-8, "under 0.01 %"), (0.0, "0.00 %"), (nan, words.NO_VALUE)],
)
def test_percent(ratio, text):
    assert words.percent(ratio) == text


def test_an_unstable_mode_never_reads_as_a_number():
    assert words.zeta_change(0.003, nan) == "0.30 → unstable"


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (-20.0, "\N{MINUS SIGN}20.0 dB (\N{MINUS SIGN}90 %)"),
        (6.0206, "+6.0 dB (+100 %)"),
        (-0.0001, "0.0 dB (0 %)"),
        (None, "no peak"),
    ],
)
def test_a_change_in_db_and_per_cent(change, text):
    assert words.decibel_and_percent(change) == text


def test_times_and_seconds_at_their_ends():
    assert words.times(inf) == "not loaded"
    assert words.times(0.66) == "0.66 ×"
    assert words.seconds(inf) == "never"
    assert words.seconds(0.0351) == "35.1 ms"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (3.8e-5, "1", "38.0 µε"),
        (4e5, "V/m", "0.400 kV/mm"),
        (26.0, "degC", "26.0 °C"),
        (0.0049, "kg", "4.90 g"),
    ],
)
def test_checked_quantities_in_the_units_of_the_trade(value, unit, text):
    assert words.with_unit(value, unit) == text


@pytest.mark.parametrize(
    ("value", "allowable", "unit", "text"),
    [
        (3.8e-5, 5e-4, "1", "38.0 of 500 µε"),
        (2.0e7, 1.5e7, "Pa", "20.0 of 15.0 MPa"),
        (-7.49e5, 4e5, "V/m", "\N{MINUS SIGN}0.749 of 0.400 kV/mm"),
        (0.0, 120.0, "V", "0 of 120 V"),
    ],
)
def test_a_value_and_its_allowable_share_the_unit(value, allowable, unit, text):
    assert words.value_of(value, allowable, unit) == text


@pytest.mark.parametrize(("low", "high"), [(0.7, 3.0), (-8.2, -1.1), (1.0, 1.4), (-3.0, 9.0)])
def test_log_marks_lie_inside_and_their_words_say_where_they_are(low, high):
    for at, text, labelled in log_ticks(low, high):
        assert low <= at <= high
        if labelled:
            number, _, prefix = text.partition(" ")
            power = {"": 0, "p": -12, "n": -9, "µ": -6, "m": -3, "k": 3, "M": 6, "G": 9}[prefix]
            assert float(number) * 10.0**power == pytest.approx(10.0**at, rel=1e-9)


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
