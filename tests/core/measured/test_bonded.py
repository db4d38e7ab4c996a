"""The bonding record: judged by the study's bands, written as text, and read back without loss."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from core.measured.bonded import judge_part, modes_asked
from core.measured.bonded_csv import BondedError, bonded_csv, read_bonded
from core.predict.predict import predict
from core.predict.remarks.problems import find_problems
from core.project import store
from core.project.bonded import BondedMode, BondedPart, merged, with_read
from core.study.tolerance.pass_bands import PassBands
from core.study.tolerance.samples import draw
from core.study.tolerance.tolerance import evaluate, request_of, tolerance_study
from tests.levels import beam_example

LAB = beam_example("lab-beam")
GROUPS = ("G1",)
GOOD = BondedPart(
    "SN 001", "A", "G1", 75.2e-9, 58.6e-9, 2e9, "right", (BondedMode(1, 19.79, 19.94), BondedMode(2, 118.8, 119.22)), "first of the lot"
)


@pytest.fixture(scope="module")
def bands() -> PassBands:
    study = tolerance_study(LAB, "A", samples=1000)
    assert study is not None
    return PassBands(study)


def read(text: str, groups=GROUPS) -> tuple[BondedPart, ...]:
    return read_bonded(text.encode(), "A", groups)


# ---- judging -------------------------------------------------------------------------------------


def test_a_good_part_passes_and_a_cracked_one_is_named(bands):
    assert judge_part(GOOD, bands).text == "passes"
    cracked = replace(GOOD, after_f=0.5 * GOOD.after_f, modes=(BondedMode(1, 19.79, 19.82),))
    judged = judge_part(cracked, bands)
    assert judged.verdict == "not a good part"
    assert {one.what for one in judged.out} == {"C after", "change of C", "K² of mode 1"}
    assert "C after 29.30 nF (" in judged.text


def test_a_value_just_out_of_its_band_is_looked_at_again(bands):
    band = next(b for b in [bands.of(r) for r in [_reading("unbonded_f")]] if b)
    part = BondedPart("1", "A", "G1", before_f=0.5 * (band.least + band.band.p10))
    assert judge_part(part, bands).verdict == "look again"
    assert judge_part(replace(part, before_f=0.9 * band.least), bands).verdict == "not a good part"


def _reading(quantity):
    from core.study.tolerance.pass_bands import Reading

    return Reading(quantity, 0, "G1")


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ({"insulation_ohm": 99e6}, "not a good part"),
        ({"insulation_ohm": 101e6}, "passes"),
        ({"press": "wrong"}, "not a good part"),
        ({"press": "none"}, "not a good part"),
        ({"press": "right"}, "passes"),
        ({}, "nothing read"),
    ],
)
def test_insulation_and_press_test_have_a_limit_without_any_study(changes, verdict):
    assert judge_part(BondedPart("1", "A", "G1", **changes), None).verdict == verdict


@pytest.mark.parametrize("sampler", ["the study's", "independent"])
def test_of_a_thousand_good_parts_as_many_pass_as_the_record_says(bands, sampler):
    """Every reading of the record, as a bench would enter it; the share within all is printed on the record."""
    request = request_of(LAB, "A")
    if sampler == "independent":
        rng = np.random.default_rng(3)
        low, high = (np.array([getattr(i, end) for i in request.inputs]) for end in ("low", "high"))
        values = low + (high - low) * rng.random((1000, len(low)))
    else:
        values = draw(request.inputs, 1000, 41)
    made = evaluate(request, values, 0)
    verdicts, out = [], []
    for k in range(1000):
        modes = []
        for n in (1, 2):
            short, k2 = float(made.f_short_hz[k, n - 1]), float(made.group_k2[k, n - 1, 0])
            modes.append(BondedMode(n, short, short * np.sqrt(1 + k2)))
        part = BondedPart(str(k), "A", "G1", float(made.unbonded_f[k, 0]), float(made.bonded_f[k, 0]), 1e9, "right", tuple(modes))
        judged = judge_part(part, bands)
        verdicts.append(judged.verdict)
        out.append({one.what for one in judged.out})
    from core.handover.text.bonding_record import readings_asked

    told = bands.share_within(readings_asked(predict(LAB, "A"), (1, 2)))
    assert verdicts.count("passes") / 1000 == pytest.approx(told, abs=0.065)
    for what in ("C before", "C after", "change of C", "f1 shorted", "f1 open", "K² of mode 2"):
        assert sum(what not in one for one in out) / 1000 == pytest.approx(0.8, abs=0.065), what
    # beyond every sample lies one reading in a thousand at either end, ten readings a part
    assert verdicts.count("not a good part") / 1000 < 0.03


def test_the_record_asks_for_the_modes_that_say_most_of_the_bond():
    assert modes_asked(predict(LAB, "A")) == (1, 2)
    assert modes_asked(predict(LAB, "A"), (replace(GOOD, modes=(BondedMode(3, 320.0),)),)) == (1, 2, 3)


# ---- kept with the project -----------------------------------------------------------------------


def test_parts_stay_with_the_project(tmp_path):
    project = replace(LAB, bonded=(GOOD, replace(GOOD, serial="SN 002", press=None, after_f=None)))
    store.save(project, tmp_path / "lab.quietspan")
    assert store.load(tmp_path / "lab.quietspan") == project
    assert find_problems(project) == ()


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (replace(GOOD, serial=" "), "has no serial number. Type one"),
        (replace(GOOD, after_f=-1e-9), 'Capacitance after bonding of "SN 001" is −1 nF; it must be'),
        (replace(GOOD, insulation_ohm=float("nan")), "is not a finite number"),
        (replace(GOOD, modes=(BondedMode(1, 20.0, 19.0),)), "open is below shorted"),
    ],
)
def test_what_cannot_be_is_said_and_keeps_nothing_from_being_predicted(part, said):
    from core.predict.remarks.problems import blocks_prediction

    (problem,) = find_problems(replace(LAB, bonded=(part,)))
    assert said.replace("−", "-") in problem.message.replace("−", "-")
    assert not blocks_prediction(problem)


def test_a_serial_number_twice_is_said():
    (problem,) = find_problems(replace(LAB, bonded=(GOOD, GOOD)))
    assert 'Serial number "SN 001" stands twice' in problem.message


def test_new_readings_join_those_that_are_there():
    before = BondedPart("7", "A", "G1", before_f=75e-9, note="dry")
    after = BondedPart("7", "A", "G1", after_f=58e-9, modes=(BondedMode(1, f_open_hz=19.9),))
    (joined,) = merged((before,), (after,))
    assert (joined.before_f, joined.after_f, joined.note, joined.mode(1).f_open_hz) == (75e-9, 58e-9, "dry", 19.9)
    other = BondedPart("7", "B", "G1", before_f=1e-9)
    assert merged((other,), (after,)) == (other, after)
    assert with_read((other, before), "A", (joined,)) == (other, joined)


# ---- text ----------------------------------------------------------------------------------------

numbers = st.one_of(st.none(), st.floats(1e-12, 1e-4))
hertz = st.one_of(st.none(), st.floats(0.1, 1e5))
texts = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), max_size=20).map(lambda s: s.strip())
parts = st.lists(
    st.builds(
        lambda serial, before, after, ohm, press, low, gap, note: BondedPart(
            serial, "A", "G1", before, after, ohm, press,
            () if low is None else (BondedMode(1, low, None if gap is None else low * (1 + gap)),), note,
        ),
        texts.filter(bool), numbers, numbers, st.one_of(st.none(), st.floats(0.0, 1e15)),
        st.sampled_from((None, "right", "wrong", "none")), hertz, st.one_of(st.none(), st.floats(1e-6, 0.2)), texts,
    ),
    min_size=1, max_size=6, unique_by=lambda p: p.serial,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(made=parts, comma=st.booleans())
def test_what_is_written_is_read_back_to_the_last_digit(made, comma):
    text = bonded_csv(made, (1,), decimal_comma=comma)
    assert read(text) == tuple(made)


def test_a_record_typed_in_a_spreadsheet_is_read():
    """Decimal comma, units of its own, K² in place of the open frequency, other words for the press test."""
    found = read(
        "Serial;C before [pF];C after (nF);Insulation [GOhm];Press;f1 shorted [Hz];K2 of mode 1 [%];Note\n"
        "0042;75200;58,6;2;ok;19,79;1,5;\n\n0043;;58,1 nF;0,5;wrong sign;;;\"loud; looks fine\"\n"
    )
    first, second = found
    assert (first.serial, first.before_f, first.after_f, first.insulation_ohm) == ("0042", 75.2e-9, 58.6e-9, 2e9)
    assert first.mode(1).k2 == pytest.approx(0.015, abs=1e-12)
    assert (second.after_f, second.press, second.note) == (58.1e-9, "wrong", "loud; looks fine")


def test_a_block_from_a_spreadsheet_is_parted_by_tabs():
    (part,) = read("serial number\tC before [nF]\tf2 open [Hz]\n9\t75,31\t119,2\n")
    assert (part.before_f, part.mode(2).f_open_hz) == (75.31e-9, 119.2)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("C before\n75\n", 'There is no column "serial number". Name the columns'),
        ("serial,C before\n1,abc\n", 'Line 2, column "C before" of 1 is "abc", not a number in nF. Write one'),
        ("serial,C before\n1,-3\n", "is −3 nF; it must be from 0.001 nF to 100000 nF. Look at its unit."),
        ("serial,C before [kg]\n1,3\n", 'has the unit "kg". Write it in nF.'),
        ("serial,colour\n1,red\n", 'there is no reading called "colour". Known are'),
        ("serial,C before,C before\n1,3,3\n", 'column "C before" stands twice'),
        ("serial,C before\n,3\n", 'Line 2, column "serial" is empty. Type the serial number'),
        ("serial,C before\n5,3\n6,4\n5,4\n", 'Line 4: serial number "5" stands in line 2 already'),
        ("serial,press\n5,maybe\n", 'is "maybe". Write right, wrong sign, no voltage'),
        ("serial,group\n5,G7\n", 'is "G7"; there is no such group. Write one of: G1.'),
        ("serial,f1 shorted,f1 open\n5,20,19\n", "is below f1 shorted. Look whether they were exchanged"),
        ("serial,f1 shorted,f1 open,K2 of mode 1\n5,20,20.2,9\n", "is 9.000 %, while f1 shorted and open give 2.010 %"),
        ("serial,K2 of mode 1\n5,1.2\n", "needs f1 shorted beside it"),
        ("serial,C before,C after\n5,75,2,58,6\n", "has 5 cells under 3 columns. A decimal comma needs cells parted by semicolons"),
        ("serial,C before\n", "There is no part in it"),
        ("", "There is no column"),
        ('serial,note\n1,"open', "quotation mark is not closed or stands within a cell"),
        ("serial,f99 open\n1,3\n", "modes go up to 40"),
        ("serial,C before\n1,1e999999999\n", "not a number"),
    ],
)  # fmt: skip
def test_a_fault_names_line_column_value_range_and_cure(text, said):
    with pytest.raises(BondedError) as caught:
        read(text)
    assert said.replace("−", "-") in str(caught.value).replace("−", "-")


def test_every_fault_of_a_file_is_told_at_once():
    with pytest.raises(BondedError) as caught:
        read("serial;C before;press\n1;x;right\n2;75;perhaps\n;75;right\n")
    assert [fault.split(",")[0].split(":")[0] for fault in caught.value.faults] == ["Line 2", "Line 3", "Line 4"]


@settings(max_examples=150, deadline=None)
@given(data=st.data(), junk=st.binary(max_size=12))
def test_damaged_records_give_words_or_sound_parts(data, junk):
    whole = bonded_csv((GOOD, replace(GOOD, serial="2")), (1, 2)).encode()
    at = data.draw(st.integers(0, len(whole)))
    cut = data.draw(st.integers(0, 40))
    try:
        found = read_bonded(whole[:at] + junk + whole[at + cut :], "A", GROUPS)
    except BondedError as error:
        assert all(fault.endswith(".") for fault in error.faults)
    else:
        assert find_problems(replace(LAB, bonded=found)) == ()


def test_the_bands_of_the_record_are_the_card_s(bands):
    """One study, one set of numbers on both papers."""
    from core.handover.documents import Order, kind, markdown_of
    from core.handover.text.results import compute_results

    results = compute_results(LAB, "A", "tolerance")
    order = Order(replace(LAB, bonded=(GOOD,)), "A", results)
    record, card = markdown_of(order, kind("bonding")), markdown_of(order, kind("test"))
    for told in ("63.26 to 87.20 nF", "46.73 to 71.19 nF", "19.39 to 20.22 Hz", "1.13 to 2.05 %"):
        assert told in record and told in card
    assert "| SN 001 | 75.20 | 58.60 | 2000 | right | 19.79 |" in record and "1 part read: 1 passes." in record
    assert dataclasses.is_dataclass(results)
