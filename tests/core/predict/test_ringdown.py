"""Ring-down: energy balance, envelopes, against time integration."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.fast_states import state_space
from core.predict.decay import Decay, settling_times
from core.predict.loads.transient import shorted, transient
from core.predict.predict import predict
from core.project.candidate import Circuit, Instrument
from tests.core.predict.scenes import FORCE, KNOCK, PLUCK, RESISTOR, RESONANT, SHAKE, lab, side, two_groups


def motion(system, forcing):
    """The decay once the load no longer changes."""
    return transient(system, forcing)[-1].free


def q_of(moved):
    return Decay(moved.rate, moved.q)


def voltage_of(moved):
    return Decay(moved.rate, moved.voltage)


OPEN = Circuit("open")
SHORT = Circuit("shorted")


def test_energy_lost_is_what_resistors_and_damping_took():
    """From a mode-1 release: starting energy = heat in R + inherent damping + dielectric leak."""
    item = side(two_groups(lab(), RESONANT, RESISTOR))
    system = item.system
    moved = motion(system, item.forcing)
    omega = system.omega_rad_s
    t = np.linspace(0.0, 2.0, 400001)
    step = t[1]
    q = q_of(moved).analytic(0.0, step, len(t)).real
    v = voltage_of(moved).analytic(0.0, step, len(t)).real
    speed = Decay(moved.rate, moved.q * moved.rate).analytic(0.0, step, len(t)).real
    current = resistor_current(system, moved, step, len(t))
    leak = omega[0] * np.einsum("gt,gh,ht->t", v, system.loss_f, v)
    heat = (2 * system.zeta * omega) @ speed**2 + current + leak
    lost = float(np.sum(0.5 * (heat[1:] + heat[:-1])) * step)

    def energy(i):
        return 0.5 * float(
            omega**2 @ q[:, i] ** 2 + speed[:, i] @ speed[:, i] + v[:, i] @ system.capacitance_f @ v[:, i]
        )

    left = energy(-1) + inductor_energy(system, moved, t[-1])
    assert energy(0) == pytest.approx(lost + left, rel=1e-6)


def inductor_current(system, moved, step, count):
    """I = V/(R + s L) for every decaying term of the series circuit (group 0)."""
    values = system.connections[0].values
    amplitude = moved.voltage[0] / (values["resistance_ohm"] + moved.rate * values["inductance_h"])
    return Decay(moved.rate, amplitude).analytic(0.0, step, count).real


def inductor_energy(system, moved, at):
    last = inductor_current(system, moved, at, 2)[-1]
    return 0.5 * system.connections[0].values["inductance_h"] * last**2


def resistor_current(system, moved, step, count):
    """Heat in both resistors over time, W."""
    series = (
        system.connections[0].values["resistance_ohm"] * inductor_current(system, moved, step, count) ** 2
    )
    volts = voltage_of(moved).analytic(0.0, step, count)[1].real
    return series + volts**2 / system.connections[1].values["resistance_ohm"]


@pytest.mark.parametrize(
    "circuit", [RESISTOR, RESONANT, OPEN, SHORT, Circuit("resistor", {"resistance_ohm": 1e-3})]
)
def test_equals_time_integration(circuit):
    from scipy.integrate import solve_ivp

    item = side(lab(load=KNOCK, circuit=circuit), 3)
    system, load = item.system, item.forcing.load
    space = state_space(system, float(system.omega_rad_s[0]))
    push = np.zeros(len(space.matrix))
    push[3:6] = item.forcing.aim.load.modal
    height, turn = load.impulse_n_s * np.pi / 2 / load.duration_s, np.pi / load.duration_s
    # the truncated modes push their charge into the leads as the force comes and goes
    charge = (item.forcing.aim.load.electric @ space.voltage)[space.kept]

    def rate(t, x):
        force, growth = height * np.sin(turn * t), height * turn * np.cos(turn * t)
        return space.matrix @ x + push * force + charge * growth

    end = solve_ivp(
        rate, (0, load.duration_s), np.zeros(len(push)), rtol=1e-10, atol=1e-14, method="Radau"
    ).y[:, -1]
    start = q_of(motion(system, item.forcing)).analytic(0.0, 1.0, 1).real[:, 0]
    np.testing.assert_allclose(start, end[:3] / system.omega_rad_s, rtol=1e-6, atol=1e-12)


@pytest.mark.parametrize("load", [PLUCK, KNOCK, FORCE, SHAKE])
def test_shorted_circuit_decays_as_the_uncoupled_modes(load):
    item = side(lab(load=load, circuit=SHORT))
    coupled = q_of(motion(item.system, item.forcing)).analytic(0.0, 1e-3, 300).real
    alone = q_of(motion(shorted(item.system), item.forcing)).analytic(0.0, 1e-3, 300).real
    np.testing.assert_allclose(coupled, alone, atol=1e-9 * np.abs(alone).max())


@pytest.mark.parametrize("circuit", [RESISTOR, RESONANT, OPEN, SHORT])
def test_a_release_starts_from_the_stated_deflection(circuit):
    found = predict(lab(load=PLUCK, circuit=circuit))
    assert found.ring_down.unit == "m"
    assert found.ring_down.after[0] == pytest.approx(0.005, rel=1e-4)
    assert found.ring_down.before[0] == pytest.approx(0.005, rel=1e-4)


def test_open_leads_hold_the_charge_of_the_bend_but_an_input_lets_it_go():
    item = side(lab(load=PLUCK, circuit=OPEN))
    held = voltage_of(motion(item.system, item.forcing)).analytic(0.0, 1.0, 1).real[0, 0]
    beam_charge = item.forcing.aim.load
    assert abs(held) > 10.0
    leaky = side(lab(load=PLUCK, circuit=OPEN, instrument=Instrument()))
    bled = voltage_of(motion(leaky.system, leaky.forcing)).analytic(0.0, 1.0, 1).real[0, 0]
    # only what the truncated modes give back as they let go is left
    assert abs(bled) < 0.02 * abs(held)
    assert beam_charge.modal[0] != 0


def test_settling_of_one_mode_is_the_closed_form():
    """Envelope exp(-zeta omega t): ln(1/fraction)/(zeta omega); half-life ln 2/(zeta omega)."""
    zeta, omega = 0.004, 2 * np.pi * 18.0
    decay = Decay(np.array([omega * (-zeta + 1j)]), np.array([0.005 + 0j]))
    settle, half = settling_times(decay, (0.05, 0.5), 0.005)
    assert settle == pytest.approx(np.log(20) / (zeta * omega), rel=1e-6)
    assert half == pytest.approx(np.log(2) / (zeta * omega), rel=1e-6)


def test_settling_sees_the_last_crossing_of_a_beat():
    fast, slow = 100j - 1.0, 108j - 1.0
    decay = Decay(np.array([fast, slow]), np.array([0.5, 0.5], dtype=complex))
    (settle,) = settling_times(decay, (0.3,), 1.0)
    t = np.linspace(0, 5, 200001)
    above = np.abs(0.5 * np.exp(fast * t) + 0.5 * np.exp(slow * t)) > 0.3
    assert settle == pytest.approx(t[above][-1], abs=1e-3)


def test_settling_with_two_poles_that_all_but_meet():
    """Their huge terms of opposite sign nearly cancel; another mode's small one must still count."""
    pole, other, apart, huge = -30.0 + 100.0j, -2.0 + 700.0j, 1e-9, 1e6
    met = Decay(np.array([pole, other]), np.array([1.0, 0.6], dtype=complex))
    rates = np.array([pole * (1 - apart), pole * (1 + apart), other])
    split = Decay(rates, np.array([0.5 + huge, 0.5 - huge, 0.6], dtype=complex))
    expected = settling_times(met, (0.05, 0.5), 1.0)
    assert settling_times(split, (0.05, 0.5), 1.0) == pytest.approx(expected, rel=0.01)


def test_a_harmonic_load_shows_a_release_of_mode_one():
    found = predict(lab(load=FORCE, circuit=RESONANT))
    ring = found.ring_down
    assert ring.unit == "of the start"
    assert ring.after[0] == pytest.approx(1.0, rel=1e-3)
    assert ring.settle_after_s < 0.2 * ring.settle_before_s
    rate = found.modes[0].zeta_before * 2 * np.pi * found.modes[0].f_short_hz
    assert ring.half_life_before_s == pytest.approx(np.log(2) / rate, rel=2e-3)


def test_bare_structure_rings_at_its_own_frequency():
    found = predict(replace(lab(load=PLUCK), view=replace(lab().view, before="bare structure")))
    assert found.ring_down.before[0] == pytest.approx(0.005, rel=1e-4)
    assert not np.allclose(found.ring_down.before, predict(lab(load=PLUCK)).ring_down.before, atol=1e-4)


def test_what_a_charge_leaves_bent_is_the_new_position_of_rest():
    swings = Decay(np.array([-1.0 + 60.0j, -1e-10 + 0.0j, 0.0j]), np.array([2.0 + 0j, 1.0, 0.5]))
    assert np.isfinite(settling_times(swings.about_rest(), (0.05,), 2.0)[0])
    assert settling_times(swings.about_rest(), (0.05,), 2.0)[0] == pytest.approx(np.log(20.0), rel=1e-3)
    drifts = Decay(np.array([-1.0 + 60.0j, 1e-3 + 0.0j]), np.array([2.0 + 0j, 1.0]))
    assert np.isinf(settling_times(drifts.about_rest(), (0.05,), 2.0)[0])
