"""The patch as a shaker."""

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.integrate import solve_ivp

from core.predict.predict import predict
from core.predict.use.waveform import NotAWaveform, corners, played, read_waveform
from core.project.structure import Damping, GroundSpring
from core.project.use import Drive
from tests.core.predict.scenes import lab

SIXTY = Drive(amplitude_v=60.0, frequency_hz=2.0)


def plain(drive=SIXTY):
    project = lab()
    return replace(project, structure=replace(project.structure, level="plain"), drive=drive)


def driving(project):
    return predict(project).groups[0].driving


def test_a_lab_strip_moves_as_the_trade_knows():
    """+100 V lift the tip by 0.203 mm with a rigid bond (a lab strip's worked value; the bond takes a few per cent).
    60 V at the first resonance would be 43 mm of tip, which no ceramic stands."""
    found = driving(plain())
    assert 100 * found.slow_m_per_v == pytest.approx(0.203e-3, rel=0.05)
    first = found.modes[0]
    assert first.stroke_m == pytest.approx(43e-3, rel=0.01)
    assert first.stops == "strain" and first.allowed_v < 20.0


def test_volts_are_limited_by_polarity_and_bias():
    """0.4 kV/mm against the poling and 1.5 along it, 0.25 mm thick."""
    found = driving(plain())
    assert found.field_limits_v == pytest.approx((-100.0, 375.0))
    assert found.field_v == pytest.approx(100.0)
    assert driving(plain(replace(SIXTY, bias_v=137.5))).field_v == pytest.approx(237.5)
    assert driving(plain(replace(SIXTY, bias_v=-120.0))).field_v == 0.0


def test_a_bias_takes_room_from_the_strain():
    omega = np.array([124.2])
    middle, pulled, pushed = (driving(plain(replace(SIXTY, bias_v=v))).strain_v(omega)[0] for v in (0.0, -300.0, 300.0))
    assert pulled < middle and pushed >= middle * 0.999


def test_the_strain_limit_is_where_the_ceramic_reaches_its_allowable():
    """Against the driven strain of the engine's own rows, mode by mode near resonance: twice the damping, twice
    the volts."""
    project = plain()
    damped = replace(project, structure=replace(project.structure, damping=Damping(ratios=(0.003,))))
    a, b = driving(project).modes[0].allowed_v, driving(damped).modes[0].allowed_v
    assert b / a == pytest.approx(2.0, rel=0.02)


def test_the_load_line_is_that_of_the_part_with_the_spring_on_it():
    project = plain(replace(SIXTY, load_n_m=200.0))
    line = driving(project).load_line
    spring = GroundSpring("load", 0.3, 200.0)
    loaded = replace(project, structure=replace(project.structure, springs=(spring,)))
    assert line.stroke_m == pytest.approx(60 * predict(loaded).groups[0].tip_m_per_v, rel=1e-6)
    assert line.force_n == pytest.approx(200.0 * line.stroke_m, rel=1e-9)
    assert line.blocked_n == pytest.approx(60 * predict(project).groups[0].blocked_n_per_v, rel=1e-9)


def test_a_pressure_takes_its_force_from_the_stroke_until_it_holds_the_port_shut():
    line = driving(plain(replace(SIXTY, pressure_pa=1000.0, area_m2=1e-5))).load_line
    assert line.force_n == pytest.approx(0.01)
    assert line.stroke_m == pytest.approx(line.free_m * (1 - 0.01 / line.blocked_n))
    held = driving(plain(replace(SIXTY, pressure_pa=1e5, area_m2=1e-5))).load_line
    assert held.stroke_m == 0.0 and held.force_n == pytest.approx(held.blocked_n)


def test_heat_is_that_of_the_dielectric_at_large_signal():
    project = plain(replace(SIXTY, frequency_hz=1000.0, large_signal=3.0))
    found = driving(project)
    blocked = predict(project).groups[0].blocked_capacitance_f
    tan = project.packages[0].ceramic.tan_delta.value
    assert found.heat.power_w == pytest.approx(2 * np.pi * 1000 * blocked * 3 * tan * 60**2 / 2, rel=1e-9)
    assert found.heat.rise_k == pytest.approx(found.heat.power_w / (10.0 * 0.05 * 0.025), rel=1e-9)


def test_the_amplifier_stops_the_volts_above_the_field():
    found = driving(plain())
    high = found.allowed(np.array([20e3]))
    assert high.least_v[0] == pytest.approx(high.current_v[0]) and high.current_v[0] < found.field_v
    capacitance = found.transducer.siemens(np.array([2 * np.pi * 20e3])).imag[0] / (2 * np.pi * 20e3)
    assert high.current_v[0] == pytest.approx(0.06 / (2 * np.pi * 20e3 * capacitance), rel=1e-3)


# -- waveforms ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("waveform", ["square", "triangle", "ramp", "table"])
def test_a_waveform_moves_the_part_as_an_integrator_says(waveform):
    """Against scipy's Runge-Kutta from rest, after the start has died away."""
    table = ((0.0, 0.0), (0.02, 30.0), (0.05, -10.0), (0.06, 0.0))
    project = plain(Drive(waveform=waveform, frequency_hz=15.0, amplitude_v=20.0, bias_v=3.0, table_s_v=table))
    project = replace(project, structure=replace(project.structure, damping=Damping(ratios=(0.08,))))
    found = driving(project)
    shown = played(found)
    t = found.transducer
    at, volts = corners(found.drive, min(found.drive.amplifier_v_s, found.drive.amplifier_a / float(t.free_f)))
    period = at[-1]
    three = slice(0, 3)  # modes; the others are slow to integrate and follow the volts at rest

    def motion(time, state):
        q, speed = np.split(state, 2)
        v = np.interp(time % period, at, volts)
        return np.concatenate([speed, -2 * 0.08 * t.omega_rad_s[three] * speed - t.omega_rad_s[three] ** 2 * q - t.theta[three] * v])

    cycles = 12
    when = (cycles - 1) * period + np.linspace(0.05, 0.95, 7) * period
    ran = solve_ivp(motion, (0, cycles * period), np.zeros(6), t_eval=when, rtol=1e-6, atol=1e-12, max_step=period / 60)
    rest = float(t.static_m_per_v) + float((t.phi[three] * t.theta[three] / t.omega_rad_s[three] ** 2).sum())
    expected = t.phi[three] @ ran.y[:3] + rest * np.interp(when % period, at, volts)
    seen = np.interp(when % period, shown.time_s, shown.moved_m)
    assert seen == pytest.approx(expected, abs=0.01 * shown.peak_m)


def test_a_sine_is_answered_by_the_frequency_response():
    found = driving(plain(replace(SIXTY, frequency_hz=100.0)))
    at = 2 * np.pi * np.array([100.0])
    shown = played(found)
    assert shown.peak_m == pytest.approx(60 * abs(found.transducer.m_per_v(at)[0]), rel=1e-3)
    assert shown.peak_a == pytest.approx(60 * abs(found.transducer.siemens(at)[0]), rel=1e-3)
    assert shown.follows and not played(driving(plain(replace(SIXTY, frequency_hz=50e3)))).follows


def test_an_edge_takes_what_the_amplifier_can_give():
    found = driving(plain(replace(SIXTY, waveform="square", amplifier_a=1e-3)))
    shown = played(found)
    assert shown.peak_a == pytest.approx(1e-3, rel=0.2)
    assert shown.overshoot > 1.2 and shown.follows
    assert not played(driving(plain(replace(SIXTY, waveform="square", amplifier_a=1e-6)))).follows


def test_twice_the_volts_move_twice_as_far():
    a, b = (played(driving(plain(Drive("triangle", 7.0, v)))) for v in (10.0, 20.0))
    assert b.moved_m == pytest.approx(2 * a.moved_m, rel=1e-12)


def test_a_waveform_is_read_from_columns():
    assert read_waveform("t,V\n0,0\n0.1,5\n0.2,0\n") == ((0.0, 0.0), (0.1, 5.0), (0.2, 0.0))
    assert read_waveform("0;0\n0,1;5,5\n") == ((0.0, 0.0), (0.1, 5.5))
    for text, told in (("0 1", "two points"), ("0 1\n1", "second number"), ("0 1\n0 2", "do not grow"), ("0 1\n1 nan", "finite")):
        with pytest.raises(NotAWaveform, match=told):
            read_waveform(text)


def test_what_cannot_be_driven_is_a_problem_with_its_range():
    from core.project.problems import find_problems

    found = find_problems(plain(Drive(waveform="table", amplitude_v=-1.0)))
    paths = {problem.path for problem in found}
    assert paths == {"drive.amplitude_v", "drive.table_s_v"}


def test_the_force_per_volt_that_holds_the_point_still_is_the_blocked_force_and_theta_over_phi_at_a_mode():
    found = driving(plain())
    line = found.load_line
    assert found.n_per_v[0] == pytest.approx(line.blocked_n / found.drive.amplitude_v, rel=1e-12)
    t = found.transducer
    # at its resonance a mode alone moves: what it is pushed by is theta V
    assert found.n_per_v[1] == pytest.approx(abs(float(t.theta[0] / t.phi[0])), rel=1e-2)
    assert t.m_per_n(np.array([1e-3]))[0].real == pytest.approx(float(t.static_m_per_n), rel=1e-6)


@pytest.mark.parametrize("waveform", ["triangle", "square"])
def test_an_amplifier_that_is_fast_enough_goes_up_and_down_by_twice_the_amplitude_in_a_period(waveform):
    """4 V f: 60 V at 7 Hz take 1,680 V/s."""
    for rate, follows in ((1.02 * 1680.0, True), (0.98 * 1680.0, False)):
        drive = Drive(waveform, 7.0, 60.0, amplifier_a=1.0, amplifier_v_s=rate)
        assert played(driving(plain(drive))).follows is follows
