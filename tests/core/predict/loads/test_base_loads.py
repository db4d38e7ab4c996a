"""Shock, step and random motion of the base: against the closed forms of one resonator and time integration."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from core.predict.loads.random_load import density, spectrum_rms_m_s2
from core.predict.loads.transient import transient
from core.predict.predict import predict
from core.project.candidate import Circuit
from core.project.problems import find_problems
from core.project.service import BaseShock, BaseStep, RandomBase, RootAcceleration
from tests.core.predict.scenes import BAND, RESISTOR, RESONANT, lab, side

OPEN = Circuit("open")
SHOCK = BaseShock("drop on felt", 100.0, 0.011, BAND)
STEP = BaseStep("machine brakes", 3.0, BAND)
TABLE = RandomBase("truck", ((5.0, 0.1), (40.0, 2.0), (200.0, 2.0), (800.0, 0.05)))


def q_at(stretch, t):
    moved = stretch.whole
    return (moved.q @ np.exp(np.outer(moved.rate, t))).real


@pytest.mark.parametrize("circuit", [RESISTOR, RESONANT, OPEN, Circuit("shorted")])
@pytest.mark.parametrize("load", [SHOCK, STEP])
def test_equals_time_integration(load, circuit):
    from core.circuit.fast_states import state_space

    item = side(lab(load=load, circuit=circuit), 4)
    system = item.system
    space = state_space(system, float(system.omega_rad_s[0]))
    push = np.zeros(len(space.expand))
    push[4:8] = item.forcing.aim.load.modal
    charge = item.forcing.aim.load.electric @ space.voltage
    push, charge = push[space.kept], charge[space.kept]
    turn, end = np.pi / 0.011, 0.05
    stretches = transient(system, item.forcing)

    def rate(t, x):
        if load is STEP:
            return space.matrix @ x + push * load.level_m_s2
        on = t < load.duration_s
        force = on * load.peak_m_s2 * np.sin(turn * t)
        growth = on * load.peak_m_s2 * turn * np.cos(turn * t)
        return space.matrix @ x + push * force + charge * growth

    start = charge * load.level_m_s2 if load is STEP else np.zeros(len(push))
    found = solve_ivp(
        rate, (0, end), start, "DOP853", rtol=1e-9, atol=1e-13, max_step=2e-4, dense_output=True
    ).sol
    scale = system.omega_rad_s[:, None]
    if load is SHOCK:
        t = np.linspace(0, 0.011, 40)
        expected = found(t)[:4] / scale
        np.testing.assert_allclose(q_at(stretches[0], t), expected, atol=2e-5 * np.abs(expected).max())
    t = np.linspace(0, 0.03, 80)
    expected = found(t + (0.011 if load is SHOCK else 0.0))[:4] / scale
    np.testing.assert_allclose(q_at(stretches[-1], t), expected, atol=2e-5 * np.abs(expected).max())


def test_a_step_comes_to_rest_at_the_static_bend():
    """Shorted: w_n -> p_n a/omega_n^2."""
    item = side(lab(load=STEP, circuit=Circuit("shorted")))
    rest = transient(item.system, item.forcing)[0].forced.q[:, 0].real
    expected = 3.0 * item.forcing.aim.load.modal / item.system.omega_rad_s**2
    np.testing.assert_allclose(rest, expected, rtol=1e-9)


def test_a_very_short_shock_is_an_impulse():
    """2/pi peak T as velocity of every mode (momentum)."""
    item = side(lab(load=BaseShock("tick", 1e4, 1e-6, BAND), circuit=Circuit("shorted")))
    free = transient(item.system, item.forcing)[-1].free
    speed = (free.q * free.rate).sum(axis=1).real
    np.testing.assert_allclose(speed, 2 / np.pi * 1e4 * 1e-6 * item.forcing.aim.load.modal, rtol=1e-3)


def test_mean_square_of_a_spectrum_table():
    """Straight lines in the logarithms, integrated by fine steps."""
    f = np.geomspace(5.0, 800.0, 2_000_001)
    s = density(TABLE, 2 * np.pi * f) * 2 * np.pi
    rms = float(np.sum(0.5 * (s[1:] + s[:-1]) * np.diff(f)) ** 0.5)
    assert spectrum_rms_m_s2(TABLE) == pytest.approx(rms, rel=1e-6)
    assert spectrum_rms_m_s2(RandomBase("flat", ((10.0, 2.0), (110.0, 2.0)))) == pytest.approx(200**0.5)


def test_a_flat_spectrum_is_the_random_motion_of_the_same_rms():
    rms = (0.5 * (BAND[1] - BAND[0])) ** 0.5
    flat = predict(lab(load=RandomBase("flat", ((BAND[0], 0.5), (BAND[1], 0.5)))))
    level = predict(lab(load=RootAcceleration("level", rms, BAND, random=True)))
    assert flat.groups[0].voltage_peak_v == pytest.approx(level.groups[0].voltage_peak_v, rel=1e-9)
    assert flat.groups[0].power_w == pytest.approx(level.groups[0].power_w, rel=1e-9)
    assert "3 sigma of 19.9" in flat.limits[0].load


@pytest.mark.parametrize(
    ("load", "words"),
    [
        (RandomBase("r", ((5.0, 1.0),)), "1 of at least 2 points"),
        (RandomBase("r", ((5.0, 1.0), (5.0, 1.0))), "not above"),
        (RandomBase("r", ((5.0, 1.0), (9.0, -1.0))), "density"),
        (BaseShock("s", 0.0, 0.01, BAND), "zero"),
        (BaseShock("s", 1.0, 0.0, BAND), "duration"),
        (BaseStep("s", 0.0, BAND), "zero"),
    ],
)
def test_wrong_values_are_told(load, words):
    assert any(words in p.message for p in find_problems(lab(load=load)))


def test_current_of_a_resistor_is_its_voltage_over_its_resistance():
    voltage = predict(lab(output="voltage")).response
    current = predict(lab(output="current"))
    resistance = current.groups[0].values[0].value
    np.testing.assert_allclose(current.response.after, voltage.after / resistance, rtol=1e-9)
    assert current.response.unit == "A/N"


def test_current_of_shorted_leads_is_the_rate_of_the_charge():
    """At low frequency the charge per newton is the static one: theta rows against the load's."""
    item = lab(output="current", circuit=Circuit("shorted"))
    found = predict(item).response
    scene = side(item)
    charge = abs(float(scene.forcing.aim.load.electric[0]) + float(
        (scene.system.theta[:, 0] * scene.forcing.aim.load.modal / scene.system.omega_rad_s**2).sum()
    ))  # fmt: skip
    low = 2 * np.pi * found.frequency_hz[0]
    ratio = (low / scene.system.omega_rad_s[0]) ** 2
    assert abs(found.after[0]) == pytest.approx(low * charge / (1 - ratio), rel=0.02)
    np.testing.assert_allclose(found.after, found.before, rtol=1e-9)


def test_open_leads_carry_no_current():
    found = predict(lab(output="current", circuit=OPEN)).response
    assert np.abs(found.after).max() < 1e-9 * np.abs(found.before).max()


def test_ring_down_of_a_step_is_about_the_new_rest():
    found = predict(lab(load=STEP)).ring_down
    assert found.settle_after_s < found.settle_before_s
    assert abs(found.after[-1]) < abs(found.after[0])
    assert found.unit == "m"


