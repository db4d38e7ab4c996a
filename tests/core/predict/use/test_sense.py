"""The patch as a pick-up."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.fast_states import state_space
from core.circuit.transfer import forced
from core.predict.predict import predict
from core.predict.use.load_cell import load_cell
from core.predict.use.scope import division, trace
from core.project import library
from core.project.candidate import Instrument
from core.project.record import Constant
from core.project.use import Sense
from tests.core.predict.scenes import FORCE, KNOCK, PLUCK, lab

PROBE = Instrument("probe", 10e6, 110e-12)


def plain(load=FORCE, **changes):
    project = lab(load=load, instrument=PROBE, **changes)
    return replace(project, structure=replace(project.structure, level="plain"))


def sensing(project):
    return predict(project).groups[0].sensing


def test_a_lab_strip_gives_what_the_trade_knows():
    """A millimetre of tip in mode 1 gives about 6.0 V on open leads (a lab strip's worked value, rigid bond; the bond
    takes a few per cent); 28 V per newton slow; 10 Mohm let it fade in 0.7 s."""
    found = sensing(plain())
    assert found.modes[0].v_per_m == pytest.approx(6000.0, rel=0.06)
    assert abs(found.slow_v_per_n) == pytest.approx(28.0, rel=0.01)
    assert found.fade_s == pytest.approx(0.70, rel=0.01)
    assert found.corner_hz * found.fade_s * 2 * np.pi == pytest.approx(1.0)
    assert [m.number for m in found.modes if m.blind] == [4]


def test_pressing_the_tip_down_makes_the_dot_of_a_patch_on_top_plus():
    found = sensing(plain())
    assert found.slow_v_per_n < 0 and found.slow_v_per_m < 0
    group = predict(plain()).groups[0]
    assert group.tip_m_per_v > 0 and group.open_v_per_n < 0


def test_charge_per_newton_is_motion_per_volt_at_every_frequency():
    """Reciprocity to 1e-12: the charge a force drives into shorted leads, by the engine's forced motion, against
    the motion a voltage makes."""
    found = sensing(plain())
    shaken = predict(plain()).groups[0].driving.transducer
    omega = np.array([1.0, 60.0, 124.2, 700.0, 2034.0, 5000.0])
    driven = forced(found.system, found._force.aim.load, omega)
    charge = driven.before @ found.system.theta[:, 0] + found._force.aim.load.electric[0]
    second = shaken._beyond[1] * omega**2
    assert -charge == pytest.approx(shaken.m_per_v(omega) - second, rel=1e-12)
    assert found.slow_c_per_n == shaken.static_m_per_v


def test_volts_per_newton_follow_from_the_driven_group():
    """V/F = -d j omega/(Y_group + Y_input): the pick-up's response from what the shaker does and draws."""
    found = sensing(plain())
    t = predict(plain()).groups[0].driving.transducer
    omega = np.array([0.3, 3.0, 124.9, 300.0, 748.0])
    y = 1 / PROBE.resistance_ohm + 1j * omega * PROBE.capacitance_f
    expected = -t.m_per_v(omega) * 1j * omega / (t.siemens(omega) + y)
    assert found.volts_per_newton(omega) == pytest.approx(expected, rel=2e-5)


def test_volts_per_metre_are_those_of_the_ringing_mode():
    """Against the eigenvectors of the coupled state matrix with the input on the leads."""
    found = sensing(plain())
    system = found.system
    for n in (0, 1, 2):
        space = state_space(system, float(system.omega_rad_s[n]))
        rate, vectors = np.linalg.eig(space.matrix)
        pole = int(np.argmin(np.abs(rate - 1j * found.omega_rad_s[n])))
        full = space.expand @ vectors[:, pole]
        volts = (space.voltage @ full)[0]
        q = full[: system.n_modes] / system.omega_rad_s
        point = found._force.aim.output
        tip = q @ (point.modal) - volts * point.electric[0]
        assert abs(volts / tip) == pytest.approx(found.modes[n].v_per_m, rel=1e-3)


def test_the_corner_halves_the_power_of_slow_motion():
    found = sensing(plain())
    at, above = np.abs(found.volts_per_newton(2 * np.pi * np.array([found.corner_hz, 20 * found.corner_hz])))
    assert at / abs(found.slow_v_per_n) == pytest.approx(0.5**0.5, rel=0.02)
    assert above == pytest.approx(abs(found.slow_v_per_n), rel=0.1)


def test_the_smallest_motion_is_noise_over_volts_per_metre():
    project = plain()
    quiet, loud = sensing(project), sensing(replace(project, sense=Sense(noise_v=4e-3)))
    for a, b in zip(quiet.modes, loud.modes, strict=True):
        assert a.smallest_m * a.v_per_m == pytest.approx(1e-3)
        assert b.smallest_m == pytest.approx(4 * a.smallest_m)
    g = quiet.modes[0]
    assert g.v_per_g == pytest.approx(g.v_per_m * 9.80665 / (2 * np.pi * g.frequency_hz) ** 2)


def test_an_input_nobody_entered_is_said_to_be_assumed():
    project = plain()
    group = replace(project.candidate().groups[0], instrument=None)
    bare = replace(project, candidates=(replace(project.candidate(), groups=(group,)),))
    assert sensing(bare).input_is_assumed and not sensing(project).input_is_assumed


def test_what_circuit_hangs_on_the_leads_does_not_matter_to_the_pick_up():
    with_r, opened = sensing(plain()), sensing(plain(circuit=replace(lab().candidate().groups[0].circuit, kind="open", tuning=None)))
    assert with_r.volts_per_newton(np.array([100.0])) == pytest.approx(opened.volts_per_newton(np.array([100.0])), rel=1e-12)


# -- the screen -----------------------------------------------------------------------------------------------


def test_a_pluck_jumps_fades_while_it_is_held_and_rings():
    found = sensing(plain(load=PLUCK))
    shown = trace(found, "active load")
    jump = abs(found.slow_v_per_m) * 5e-3
    pressed = shown.volts[np.argmax(np.abs(shown.volts) > 0)]
    assert pressed == pytest.approx(-jump, rel=0.01)  # let go from a bend upwards
    held = 0.2 * shown.s_per_division * 10
    last = shown.volts[np.searchsorted(shown.time_s, 1.2 * held) - 1]
    assert last / pressed == pytest.approx(np.exp(-held / found.fade_s), rel=0.01)
    after = shown.volts[shown.time_s > 1.3 * held]
    crossings = np.count_nonzero(np.diff(np.sign(after)))
    length = shown.time_s[-1] - 1.3 * held
    assert crossings / 2 / length == pytest.approx(19.9, rel=0.05)
    assert shown.v_per_division == 20.0 and shown.s_per_division == pytest.approx(0.2)


def test_the_screen_holds_what_it_draws():
    for load, what in ((KNOCK, "impact"), (PLUCK, "pluck"), (FORCE, "active load")):
        shown = trace(sensing(plain(load=load)), what)
        assert 0.3 < shown.peak_v / (4 * shown.v_per_division) <= 1.0 + 1e-9


@pytest.mark.parametrize(("span", "expected"), [(8.0, 1.0), (8.1, 2.0), (17.0, 5.0), (0.5, 0.1), (8e-3, 1e-3)])
def test_divisions_are_one_two_five(span, expected):
    assert division(span, 8) == pytest.approx(expected)


# -- squeezed -------------------------------------------------------------------------------------------------


def test_a_load_cell_gives_d33_per_newton():
    """V/F = d33 t/(eps33T A) on open leads; type II: 374 pC/N and 1700 (typical constants, from memory)."""
    project = library.example("lab-beam")
    package = project.packages[0]
    package = replace(package, ceramic=replace(package.ceramic, d33_c_n=Constant(374e-12), eps33t_relative=Constant(1700.0)))
    patch = project.candidate("A").patches[0]
    cell = load_cell(patch, package, Instrument("none", 1e12, 0.0))
    assert cell.v_per_n == pytest.approx(374e-12 * 0.25e-3 / (1700 * 8.8541878128e-12 * 0.05 * 0.025), rel=1e-9)
    assert cell.c_per_n == 374e-12 and not cell.d33_is_assumed
    slow = load_cell(patch, package, Instrument("meter", 1e6, 1e-9))
    assert slow.fade_s == pytest.approx(1e6 * (374e-12 / cell.v_per_n + 1e-9), rel=1e-9)


@pytest.mark.parametrize(("d31", "d33"), [(-123e-12, 289e-12), (-171e-12, 374e-12), (-97e-12, 225e-12), (-274e-12, 593e-12)])
def test_an_assumed_d33_is_that_of_soft_and_hard_classes(d31, d33):
    """Types I, II, III, VI (typical constants, from memory)."""
    project = library.example("lab-beam")
    package = project.packages[0]
    package = replace(package, ceramic=replace(package.ceramic, d31_c_n=Constant(d31)))
    cell = load_cell(project.candidate("A").patches[0], package, PROBE)
    assert cell.d33_is_assumed and cell.c_per_n == pytest.approx(d33, rel=0.1)


# -- a charge amplifier -----------------------------------------------------------------------------------------


def by_charge(project, feedback_f=1e-9, feedback_ohm=1e9):
    return replace(project, sense=Sense(1e-3, "charge", feedback_f, feedback_ohm))


def test_a_charge_amplifier_gives_the_charge_over_its_feedback_capacitor():
    """V = -Q/C_f, Q that of shorted leads; corner 1/(2 pi R_f C_f), fading with R_f C_f."""
    volts, charge = sensing(plain()), sensing(by_charge(plain()))
    for mode, other in zip(charge.modes, volts.modes, strict=True):
        assert mode.v_per_m == pytest.approx(other.c_per_m / 1e-9, rel=2e-4)
        assert mode.c_per_m == pytest.approx(other.c_per_m, rel=1e-9)
    assert charge.slow_v_per_n == pytest.approx(charge.slow_c_per_n / 1e-9, rel=1e-3)
    assert charge.slow_v_per_n * volts.slow_v_per_n < 0  # it inverts
    assert charge.fade_s == pytest.approx(1.0, rel=1e-3)
    assert charge.corner_hz == pytest.approx(1 / (2 * np.pi), rel=1e-3)
    assert charge.modes[0].frequency_hz == pytest.approx(float(charge.solved.beam.omega_rad_s[0]) / (2 * np.pi))


def test_its_volts_do_not_know_the_cable_and_those_of_a_voltage_input_do():
    def with_cable(project, farads):
        candidate = project.candidate()
        group = replace(candidate.groups[0], instrument=replace(PROBE, capacitance_f=farads))
        return replace(project, candidates=(replace(candidate, groups=(group,)),))

    short, long = (sensing(by_charge(with_cable(plain(), f))) for f in (1e-11, 1e-8))
    assert long.modes[0].v_per_m == pytest.approx(short.modes[0].v_per_m, rel=2e-4)
    near, far = (sensing(with_cable(plain(), f)) for f in (1e-11, 1e-8))
    assert far.modes[0].v_per_m < 0.95 * near.modes[0].v_per_m


def test_its_response_and_its_screen_are_the_charge_over_the_capacitor():
    found = sensing(by_charge(plain(load=PLUCK)))
    omega = np.array([60.0, 400.0, 1500.0])
    shorted = predict(plain()).groups[0].driving.transducer.m_per_v(omega)
    assert np.abs(found.volts_per_newton(omega)) == pytest.approx(np.abs(shorted) / 1e-9, rel=2e-3)
    seen = trace(found, "pluck")
    bend = 0.005 * abs(found.slow_v_per_m)
    held = seen.volts[(seen.time_s > 0.05 * seen.time_s[-1]) & (seen.time_s < 0.15 * seen.time_s[-1])]
    assert np.abs(held).max() == pytest.approx(bend, rel=0.1)


def test_a_load_cell_on_a_charge_amplifier_and_a_bridge_beside_it():
    from core.predict.use.bridge import bridge

    group = predict(by_charge(plain())).groups[0]
    assert group.sensing.load_cell.v_per_n == pytest.approx(group.sensing.load_cell.c_per_n / 1e-9, rel=1e-3)
    before = predict(plain()).groups[0]
    assert bridge(group.driving, group.sensing) == bridge(before.driving, before.sensing)
