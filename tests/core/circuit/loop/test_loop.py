"""Active loops against closed forms, python-control, and their own exact characteristic."""

from dataclasses import replace

import control as reference
import numpy as np
import pytest

from core.circuit.loop.law import (
    Amplifier,
    Control,
    Filter,
    PositionFeedback,
    Timing,
    TransferFunction,
    VelocityFeedback,
    control_states,
    pade_order,
)
from core.circuit.loop.loop import Loop
from core.circuit.loop.margins import alternation, largest_gain, locus, margins
from core.predict.poles import growths
from tests.core.circuit.loop.scenes import beam, one

REAL = Amplifier(gain=1.0, bandwidth_hz=2e3, output_ohm=50.0)
SLOW = Timing(delay_s=1e-4, sampling_hz=10e3)
PPF = PositionFeedback((Filter(20.2, 0.15, 0.4),))


def lossless(loop: Loop) -> Loop:
    """Without the dielectric's loss: in poles it conducts as at one frequency, in margins as at each."""
    return Loop(replace(loop.system, loss_f=np.zeros((2, 2))), loop.sensing, loop.driven, loop.control)


@pytest.mark.parametrize(("g", "expected"), [(2.0, 0.015), (10.0, 0.055), (20.0, 0.105)])
def test_velocity_feedback_adds_g_over_2_omega(g, expected):
    """Balas 1979, J. Guid. Control 2, 252-253: zeta_cl = zeta + g/(2 w), w = 100, zeta = 0.005 (from memory)."""
    loop = one(VelocityFeedback(g), 100.0, 0.005)
    assert loop.spectra[0].damping_among(loop.spectra[0].poles_of(0)) == pytest.approx(expected, rel=1e-4)
    assert largest_gain(loop) is None


@pytest.mark.parametrize(
    ("zeta", "g", "tau", "w"),
    [
        (0.0, 0.1, 1.49421878, 1.05124922),
        (0.005, 0.1, 1.589900891, 1.050986107),
        (0.005, 0.02, 2.076335647, 1.008697753),
        (0.01, 0.5, 1.257924255, 1.280527818),
    ],
)
def test_the_largest_delay_of_velocity_feedback(zeta, g, tau, w):
    """theta = acos(-2 zeta/g), w = (g sin + sqrt(g^2 sin^2 + 4))/2, tau = theta/w (Nyquist argument, worked out)."""
    found = margins(one(VelocityFeedback(g), 1.0, zeta))
    assert found.delay_s + 1 / 3e3 == pytest.approx(tau, rel=1e-5)  # the amplifier's own lag delays too
    assert found.delay_hz * 2 * np.pi == pytest.approx(w, rel=1e-5)
    for share, grows in ((0.99, False), (1.01, True)):
        late = one(VelocityFeedback(g), 1.0, zeta, Timing(delay_s=share * tau))
        near = [p for p in late.spectra[0].value_rad_s if 0.8 < abs(p) < 1.5]
        assert bool(max(p.real for p in near) > 1e-6) is grows


@pytest.mark.parametrize(
    ("g", "wf", "zf", "both"),
    [(0.04, 1.020620726, 0.2, 0.1020620726), (0.1, 1.054092553, 0.316227766, 0.1666666667), (0.2, 1.118033989, 0.4472135955, 0.25)],
)
def test_position_feedback_makes_a_double_pole(g, wf, zf, both):
    """Fanson & Caughey 1990, AIAA J. 28, 717-724 (equations; closed form worked out): w_f = w/sqrt(1 - g),
    zeta_f = sqrt(g), both poles sqrt(g/(1 - g))/2 with modulus w."""
    loop = one(PositionFeedback((Filter(wf / (2 * np.pi), zf, g),)))
    near = [p for p in loop.spectra[0].value_rad_s if 0.5 < abs(p) < 2.0]
    middle = np.mean(near)  # a double pole splits by the root of the rounding; its mean does not
    assert len(near) == 2
    assert -middle.real / abs(middle) == pytest.approx(both, rel=1e-3)
    assert abs(middle) == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize(
    ("g", "zetas", "moduli"),
    [(0.05, [0.114478215, 0.1200025979], [0.9764657502, 1.02410146]), (0.1, [0.1644061911, 0.1740649768], [0.9716543782, 1.029172535])],
)
def test_position_feedback_on_a_damped_mode(g, zetas, moduli):
    """The same tuning with zeta = 0.005 (numerical roots, worked out)."""
    loop = one(PositionFeedback((Filter(1 / np.sqrt(1 - g) / (2 * np.pi), np.sqrt(g), g),)), 1.0, 0.005)
    near = sorted((p for p in loop.spectra[0].value_rad_s if 0.5 < abs(p) < 2.0), key=abs)
    # the amplifier's lag, 1/3e3 of a radian, is in it
    assert np.abs(near) == pytest.approx(moduli, rel=2e-3)
    assert sorted(-p.real / abs(p) for p in near) == pytest.approx(zetas, rel=2e-3)


@pytest.mark.parametrize("g", [0.1, 0.5, 0.9])
def test_position_feedback_first_drifts_to_one_side(g):
    """Goh & Caughey 1985, Int. J. Control 41, 787-802: stable if and only if g < 1, at rest."""
    found = largest_gain(one(PositionFeedback((Filter(0.2, 0.3, g),)), 1.0, 0.01))
    assert found.times == pytest.approx(1 / g, rel=1e-5)
    assert found.mode is None and found.frequency_hz == 0.0


@pytest.mark.parametrize(
    "law",
    [VelocityFeedback(2e-3), PPF, TransferFunction((-3e4,), (1.0, 40.0, 1.7e4))],
    ids=["velocity", "position", "typed"],
)
def test_margins_and_poles_agree_with_python_control(law):
    """The plant and the control put together by python-control from their own matrices."""
    loop = lossless(beam(Control(law, REAL, SLOW)))  # python-control has no law for the dielectric
    system = loop.system
    n = system.n_modes
    # modes, then the two voltages: C V' = theta^T q' - I
    capacitance, theta = system.capacitance_f, system.theta
    inverse = np.linalg.inv(capacitance)
    leak = np.diag([1 / REAL.output_ohm, system.connections[1].instrument_s])
    a = np.block(
        [
            [np.zeros((n, n)), np.eye(n), np.zeros((n, 2))],
            [-np.diag(system.omega_rad_s**2), -np.diag(2 * system.zeta * system.omega_rad_s), -theta],
            [np.zeros((2, n)), inverse @ theta.T, -inverse @ leak],
        ]
    )
    b = np.concatenate([np.zeros(2 * n), inverse[:, 0] / REAL.output_ohm])[:, None]
    c = np.concatenate([np.zeros(2 * n), [0.0, 1.0]])[None]
    plant = reference.ss(a, b, -c, 0)
    states = control_states(loop.control, loop.highest_rad_s)
    law_there = reference.ss(states.a, states.b[:, None], states.c[None], states.d)
    closed = reference.feedback(reference.series(law_there, plant), 1)
    own = loop.spectra[0].value_rad_s
    theirs = closed.poles()
    for pole in own:
        assert np.abs(theirs - pole).min() < 1e-7 * max(abs(pole), 1.0)
    unstable = bool((theirs.real > 1e-9).any())
    assert bool(growths(loop.spectra)) is unstable
    found = margins(loop)
    frequency = loop.plant.grid_rad_s
    theirs = reference.FRD((law_there(1j * frequency) * plant(1j * frequency)), frequency)
    gm, pm, sm, *_ = reference.stability_margins(theirs, returnall=True)
    assert found.first is not None
    assert found.first.times == pytest.approx(gm[gm > 0].min(), rel=1e-3)
    if np.isfinite(found.phase_rad):
        assert np.rad2deg(found.phase_rad) == pytest.approx(np.abs(pm).min(), rel=1e-2)
    assert found.nearest == pytest.approx(sm.min(), rel=5e-3)


@pytest.mark.parametrize(
    "law", [VelocityFeedback(1e-3), PPF, TransferFunction((-3e4,), (1.0, 40.0, 1.7e4))], ids=["velocity", "position", "typed"]
)
@pytest.mark.parametrize("apart", [0.0, 0.11])
def test_the_gain_stops_where_a_pole_begins_to_grow(law, apart):
    loop = lossless(beam(Control(law, REAL, SLOW), apart_m=apart))
    limit = largest_gain(loop)
    at = locus(loop, np.array([0.99, 1.01]) * limit.times)
    assert np.nanmax(at[0].real) <= 0.0
    grown = at[1][np.nanargmax(at[1].real)]
    assert grown.real > 0.0
    if limit.mode is not None:
        assert abs(grown) / (2 * np.pi) == pytest.approx(limit.frequency_hz, rel=0.02)


def test_the_delay_of_the_poles_is_exact():
    """Every pole of the closed loop that matters solves 1 + L = 0 with the delay itself."""
    loop = beam(Control(PPF, REAL, Timing(delay_s=8e-4)))
    system, control_ = loop.system, loop.control
    omega0 = float(system.omega_rad_s[0])
    checked = 0

    def det(x):
        f = 1.0 / (system.omega_rad_s**2 + x**2 + 2 * system.zeta * system.omega_rad_s * x)
        m = x * (system.capacitance_f + (system.theta.T * f) @ system.theta) + omega0 * system.loss_f
        m[0, 0] += 1 / REAL.output_ohm
        m[1, 1] += system.connections[1].instrument_s
        m[0, 1] -= control_.transfer(np.array([x]))[0] / REAL.output_ohm
        return np.linalg.det(m)

    for s in loop.spectra[0].value_rad_s:
        if not 10.0 < abs(s) < float(system.omega_rad_s[4]):
            continue
        step = s * 1e-6  # Newton's step from the pole to the exact root is tiny
        newton = det(s) / ((det(s + step) - det(s - step)) / (2 * step))
        assert abs(newton) < 1e-6 * abs(s)
        checked += 1
    assert checked >= 5


def test_the_order_of_the_delay_grows_with_the_angle():
    assert pade_order(1e-3) == 1 and pade_order(1.0) < pade_order(6.0)


def test_poles_and_zeros_alternate_only_where_sensor_and_driver_lie_together():
    together, apart = beam(Control(PPF, REAL)), beam(Control(PPF, REAL), apart_m=0.11)
    assert alternation(together).collocated
    assert not alternation(apart).collocated
    w = np.linspace(1.02 * together.system.omega_rad_s[0], 0.98 * together.system.omega_rad_s[1], 4000)
    zero_between = np.abs(together.plant.response(w)).min() / np.abs(together.plant.response(w)).max()
    assert zero_between < 1e-3


def test_off_means_the_driven_group_is_all_but_shorted():
    loop = beam(Control(PPF, REAL))
    off = loop.plant.spectra_off[0]
    assert off.damping_among(off.poles_of(0)) == pytest.approx(float(loop.system.zeta[0]), rel=0.2)


def test_twice_the_law_is_twice_the_gain():
    a, b = beam(Control(VelocityFeedback(1e-3), REAL)), beam(Control(VelocityFeedback(2e-3), REAL))
    w = np.array([10.0, 124.0, 3000.0])
    assert b.gain(w) == pytest.approx(2 * a.gain(w), rel=1e-12)
    doubled = locus(a, np.array([2.0]))[0]
    for pole in b.spectra[0].value_rad_s:
        assert np.nanmin(np.abs(doubled - pole)) < 1e-8 * max(abs(pole), 1.0)
