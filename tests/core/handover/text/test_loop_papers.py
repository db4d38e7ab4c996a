"""Papers of a candidate with a closed loop, and of patches that are driven: the loop, and the cautions for its leads."""

import json

import pytest

from core.handover.documents import KINDS, Order, Results, kind, markdown_of
from core.handover.drawing.items import Text
from core.handover.netlist import netlist
from core.handover.parts_list import parts_list
from core.predict.electrics.safety import DEFERS
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project.edit import with_view
from core.study.temperature.temperature import temperature_study
from tests.core.predict.loop.scene import closed, designed

DRIVEN = "Driven leads of G1 carry up to 100 V (the amplifier of the loop) and hold 5.77 µC"
WITH_LEADS = ("circuit", "record", "test", "bonding", "parts", "netlist")


def order(project):
    return Order(project, project.active, Results({project.active: predict(project)}, temperature_study(project)))


def test_the_circuit_card_tells_law_filters_amplifier_sampling_and_margins():
    text = markdown_of(order(closed()), kind("circuit"))
    block = text[text.index("## Active loop") :]
    for told in (
        "| Listens, drives | G2 listens, G1 is driven |", "position feedback: 21.13 Hz, damping 14 %, gain 0.0910",
        "gain 20.0, ±100 V, 60.0 mA, 2.00 kHz, 50.0 Ω", "100 µs, 10.0 kHz", "Gain margin +17.2 dB", "Phase margin 68°",
        "Close it at a tenth of the gain first",
    ):  # fmt: skip
        assert told in block, told
    assert "to the loop's amplifier" in text and "Set law, filters, amplifier and sampling" in text
    assert "Active loop" not in markdown_of(order(designed()), kind("circuit"))


@pytest.mark.parametrize("key", [each.key for each in KINDS if each.write is not None and each.key in WITH_LEADS])
def test_every_paper_for_who_handles_leads_has_the_caution(key):
    text = markdown_of(order(closed()), kind(key))
    assert DRIVEN in text and DEFERS in text
    assert "Driven leads" not in markdown_of(order(designed()), kind(key))


def test_a_drive_has_the_caution_on_paper_too():
    project = with_view(designed(), use="drive")
    text = markdown_of(order(project), kind("circuit"))
    assert "Driven leads of G1 carry up to 60.0 V (the drive)" in text and "Driven leads of G2" in text
    told = sheet_text(project)
    assert "Driven: G1 carries up to 60 V" in told


def sheet_text(project):
    drawn = kind("sheet").draw(order(project))
    return " ".join(item.text for page in drawn for item in page.items if isinstance(item, Text))


def test_the_placement_diagram_warns_of_driven_leads():
    assert "Driven: G1 carries up to 100 V" in sheet_text(closed())
    assert "Driven:" not in sheet_text(designed())


def test_the_parts_list_has_the_amplifier_and_the_processor():
    whats = [line.what for line in parts_list(predict(closed())).lines]
    assert any(what.startswith("amplifier, ±100 V, 60.0 mA") for what in whats)
    assert any(what.startswith("signal processor, 10.0 kHz") for what in whats)


def test_the_netlist_says_that_the_law_is_not_in_it():
    text = netlist(predict(closed()))
    assert "the law of the active loop is not in this netlist" in text and "R_G1_amplifier G1 0 50" in text


def test_terminal_and_json_have_loop_and_driven_leads():
    project = closed()
    found = predict(project)
    told = json.loads(json.dumps(prediction_json(project, found)))
    assert told["loop"]["driven"] == "G1" and told["loop"]["highest_times"] == pytest.approx(7.11, abs=0.02)
    assert told["loop"]["gain_margin_db"] == pytest.approx(17.2, abs=0.1)
    assert told["driven"][0]["volts"] == 100.0 and told["driven"][0]["to_touch_s"] == pytest.approx(0.295, rel=0.02)
    text = prediction_text(project, found)
    assert DRIVEN in text and "Loop, law: position feedback: 21.13 Hz" in text and "Loop, margins: Gain margin +17.2 dB" in text
    without = prediction_json(designed(), predict(designed()))
    assert without["loop"] is None and without["driven"] == []


def test_the_netlist_itself_and_the_process_card_warn_too():
    text = netlist(predict(closed()))
    assert "* CAUTION: Driven leads of G1 carry up to 100 V" in text and DEFERS in text
    assert "CAUTION" not in netlist(predict(designed()))
    assert "Driven: G1 carries up to 100 V" in markdown_of(order(closed()), kind("process"))
