"""An active loop as part of a candidate: everything predicted is predicted with it closed."""

import math

import control as reference
import numpy as np
import pytest
from msgspec.structs import replace
from scipy.integrate import solve_ivp

from core.circuit.loop.law import control_states
from core.circuit.transfer import forced
from core.predict.electrics.failure import ON_THE_RAIL, failures
from core.predict.electrics.stop import LAW_GROWS
from core.predict.electrics.supply import supply_of
from core.predict.loads.amplifier_limits import CURRENT, FIELDS, VOLTAGE
from core.predict.predict import predict
from core.project.candidate import Circuit, Instrument
from core.project.edit import (
    duplicate_candidate,
    set_active,
    with_candidate,
    with_group,
    with_patch,
    with_view,
)
from core.project.loop_edits import close_loop, open_loop, with_loop
from core.project.problems import find_problems
from core.project.store import dumps, loads
from core.study.layouts import layouts
from core.study.tolerance.uncertain import uncertain_inputs
from tests.core.predict.loop.scene import closed, designed


def by_hand(prediction):
    """The closed loop put together from modes, capacitances and the law's own matrices: A of
    [q, q', V driven, V sensing, states of the law], nothing taken from the connection. The dielectric conducts as at mode 1."""
    system, loop = prediction.solved.system, prediction.solved.loop
    sensing, driven = loop.sensing, loop.driven
    order = [driven, sensing]
    theta, n = system.theta[:, order], system.n_modes
    inverse = np.linalg.inv(system.capacitance_f[np.ix_(order, order)])
    law, ohm = control_states(loop.loop.control, loop.loop.highest_rad_s), loop.design.output_ohm
    m = len(law.a)
    leak = np.diag([1 / ohm, system.connections[sensing].instrument_s]) + system.omega_rad_s[0] * system.loss_f[np.ix_(order, order)]
    volts = np.zeros((2, 2))
    volts[0, 1] = law.d / ohm
    a = np.zeros((2 * n + 2 + m,) * 2)
    q, r, v, x = slice(n), slice(n, 2 * n), slice(2 * n, 2 * n + 2), slice(2 * n + 2, None)
    a[q, r] = np.eye(n)
    a[r, q], a[r, r], a[r, v] = -np.diag(system.omega_rad_s**2), -np.diag(2 * system.zeta * system.omega_rad_s), -theta
    a[v, r], a[v, v] = inverse @ theta.T, inverse @ (volts - leak)
    a[v, x] = inverse[:, [0]] @ law.c[None] / ohm
    a[x, 2 * n + 1], a[x, x] = law.b, law.a
    return a, theta


@pytest.mark.parametrize(
    "changes",
    [{}, {"law": "velocity", "velocity_gain_s": 3e-6}, {"law": "typed", "numerator": (-3e3,), "denominator": (1.0, 40.0, 1.7e4)}],
    ids=["position", "velocity", "typed"],
)
def test_poles_damping_and_response_are_those_of_python_control(changes):
    prediction = predict(closed(**changes))
    assert not prediction.unstable
    a, _ = by_hand(prediction)
    theirs = reference.ss(a, np.zeros((len(a), 1)), np.zeros((1, len(a))), 0).poles()
    mode = prediction.modes[0]
    for pole in mode.poles:
        assert np.abs(theirs - pole.value_rad_s).min() < 1e-7 * abs(pole.value_rad_s)
    near = theirs[np.abs(np.abs(theirs) / abs(mode.poles[0].value_rad_s) - 1.0) < 1e-6]
    assert mode.poles[0].damping_ratio == pytest.approx(-near[0].real / abs(near[0]), rel=1e-6)
    assert mode.zeta > 1.05 * mode.zeta_before


def test_the_ring_down_is_that_of_scipys_integrator():
    prediction = predict(closed(output_ohm=2e3))
    item, system = prediction.solved.side.forcing, prediction.solved.system
    a, _ = by_hand(prediction)
    n = system.n_modes
    # held at the tip with the leads at rest, then let go
    start = np.zeros(len(a))
    start[:n] = item.aim.load.modal / system.omega_rad_s**2
    ring = prediction.ring_down
    shown = ring.time_s < 0.12
    ran = solve_ivp(lambda t, x: a @ x, (0.0, 0.12), start, t_eval=ring.time_s[shown], method="DOP853", rtol=1e-7, atol=1e-12)
    order = [prediction.solved.loop.driven, prediction.solved.loop.sensing]
    seen = item.aim.output.modal @ ran.y[:n] - item.aim.output.electric[order] @ ran.y[2 * n : 2 * n + 2]
    own = ring.after[shown]
    assert own / own[0] == pytest.approx(seen / seen[0], abs=2e-4)
    assert np.abs(own[-24:]).max() < 0.8 * np.abs(ring.before[shown][-24:]).max()


def test_response_and_amplifier_follow_from_the_matrices():
    prediction = predict(with_load(closed(), 1))
    solved, frequency = prediction.solved, prediction.response.frequency_hz
    a, _ = by_hand(prediction)
    system, item, loop = solved.system, solved.side.forcing, solved.loop
    n, order = system.n_modes, [loop.driven, loop.sensing]
    near = np.argmin(np.abs(frequency - prediction.modes[0].f_short_hz))
    s = 2j * np.pi * frequency[near]
    push = np.zeros(len(a), dtype=complex)
    push[n : 2 * n] = item.aim.load.modal
    push[2 * n : 2 * n + 2] = s * np.linalg.inv(system.capacitance_f[np.ix_(order, order)]) @ item.aim.load.electric[order]
    x = np.linalg.solve(s * np.eye(len(a)) - a, push)
    tip = item.aim.output.modal @ x[:n] - item.aim.output.electric[order] @ x[2 * n : 2 * n + 2] + item.aim.residual
    # the dielectric conducts a little otherwise where the frequency is not the mode's
    assert abs(prediction.response.after[near]) == pytest.approx(abs(tip), rel=2e-3)


def with_load(project, index):
    """With the project's own harmonic load of a newton at the tip in place of the pluck."""
    from core.project.service import TipForce

    load = TipForce("steady push", 0.01, (5.0, 200.0))
    return replace(project, service=replace(project.service, loads=(load,), active_load=0))


def test_the_loop_open_is_no_loop():
    project = designed()
    bare = with_loop(project, type(project.candidate().loop)())
    first, second = predict(project), predict(bare)
    assert [m.zeta for m in first.modes] == pytest.approx([m.zeta for m in second.modes], rel=1e-12)
    assert first.response.after == pytest.approx(second.response.after, rel=1e-12)
    assert predict(open_loop(closed())).response.after == pytest.approx(first.response.after, rel=1e-12)


def test_opening_the_loop_brings_back_what_hung_on_the_leads():
    project = designed()
    listens = replace(project.candidate().groups[1], circuit=Circuit("resistor", {"resistance_ohm": 4e4}), instrument=None)
    shunted = with_group(project, "A", listens)
    for before in (project, shunted):
        taken = close_loop(before)
        assert [group.circuit.kind for group in taken.candidate().groups] == ["loop", "open"]
        assert open_loop(taken).candidate().groups == before.candidate().groups
        assert loads(dumps(taken)) == taken
    moved = with_loop(close_loop(shunted), driven="G2", sensing="G1")
    assert [group.circuit.kind for group in moved.candidate().groups] == ["open", "loop"]
    assert open_loop(moved).candidate().groups == shunted.candidate().groups


def test_leads_that_had_nothing_before_the_loop_are_shorted():
    project = closed()
    groups = tuple(replace(group, before_loop=None) for group in project.candidate().groups)
    of_before = replace(project, candidates=(replace(project.candidate(), groups=groups), *project.candidates[1:]))
    opened = open_loop(of_before).candidate()
    assert [group.circuit.kind for group in opened.groups] == ["shorted", "open"]
    assert opened.groups[1].instrument == groups[1].instrument


def test_what_a_hand_put_on_the_listening_leads_stays():
    project = designed()
    project = with_group(project, "A", replace(project.candidate().groups[1], circuit=Circuit("shorted"), instrument=None))
    taken = close_loop(project)
    by_hand = with_group(taken, "A", replace(taken.candidate().groups[1], circuit=Circuit("resistor", {"resistance_ohm": 4e4})))
    opened = open_loop(by_hand).candidate().groups
    assert opened[1].circuit.kind == "resistor" and opened[1].instrument is not None
    assert opened[0] == project.candidate().groups[0] and opened[1].before_loop is None


def test_a_gain_of_nothing_is_the_amplifiers_output_resistance():
    project = closed(times=0.0)
    still = with_group(project, "A", replace(project.candidate().groups[0], circuit=Circuit("resistor", {"resistance_ohm": 50.0})))
    first, second = predict(project), predict(still)
    assert [m.zeta for m in first.modes] == pytest.approx([m.zeta for m in second.modes], rel=1e-10)
    load, omega = first.solved.side.forcing.aim.load, np.geomspace(10.0, 1e4, 60)
    seen, wanted = (forced(one.solved.system, load, omega).after for one in (first, second))
    assert seen == pytest.approx(wanted, rel=1e-12)


def test_copies_differ_and_files_keep_them():
    project = duplicate_candidate(closed(), "A")
    project = with_loop(set_active(project, project.candidates[1].id), times=0.2)
    again = loads(dumps(project))
    assert again == project
    assert [c.loop.times for c in again.candidates[:1]] == [1.0] and again.candidate().loop.times == 0.2
    first, second = predict(again, "A"), predict(again)
    assert second.modes[0].zeta != pytest.approx(first.modes[0].zeta, rel=0.1)


def test_a_loop_that_drives_a_mode_beyond_those_shown_is_unstable_all_the_same():
    seen = predict(with_view(closed(law="velocity", velocity_gain_s=5e-5), modes_shown=5))
    assert seen.stop is not None and seen.unstable and seen.stop.growth.mode == 8
    assert not np.isfinite(seen.modes[0].zeta)


def test_too_high_a_gain_is_the_stop_sign_with_the_nearest_gain_that_holds():
    limit = predict(closed()).solved.loop.limit.times
    sign = predict(closed(times=1.3 * limit)).stop
    assert sign.holds.setting.startswith("Gain of the loop × 7.")
    held = with_candidate(closed(), sign.holds.candidate)
    assert held.candidate().loop.times == pytest.approx(limit, rel=5e-3) and held.candidate().loop.times < limit
    assert predict(held).stop is None


def test_a_law_that_grows_by_itself_is_named_and_no_gain_is_offered():
    sign = predict(closed(law="typed", numerator=(1e-6,), denominator=(1.0, -5.0))).stop
    assert sign.cure == LAW_GROWS and sign.holds is None
    assert not predict(closed(law="typed", numerator=(1e-6,), denominator=(1.0, -5.0))).solved.loop.law_decays
    rows = {row.name: row for row in failures(closed(law="typed", numerator=(1e-6,), denominator=(1.0, -5.0)))}
    assert ON_THE_RAIL in rows["G2: sensing lead open"].verdict


def test_what_fails_is_told_for_amplifier_and_both_leads():
    project = closed()
    rows = {row.name: row for row in failures(project)}
    assert list(rows)[:7] == [
        "As designed", "G1: amplifier off", "G1: lead open", "G1: leads shorted",
        "G2: sensing lead open", "G2: sensing shorted", "P1: root half lost",
    ]  # fmt: skip
    designed_zeta = rows["As designed"].damping
    assert designed_zeta == pytest.approx(predict(project).modes[0].zeta, rel=1e-9)
    for name in list(rows)[1:6]:
        assert 0.0 < rows[name].damping < 0.1 * designed_zeta and "grows" not in rows[name].verdict
    # what the table says of the sensing lead is what a candidate made by hand says
    first, second = project.candidate().groups
    made = with_group(project, "A", replace(first, circuit=Circuit("resistor", {"resistance_ohm": 50.0})))
    made = with_group(made, "A", replace(second, instrument=None))
    assert rows["G2: sensing lead open"].damping == pytest.approx(predict(made).modes[0].zeta, rel=1e-9)


def test_a_loop_that_hears_two_patches_may_grow_when_one_half_is_lost():
    """Every row is solved with the loop as it then is, so that one that grows is told."""
    limit = predict(closed()).solved.loop.limit.times
    rows = failures(closed(times=0.98 * limit))
    assert all(row.verdict for row in rows) and not math.isnan(rows[0].damping)


def test_the_amplifier_and_the_field_it_can_make_are_limits():
    project = closed()
    prediction = predict(project)
    found = {(limit.name, limit.patch): limit for limit in prediction.limits}
    volts, amperes = found[VOLTAGE, "P1"], found[CURRENT, "P1"]
    assert volts.allowable == 100.0 and amperes.allowable == 0.06
    # through 50 ohm the leads have what the amplifier gives
    assert volts.value == pytest.approx(prediction.groups[0].voltage_peak_v, rel=1e-2)
    assert amperes.value == pytest.approx(prediction.groups[0].current_peak_a, rel=1e-9)
    thickness = prediction.solved.beam.plates[0].thickness_m
    for name in FIELDS:
        assert found[name, "P1"].value == pytest.approx(100.0 / thickness, rel=1e-9)
        assert (name, "P2") not in found
    assert found[FIELDS[1], "P1"].margin < found[FIELDS[0], "P1"].margin  # against the poling it bears less
    assert all(name not in {limit.name for limit in predict(designed()).limits} for name in (VOLTAGE, CURRENT, *FIELDS))


def test_heat_in_the_amplifiers_output_is_current_squared_times_its_resistance():
    group = predict(with_load(closed(output_ohm=2e3), 0)).groups[0]
    assert group.power_w == pytest.approx(0.5 * 2e3 * group.current_peak_a**2, rel=1e-3)
    once = predict(closed(output_ohm=2e3)).groups[0]
    assert once.power_w == pytest.approx(2e3 * once.current_peak_a**2, rel=2e-2)


def test_groups_that_a_closed_loop_needs():
    project = closed()
    lonely = with_group(project, "A", replace(project.candidate().groups[1], circuit=Circuit("loop")))
    assert any("both driven" in p.message for p in find_problems(lonely))
    deaf = with_group(project, "A", replace(project.candidate().groups[1], circuit=Circuit("shorted")))
    assert any("hears nothing. Open them." in p.message for p in find_problems(deaf))


def test_the_driven_choice_moves_a_closed_loop():
    project = with_loop(closed(), driven="G2", sensing="G1")
    kinds = [group.circuit.kind for group in project.candidate().groups]
    assert kinds == ["open", "loop"] and find_problems(project) == ()
    assert open_loop(project).candidate().loop.driven == "G2"
    assert close_loop(open_loop(project)) == project and open_loop(project).candidate().groups == designed().candidate().groups


def test_an_input_on_the_driven_leads_counts_in_poles_and_response_alike():
    """A probe of 1 kohm on leads behind 50 ohm: the same system whichever way it is asked."""
    project = closed(output_ohm=5e4)
    group = project.candidate().groups[0]
    probed = with_group(project, "A", replace(group, instrument=Instrument("probe", 1e4, 0.0)))
    prediction = predict(probed)
    plain = predict(project)
    assert prediction.modes[0].zeta != pytest.approx(plain.modes[0].zeta, rel=1e-2)
    system = prediction.solved.system
    assert system.connections[0].leads == (0, 1) and system.connections[0].instrument_s == 1e-4


def test_many_layouts_with_a_loop_are_each_as_one():
    """A patch that moves, and an amplifier off its gain, as the strip and a tolerance study ask."""
    project = closed()
    gains, places = np.array([10.0, 20.0, 26.0]), np.array([0.005, 0.02, 0.06])
    by_gain = layouts(project, project.candidate(), {"candidates[A].loop.amplifier_gain": gains}, 5).damping(5)
    alone = [[m.zeta for m in predict(closed(amplifier_gain=float(g))).modes] for g in gains]
    assert by_gain == pytest.approx(np.array(alone), rel=1e-6)
    by_place = layouts(project, project.candidate(), {"candidates[A].patches[P1].x_start_m": places}, 5).damping(5)
    for place, row in zip(places, by_place, strict=True):
        patch = replace(project.candidate().patch("P1"), x_start_m=float(place))
        found = predict(with_patch(project, "A", patch))
        assert row == pytest.approx([m.zeta for m in found.modes], rel=2e-3, nan_ok=True)


def test_a_tolerance_study_counts_the_amplifier_of_a_closed_loop_only():
    def told(project):
        return {row.path: (row.low, row.high) for row in uncertain_inputs(project, project.candidate()) if ".loop." in row.path}

    assert told(closed())["candidates[A].loop.amplifier_gain"] == pytest.approx((19.0, 21.0))
    assert told(designed()) == {}


def test_a_typed_law_may_begin_with_zeros():
    """They are no powers: a numerator that rises too fast is told as such, and what does not is the same law without them."""
    too_fast = closed(law="typed", numerator=(1.0, 0.0, 0.0), denominator=(0.0, 0.0, 1.0))
    assert [problem.path for problem in find_problems(too_fast)] == [f"candidates[{too_fast.active}].loop.numerator"]
    plain, led = (
        closed(law="typed", numerator=(*zeros, -1e4), denominator=(*zeros, 1.0, 50.0, 1e4), times=0.01) for zeros in ((), (0.0, 0.0))
    )
    assert not find_problems(led)
    assert predict(led).modes[0].zeta == predict(plain).modes[0].zeta


def test_what_a_closed_loop_takes_is_its_rails_times_its_largest_current():
    prediction = predict(with_load(closed(), 0))
    assert supply_of(prediction.solved).power_w == pytest.approx(100.0 * prediction.groups[0].current_peak_a, rel=1e-9)
    assert supply_of(predict(designed()).solved).power_w == 0.0
