"""Charge by heat: on open leads, through a resistor, into a circuit, and against the ceramic's allowable."""

import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.piezo.layout import solve
from core.predict.loads.heat import lead_heat_v, plate_charges_c, ramp_of
from core.predict.predict import predict
from core.predict.remarks.problems import find_problems
from core.project.candidate import Circuit, Instrument
from core.project.record import Constant
from tests.core.predict.scenes import RESISTOR, lab

OPEN = Circuit("open")


def heated(project, span=30.0, rate=0.5):
    return replace(project, service=replace(project.service, ramp_span_k=span, ramp_rate_k_s=rate))


def found(project):
    beam = solve(project, project.candidate())
    return beam, lead_heat_v(beam, coupled_system(beam, project.candidate()), ramp_of(project.service))[0]


def test_heating_drives_along_the_poling_by_charge_over_free_capacitance():
    """V = -p A dT/C, p < 0 of a poled ceramic."""
    project = heated(lab(circuit=OPEN))
    ceramic = replace(project.packages[0].ceramic, pyroelectric_c_m2_k=Constant(-4e-4, tolerance=0.1))
    project = replace(project, packages=tuple(replace(p, ceramic=ceramic) for p in project.packages))
    beam, volts = found(project)
    patch = project.candidate().patches[0]
    assert volts == pytest.approx(4.4e-4 * patch.length_m * patch.width_m * 30.0 / beam.group_free_f[0, 0], rel=1e-9)


@pytest.mark.parametrize("hung", ["bleed", "instrument", "circuit", "all three"])
def test_a_ramp_through_a_resistor_ends_at_the_closed_form(hung):
    """V = p A rate R (1 - exp(-T/(R C))), with all that conducts in parallel."""
    ohm = 2e8
    project = heated(lab(circuit=Circuit("resistor", {"resistance_ohm": ohm}) if hung in ("circuit", "all three") else OPEN))
    group = project.candidate().groups[0]
    if hung in ("instrument", "all three"):
        group = replace(group, instrument=Instrument("scope", ohm, 0.0))
    if hung in ("bleed", "all three"):
        group = replace(group, bleed_ohm=ohm)
    project = replace(project, candidates=(replace(project.candidate(), groups=(group,)),))
    beam, volts = found(project)
    r, c = ohm / (3.0 if hung == "all three" else 1.0), beam.group_free_f[0, 0]
    rate = -plate_charges_c(beam, 30.0)[0] / 60.0
    assert volts == pytest.approx(rate * r * (1.0 - math.exp(-60.0 / (r * c))), rel=1e-9)


def test_slower_through_a_resistor_is_less_and_at_once_is_as_open():
    project = lab(circuit=Circuit("resistor", {"resistance_ohm": 1e7}))
    volts = [found(heated(project, rate=rate))[1] for rate in (0.01, 0.1, 1.0, None)]
    assert volts == sorted(volts) and volts[0] < 0.02 * volts[-1]
    assert volts[-1] == pytest.approx(found(heated(lab(circuit=OPEN)))[1], rel=1e-9)


def test_a_negative_capacitance_makes_heat_worse():
    """What is left of C takes the same charge: V = Q/(C - C_neg), slowly and without a leak (nearly)."""
    project = heated(lab(circuit=Circuit("negative C parallel R", {"negative_capacitance_f": 30e-9, "resistance_ohm": 1e14})))
    beam, volts = found(project)
    c = beam.group_free_f[0, 0]
    assert volts == pytest.approx(-plate_charges_c(beam, 30.0)[0] / (c - 30e-9), rel=1e-4)


def test_a_coil_bleeds_it_all():
    """The steady part is the current through the winding, p A rate R; the start of the ramp rings a little beyond."""
    project = heated(lab(circuit=Circuit("series R-L", {"resistance_ohm": 1e4, "inductance_h": 100.0})))
    beam, volts = found(project)
    steady = abs(plate_charges_c(beam, 30.0)[0]) / 60.0 * 1e4
    assert steady < abs(volts) < 10.0 * steady < 1e-3 * found(heated(lab(circuit=OPEN)))[1]


def test_open_leads_the_limit_and_the_leads_tell_one_number():
    prediction = predict(heated(lab(circuit=OPEN)))
    thickness = prediction.solved.beam.plates[0].thickness_m
    limits = {item.name: item for item in prediction.limits if "by heat" in item.name}
    told = next(one for one in prediction.leads.found if one.where == "group G1" and "heated" in one.cause)
    for item in limits.values():
        assert abs(item.value) * thickness == pytest.approx(told.volts, rel=1e-9)
    assert limits["Field along the poling, by heat"].value > 0 > limits["Field against the poling, by heat"].value


def test_a_resistor_at_an_unstated_rate_is_no_limit_and_at_a_stated_one_is_small():
    assert not any("by heat" in item.name for item in predict(lab(circuit=RESISTOR)).limits)
    stated = [item for item in predict(heated(lab(circuit=RESISTOR))).limits if "by heat" in item.name]
    assert len(stated) == 2 and all(item.margin > 50.0 for item in stated)


def test_a_pair_wired_for_bending_cancels_heat():
    from core.project.patch_edits import paired

    project = heated(lab(circuit=OPEN))
    project = paired(project, "A", project.candidate().patches[0].id)
    beam, volts = found(project)
    alone = np.abs(plate_charges_c(beam, 30.0))
    assert abs(volts) < 1e-9 * alone.max() / beam.group_free_f[0, 0]


def test_a_rate_of_nothing_is_refused_in_words():
    project = heated(lab(), rate=0.0)
    assert any("Rate of that change" in p.message for p in find_problems(project))
