"""Numbers as a person reads them."""

from __future__ import annotations

import inspect
from math import inf, nan

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from core.units import words


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
    assert words.times(0.66) == "0.66"
    assert words.seconds(inf) == "never"
    assert words.seconds(0.0351) == "35.1 ms"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (3.8e-5, "1", "38.0 µε"),
        (4e5, "V/m", "0.400 kV/mm"),
        (26.0, "degC", "26 °C"),
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


@pytest.mark.parametrize(
    ("before", "after", "text"),
    [
        ("5.84 s", "4.43 s", "5.84 → 4.43 s"),
        ("0.30 %", "unstable", "0.30 % → unstable"),
        ("35.1 ms", "2.00 s", "35.1 ms → 2.00 s"),
        ("never", "4.43 s", "never → 4.43 s"),
        ("2.31 mm/N", "0.51 mm/N", "2.31 → 0.51 mm/N"),
    ],
)
def test_a_change_has_an_arrow_and_a_shared_unit_once(before, after, text):
    assert words.change(before, after) == text


def test_a_range_says_to_and_a_single_value_stands_alone():
    assert words.between("0.60 %", "0.79 %") == "0.60 to 0.79 %"
    assert words.between("12.38 Hz", "12.38 Hz") == "12.38 Hz"
    assert words.three("0.31 %", "0.35 %", "unstable") == "0.31 / 0.35 % / unstable"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (2.31e-3, "m/N", "2.31 mm/N"),
        (-0.196, "of the start", "\N{MINUS SIGN}19.6 % of the start"),
        (-0.0021, "s²", "\N{MINUS SIGN}2.10 mm per m/s²"),
        (4e-6, "1/N", "4.00 µε/N"),
        (12.0, "1", "12.0"),
    ],
)
def test_a_response_is_told_in_a_unit_that_takes_its_prefix(value, unit, text):
    assert words.level(value, unit) == text


def test_shares_in_whole_per_cent_add_up_to_their_sum():
    assert words.shares([0.695, 0.137, 0.134, 0.034]) == ["70 %", "14 %", "13 %", "3 %"]
    assert words.shares([1 / 3, 1 / 3, 1 / 3]) == ["34 %", "33 %", "33 %"]


@pytest.mark.parametrize(
    ("text", "number"), [("12.38 Hz", "12.38"), ("0.59 %", "0.59"), ("under 0.01 %", "under 0.01"), ("1.40", "1.40")]
)
def test_a_column_whose_head_names_the_unit_has_the_number_alone(text, number):
    assert words.unitless(text) == number


ONE_NUMBER = [
    f for name, f in inspect.getmembers(words, inspect.isfunction)
    if f.__module__ == words.__name__ and not name.startswith("_")
    and [p.annotation for p in inspect.signature(f).parameters.values() if p.default is p.empty] == ["float"]
]  # fmt: skip


@pytest.mark.parametrize("tell", ONE_NUMBER, ids=lambda f: f.__name__)
@given(value=st.floats())
@example(value=1e300)
@example(value=1.7976e308)
@example(value=5e-324)
@example(value=inf)
@example(value=-inf)
@example(value=nan)
def test_any_number_at_all_is_told_on_less_than_a_line(tell, value):
    assert 0 < len(tell(value)) <= 30


def test_numbers_beyond_every_prefix_are_told_in_powers_of_ten():
    assert words.significant(1.234e-30) == "1.23·10⁻³⁰"
    assert words.significant(-5e20, 2) == "−5.0·10²⁰"
    assert words.fixed(1e18, 2) == "1.00·10¹⁸"
    assert words.shift(inf) == "+unbounded %" and words.signed(nan) == "–"
    assert words.significant(0.000123) == "0.000123" and words.significant(1.5e9) == "1500000000"
