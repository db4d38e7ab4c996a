"""Groups, polarity, circuits and the instrument in the input column."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QApplication

from app.panels import edits
from core.circuit.preferred import nearest
from core.circuit.registry import CIRCUITS
from core.units import words


@pytest.fixture
def two_patches(session):
    project, _ = edits.with_new_patch(session.project)
    session.apply("Add patch", project)
    session.select_patch("P1")
    return session


def test_groups_are_joined_turned_and_split(qtbot, panel, two_patches, pick):
    session = two_patches
    pick(panel.circuit.join, session.project.candidate().groups[1].id)
    (group,) = session.project.candidate().groups
    assert [m.patch for m in group.members] == ["P1", "P2"]
    assert panel.circuit.wiring.isVisible()
    turn = panel.circuit.findChild(QAbstractButton, "polarity P2")
    qtbot.mouseClick(turn, Qt.MouseButton.LeftButton)
    assert [m.polarity for m in session.project.candidate().groups[0].members] == [1, -1]
    assert turn.text().endswith("\N{MINUS SIGN}")
    session.undo_stack.undo()
    assert [m.polarity for m in session.project.candidate().groups[0].members] == [1, 1]
    qtbot.mouseClick(panel.circuit.findChild(QAbstractButton, "split off P2"), Qt.MouseButton.LeftButton)
    assert [[m.patch for m in g.members] for g in session.project.candidate().groups] == [["P1"], ["P2"]]


def test_each_circuit_shows_its_own_values(panel, session, pick):
    start = session.project
    for kind in CIRCUITS:
        shows_its_own_values(panel, session, kind, pick)
        session.undo_stack.undo()
        assert session.project == start, kind


def shows_its_own_values(panel, session, kind, pick):
    pick(panel.circuit.kind.field, kind)
    circuit = session.project.candidate().groups[0].circuit
    assert circuit.kind == kind
    assert set(circuit.values) >= {p.name for p in CIRCUITS[kind].parameters}
    told, typed = ({name for (of, name), row in rows.items() if of == kind and row.isVisible()}
                   for rows in (panel.circuit.in_effect, panel.circuit.parameters))  # fmt: skip
    tuned, by_itself = set(CIRCUITS[kind].tuned), CIRCUITS[kind].worked_out
    assert told == (set() if by_itself else tuned)
    assert typed == {p.name for p in CIRCUITS[kind].parameters} - tuned
    assert panel.circuit.follows.isVisible() == (bool(CIRCUITS[kind].parameters) and not by_itself)
    needs_another = kind == "loop"  # it listens to a second group
    assert [p.path for p in session.problems] == (["candidates[A].groups[G1].circuit.kind"] if needs_another else [])


def test_fixing_takes_over_the_tuned_values(panel, session, type_into, pick):
    pick(panel.circuit.kind.field, "resistor")
    tuned = session.prediction.groups[0].values[0].value
    pick(panel.circuit.follows.field, False)
    circuit = session.project.candidate().groups[0].circuit
    assert circuit.tuning is None
    assert circuit.values["resistance_ohm"] == pytest.approx(tuned)
    row = panel.circuit.parameters["resistor", "resistance_ohm"]
    assert row.isVisible()
    type_into(row.field, "12 kohm")
    assert session.project.candidate().groups[0].circuit.values["resistance_ohm"] == pytest.approx(12e3)


def test_what_no_rule_sets_is_typed_while_the_rest_follows(panel, session, type_into, pick):
    pick(panel.circuit.kind.field, "series R-L")
    before = {v.name: v.value for v in session.prediction.groups[0].values}
    row = panel.circuit.parameters["series R-L", "winding_ohm"]
    assert row.isVisible() and not panel.circuit.parameters["series R-L", "resistance_ohm"].isVisible()
    type_into(row.field, "5 kohm")
    circuit = session.project.candidate().groups[0].circuit
    assert circuit.values["winding_ohm"] == pytest.approx(5e3) and circuit.tuning is not None
    after = {v.name: v.value for v in session.prediction.groups[0].values}
    assert after["resistance_ohm"] == pytest.approx(before["resistance_ohm"] - 5e3, rel=1e-5)


@pytest.mark.parametrize("kinds", [("negative C parallel R", "negative C series R"), ("negative C series R", "negative C parallel R")])
def test_a_negative_capacitance_begins_where_it_holds_and_damps(panel, session, pick, kinds):
    """Cold and hot too, and coming from the other one, whose limit lies on the other side."""
    plain = session.prediction.modes[0]
    for kind in kinds:
        pick(panel.circuit.kind.field, kind)
        found = session.prediction
        region = found.groups[0].stability
        assert found.unstable == () and region.here.setting.room == pytest.approx(0.3)
        assert region.worst.setting.holds
        assert found.modes[0].zeta > 1.5 * plain.zeta


def test_capacitors_begin_as_large_as_the_patches(panel, session, type_into, pick):
    pick(panel.circuit.kind.field, "series R-L + C")
    own = session.prediction.groups[0].blocked_capacitance_f
    assert session.project.candidate().groups[0].circuit.values["added_capacitance_f"] == pytest.approx(own)
    type_into(panel.circuit.parameters["series R-L + C", "added_capacitance_f"].field, "20 nF")
    pick(panel.circuit.kind.field, "resistor + C")
    assert session.project.candidate().groups[0].circuit.values["added_capacitance_f"] == pytest.approx(2e-8)


def test_branches_are_given_their_modes(panel, session, type_into, pick):
    pick(panel.circuit.kind.field, "current-flowing 2")
    assert panel.circuit.branches.isVisible() and not panel.circuit.mode.isVisible()
    assert panel.circuit.branches.field.text() == "1, 2"
    type_into(panel.circuit.branches.field, "1, 3")
    tuning = session.project.candidate().groups[0].circuit.tuning
    assert (tuning.mode, tuning.further) == (1, (3,))
    assert panel.circuit.branches.field.text() == "1, 3"
    third = session.prediction.modes[2]
    assert third.zeta > 1.3 * third.zeta_inherent
    pick(panel.circuit.kind.field, "resistor")
    assert panel.circuit.mode.isVisible() and not panel.circuit.branches.isVisible()


def test_an_instrument_is_hung_on_and_taken_off(qtbot, panel, session, type_into):
    assert not panel.circuit.input_r.isVisible()
    panel.circuit.instrument.field.click()
    assert session.project.candidate().groups[0].instrument is not None
    type_into(panel.circuit.input_c.field, "100 pF")
    assert session.project.candidate().groups[0].instrument.capacitance_f == pytest.approx(100e-12)
    panel.circuit.instrument.field.click()
    assert session.project.candidate().groups[0].instrument is None


def test_weights_appear_for_the_weighted_goal(panel, session, type_into, pick):
    pick(panel.circuit.kind.field, "resistor")
    pick(panel.circuit.goal.field, "weighted")
    assert panel.circuit.weights.isVisible()
    type_into(panel.circuit.weights.field, "1; 0,5")
    assert session.project.candidate().groups[0].circuit.tuning.weights == (1.0, 0.5)
    assert session.problems == ()


def test_a_fresh_resonant_circuit_follows_the_optimum_and_keeps_a_later_choice(panel, session, pick):
    pick(panel.circuit.kind.field, "resistor")
    pick(panel.circuit.rule.field, "closed form")
    pick(panel.circuit.kind.field, "series R-L")
    assert session.project.candidate().groups[0].circuit.tuning.rule == "optimum"
    at_optimum = session.prediction.modes[0].zeta
    pick(panel.circuit.rule.field, "closed form")
    assert session.prediction.modes[0].zeta < 0.9 * at_optimum  # it knows no dielectric loss
    pick(panel.circuit.kind.field, "parallel R-L")
    assert session.project.candidate().groups[0].circuit.tuning.rule == "closed form"


def test_parts_of_a_series_are_what_is_predicted(panel, session, pick):
    pick(panel.circuit.kind.field, "resistor")
    tuned = session.prediction.groups[0].values[0].value
    pick(panel.circuit.parts.field, ("E12", False))
    (taken,) = (value.value for value in session.prediction.groups[0].values)
    assert taken == nearest(tuned, "E12")
    told = panel.circuit.in_effect["resistor", "resistance_ohm"].told.text()
    assert told == words.change(words.part(tuned, "ohm"), words.part(taken, "ohm"))
    pick(panel.circuit.follows.field, False)
    type_value = session.project.candidate().groups[0].circuit.values["resistance_ohm"]
    assert type_value == pytest.approx(taken)
    session.undo_stack.undo()
    session.undo_stack.undo()
    assert session.prediction.groups[0].values[0].value == tuned
    pick(panel.circuit.kind.field, "shorted")
    assert not panel.circuit.parts.isVisible()


def test_coils_and_amplifiers_are_asked_for_where_there_are_any(panel, session, type_into, pick):
    rows = (panel.circuit.largest_coil, panel.circuit.coil_time, panel.circuit.supply, panel.circuit.bandwidth)

    def shown() -> list[bool]:
        return [row.isVisible() for row in rows]

    pick(panel.circuit.kind.field, "resistor")
    assert shown() == [False, False, False, False]
    pick(panel.circuit.kind.field, "series R-L")
    assert shown() == [True, False, True, True]
    assert "simulated by amplifiers" in panel.circuit.findings.text()
    type_into(panel.circuit.largest_coil.field, "5 kH")
    assert session.project.candidate().build.largest_coil_h == 5e3
    assert shown() == [True, True, False, False]
    assert "winds to about" in panel.circuit.findings.text()
    type_into(panel.circuit.coil_time.field, "1000 s")
    assert "winds to about" not in panel.circuit.findings.text()
    pick(panel.circuit.kind.field, "negative C parallel R")
    assert shown() == [False, False, True, True]


def test_the_capacitance_is_read_to_its_end_in_the_narrowest_column(qtbot, panel, session):
    """"96.01 nF, free 103.6 n" was what 300 pixels showed."""
    panel.resize(312, 800)
    QApplication.processEvents()
    told = panel.circuit.capacitance.told
    assert told.fontMetrics().horizontalAdvance("196.01 nF, free 203.6 nF") <= told.width()
