"""A circuit that feeds energy in: an error at once, and no number that could be taken for damping."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import library
from core.project.candidate import Circuit
from core.project.service import BaseShock
from tests.core.predict.scenes import BAND, KNOCK, PLUCK, SHAKE, driving_circuit, lab


@pytest.fixture(params=[None, SHAKE, replace(SHAKE, random=True), PLUCK, KNOCK], ids=str)
def found(request, monkeypatch):
    driving_circuit(monkeypatch)
    project = lab(**({} if request.param is None else {"load": request.param}), circuit=Circuit("resistor"))
    return project, predict(project)


def test_every_growing_pole_is_named(found):
    _, prediction = found
    assert any("mode 1 grows" in text for text in prediction.unstable)
    assert any("drifts" in text for text in prediction.unstable)


def test_no_number_after_the_circuit_is_left(found):
    _, prediction = found
    assert math.isnan(prediction.modes[0].zeta)
    assert all(mode.peak_change_db is None for mode in prediction.modes)
    assert np.isnan(prediction.response.after).all() and np.isnan(prediction.ring_down.after).all()
    assert prediction.ring_down.settle_after_s == math.inf
    assert prediction.groups[0].voltage_peak_v == math.inf
    in_vibration = [item for item in prediction.limits if "vibration" in item.name]
    assert in_vibration and all(item.margin == 0.0 for item in in_vibration)


def test_the_report_says_unstable_instead_of_a_negative_damping(found):
    project, prediction = found
    text = prediction_text(project, prediction)
    poles = text.partition("\nPoles")[2].partition("\n\n")[0].splitlines()[2:]
    assert poles[0].split()[2] == "unstable"
    assert all(row.split()[2] == "unstable" or float(row.split()[2]) >= 0 for row in poles)
    told = json.loads(json.dumps(prediction_json(project, prediction), allow_nan=False))
    assert told["stable"] is False and told["modes"][0]["zeta"] is None
    ratios = [pole["damping_ratio"] for mode in told["modes"] for pole in mode["poles"]]
    assert None in ratios and all(ratio is None or ratio >= 0 for ratio in ratios)


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("load", [KNOCK, BaseShock("shock", 500.0, 0.1, BAND)], ids=str)
def test_what_doubles_thousands_of_times_within_a_pulse_is_told_and_not_worked_out(load):
    """The motion would overflow by the end of the pulse; nothing that follows may be made of it."""
    drifts = Circuit("negative C series R", values={"negative_capacitance_f": 1e-9, "resistance_ohm": 1.0})
    found = predict(lab(load, circuit=drifts)).whole()
    assert "drifts" in found.unstable[0] and found.ring_down.settle_after_s == math.inf
    assert np.isnan(found.ring_down.after).all() and np.isfinite(found.ring_down.before).all()
    assert len(found.ring_down.after) == len(found.ring_down.time_s)


def test_torsion_has_no_damping_either_while_something_grows():
    """A patch off the centreline reaches torsion; what its circuit drives off leaves no mode a damping to tell."""
    project = library.example("half-board")
    candidate = project.candidate()
    drifts = Circuit("negative C series R", values={"negative_capacitance_f": 1e-9, "resistance_ohm": 1e4})
    candidate = replace(
        candidate, patches=(replace(candidate.patches[0], y_m=0.02),), groups=(replace(candidate.groups[0], circuit=drifts),)
    )
    project = replace(project, candidates=(candidate,), active=candidate.id)
    found = predict(project)
    assert found.unstable and found.torsion[0].is_reached and math.isnan(found.torsion[0].zeta)
    told = prediction_json(project, found)["torsion"][0]
    assert told["k2"] > 0.0 and told["zeta"] is None
