"""What stands where a layout runs away: its sign, the setting that holds, and no number in any table."""

import dataclasses
import json

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit import series_rl
from core.circuit.damping import mode_damping
from core.circuit.registry import CIRCUITS, PORTS
from core.handover.documents import Order, Results, kind, markdown_of
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project.candidate import Circuit, Tuning
from core.project.edit import with_candidate
from core.study.layouts import layouts
from core.study.placement.maps import default_request, placement_map
from core.study.temperature.temperature import temperature_study
from tests.core.predict.scenes import lab

USED_UP = Circuit("negative C parallel R", {"negative_capacitance_f": 1e-6, "resistance_ohm": 3e5})
TOO_SMALL = Circuit("negative C series R", {"negative_capacitance_f": 3e-8, "resistance_ohm": 3e5})


@pytest.mark.parametrize("circuit", [USED_UP, TOO_SMALL], ids=["parallel", "series"])
def test_a_negative_capacitance_drifts_and_goes_back_to_where_it_holds(circuit):
    project = lab(circuit=circuit)
    sign = predict(project).stop
    assert sign.title == "The circuit drifts" and "doubles every" in sign.detail
    assert sign.growth.mode is None and sign.growth.frequency_hz is None
    holds = predict(with_candidate(project, sign.holds.candidate))
    assert holds.stop is None and holds.unstable == ()
    value = {v.name: v.value for v in holds.groups[0].values}["negative_capacitance_f"]
    blocked, free = holds.groups[0].blocked_capacitance_f, holds.groups[0].free_capacitance_f
    assert (0.9 * blocked < value < blocked) if circuit is USED_UP else (free < value < 1.1 * free)
    # only that value changed
    assert holds.groups[0].values[1].value == pytest.approx(3e5)


def test_a_rule_goes_on_ruling_the_other_value():
    project = lab(circuit=replace(USED_UP, tuning=Tuning(mode=1)))
    holds = predict(project).stop.holds
    assert holds.candidate.groups[0].circuit.tuning == Tuning(mode=1)
    assert predict(with_candidate(project, holds.candidate)).stop is None


def test_a_bleed_resistor_that_makes_it_drift_is_taken_off():
    project = lab(circuit=Circuit("negative C series R", {"negative_capacitance_f": 2e-7, "resistance_ohm": 2e4}))
    candidate = project.candidate()
    bled = with_candidate(project, replace(candidate, groups=(replace(candidate.groups[0], bleed_ohm=1e7),)))
    sign = predict(bled).stop
    assert sign.holds.setting == "No bleed resistor"
    assert predict(with_candidate(project, sign.holds.candidate)).stop is None


@pytest.fixture
def feeding(monkeypatch):
    """A circuit with a supply: a coil in line with a resistor that feeds below 10 kohm, so that a mode grows."""

    def shifted(values):
        return {**values, "resistance_ohm": values["resistance_ohm"] - 1e4}

    kind = dataclasses.replace(
        series_rl.KIND, port=lambda v: series_rl.KIND.port(shifted(v)),
        immittance=lambda v, s: series_rl.KIND.immittance(shifted(v), s), active=True, closed_form=None,
    )  # fmt: skip
    for registry in (CIRCUITS, PORTS):
        monkeypatch.setitem(registry, "series R-L", kind)
    return lab(circuit=Circuit("series R-L", {"resistance_ohm": 2e3, "inductance_h": 1100.0}))


def test_a_mode_that_grows_is_named_with_its_frequency_and_the_value_searched(feeding):
    sign = predict(feeding).stop
    assert sign.growth.mode == 1 and 15.0 < sign.growth.frequency_hz < 25.0
    assert sign.title == f"Mode 1 grows, {sign.growth.frequency_hz:.2f} Hz"
    holds = predict(with_candidate(feeding, sign.holds.candidate))
    assert holds.stop is None
    now = {v.name: v.value for v in holds.groups[0].values}
    assert [name for name, value in feeding.candidate().groups[0].circuit.values.items() if now[name] != value] == ["inductance_h"]
    assert sign.holds.setting.startswith("Inductance ")


def numbers(cells):
    return [cell for cell in cells if any(c.isdigit() for c in cell)]


def test_nowhere_a_number_of_what_runs_away():
    from app.results.facts import results_table

    project = lab(circuit=USED_UP)
    found = predict(project)
    for row in results_table(found):
        if "damping ratio" in row[0] or "peak change" in row[0] or row[0].startswith(("Settling", "Half-life", "Mean-square")):
            assert not numbers([row[2]]), row
    data = json.loads(json.dumps(prediction_json(project, found)))
    assert data["stop"]["mode"] is None and "drifts" in data["stop"]["text"] and data["stop"]["holds"]
    for mode in data["modes"]:
        assert mode["zeta"] is None and mode["peak_change_db"] is None
        assert all(pole["damping_ratio"] is None for pole in mode["poles"])
    assert data["ring_down"]["settle_after_s"] is None and data["groups"][0]["voltage_peak_v"] is None
    text = prediction_text(project, found)
    poles = text[text.index("Poles") : text.index("Groups")].splitlines()[2:]
    assert all("unstable" in line for line in poles if line.strip())
    assert "53.5 nF of group G1 holds." in text


@pytest.mark.parametrize("key", ["record", "test", "circuit"])
def test_papers_tell_the_word_and_what_holds(key):
    project = lab(circuit=USED_UP)
    found = predict(project)
    told = markdown_of(Order(project, project.active, Results({project.active: found})), kind(key))
    assert "unstable" in told and "the circuit drifts" in told and "53.5 nF of group G1 holds." in told
    assert "nan" not in told and "inf " not in told and "unbounded V" not in told


def test_studies_leave_it_out():
    project = lab(circuit=USED_UP)
    places = {f"candidates[{project.active}].patches[P1].x_start_m": np.linspace(0.01, 0.2, 5)}
    found = layouts(project, project.candidate(), places, 3)
    assert np.isnan(found.damping(3)).all() and np.isinf(found.peaks((0, 1))[1]).all()
    assert np.isnan(mode_damping(found.system.one(0), 3)).all()
    for point in temperature_study(project).points:
        assert all(np.isnan(m.zeta) and m.peak_change_db is None for m in point.modes)


@pytest.mark.parametrize("quantity", ["damping", "peak change"])
def test_a_map_has_no_value_there_and_says_why(quantity):
    project = lab(circuit=USED_UP)
    request = dataclasses.replace(default_request(project, "P1", mode=1, shape=(3, 3)), quantity=quantity, respect_limits=False)
    found = placement_map(project, request)
    allowed = np.array([[not r or "runs away" in r for r in row] for row in
                        ([found.reason_at(i, j) for j in range(3)] for i in range(3))])  # fmt: skip
    assert allowed.any() and np.isnan(found.values).all()
    assert {found.reason_at(i, j) for i, j in np.argwhere(allowed)} == {"where its circuit runs away"}


def test_open_leads_keep_their_number():
    """What an amplifier does is no voltage of the open patch: the circuit is off then."""
    found = predict(lab(circuit=USED_UP)).leads
    plain = predict(lab(circuit=Circuit("open"))).leads
    assert found.largest.volts == pytest.approx(plain.largest.volts, rel=1e-9)
    assert found.runs_away and not found.is_safe and found.verdict == "never touch"


def test_what_hangs_beside_the_patch_is_off_when_leads_open():
    values = {"resistance_ohm": 1e5, "added_capacitance_f": 1e-6}
    found = predict(lab(circuit=Circuit("resistor + C", values))).leads.of("group G1")
    plain = predict(lab(circuit=Circuit("open"))).leads.of("group G1")
    assert found.largest.volts == pytest.approx(plain.largest.volts, rel=1e-9)


def test_what_holds_needs_no_sign():
    assert predict(lab()).stop is None
