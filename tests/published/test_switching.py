"""Leads switched at the extremes of the motion, on a short and on an inductor: Richard, Guyomar, Audigier & Ching 1999,
Proc. SPIE 3672; Richard et al. 2000, Proc. SPIE 3989; Lefeuvre et al. 2006, J. Intell. Mater. Syst. Struct. 17, 653;
Neubauer & Wallaschek 2008, Smart Mater. Struct. 17, 035003 (values worked anew; citations partly from memory)."""

import numpy as np
import pytest

from core.circuit.kind import Target
from core.circuit.registry import CIRCUITS
from core.circuit.spectrum import spectrum_at
from core.circuit.switched import kappa
from core.circuit.switching import simulate
from core.circuit.system import Connection, CoupledSystem
from core.predict.predict import predict
from core.predict.report.report import prediction_json
from core.project.candidate import Circuit, Instrument, Tuning
from core.study.layouts import layouts
from tests.core.predict.scenes import lab

ATTENUATION_DB = {
    (0.05, 0.0, 0.005): 2.400350178, (0.05, 0.5, 0.005): 5.822622708, (0.05, 0.8, 0.01): 7.720680211,
    (0.1, 0.0, 0.005): 7.132904046, (0.1, 0.5, 0.01): 9.277439853, (0.1, 0.8, 0.005): 21.9097724,
    (0.2, 0.0, 0.01): 10.99594807, (0.2, 0.5, 0.005): 24.23248752, (0.2, 0.8, 0.01): 27.57461046,
}  # fmt: skip
"""K, gamma and inherent damping: 20 log(1 + eta/(2 zeta)) with eta = (4/pi) K^2 (1 + gamma)/(1 - gamma)."""


def one_mode(k: float, zeta: float, kind: str = "open", loss: float = 0.0, **values: float) -> CoupledSystem:
    """omega_sc = 1, C = 1."""
    circuit = CIRCUITS[kind]
    complete = circuit.complete(values)
    stored = np.full((1, 1), 1.0 + circuit.across(complete))
    return CoupledSystem(
        np.ones(1), np.full(1, zeta), np.array([[k]]), stored, np.full((1, 1), loss), (Connection(circuit, complete),)
    )


@pytest.mark.parametrize(("k", "gamma", "zeta"), ATTENUATION_DB)
def test_steady_motion_in_time_is_attenuated_as_published(k, gamma, zeta):
    wanted = -ATTENUATION_DB[k, gamma, zeta]
    found = simulate(one_mode(k, zeta), 0, 0, gamma)
    assert found.equivalent_db == pytest.approx(wanted, abs=1e-6)
    assert found.attenuation_db == pytest.approx(wanted, abs=0.06)
    assert found.extremes_seen == 2.0


def test_a_free_decay_is_another_one():
    """gamma = 0.6, K^2 = 0.01: 0.031 once the voltage has built up, where steady motion has 0.025."""
    found = simulate(one_mode(0.1, 1e-9), 0, 0, 0.6)
    assert found.steady == pytest.approx(0.0253, abs=3e-4)
    assert found.decay == pytest.approx(0.0311, abs=3e-4)
    assert found.swings[0] == 1.0 and all(a > b for a, b in zip(found.swings, found.swings[1:], strict=False))


def test_strong_coupling_stops_the_motion_after_a_swing():
    found = simulate(one_mode(0.6, 1e-9), 0, 0, 0.8)
    assert np.isnan(found.decay) and len(found.swings) < 4


def test_on_a_short_a_decay_loses_what_steady_motion_does():
    """The voltage starts anew each time: from extreme to extreme of x'' + x + K^2 (x - x_0) = 0 the amplitude falls by
    (1 - K^2)/(1 + K^2)."""
    k2 = 0.04
    found = simulate(one_mode(k2**0.5, 1e-12), 0, 0, 0.0)
    fall = np.array(found.swings[1:]) / np.array(found.swings[:-1])
    assert fall == pytest.approx([(1.0 - k2) / (1.0 + k2)] * len(fall), rel=1e-9)


@pytest.mark.parametrize("leak", [0.0, 0.02, 0.3])
@pytest.mark.parametrize("gamma", [0.0, 0.5, 0.9])
def test_the_first_harmonic_with_a_leak_is_that_of_the_voltage_stepped_in_time(gamma, leak):
    """V' + h V = x' between closings, in 4000 steps a half period by the trapezium rule."""
    steps = 4000
    phi, h = np.linspace(0.0, np.pi, steps + 1), np.pi / steps
    push = -np.sin(phi)
    shrink, gain = (1 - 0.5 * leak * h) / (1 + 0.5 * leak * h), 0.5 * h / (1 + 0.5 * leak * h)
    # v_j = shrink^j v_0 + what has been pushed since
    pushed = np.concatenate([[0.0], gain * (push[:-1] + push[1:])])
    since = np.array([0.0] * (steps + 1))
    for j in range(1, steps + 1):
        since[j] = shrink * since[j - 1] + pushed[j]
    start = gamma * since[-1] / (1.0 - gamma * shrink**steps)
    v = shrink ** np.arange(steps + 1) * start + since
    trapezium = np.full(steps + 1, h)
    trapezium[[0, -1]] *= 0.5
    found = 2 / np.pi * np.array([(v * np.cos(phi)) @ trapezium, -(v * np.sin(phi)) @ trapezium])
    assert kappa(gamma, leak) == pytest.approx(found, rel=1e-4)


@pytest.mark.parametrize(("k", "gamma"), [(0.05, 0.0), (0.1, 0.0), (0.1, 0.5), (0.05, 0.8), (0.1, 0.8)])
def test_what_stands_for_the_switch_has_the_damping_of_the_formula(k, gamma):
    kind = CIRCUITS["switched inductor"]
    values = kind.closed_form("damping", Target(1.0, k**2, 1.0, given={"inversion_ratio": gamma}))
    spectrum = spectrum_at(one_mode(k, 0.0, kind.key, inversion_ratio=gamma, **values), 1.0)
    assert not spectrum.unstable.any()
    assert spectrum.damping_of(0) == pytest.approx(0.5 * kappa(gamma)[1] * k**2, rel=0.02)


@pytest.mark.parametrize("kind", ["switched short", "switched inductor"])
@pytest.mark.parametrize("mode", [1, 2])
def test_on_the_part_equivalent_and_simulation_agree(kind, mode):
    """Within a tenth: the other modes move too."""
    project = lab(circuit=Circuit(kind, {}, Tuning(mode)))
    found = predict(project)
    switched = found.groups[0].switching
    assert found.unstable == () and switched.mode == mode - 1
    added = switched.steady - found.modes[mode - 1].zeta_inherent
    assert added > 0.001
    assert found.modes[mode - 1].zeta == pytest.approx(switched.steady, rel=0.1)
    assert switched.equivalent == pytest.approx(switched.steady, rel=0.1)
    assert "simulated in time" in found.groups[0].remarks[0] and "a release decays with" in found.groups[0].remarks[0]
    assert prediction_json(project, found)["groups"][0]["switched"]["damping_steady"] == pytest.approx(switched.steady)


def test_a_switch_follows_the_patches_by_itself():
    """Cold or hot, with the values typed or not: what stands for it is worked out anew."""
    project = lab(circuit=Circuit("switched short", {"equivalent_ohm": 3.0, "equivalent_f": 1e-8}, None))
    asked = predict(lab(circuit=Circuit("switched short", {}, Tuning(1))))
    assert predict(project).modes[0].zeta == pytest.approx(asked.modes[0].zeta, rel=1e-9)
    cold = predict(project, temperature_c=project.service.cold_c)
    assert cold.unstable == () and cold.modes[0].zeta == pytest.approx(asked.modes[0].zeta, rel=0.1)


def test_an_input_on_the_leads_discharges_between_the_closings():
    circuit = Circuit("switched inductor", {"inversion_ratio": 0.8}, Tuning(1))
    free, loaded = (predict(lab(circuit=circuit, instrument=hung)) for hung in (None, Instrument()))
    assert loaded.modes[0].zeta < 0.9 * free.modes[0].zeta
    assert loaded.groups[0].switching.steady < 0.9 * free.groups[0].switching.steady


def test_other_modes_want_a_filtered_detector():
    found = predict(lab(circuit=Circuit("switched inductor", {}, Tuning(1)))).groups[0]
    assert found.switching.extremes_seen > 2.5
    assert any("filtered" in remark for remark in found.remarks)


def test_modes_it_does_not_serve_are_told_as_open():
    """Alone and among many layouts: nothing of what stands for the switch is claimed for them."""
    project = lab(circuit=Circuit("switched inductor", {}, Tuning(2)))
    found, opened = predict(project), predict(lab(circuit=Circuit("open")))
    assert found.modes[1].zeta > 5 * opened.modes[1].zeta
    for n in (0, 2, 3):
        assert found.modes[n].zeta == pytest.approx(opened.modes[n].zeta, rel=1e-9)
        assert found.modes[n].peak_change_db is None
    candidate = project.candidate()
    path = f"candidates[{candidate.id}].patches[{candidate.patches[0].id}].x_start_m"
    many = layouts(project, candidate, {path: np.full(2, candidate.patches[0].x_start_m)}, 4).damping(4)
    for row in many:
        assert row == pytest.approx([m.zeta for m in found.modes[:4]], rel=2e-4)


def test_a_switch_has_no_optimum_to_lie_at_an_edge():
    found = predict(lab(circuit=Circuit("switched inductor", {"inversion_ratio": 0.6}, Tuning(1, "optimum"))))
    assert not any("edge of the search" in told for told in found.groups[0].remarks)
