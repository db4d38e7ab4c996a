"""What a loop does to every mode, its tuning, its clipping, and its coefficients."""

import csv
import ctypes
import io
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from core.circuit.loop.clip import clipping, ring
from core.circuit.loop.digital import as_c, as_csv, digital
from core.circuit.loop.law import (
    Amplifier,
    Control,
    Filter,
    PositionFeedback,
    Timing,
    TransferFunction,
    VelocityFeedback,
)
from core.circuit.loop.margins import largest_gain, margins
from core.circuit.loop.result import changes
from core.circuit.loop.tuning import closed_form_position, closed_form_velocity, optimum, stiffness_share
from core.circuit.states import full_matrices
from tests.core.circuit.loop.scenes import beam, one

REAL = Amplifier(gain=20.0, bandwidth_hz=2e3, output_ohm=50.0, voltage_v=100.0, current_a=0.06)
SLOW = Timing(delay_s=1e-4, sampling_hz=10e3)


def test_closed_form_and_what_it_promises_on_one_mode():
    """Fanson & Caughey 1990: share 0.1 gives 1/6 on a double pole; velocity feedback what was asked for."""
    start = one(VelocityFeedback(1.0), 3.0)
    assert stiffness_share(start, 1) * start.control.amplifier.gain == pytest.approx(1 / 9.0)
    made = closed_form_velocity(start, 1, 0.05)
    loop = start.with_control(Control(made, start.control.amplifier))
    assert loop.spectra[0].damping_among(loop.spectra[0].poles_of(0)) == pytest.approx(0.05, rel=1e-3)
    placed = start.with_control(Control(closed_form_position(start, (1,)), start.control.amplifier))
    poles = [p for p in placed.spectra[0].value_rad_s if 1.0 < abs(p) < 9.0]
    assert -np.mean(poles).real / abs(np.mean(poles)) == pytest.approx(1 / 6, rel=1e-3)


def test_every_mode_up_to_twice_the_band_is_told_with_its_change():
    start = beam(Control(PositionFeedback(()), REAL, SLOW))
    loop = start.with_control(Control(closed_form_position(start, (1, 2), 0.02), REAL, SLOW))
    told = changes(loop, (1, 2))
    highest = loop.system.omega_rad_s[1] * 2 / (2 * np.pi)
    assert [c.number for c in told] == [n + 1 for n, w in enumerate(loop.system.omega_rad_s) if w / (2 * np.pi) <= highest]
    assert told[0].controlled and told[0].change > 0.01
    # through a delay of 2.5 ms what damps mode 3 drives mode 2
    late = beam(Control(VelocityFeedback(2e-6), REAL, Timing(delay_s=2.5e-3)))
    spilled = changes(late, (3,))
    assert [c.number for c in spilled if c.loses] == [2] and not spilled[1].controlled
    assert spilled[2].change > 0


def test_a_growing_mode_has_no_damping_and_is_named():
    start = beam(Control(VelocityFeedback(1e-4), REAL, SLOW))
    limit = largest_gain(start)
    assert limit is not None and limit.mode is not None
    over = start.with_control(Control(VelocityFeedback(1.2e-4 * limit.times), REAL, SLOW))
    told = changes(over, (limit.mode,))
    assert np.isnan(next(c.on for c in told if c.number == limit.mode))


@pytest.mark.slow
def test_the_optimum_keeps_its_margins_and_is_no_worse_than_its_start():
    start = beam(Control(PositionFeedback(()), REAL, SLOW))
    begun = start.with_control(Control(closed_form_position(start, (1,), 0.01), REAL, SLOW))
    best = begun.with_control(optimum(begun, (1,)))
    found = margins(best)
    assert found.gain_db >= 6.0 - 1e-6 and found.phase_rad >= np.deg2rad(30) - 1e-9
    assert changes(best, (1,))[0].on >= changes(begun, (1,))[0].on


# -- clipping -------------------------------------------------------------------------------------------------


def test_below_its_limit_the_ringing_has_the_damping_of_the_poles():
    start = beam(Control(PositionFeedback(()), REAL, SLOW), kept=4)
    loop = start.with_control(Control(VelocityFeedback(6e-5), REAL, SLOW))
    omega = float(loop.system.omega_rad_s[0])
    free = ring(loop, 1, 1e-6, 12 * 2 * np.pi / omega)
    on = changes(loop, (1,))[0].on
    assert free.damping(omega) == pytest.approx(on, rel=0.05)


def test_at_twice_the_level_of_clipping_less_damping_is_left():
    loop = beam(Control(VelocityFeedback(6e-5), REAL, SLOW), kept=4)
    found = clipping(loop, 1)
    assert found is not None
    omega = float(loop.system.omega_rad_s[0])
    just = ring(loop, 1, found.coordinate, 6 * 2 * np.pi / omega)
    assert np.abs(just.driven_v).max() <= 100.0 * (1 + 1e-9)
    assert 0.0 < found.damping_at_twice < found.damping
    assert clipping(beam(Control(VelocityFeedback(6e-5))), 1) is None


def test_the_clipped_motion_is_that_of_an_integrator():
    """Against scipy's Runge-Kutta of the same equations with the amplifier's limit."""
    loop = beam(Control(VelocityFeedback(6e-5), Amplifier(20.0, 2e3, 5e3, voltage_v=30.0)), kept=2)
    system = loop.closed(0.0)
    matrix, voltage = full_matrices(system, np.array(float(system.omega_rad_s[0])))
    n = system.n_modes
    push = np.zeros(len(matrix))
    push[2 * n : 2 * n + 2] = voltage[0, 2 * n : 2 * n + 2] / 5e3
    command = loop.states.d * voltage[1]
    command[2 * n + 2 :] += loop.states.c
    far = 3 * clipping(loop, 1).coordinate
    start = np.zeros(len(matrix))
    start[0] = float(system.omega_rad_s[0]) * far
    length = 0.12
    ran = solve_ivp(
        lambda t, x: matrix @ x + push * np.clip(command @ x, -30, 30), (0, length), start, t_eval=np.linspace(0, length, 40),
        rtol=1e-8, atol=1e-12, method="LSODA",
    )  # fmt: skip
    own = ring(loop, 1, far, length)
    seen = np.interp(ran.t, own.time_s, own.coordinate)
    assert seen[1:-1] == pytest.approx((ran.y[0] / start[0])[1:-1], abs=0.02)


# -- coefficients ---------------------------------------------------------------------------------------------

LAWS = [
    VelocityFeedback(1e-3),
    PositionFeedback((Filter(20.2, 0.15, 0.4), Filter(119.0, 0.1, 0.3))),
    TransferFunction((-3e4, 1e5), (1.0, 40.0, 1.7e4, 2e5)),
]
SAMPLED = Timing(delay_s=1e-4, sampling_hz=10e3)


@pytest.mark.parametrize("law", LAWS, ids=["velocity", "position", "typed"])
def test_sections_answer_as_the_law_where_the_modes_are(law):
    control = Control(law, Amplifier(2.0, 4e3), SAMPLED)
    made = digital(control)
    w = 2 * np.pi * np.array([1.0, 19.8, 119.0, 300.0])
    lag = 1.0 + 1j * w / (2 * np.pi * 4e3) if not isinstance(law, VelocityFeedback) else 1.0
    assert made.response(w) == pytest.approx(control.transfer(1j * w) * lag, rel=0.02)


@pytest.mark.parametrize("law", LAWS, ids=["velocity", "position", "typed"])
def test_the_c_array_compiles_and_gives_what_the_table_says(law, tmp_path):
    cc = shutil.which("cc")
    if cc is None:
        pytest.skip("no C compiler here")
    made = digital(Control(law, Amplifier(2.0, 4e3), SAMPLED))
    rows = list(csv.DictReader(line for line in io.StringIO(as_csv(made)) if not line.startswith("#")))
    assert len(rows) == len(made.sections)
    source, library = tmp_path / "loop.c", tmp_path / "loop.so"
    source.write_text(as_c(made))
    subprocess.run([cc, "-std=c99", "-Wall", "-Werror", "-shared", "-fPIC", "-o", library, source], check=True, timeout=60)
    step = ctypes.CDLL(str(library)).loop_step
    step.argtypes, step.restype = [ctypes.c_double], ctypes.c_double
    states = [[0.0] * 4 for _ in rows]
    for k in range(200):
        y = float(np.sin(0.3 * k) + (k == 5))
        expected, feed = 0.0, y
        for row, state in zip(rows, states, strict=True):
            b0, b1, b2, a1, a2 = (float(row[name]) for name in ("b0", "b1", "b2", "a1", "a2"))
            x = y if made.added else feed
            feed = b0 * x + b1 * state[0] + b2 * state[1] - a1 * state[2] - a2 * state[3]
            state[:] = [x, state[0], feed, state[2]]
            expected = expected + feed if made.added else feed
        assert step(y) == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_without_a_sampling_frequency_there_are_no_coefficients():
    with pytest.raises(ValueError, match="sampling frequency"):
        digital(Control(VelocityFeedback(1.0)))
    assert "Local codes" in as_csv(digital(Control(VelocityFeedback(1.0), Amplifier(), SAMPLED)))


def test_a_filter_above_half_the_sampling_has_no_coefficients():
    """Met exactly at its own frequency by a warped rule, it would grow from sample to sample without a word."""
    law = PositionFeedback((Filter(40.0, 0.1, 0.02),))
    with pytest.raises(ValueError, match=r"40.00 Hz needs more than 80.00 Hz of sampling; it is 70.00 Hz"):
        digital(Control(law, REAL, Timing(sampling_hz=70.0)))
    (section,) = digital(Control(law, REAL, Timing(sampling_hz=90.0))).sections
    assert np.abs(np.roots([1.0, section.a1, section.a2])).max() < 1.0



def test_a_mode_that_the_loop_does_not_reach_is_left_as_it_is():
    """At a node of the sensor, or within rounding of one, no gain moves it; the other modes' filters stand as they did."""
    start = beam(Control(PositionFeedback(()), REAL, SLOW))
    for left in (0.0, 1e-12):
        theta = start.system.theta.copy()
        theta[1, start.sensing] *= left
        blind = replace(start, system=replace(start.system, theta=theta))
        assert closed_form_velocity(blind, 2, 0.05).gain_s == 0.0
        first, second = closed_form_position(blind, (1, 2), 0.02).filters
        assert second.gain == 0.0 and first.gain == pytest.approx(closed_form_position(start, (1,), 0.02).filters[0].gain, rel=1e-2)
        loop = blind.with_control(Control(closed_form_position(blind, (1, 2), 0.02), REAL, SLOW))
        told = changes(loop, (1, 2))
        assert told[1].change == pytest.approx(0.0, abs=1e-3) and told[0].change > 0.01
