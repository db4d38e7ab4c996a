"""The largest voltage at the leads: the worst of bends, every load and heat; what it means for touching."""

import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.handover.documents import Order, Results, kind, markdown_of
from core.piezo.layout import solve
from core.predict.electrics.leads import Leads, LeadVoltage, rounded_up
from core.predict.predict import predict
from core.project.candidate import Circuit
from core.project.edit import with_candidate
from core.project.record import Constant
from core.project.service import StaticForce
from tests.core.predict.scenes import FORCE, KNOCK, PLUCK, RESISTOR, SHAKE, lab
from tests.core.scenes import two_faces
from tests.levels import beam_example

OPEN = Circuit("open")


def served(project, *loads, cold=20.0, hot=20.0, forces=()):
    service = replace(
        project.service, loads=loads, active_load=0, static_forces=forces, cold_c=cold, hot_c=hot
    )
    return replace(project, service=service)


def test_every_load_counts_not_the_active_one_alone():
    quiet = replace(FORCE, force_n=1e-6)
    alone = predict(served(lab(), quiet)).leads
    both = predict(served(lab(), quiet, PLUCK)).leads
    assert both.largest.volts > 1000 * alone.largest.volts
    assert both.largest.cause == "pluck, 5.00 mm at the tip, leads open"


@pytest.mark.parametrize("load", [FORCE, PLUCK, KNOCK, SHAKE, replace(SHAKE, random=True)])
def test_open_it_is_what_an_open_circuit_would_see_and_connected_what_the_circuit_sees(load):
    found = predict(served(lab(circuit=RESISTOR), load)).leads
    open_ = predict(served(lab(circuit=OPEN), load)).groups[0].voltage_peak_v
    own = found.of("group G1")
    assert own.largest.volts == pytest.approx(open_, rel=2e-2)
    connected = predict(served(lab(circuit=RESISTOR), load)).groups[0].voltage_peak_v
    assert own.with_circuit.volts == pytest.approx(connected, rel=2e-2)


def test_heat_is_charge_over_free_capacitance():
    """V = p A dT/C_free, p at the far end of its tolerance."""
    project = served(lab(), replace(FORCE, force_n=1e-9), cold=-10.0, hot=40.0)
    ceramic = replace(project.packages[0].ceramic, pyroelectric_c_m2_k=Constant(-4e-4, tolerance=0.1))
    project = replace(project, packages=tuple(replace(p, ceramic=ceramic) for p in project.packages))
    beam = solve(project, project.candidate())
    patch = project.candidate().patches[0]
    expected = 4.4e-4 * patch.length_m * patch.width_m * 50.0 / beam.free_f[0, 0]
    largest = predict(project).leads.largest
    assert largest.volts == pytest.approx(expected, rel=1e-9)
    assert largest.steady and "between −10 °C and 40 °C" in largest.cause


def test_a_bend_counts_as_the_voltage_of_open_leads():
    project = served(lab(), replace(FORCE, force_n=1e-9), forces=(StaticForce("bend", -3.0),))
    beam = solve(project, project.candidate())
    row = beam.deflection_row(0.3)
    expected = 3.0 * abs(float(row @ beam.group_theta_rows[0])) / beam.group_free_f[0, 0]
    assert predict(project).leads.largest.volts == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("times", [1.3, 4.0])
def test_a_bend_counts_as_what_stands_beside_another_that_keeps_its_charge(times):
    """A ceramic behind a negative capacitance in line, one on the other face on open leads: charge over what both store,
    solved here by hand, where the voltages of one come through the part to the other."""
    project = served(lab(), replace(FORCE, force_n=1e-9), forces=(StaticForce("bend", -3.0),))
    candidate = two_faces(project)
    beam = solve(project, candidate)
    size = times * beam.group_free_f[0, 0]
    circuit = Circuit("negative C series R", {"negative_capacitance_f": size, "resistance_ohm": 1e4})
    groups = (replace(candidate.groups[0], circuit=circuit), replace(candidate.groups[1], circuit=OPEN))
    found = predict(with_candidate(project, replace(candidate, groups=groups)), "A").leads
    charge = -3.0 * beam.deflection_row(0.3) @ beam.group_theta_rows.T
    together = np.abs(np.linalg.solve(beam.group_free_f - np.diag([size, 0.0]), charge))
    alone = np.abs(charge / np.diag(beam.group_free_f))
    assert times > 2.0 or (together > 1.2 * alone).all()
    for g, name in enumerate(("group G1", "group G2")):
        assert found.of(name).largest.volts == pytest.approx(max(together[g], alone[g]), rel=1e-6)


@pytest.mark.parametrize(
    ("volts", "steady", "words", "safe"),
    [
        (59.0, True, "Within 60 V dc", True),
        (61.0, True, "Above 60 V dc", False),
        (121.0, True, "Above 120 V dc", False),
        (35.0, False, "Within 25 V ac rms", True),
        (36.0, False, "Above 25 V ac rms", False),
        (71.0, False, "Above 50 V ac rms", False),
    ],
)
def test_touch_follows_extra_low_voltage(volts, steady, words, safe):
    """50 V ac, 120 V dc, half of each for live parts that may be touched (IEC 61140, from memory)."""
    leads = Leads((LeadVoltage("group G1", volts, steady, "cause", True),))
    assert leads.touch.startswith(words)
    assert leads.is_safe is safe


def test_the_gravest_decides_even_where_another_is_larger():
    steady = LeadVoltage("P1 by itself", 59.0, True, "heat", True)
    swinging = LeadVoltage("group G1", 50.0, False, "shaker", True)
    assert "shaker" in Leads((steady, swinging)).touch


def test_open_leads_never_go_without_a_word():
    weak = predict(served(lab(circuit=OPEN), replace(FORCE, force_n=1e-9)))
    strong = predict(served(lab(circuit=OPEN), PLUCK, cold=0.0, hot=60.0))
    told = [next(r for r in p.remarks if r.code == "open leads") for p in (weak, strong)]
    assert [r.severity for r in told] == ["note", "caution"]
    assert strong.leads.of("group G1").up_to in told[1].text
    assert not any(r.code == "open leads" for r in predict(lab()).remarks)


def test_one_number_for_screen_sheet_and_card():
    from app.results.facts import lead_rows  # the window's row of the same number
    project = beam_example("louvre-blade")
    found = predict(project)
    order = Order(project, project.active, Results({project.active: found}))
    assert order.open_voltage_v == found.leads.largest.volts
    assert lead_rows(found)[0].value == found.leads.up_to
    assert lead_rows(found)[0].note == found.leads.verdict == "never touch"
    for key in ("circuit", "process"):
        assert f"up to {found.leads.up_to}" in markdown_of(order, kind(key))


def test_a_voltage_is_rounded_up():
    assert [rounded_up(v) for v in (137.2, 140.0, 99.1, 7.2, math.inf)] == ["140", "140", "100", "8", "unbounded"]
