"""The test card: its numbers are those that later judge the records and the parts."""

from __future__ import annotations

import re

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.instrument import added_damping, tau_adding, tau_of_most
from core.handover.documents import Order, kind, markdown_of
from core.handover.drawing.items import SheetError
from core.handover.text.document import Table
from core.handover.text.lab_card import lab_card, record_needs
from core.handover.text.markdown import document_markdown
from core.handover.text.results import compute_results
from core.measured.damping import FEWEST_LINES, FEWEST_TIME_CONSTANTS, least_record_s, widest_spacing_hz
from core.measured.evaluate import Entry, evaluate
from core.measured.predicted import instrument_damping
from core.measured.quality import SENSOR_SHIFT, SHUNT_DAMPING
from core.measured.record import Block, Channel, Recording
from core.project.candidate import Instrument
from core.project.measurement import Bench
from core.project.model import Tolerance
from core.study.tolerance.tolerance import request_of
from core.study.tolerance.tolerance_report import tolerance_text
from tests.levels import beam_example

LAB = beam_example("lab-beam")


@pytest.fixture(scope="module")
def made():
    results = compute_results(LAB, "A", "tolerance")
    prediction = results.of("A")
    return lab_card(LAB, "A", prediction, results.tolerance), prediction, results.tolerance


def cells(document, head: str) -> list[tuple[str, ...]]:
    return next(b.rows for b in document.blocks if isinstance(b, Table) and head in b.heads)


def test_the_pass_bands_read_as_the_study_tells_them(made):
    """ "f short 19.39 / 19.80 / 20.22 Hz" of the study is "19.39 to 20.22 Hz" on the card."""
    document, _, study = made
    told = re.findall(r"mode \d: damping ([\d.]+) / [\d.]+ / ([\d.]+) %, f short ([\d.]+) / [\d.]+ / ([\d.]+) Hz, K² ([\d.]+) / [\d.]+ / ([\d.]+) %", tolerance_text(study))
    k2 = cells(document, "Bond judged on it")
    rows = cells(document, "Damping ratio")
    for n in range(3):
        zeta_low, zeta_high, f_low, f_high, k_low, k_high = told[n]
        shorted, _, circuit = rows[3 * n : 3 * n + 3]
        assert shorted[3] == f"{f_low} to {f_high} Hz"
        assert circuit[5] == f"{zeta_low} to {zeta_high} %"
        assert k2[n][3] == f"{k_low} to {k_high} %"


def test_expected_values_are_the_prediction_s(made):
    document, prediction, _ = made
    first = prediction.modes[0]
    rows = cells(document, "Damping ratio")
    assert rows[0][2] == "19.78 Hz" and rows[0][4] == "0.15 %"
    assert rows[1][2] == f"{first.f_open_hz:.2f} Hz"
    assert cells(document, "Read")[0][2] == "75.26 nF"  # eps33T l b/t of 1700, 50 x 25 x 0.25 mm
    group = prediction.groups[0]
    assert cells(document, "Read")[1][2] == f"{1e9 * group.metered[1].capacitance_f:.2f} nF"


def test_what_the_card_asks_of_a_record_is_what_the_judgement_lets_pass(made):
    """At the printed length, spacing and mass nothing is remarked; with a tenth less or more it is."""
    _, prediction, _ = made
    for mode in prediction.modes[:3]:
        length, spacing, sensor, ohm = record_needs(prediction, mode)
        zeta, f = mode.zeta_inherent, mode.f_short_hz
        assert FEWEST_TIME_CONSTANTS <= length * zeta * 2 * np.pi * f < 1.01 * FEWEST_TIME_CONSTANTS
        assert FEWEST_LINES <= 2 * zeta * f / spacing < 1.01 * FEWEST_LINES
        mass = 1.0 / prediction.shapes.deflection[mode.number - 1, -1] ** 2
        assert 0.99 * SENSOR_SHIFT < 0.5 * sensor / mass <= SENSOR_SHIFT
        added = instrument_damping(prediction, Instrument(resistance_ohm=ohm))[mode.number]
        assert 0.98 * SHUNT_DAMPING * zeta < added <= SHUNT_DAMPING * zeta


def decay(prediction, seconds: float) -> Recording:
    """Mode 1 alone, dying freely, sampled at 400 Hz."""
    mode = prediction.modes[0]
    t = np.arange(0.0, seconds, 1 / 400.0)
    w = 2 * np.pi * mode.f_short_hz
    values = np.exp(-mode.zeta_inherent * w * t) * np.cos(w * t)
    values += 1e-4 * np.random.default_rng(1).standard_normal(len(t))
    return Recording("tip", "", "table", (Block("time", (Channel("laser", values, "V"),), 0.0, 1 / 400.0),))


@pytest.mark.parametrize(("share", "codes"), [(1.0, set()), (0.8, {"short"})])
def test_a_record_as_long_as_the_card_says_is_not_called_short(made, share, codes):
    _, prediction, _ = made
    length = record_needs(prediction, prediction.modes[0])[0]
    found = evaluate((Entry(decay(prediction, share * length + 0.3), "shorted"),), LAB, "A")
    assert {d.code for d in found.runs[0].doubts if d.mode == 1 and d.code == "short"} == codes


@pytest.mark.parametrize(("factor", "said"), [(1.0, False), (0.8, True)])
def test_an_input_as_large_as_the_card_says_is_no_shunt(made, factor, said):
    _, prediction, _ = made
    ohm = record_needs(prediction, prediction.modes[0])[3]
    bench = Bench(instrument=Instrument(resistance_ohm=factor * ohm))
    found = evaluate((Entry(decay(prediction, 40.0), "open"),), LAB, "A", bench=bench)
    assert any(d.code == "instrument" for d in found.runs[0].doubts) == said


@pytest.mark.parametrize("k2", [1e-4, 0.013, 0.3])
def test_the_resistance_that_adds_a_damping_adds_it(k2):
    most = added_damping(k2, tau_of_most(k2))
    for share in (0.01, 0.3, 0.999):
        tau = tau_adding(k2, share * most)
        assert added_damping(k2, tau) == pytest.approx(share * most, rel=1e-9)
        assert tau > tau_of_most(k2)
    assert tau_adding(k2, 1.01 * most) == tau_of_most(k2)


def test_published_figures_of_the_lab_beam():
    """A megohm on 68 nF at 19.9 Hz adds 0.078 % (K^2 1.35 %); six time constants of 11.8 Hz at 0.6 % are 13 s."""
    assert added_damping(0.0135, 2 * np.pi * 19.9 * 1e6 * 68e-9) == pytest.approx(0.00078, rel=0.02)
    assert least_record_s(0.006, 11.8) == pytest.approx(13.5, abs=0.1)
    assert 1.0 / widest_spacing_hz(0.006, 11.8) == pytest.approx(35.0, abs=0.5)


def test_without_anything_uncertain_the_card_says_why_there_are_no_bands():
    project = replace(LAB, tolerances={i.path: Tolerance(0.0) for i in request_of(LAB).inputs})
    text = markdown_of(Order(project, "A", compute_results(project, "A", "tolerance")), kind("test"))
    assert "No pass bands" in text and " to 20" not in text
    assert "| 1 | shorted | 19.78 Hz |  |" in text


def test_a_part_without_a_patch_gets_its_baseline_card():
    bare = replace(LAB.candidate("A"), patches=(), groups=())
    project = replace(LAB, candidates=(bare, *LAB.candidates[1:]))
    text = markdown_of(Order(project, "A", compute_results(project, "A", "tolerance")), kind("test"))
    assert "| as it is |" in text and "Expected coupling" not in text


def test_groups_are_opened_one_by_one():
    candidate = LAB.candidate("A")
    second = replace(candidate.patches[0], id="P2", x_start_m=0.13)
    group = replace(candidate.groups[0], id="G2", members=(replace(candidate.groups[0].members[0], patch="P2"),))
    two = replace(candidate, patches=(*candidate.patches, second), groups=(*candidate.groups, group))
    project = replace(LAB, candidates=(two, *LAB.candidates[1:]))
    text = markdown_of(Order(project, "A", compute_results(project, "A", "tolerance")), kind("test"))
    assert "nothing on the leads of G2" in text and "| open G1 |" in text and "the other groups shorted" in text
    assert len(re.findall(r"before bonding", text)) == 2


def test_what_cannot_be_predicted_has_no_card():
    with pytest.raises(SheetError, match="has no prediction: mend its inputs"):
        kind("test").draw(Order(LAB, "A"))


def test_repeats_are_asked_for_by_what_few_of_them_cost(made):
    """Student's t at 68.27 % over 1: 1.84 with one degree of freedom, 1.32 with two (tables, from memory)."""
    text = document_markdown(made[0])
    assert "Shorted and open in turn, at least 3 times each" in text
    assert "2 by 84 %, 3 by 32 % (Student's t)" in text
