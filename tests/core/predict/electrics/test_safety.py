"""Stored charge, what may be touched, the bleed resistor and its cost; the same on every paper and screen."""

import math

import pytest
from msgspec.structs import replace

from core.handover.documents import Order, Results, kind, markdown_of
from core.predict.electrics.leads import LOW_AC_V, LOW_DC_V, TOUCHED_AC_V, TOUCHED_DC_V
from core.predict.electrics.safety import DEFERS
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import library
from core.project.candidate import Circuit
from tests.core.predict.scenes import RESISTOR, lab, with_candidate

OPEN = Circuit("open")


def bled(project, ohm=1e7):
    candidate = project.candidate()
    return with_candidate(project, replace(candidate, groups=(replace(candidate.groups[0], bleed_ohm=ohm),)))


def test_the_limits_are_those_of_extra_low_voltage():
    """IEC 61140: 50 V ac (rms), 120 V dc ripple-free; IEC 60364-4-41, 414.4.5: 25 V ac, 60 V dc where live parts may
    be touched in the dry (clause from memory)."""
    assert (LOW_AC_V, LOW_DC_V, TOUCHED_AC_V, TOUCHED_DC_V) == (50.0, 120.0, 25.0, 60.0)


def test_stored_is_charge_and_energy_of_the_largest_voltage():
    found = predict(lab(circuit=OPEN))
    safety = found.groups[0].safety
    own = found.leads.of("group G1").largest
    assert safety.volts == own.volts
    assert safety.charge_c == pytest.approx(own.volts * found.groups[0].free_capacitance_f)
    assert safety.energy_j == pytest.approx(0.5 * safety.charge_c * own.volts)


def test_a_bleed_resistor_discharges_by_its_time_constant():
    """t = R C ln(V0/V)."""
    safety = predict(bled(lab(circuit=OPEN))).groups[0].safety
    tau = 1e7 * safety.capacitance_f
    assert safety.bleed.fitted
    assert safety.bleed.to_nothing_s == pytest.approx(tau * math.log(safety.volts))
    assert safety.bleed.to_touch_s == pytest.approx(tau * math.log(safety.volts / 60.0))


@pytest.mark.parametrize("circuit", [RESISTOR, Circuit("series R-L", {"resistance_ohm": 5e4, "inductance_h": 900.0})])
def test_its_cost_is_the_difference_of_two_predictions_fitted_or_proposed(circuit):
    plain = predict(lab(circuit=circuit))
    held = Circuit(circuit.kind, {v.name: v.value for v in plain.groups[0].values})
    without, fitted = predict(lab(circuit=held)), predict(bled(lab(circuit=held)))
    cost = without.modes[0].zeta - fitted.modes[0].zeta
    assert cost > 0.0
    assert fitted.groups[0].safety.bleed.cost == pytest.approx(cost, rel=1e-6)
    assert without.groups[0].safety.bleed.cost == pytest.approx(cost, rel=1e-6)
    assert not without.groups[0].safety.bleed.fitted and without.groups[0].safety.bleed.ohm == 1e7


def test_on_open_leads_it_adds_damping_and_says_so():
    bleed = predict(bled(lab(circuit=OPEN), 1e6)).groups[0].safety.bleed
    assert bleed.cost < 0.0 and "adds" in bleed.sentence


def test_a_negative_capacitance_in_series_does_not_bear_one():
    """At rest the patches are shorted by it, and the circuit alone on a short runs away."""
    circuit = Circuit("negative C series R", {"negative_capacitance_f": 2e-7, "resistance_ohm": 2e4})
    free = predict(lab(circuit=circuit))
    assert free.unstable == () and free.groups[0].safety.bleed.cost is None
    assert "would drive this circuit off" in free.groups[0].safety.bleed.sentence
    drifting = predict(bled(lab(circuit=circuit)))
    assert len(drifting.unstable) == 1 and "drifts" in drifting.unstable[0]


def test_open_leads_have_their_caution_where_nothing_makes_a_voltage():
    project = lab(circuit=OPEN)
    service = replace(project.service, loads=(replace(project.service.loads[0], force_n=1e-300),), cold_c=20.0, hot_c=20.0)
    told = [r for r in predict(replace(project, service=service)).remarks if r.code == "open leads"]
    assert len(told) == 1


def test_screen_papers_terminal_and_json_tell_one_number_and_defer():
    from app.results.facts import lead_rows  # the window's rows of the same numbers

    project = library.example("lab-beam")
    found = predict(project)
    rows = {row.name: row for row in lead_rows(found)}
    safety = found.groups[0].safety
    order = Order(project, project.active, Results({project.active: found}))
    told = {
        "screen": rows["Stored on open leads"].second,
        "terminal": prediction_text(project, found),
        **{key: markdown_of(order, kind(key)) for key in ("circuit", "process", "test", "bonding", "record")},
    }
    assert all(DEFERS in text for text in told.values()), [k for k, text in told.items() if DEFERS not in text]
    assert safety.stored in told["screen"] and safety.stored in told["terminal"] and safety.stored in told["circuit"]
    for key in ("process", "test", "bonding", "record"):
        assert found.leads.up_to in told[key]
    data = prediction_json(project, found)
    assert data["safety_note"] == DEFERS
    assert data["groups"][0]["safety"]["open_v"] == safety.volts
