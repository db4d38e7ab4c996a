"""What loads do to the parts on the board, and what amplifiers do when they clip."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import hold
from core.circuit.switched import quality_of
from core.handover.documents import Order, Results, kind, markdown_of
from core.handover.parts_list import PartLine, PartsList, parts_csv, parts_list
from core.handover.text.parts_page import simulated_words
from core.predict.electrics.board import OVERLOAD, clipped_share
from core.predict.loads.heat import lead_heat_v, ramp_of
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Build, Circuit, Instrument, Tuning
from core.project.edit import with_candidate
from core.units import words
from tests.core.predict.scenes import lab

LAB = library.example("lab-beam")


def _lab(letter: str, **build):
    candidate = LAB.candidate(letter)
    return with_candidate(LAB, replace(candidate, build=replace(Build(), **build)))


def _only(project, name):
    load = next(one for one in project.service.loads if one.name == name)
    return replace(project, service=replace(project.service, loads=(load,), active_load=0, ramp_span_k=0.0))


@pytest.mark.parametrize("inversion", [0.0, 0.6])
def test_a_switched_circuit_is_bought_as_switch_coil_and_detector(inversion):
    """The coil rings ten times faster than the mode with the free patches, and well enough to invert so much."""
    circuit = Circuit("switched inductor" if inversion else "switched short", {"inversion_ratio": inversion} if inversion else {}, Tuning(1))
    prediction = predict(lab(circuit=circuit))
    group = prediction.groups[0]
    lines = {line.places: line for line in parts_list(prediction).lines}
    assert list(lines) == ["S", *(["L"] if inversion else []), "D", "J"]
    assert lines["S"].quantity == 2 and lines["S"].asked == words.voltage(prediction.leads.of("group G1").with_circuit.volts)
    if inversion:
        omega = 2 * np.pi * prediction.modes[0].f_short_hz
        assert (lines["L"].value * group.free_capacitance_f) ** -0.5 == pytest.approx(10 * omega)
        assert np.exp(-np.pi / (2 * quality_of(inversion))) == pytest.approx(inversion)
    assert parts_csv(prediction).count("\n") == len(lines) + 2


def test_a_resistor_across_the_leads_has_their_voltage_and_heat():
    for load in LAB.service.loads:
        prediction = predict(_only(LAB, load.name), "B")
        (group,), (one,) = prediction.groups, prediction.solved.board.loads
        assert one.volts == pytest.approx(group.voltage_peak_v, rel=0.02)
        assert one.watts == pytest.approx(group.power_w, rel=0.04)
        assert one.volts_cause.startswith(load.name)


def test_the_worst_of_all_loads_counts():
    every = predict(LAB, "B").solved.board.loads[0].volts
    singly = [predict(_only(LAB, load.name), "B").solved.board.loads[0].volts for load in LAB.service.loads]
    assert every >= max(singly) * (1 - 1e-9)


def test_the_share_of_a_clipped_sine():
    """Describing function of a saturation (Gelb & Vander Velde 1968, from memory): 0.609 at twice, 1 below."""
    assert clipped_share(0.5) == clipped_share(1.0) == 1.0
    assert clipped_share(2.0) == pytest.approx(0.6090, abs=1e-4)
    time = np.linspace(0.0, 2 * np.pi, 200001)[:-1]
    clipped = np.clip(3.0 * np.sin(time), -1.0, 1.0)
    assert clipped_share(3.0) == pytest.approx(2.0 * np.mean(clipped * np.sin(time)) / 3.0, rel=1e-6)


def test_what_a_clipping_inductor_leaves():
    project = _lab("C", supply_v=100.0)
    prediction = predict(project, "C")
    (one,) = prediction.solved.board.simulated
    assert one.clips_at == pytest.approx((100.0 - 1.5) / one.swing_v)
    solved = prediction.solved
    held = hold(solved.candidate, solved.system)
    values = dict(held.groups[0].circuit.values)
    values["inductance_h"] /= clipped_share(OVERLOAD)
    group = replace(held.groups[0], circuit=replace(held.groups[0].circuit, values=values))
    by_hand = predict(with_candidate(project, replace(held, groups=(group,))), "C")
    assert one.left == pytest.approx(by_hand.modes[one.mode - 1].zeta, rel=1e-9)
    assert one.left < one.whole == pytest.approx(prediction.modes[one.mode - 1].zeta, rel=1e-9)
    assert 0.0 < one.noise_v < 1e-4 and one.supply_w > 0.0


def test_a_cable_counts_once_in_the_noise():
    """As much capacitance by an instrument's cable or by a capacitor of the circuit makes the same noise."""
    candidate = _lab("C").candidate("C")
    (one,) = predict(_lab("C"), "C").groups
    values = {part.name: part.value for part in one.values}
    group = replace(candidate.groups[0], circuit=Circuit("series R-L", values))
    cable = replace(group, instrument=Instrument("probe", 1e18, 1e-7))
    inside = replace(group, circuit=Circuit("series R-L + C", values | {"added_capacitance_f": 1e-7}))
    noise = []
    for hung in (cable, inside):
        (simulated,) = predict(with_candidate(LAB, replace(candidate, groups=(hung,))), "C").solved.board.simulated
        noise.append(simulated.noise_v)
    assert noise[0] == pytest.approx(noise[1], rel=1e-9)


def test_the_list_counts_and_adds_up():
    prices = {"G1 R": 0.1, "G1 LR1": 0.2, "V": 7.0}
    prediction = predict(_lab("C", series="E24", prices=prices), "C")
    listed = parts_list(prediction)
    lines = {line.key: line for line in listed.lines}
    assert lines["G1 LR1"].quantity == 3 and lines["G1 LN1"].quantity == 2
    assert lines["G1 R"].tolerance == 0.05 and lines["G1 LN1"].beyond
    assert listed.total == pytest.approx(0.1 + 3 * 0.2 + 7.0)
    assert listed.told.startswith(f"{listed.count} parts, 7.70")
    assert listed.without_price == len(listed.lines) - 3
    table = list(csv.DictReader(io.StringIO(parts_csv(prediction))))
    assert sum(int(row["quantity"]) for row in table[:-1]) == listed.count == int(table[-1]["quantity"])
    assert float(table[-1]["price"]) == pytest.approx(listed.total)
    values = {row["part"]: row["value"] for row in table}
    assert float(values["G1 R"]) == prediction.groups[0].values[1].value or float(values["G1 R"]) == prediction.groups[0].values[0].value


def test_shorted_leads_have_nothing_to_buy():
    project = LAB
    candidate = project.candidate("B")
    circuit = replace(candidate.groups[0].circuit, kind="shorted", tuning=None, values={})
    bare = replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit),))
    assert parts_list(predict(with_candidate(project, bare), "B")).lines == ()


def test_a_circuit_that_runs_away_asks_for_everything():
    candidate = LAB.candidate("B")
    circuit = replace(candidate.groups[0].circuit, kind="negative C series R", tuning=None,
                      values={"negative_capacitance_f": 2e-8, "resistance_ohm": 2e4})  # fmt: skip
    bad = replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit),))
    prediction = predict(with_candidate(LAB, bad), "B")
    assert prediction.unstable
    lines = [line for line in parts_list(prediction).lines if line.value is not None]
    assert lines and all(line.beyond and line.asked == "without bound" for line in lines if "R1" not in line.key)


def test_circuit_card_and_record_hold_the_list():
    project = _lab("C", series="E24", prices={"V": 7.0})
    prediction = predict(project, "C")
    order = Order(project, "C", Results({"C": prediction}))
    card = markdown_of(order, kind("circuit"))
    for line in parts_list(prediction).lines:
        assert line.places in card
    assert "Simulated by amplifiers" in card and "7.00" in card
    (one,) = prediction.solved.board.simulated
    assert f"it clips from {one.clips_at_words} on" in card
    assert f"{parts_list(prediction).count} parts, 7.00, " in markdown_of(order, kind("record"))


def test_energy_that_passes_once_is_what_the_group_turns_into_heat():
    once = replace(LAB, service=replace(LAB.service, active_load=0))
    prediction = predict(once, "B")
    (group,) = prediction.groups
    assert group.energy_j is not None
    only = predict(_only(LAB, once.service.loads[0].name), "B").solved.board.loads[0]
    assert only.joules == pytest.approx(group.energy_j, rel=1e-6)
    board = predict(_lab("C"), "C").solved.board
    stored = {one.component.name: one for one in board.loads}["LC"]
    assert stored.joules == pytest.approx(0.5 * stored.component.value * stored.volts**2)


def test_a_change_of_temperature_through_the_circuit_counts():
    quiet = tuple(replace(load, force_n=1e-6) for load in LAB.service.loads if hasattr(load, "force_n"))
    service = replace(LAB.service, loads=quiet, active_load=0, ramp_span_k=40.0, ramp_rate_k_s=5.0)
    group = replace(LAB.candidate("B").groups[0], circuit=replace(LAB.candidate("B").groups[0].circuit, tuning=None, values={"resistance_ohm": 1e9}))
    project = with_candidate(replace(LAB, service=service), replace(LAB.candidate("B"), groups=(group,)))
    solved = predict(project, "B").solved
    (one,) = solved.board.loads
    assert one.volts == pytest.approx(abs(lead_heat_v(solved.beam, solved.system, ramp_of(service))[0]), rel=1e-6)
    assert "heated or cooled" in one.volts_cause and one.volts > 1.0


def _negative(kind: str, size_f: float, resistance_ohm: float):
    candidate = LAB.candidate("B")
    circuit = replace(candidate.groups[0].circuit, kind=kind, tuning=None,
                      values={"negative_capacitance_f": size_f, "resistance_ohm": resistance_ohm})  # fmt: skip
    return predict(with_candidate(LAB, replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit),))), "B")


def test_an_input_on_capacitors_gets_a_path_for_its_bias_current():
    series, beside = _negative("negative C series R", 2e-7, 3e4), _negative("negative C parallel R", 1e-8, 3e4)
    (one,) = series.solved.board.simulated
    back = next(part.component.value for part in series.solved.board.loads if part.component.name == "CnCr")
    omega = 2 * np.pi * series.modes[one.mode - 1].f_short_hz
    assert one.bias_ohm == pytest.approx(100.0 / (omega * back))
    assert "carries the bias current" in simulated_words(one)
    assert beside.solved.board.simulated[0].bias_ohm is None


@pytest.mark.parametrize("resistance", [0.0, 3e4])
def test_the_condition_under_which_it_holds_is_the_amplifiers_own(resistance):
    """In line the node is the inverting input, also where nobody wants a resistor."""
    prediction = _negative("negative C series R", 2e-7, resistance)
    amplifier = next(one.component for one in prediction.solved.board.loads if one.component.what == "amplifier")
    back = next(one.component for one in prediction.solved.board.loads if one.component.name == "CnCr")
    assert amplifier.ends[1] == back.ends[0] and not amplifier.ends[1].startswith("lead")


def test_a_list_without_any_price_tells_no_total():
    bare = PartsList((PartLine("G1 R", "G1", "R", 2, "resistor", 1e3, "ohm", 0.01, "0.25 W", "10 mW", "", None),))
    assert bare.total is None and bare.told == "2 parts"
