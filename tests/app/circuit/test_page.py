"""The Circuit page by mouse and keys: schematic, price cards, stability, failures, beside and stacked."""

from __future__ import annotations

import subprocess
import sys
from xml.etree import ElementTree

import msgspec
import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QGuiApplication, QWheelEvent
from PySide6.QtWidgets import QApplication, QFileDialog, QPushButton

from app.circuit.page import PASSIVE, SWITCHED, CircuitPage
from app.circuit.price_card import PriceCard
from app.fields import QuantityField
from app.fields.link import Link
from core.circuit import preferred
from core.circuit.registry import CIRCUITS
from core.handover.netlist import netlist
from core.handover.parts_list import parts_list
from core.predict.group_part import Group
from core.project import edit
from core.project.candidate import Circuit, Tuning
from core.units import words

CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
LEFT = Qt.MouseButton.LeftButton


def with_circuit(window, kind: str, tuning: Tuning | None = None, **values: float) -> None:
    project = window.session.project
    group = project.candidate().groups[0]
    circuit = Circuit(kind=kind, values=CIRCUITS[kind].complete(values), tuning=tuning)
    window.session.apply("Other circuit", edit.with_group(project, project.active, msgspec.structs.replace(group, circuit=circuit)))


def in_effect(window) -> dict[str, float]:
    return {value.name: value.value for value in window.session.prediction.groups[0].values}


def card(window, name: str) -> PriceCard:
    return window.findChild(PriceCard, f"price {name}")


@pytest.fixture
def opened(window, qtbot) -> CircuitPage:
    """The page, opened by its key."""
    qtbot.keyClick(window, Qt.Key.Key_4, CTRL)
    page = window.findChild(CircuitPage)
    assert page.isVisible() and window.bar.pages.button("circuit").isChecked()
    return page


def test_inputs_and_answer_stay_beside_it_and_escape_goes_back(window, qtbot, opened):
    assert window.inputs.isVisible() and window.answers.block.isVisible() and opened.side.isVisible()
    assert not window.canvas.isVisible() and not window.results.isVisible()
    qtbot.keyClick(opened, Qt.Key.Key_Escape)
    assert window.canvas.isVisible() and window.results.isVisible() and not opened.isVisible()
    window.go_to_input(f"candidates[A].groups[{window.session.project.candidate().groups[0].id}].circuit.kind")
    assert window.canvas.isVisible()
    qtbot.keyClick(window, Qt.Key.Key_4, CTRL)
    window.go_to_input(f"candidates[A].groups[{window.session.project.candidate().groups[0].id}].circuit.kind")
    assert opened.isVisible(), "its inputs are beside the page: nobody has to leave it"


def test_every_kind_is_drawn_with_its_values_and_priced(window, qtbot, opened):
    for kind in CIRCUITS:
        with_circuit(window, kind, negative_capacitance_f=1.2e-7 if kind == "negative C series R" else 3e-8)
        drawn_and_priced(window, qtbot, opened, kind)


def drawn_and_priced(window, qtbot, opened, kind: str) -> None:
    result = window.session.prediction.groups[0]
    told = " ".join(opened.schematic.words)
    for value in result.values:
        if value.unit and value.value:
            assert words.part(value.value, value.unit) in told or value.name.startswith("equivalent")
    priced = {price.name for price in result.prices}
    # those of several branches come from beside the window
    qtbot.waitUntil(lambda: {one.name for one in opened.prices.cards if one.isVisible()} == priced)
    if "negative_capacitance_f" in {value.name for value in result.values}:
        assert opened.stability.isVisible() and "to spare" in opened.stability_words.text()
        assert any("margin" in text for text in opened.stability.margin_words)
    else:
        assert opened.stability_words.text() in (PASSIVE, SWITCHED) and not opened.stability.isVisible()
    assert opened.grab().width() > 0


def test_dragging_a_slider_follows_the_hand_and_is_one_undo_step(window, qtbot, opened):
    slider = card(window, "resistance_ohm").slider
    before, count = in_effect(window)["resistance_ohm"], window.session.undo_stack.count()
    start = QPoint(round(slider.x_of(before)), slider.height() // 2)
    qtbot.mousePress(slider, LEFT, pos=start)
    seen = []
    for step in range(1, 6):
        qtbot.mouseMove(slider, start + QPoint(6 * step, 0))
        QApplication.processEvents()
        assert window.session.previewing
        value = in_effect(window)["resistance_ohm"]
        seen.append(value)
        assert opened.prices.cards[0].price.present == value
        assert any(word.endswith("kΩ") and word.startswith(f"{value / 1e3:.1f}"[:3]) for word in opened.schematic.words)
    assert seen == sorted(seen) and seen[0] > before
    axis = slider.x_of(seen[-1])
    qtbot.mouseRelease(slider, LEFT, pos=start + QPoint(30, 0))
    assert not window.session.previewing and window.session.undo_stack.count() == count + 1
    assert in_effect(window)["resistance_ohm"] == seen[-1]
    assert slider.x_of(seen[-1]) == axis, "the axis stays under the hand"
    assert window.session.project.candidate().groups[0].circuit.tuning is None
    window.session.undo_stack.undo()
    assert in_effect(window)["resistance_ohm"] == pytest.approx(before)


def test_every_value_lies_on_the_axis_of_its_card(window, qtbot, opened):
    """Also the capacitance on the leads, of which a negative one takes the larger part."""
    with_circuit(window, "negative C parallel R", Tuning(1), negative_capacitance_f=3.6e-8)
    for one in opened.prices.cards:
        if one.isVisible():
            assert one.price.values[0] < one.price.present < one.price.values[-1]
            left, right = one.slider.x_of(one.price.values[0]), one.slider.x_of(one.price.values[-1])
            assert left + 10 < one.slider.x_of(one.price.present) < right - 10
    assert opened.prices.cards[-1].price.present < 0.5 * window.session.prediction.groups[0].free_capacitance_f


def test_a_frame_of_a_drag_prices_the_value_held_and_a_few_times_a_second_one_other(window, qtbot, opened, monkeypatch):
    asked = []
    own = Group.prices_over

    def seen(self, ranges, **told):
        asked.append(set(ranges))
        return own(self, ranges, **told)

    monkeypatch.setattr(Group, "prices_over", seen)
    with_circuit(window, "current-flowing 2", Tuning(1))
    qtbot.waitUntil(lambda: len([one for one in opened.prices.cards if one.isVisible()]) > 6)
    slider, before = card(window, "inductance_2_h").slider, card(window, "resistance_1_ohm").price
    asked.clear()
    opened.area.ensureWidgetVisible(slider)
    start = QPoint(round(slider.x_of(in_effect(window)["inductance_2_h"])), slider.height() // 2)
    qtbot.mousePress(slider, LEFT, pos=start)
    monkeypatch.setattr("app.shell.session.LIMITS_EVERY_S", 0.0)
    monkeypatch.setattr("app.shell.session.LIMITS_EVERY", 1)
    for step in range(1, 4):
        qtbot.mouseMove(slider, start + QPoint(6 * step, 0))
        QApplication.processEvents()
    assert len(asked) == 3 and all(len(names) == 2 and "inductance_2_h" in names for names in asked)
    others = [names - {"inductance_2_h"} for names in asked]
    assert others[0] != others[1] != others[2]
    asked.clear()
    monkeypatch.setattr("app.shell.session.LIMITS_EVERY_S", 60.0)  # frames between, which tell nothing dear
    for step in range(4, 6):
        qtbot.mouseMove(slider, start + QPoint(6 * step, 0))
        QApplication.processEvents()
    assert asked == [{"inductance_2_h"}] * 2 and "limits" not in window.session.prediction.asked_for
    assert "vibration" not in vars(window.session.prediction.solved)
    asked.clear()
    qtbot.mouseRelease(slider, LEFT, pos=start + QPoint(30, 0))
    qtbot.waitUntil(lambda: card(window, "resistance_1_ohm").price.at_present[1] != before.at_present[1])
    assert [len(names) for names in asked] == [len([one for one in opened.prices.cards if one.isVisible()])]


def test_escape_gives_a_drag_back(window, qtbot, opened):
    slider, before = card(window, "resistance_ohm").slider, in_effect(window)
    start = QPoint(round(slider.x_of(before["resistance_ohm"])), slider.height() // 2)
    qtbot.mousePress(slider, LEFT, pos=start)
    qtbot.mouseMove(slider, start + QPoint(25, 0))
    QApplication.processEvents()
    assert in_effect(window) != before
    qtbot.keyClick(slider, Qt.Key.Key_Escape)
    assert in_effect(window) == before and opened.isVisible()
    qtbot.mouseRelease(slider, LEFT, pos=start + QPoint(25, 0))
    assert in_effect(window) == before


def test_arrows_go_along_preferred_values_and_enter_back_to_the_tuned_one(window, qtbot, opened):
    tuned = in_effect(window)["resistance_ohm"]
    slider = card(window, "resistance_ohm").slider
    slider.setFocus()
    qtbot.keyClick(slider, Qt.Key.Key_Right)
    first = in_effect(window)["resistance_ohm"]
    assert first == preferred.nearest(tuned, "E24", "up")
    qtbot.keyClick(slider, Qt.Key.Key_Right, SHIFT)
    tenth = in_effect(window)["resistance_ohm"]
    ladder = [m * d for d in (1e4, 1e5, 1e6) for m in preferred.SERIES["E24"]]
    places = [next(n for n, v in enumerate(ladder) if v == pytest.approx(value, rel=1e-6)) for value in (first, tenth)]
    assert places[1] - places[0] == 10
    qtbot.keyClick(slider, Qt.Key.Key_Left)
    assert in_effect(window)["resistance_ohm"] == pytest.approx(ladder[places[1] - 1], rel=1e-6)
    qtbot.keyClick(slider, Qt.Key.Key_Return)
    assert in_effect(window)["resistance_ohm"] == pytest.approx(tuned, rel=2e-3)
    assert window.session.undo_stack.count() == 4


def test_the_wheel_never_changes_a_value(window, qtbot, opened):
    before = window.session.project
    slider = card(window, "resistance_ohm").slider
    at = QPointF(slider.width() / 2, 8)
    event = QWheelEvent(at, slider.mapToGlobal(at), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton,
                        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
    QApplication.sendEvent(slider, event)
    assert not event.isAccepted() and window.session.project is before and not window.session.previewing


def test_what_is_unstable_is_hatched_and_never_a_number(window, qtbot, opened):
    free = window.session.prediction.groups[0].free_capacitance_f
    with_circuit(window, "negative C series R", negative_capacitance_f=1.06 * free)
    shown = card(window, "negative_capacitance_f")
    ((low, high),) = shown.curve.unstable
    assert high == pytest.approx(free, rel=0.03) and low < 0.9 * free
    assert shown.misses.lines[0][1:] == ("grows without end", True)
    with_circuit(window, "negative C series R", negative_capacitance_f=0.9 * free)
    assert "volts run away" in opened.schematic.words
    assert "drifts" in opened.stability_words.text()
    assert all("%" not in value for _, value, _ in card(window, "negative_capacitance_f").misses.lines[:1])
    assert opened.stability.margin_words[0].startswith("fails")


def test_several_groups_have_a_choice_above_the_schematic(window, qtbot, opened):
    assert not opened.group.isVisible()
    project = edit.add_patch(window.session.project, window.session.project.active)
    window.session.apply("Add patch", project)
    groups = window.session.project.candidate().groups
    assert opened.group.isVisible() and opened.group.count() == len(groups) == 2
    opened.group.setFocus()
    qtbot.keyClick(opened.group, Qt.Key.Key_Down)
    assert groups[1].members[0].patch in opened.schematic.words
    assert window.session.selected_patch == groups[1].members[0].patch, "its inputs come with it"
    window.session.select_patch(groups[0].members[0].patch)
    assert opened.group.value() == groups[0].id


def test_the_failure_table_is_that_of_the_candidate(window, qtbot, opened):
    from core.predict.electrics.failure import failures

    qtbot.waitUntil(lambda: bool(opened.failures.rows), timeout=20000)
    assert opened.failures.rows == failures(window.session.project)
    names = [row.cells[0].text for row in opened.failures.table_view.rows()]
    assert {"As designed", "Lead open", "Leads shorted"} <= set(names)
    assert opened.table()[-1][0] in names[-1]


def test_a_narrow_window_stacks_everything_below_the_schematic(window, qtbot, opened):
    window.resize(1067, 667)
    QApplication.processEvents()
    assert not window.answers.isVisible() and window.answers.block.isVisible() and opened.side.isVisible()
    column = opened._body
    tops = [part.mapTo(column, QPoint(0, 0)).y() for part in (opened.schematic, opened.prices, opened.failures, opened.side)]
    assert tops == sorted(tops)
    assert window.answers.block.mapTo(opened, QPoint(0, 0)).y() < opened.area.y()
    qtbot.keyClick(window, Qt.Key.Key_1, CTRL)
    assert window.answers.isVisible() and window.answers.isAncestorOf(window.answers.block)
    qtbot.keyClick(window, Qt.Key.Key_4, CTRL)
    window.resize(1440, 900)
    QApplication.processEvents()
    assert window.answers.isAncestorOf(opened.side) and window.answers.isAncestorOf(window.answers.block)


def test_the_schematic_can_be_copied_and_saved(window, qtbot, opened, tmp_path):
    qtbot.mouseClick(opened.findChild(Link, "copySchematic"), LEFT)
    assert QGuiApplication.clipboard().pixmap().width() > 200
    qtbot.mouseClick(opened.findChild(Link, "saveSchematic"), LEFT)
    dialog = opened.findChild(QFileDialog, "saveTextDialog")
    dialog.fileSelected.emit(str(tmp_path / "circuit.svg"))
    dialog.close()
    written = [one.text for one in ElementTree.parse(tmp_path / "circuit.svg").iter("{http://www.w3.org/2000/svg}text")]
    assert sorted(written) == sorted(opened.schematic.words)


def test_only_what_is_in_sight_is_worked_out_while_a_hand_moves(window, qtbot, opened):
    window.session._rest.setInterval(60_000)
    with_circuit(window, "negative C series R", negative_capacitance_f=1.2e-7)
    slider = card(window, "resistance_ohm").slider
    start = QPoint(round(slider.x_of(in_effect(window)["resistance_ohm"])), 8)
    qtbot.mousePress(slider, LEFT, pos=start)
    qtbot.mouseMove(slider, start + QPoint(9, 0))
    QApplication.processEvents()
    assert not {"leads", "remarks", "ring_down"} & window.session.prediction.asked_for
    assert "stability" not in window.session.prediction.groups[0].__dict__
    qtbot.mouseRelease(slider, LEFT, pos=start + QPoint(9, 0))
    assert "stability" in window.session.prediction.groups[0].__dict__


def test_no_lettering_is_under_eleven_pixels(window, qtbot, opened):
    for size in ((800, 460), (1067, 667), (1920, 1200)):
        window.resize(*size)
        QApplication.processEvents()
        opened.grab()
        _, unit, _ = opened.schematic._painted
        assert unit * 0.5 >= 11


def test_a_candidate_without_patches_says_what_to_do(window, qtbot, opened):
    project = window.session.project
    candidate = project.candidate()
    for patch in candidate.patches:
        project = edit.without_patch(project, project.active, patch.id)
    window.session.apply("Delete all", project)
    assert "Add a patch" in opened.about.text()
    assert not opened.schematic.isVisible() and not opened.failures.isVisible()


def test_the_drawing_library_waits_for_the_page():
    code = "import app.shell.window, sys; raise SystemExit('schemdraw' in sys.modules or 'PySide6.QtSvg' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_safety_block_says_what_the_leads_can_do(window, qtbot, opened):
    safety = window.session.prediction.groups[0].safety
    rows = {row.cells[0].text: row for row in opened.side.safety.rows.rows()}
    assert rows["Stored"].cells[1].text in safety.stored
    assert rows["Leads open"].cells[1].tone == "danger" and safety.volts > 120
    assert safety.touch in opened.side.safety.touch.text()
    assert opened.side.safety.bleed.text() == safety.bleed.sentence


def test_the_parts_list_takes_a_price_and_gives_the_total(window, qtbot, opened):
    with_circuit(window, "series R-L", Tuning(1, "optimum"))
    parts = opened.side.parts
    listed = parts_list(window.session.prediction)
    assert [line.key for line in parts.lines] == [line.key for line in listed.lines]
    amplifiers = next(line for line in listed.lines if "N1" in line.places)
    assert any(amplifiers.places.split(", ")[0] in word for word in opened.schematic.words), "one name on drawing and list"
    field = window.findChild(QuantityField, f"price of {amplifiers.key}")
    field.setFocus()
    qtbot.keyClicks(field, "2.40")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert window.session.project.candidate().build.prices == {amplifiers.key: 2.4}
    assert words.money(2.4 * amplifiers.quantity) in parts.total.text()
    window.session.undo_stack.undo()
    assert window.session.project.candidate().build.prices == {} and field.text() == ""
    qtbot.mouseClick(window.findChild(Link, "copyParts"), LEFT)
    assert amplifiers.places in QGuiApplication.clipboard().text()


def test_the_netlist_is_copied_and_saved_and_the_card_opened(window, qtbot, opened, tmp_path):
    expected = netlist(window.session.prediction)
    qtbot.mouseClick(window.findChild(QPushButton, "copyNetlist"), LEFT)
    assert QGuiApplication.clipboard().text() == expected
    qtbot.mouseClick(window.findChild(QPushButton, "saveNetlist"), LEFT)
    dialog = window.findChild(QFileDialog, "saveTextDialog")
    dialog.fileSelected.emit(str(tmp_path / "circuit.cir"))
    dialog.close()
    assert (tmp_path / "circuit.cir").read_text() == expected
    qtbot.mouseClick(window.findChild(QPushButton, "circuitCard"), LEFT)
    assert window.pages.papers.papers.bar.kind().key == "circuit"


def test_a_netlist_that_cannot_be_written_says_why(window, qtbot, opened):
    project = window.session.project
    for patch in project.candidate().patches:
        project = edit.without_patch(project, project.active, patch.id)
    take = opened.side.take_along
    qtbot.mouseClick(window.findChild(QPushButton, "copyNetlist"), LEFT)
    before = QGuiApplication.clipboard().text()
    window.session.apply("Delete all", project)
    take.show_prediction(window.session.prediction)
    take.copy_netlist()
    assert "no patch" in take.about.text() and QGuiApplication.clipboard().text() == before


def test_everything_over_frequency_can_be_read_and_copied(window, qtbot, opened):
    block = opened.over_frequency
    result = window.session.prediction.groups[0]
    block.at.setFocus()
    block.at.selectAll()
    qtbot.keyClicks(block.at, "25")
    qtbot.keyClick(block.at, Qt.Key.Key_Return)
    one = result.over_frequency(np.array([25.0]))
    told = block.reading.text()
    assert told.startswith(words.frequency(25.0)) and words.capacitance(float(one.capacitance_f[0])) in told
    assert words.voltage(float(one.voltage_v[0])) in told and words.engineering(abs(one.circuit_ohm[0]), "ohm") in told
    block.what.setFocus()
    for chart in ("capacitance", "voltage"):
        qtbot.keyClick(block.what, Qt.Key.Key_Down)
        assert block.charts[chart].isVisible() and not block.charts["impedance"].isVisible()
    qtbot.mouseClick(opened.findChild(Link, "copyOverFrequency"), LEFT)
    copied = QGuiApplication.clipboard().text().splitlines()
    assert copied[0].split("\t")[0] == "Hz" and len(copied) == len(block.found.frequency_hz) + 1


def test_the_answer_names_a_switch_by_what_it_inverts(window, qtbot, opened):
    with_circuit(window, "switched inductor", Tuning(1))
    assert "switched on an inductor 60 %" in " ".join(window.answers.block.sentences())


def test_by_keys_alone_every_slider_is_reached_and_a_step_undone(window, qtbot, opened):
    with_circuit(window, "series R-L", Tuning(1))
    shown = [one for one in opened.prices.cards if one.isVisible() and one.slider.isVisible()]
    opened.schematic.setFocus()
    met = []
    for _ in range(40):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        met.append(QApplication.focusWidget())
        assert met[-1].isVisible()
    assert {one.slider for one in shown} <= set(met) and len(shown) == 2
    before = in_effect(window)
    shown[0].slider.setFocus()
    qtbot.keyClick(shown[0].slider, Qt.Key.Key_Up)
    assert in_effect(window) != before
    qtbot.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert in_effect(window) == pytest.approx(before)


def test_nonsense_in_a_field_of_the_page_changes_nothing(window, qtbot, opened):
    before = window.session.project
    for field in opened.window().findChildren(QuantityField):
        if field.isVisible() and (opened.isAncestorOf(field) or opened.side.isAncestorOf(field)):
            held = field.text()
            field.setFocus()
            field.selectAll()
            qtbot.keyClicks(field, "12 bananas")
            qtbot.keyClick(field, Qt.Key.Key_Return)
            assert window.session.project is before
            qtbot.keyClick(field, Qt.Key.Key_Escape)
            assert field.text() == held
    assert opened.isVisible()
