"""A tuned mass in a prediction: stroke, force and heat under every kind of load, laws and limits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.spectrum import spectra, spectrum_at
from core.circuit.transfer import Functional, forced, inner_states
from core.piezo.layout import solve
from core.predict.loads.limit_words import STROKE
from core.predict.loads.loading import squares
from core.predict.loads.transient import transient
from core.predict.predict import held_circuits, predict
from core.predict.remarks.problems import find_problems
from core.predict.report.report import prediction_json, prediction_text
from core.project.candidate import Absorber, Candidate, Circuit, Tuning
from core.project.service import BaseShock, BaseStep, Impact, RandomBase, Release, RootAcceleration, TipForce
from core.project.structure import Support
from core.study.layouts import layouts
from core.study.tolerance.tolerance import tolerance_study
from tests.core.predict.scenes import BAND, FORCE, PLUCK, RESISTOR, RESONANT, SHAKE, lab, side, with_candidate
from tests.published.build import plain
from tests.reference import time_route

SHOCK = BaseShock("drop on felt", 100.0, 0.011, BAND)
STEP = BaseStep("machine brakes", 3.0, BAND)
KNOCK = Impact("knock", 0.01, 0.003, BAND)
NOISE = RandomBase("truck", ((5.0, 0.1), (40.0, 2.0), (200.0, 2.0), (800.0, 0.05)))
MASS = Absorber("M1", 0.3, 0.002, 19.0, 0.12)


def hung(load=FORCE, circuit=Circuit("shorted"), *absorbers, **view):
    project = lab(load=load, circuit=circuit, **view)
    return with_candidate(project, replace(project.candidate(), absorbers=absorbers or (MASS,)))


@pytest.mark.parametrize(
    ("load", "pulse", "at_m"),
    [
        (SHOCK, time_route.Pulse(100.0, 0.011), None),
        pytest.param(STEP, time_route.Pulse(3.0, None), None, marks=pytest.mark.slow),
        pytest.param(KNOCK, time_route.Pulse(0.01 * np.pi / 2 / 0.003, 0.003), 0.3, marks=pytest.mark.slow),
    ],
    ids=["base shock", "base step", "knock"],
)
def test_stroke_and_heat_equal_time_integration(load, pulse, at_m):
    """Against finite elements and time steps that know nothing of the core; the damper's heat while they run."""
    project = plain(hung(load))
    candidate = project.candidate()
    low, high, energy = time_route.tuned_mass(
        project, candidate, 0.002, 19.0, 0.12, pulse=pulse, at_m=at_m,
        zeta=project.structure.damping.ratios[0], cycles=12.0,
    )  # fmt: skip
    found = predict(project).absorbers[0]
    assert found.stroke_m == pytest.approx(max(high, -low), rel=3e-3)
    assert found.energy_j == pytest.approx(energy, rel=2e-2)


def test_the_mass_stays_behind_a_base_that_moves_fast():
    """Far above its frequency it stands still: its stroke is what its place moves in all, base included."""
    item = side(hung(SHAKE, Circuit("shorted"), replace(MASS, frequency_hz=0.05, damping_ratio=0.0)))
    w = np.array([2 * np.pi * 60.0])
    driven = forced(item.system, item.forcing.aim.load, w)
    force = driven.voltage[0, -1]
    place = driven.after[0] @ item.system.theta[:, -1] + item.forcing.aim.load.electric[-1]
    mass_moves, place_moves = -force / (0.002 * w[0] ** 2), place - 1 / w[0] ** 2
    assert abs(mass_moves) < 1e-5 * abs(place_moves)
    stroke = inner_states(item.system.connections[-1].port(), 1j * w, driven.voltage[:, -1:], 1.0)[0, 1]
    stroke *= (0.002 * (2 * np.pi * 0.05) ** 2) ** -0.5
    assert abs(stroke) == pytest.approx(abs(place_moves), rel=1e-4)


def test_under_a_step_it_comes_to_rest_on_its_spring():
    """The spring gives it the acceleration of the base: a force m a."""
    project = hung(STEP)
    item = side(project)
    rest = transient(item.system, item.forcing)[0].forced
    assert rest.voltage[-1, 0].real == pytest.approx(0.002 * 3.0, rel=1e-9)


@pytest.mark.parametrize("circuit", [RESISTOR, RESONANT])
@pytest.mark.parametrize("load", [KNOCK, PLUCK, SHOCK], ids=lambda load: load.name)
def test_what_a_load_brings_in_is_turned_into_heat(load, circuit):
    """The energy at the last change of the load against the heat of modes, dielectric, circuit and damper."""
    item = side(hung(load, circuit))
    system = item.system
    last = transient(system, item.forcing)[-1].free
    q, speed = last.q.sum(axis=1).real, (last.q * last.rate).sum(axis=1).real
    volts = last.voltage.sum(axis=1).real
    inner = np.concatenate([part.sum(axis=1).real for part in last.inner])
    stored = 0.5 * (system.omega_rad_s**2 @ q**2 + speed @ speed + volts @ system.capacitance_f @ volts + inner @ inner)
    speeds = squares(last.rate, last.q * last.rate, np.inf)
    heat = 2 * system.zeta * system.omega_rad_s @ np.diag(speeds)
    leak = item.system.omega_rad_s[int(np.argmax(np.abs(system.omega_rad_s * q)))] if load is PLUCK else system.omega_rad_s[0]
    heat += leak * (system.loss_f * squares(last.rate, last.voltage, np.inf)).sum()
    for i, connection in enumerate(system.connections):
        port = connection.port()
        flow = port.flow
        terms = np.vstack([last.voltage[i : i + 1], last.inner[i]])
        heat += (0.5 * (flow + flow.T) * squares(last.rate, terms, np.inf)).sum()
    assert heat == pytest.approx(stored, rel=1e-6)


def test_force_and_response_are_the_same_both_ways():
    """Maxwell and Betti: force at a, motion at b, with a tuned mass, a circuit and all."""
    forward = side(hung(TipForce("f", 1.0, BAND, x_m=0.12), RESONANT, output_x_m=0.27))
    back = side(hung(TipForce("f", 1.0, BAND, x_m=0.27), RESONANT, output_x_m=0.12))
    w = np.geomspace(60.0, 4000.0, 40)
    curves = [
        forced(s.system, s.forcing.aim.load, w).output(s.forcing.aim.output, s.forcing.aim.residual)[1]
        for s in (forward, back)
    ]
    np.testing.assert_allclose(curves[0], curves[1], rtol=1e-10)


VALUES = st.floats(-9, 9).map(lambda p: 10.0**p)
MASSES = st.builds(
    lambda x, m, f, zeta: Absorber("M", x, m, f, zeta),
    st.floats(0.001, 0.3),
    st.floats(-6, 3).map(lambda p: 10.0**p),
    st.floats(-1, 5).map(lambda p: 10.0**p),
    st.one_of(st.just(0.0), st.floats(-9, 1).map(lambda p: 10.0**p)),
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(MASSES, min_size=1, max_size=3),
    st.sampled_from(["shorted", "open", "resistor", "series R-L", "parallel R-L"]),
    VALUES,
    VALUES,
)
def test_nothing_passive_makes_an_unstable_pole(masses, kind, resistance, inductance):
    masses = tuple(replace(mass, id=f"M{i}") for i, mass in enumerate(masses))
    values = {"resistance_ohm": resistance, "inductance_h": inductance}
    names = {"resistor": 1, "series R-L": 2, "parallel R-L": 2}.get(kind, 0)
    circuit = Circuit(kind, dict(list(values.items())[:names]))
    project = hung(FORCE, circuit, *masses)
    candidate = project.candidate()
    system = coupled_system(solve(project, candidate, n_modes=8), candidate)
    for spectrum in (*spectra(system, 3), spectrum_at(system, 1.0)):
        assert not spectrum.unstable.any()
        assert np.isfinite(spectrum.value_rad_s).all()


def test_its_mass_counts_and_before_is_without_it():
    without, found = predict(lab(FORCE)), predict(hung(FORCE, RESISTOR))
    assert found.total_mass_kg - without.total_mass_kg == pytest.approx(0.002)
    assert found.added_mass_kg - without.added_mass_kg == pytest.approx(0.002)
    assert found.bare_mass_kg == without.bare_mass_kg
    assert found.before_label == "patches shorted, masses off"
    assert found.modes[0].f_short_hz == pytest.approx(without.modes[0].f_short_hz, rel=1e-7)
    np.testing.assert_allclose(np.abs(found.response.peak_before), without.response.peak_before, rtol=1e-4)
    assert found.modes[0].zeta > 10 * without.modes[0].zeta_before


@pytest.mark.parametrize("goal", ["damping", "peak", "mean square"])
def test_the_optimum_is_no_worse_than_the_closed_form(goal):
    base = replace(MASS, tuning=Tuning(1, "closed form", goal))
    found = [
        predict(hung(FORCE, Circuit("shorted"), replace(base, tuning=Tuning(1, rule, goal))))
        for rule in ("closed form", "optimum")
    ]
    size = {
        "damping": lambda p: -p.modes[0].zeta,
        "peak": lambda p: p.modes[0].peak_change_db,
        "mean square": lambda p: p.response.mean_square_change_db,
    }[goal]
    assert size(found[1]) <= size(found[0]) + 1e-6
    assert size(found[0]) - size(found[1]) < {"damping": 0.1, "peak": 1.5, "mean square": 1.0}[goal]


def test_held_values_are_those_in_effect():
    project = hung(FORCE, RESISTOR, replace(MASS, tuning=Tuning(1, "optimum")))
    held = held_circuits(project, project.candidate())
    found = predict(project).absorbers[0]
    assert held.absorbers[0].tuning is None
    assert held.absorbers[0].frequency_hz == pytest.approx(found.frequency_hz, rel=1e-9)
    assert held.absorbers[0].damping_ratio == pytest.approx(found.damping_ratio, rel=1e-9)


@pytest.mark.parametrize(
    "load",
    [FORCE, SHAKE, RootAcceleration("noise", 1.0, BAND, True), PLUCK, KNOCK, SHOCK, STEP, NOISE],
    ids=lambda load: load.name,
)
def test_its_stroke_is_a_limit_under_every_load(load):
    wide = predict(hung(load, RESISTOR, replace(MASS, allowed_stroke_m=1.0)))
    stroke = wide.absorbers[0].stroke_m
    assert 0.0 < stroke < 1.0
    tight = predict(hung(load, RESISTOR, replace(MASS, allowed_stroke_m=stroke / 2)))
    worst = next(limit for limit in tight.limits if limit.name == STROKE)
    assert (worst.patch, worst.x_m, worst.unit) == ("M1", 0.3, "m")
    assert worst.margin == pytest.approx(0.5, rel=1e-9)
    assert not [limit for limit in predict(hung(load)).limits if limit.name == STROKE]


def test_a_sine_at_one_frequency_by_hand():
    """Stroke and force from the mobility of the bare part: z = (phi_F phi/d) F - (phi^2/d) f, f = D z."""
    item = side(hung(FORCE))
    w, system, load = np.array([115.0]), item.system, item.forcing.aim.load
    driven = forced(system, load, w)
    phi = system.theta[:, -1]
    d = system.omega_rad_s**2 - w**2 + 2j * system.zeta * system.omega_rad_s * w
    wa = 2 * np.pi * 19.0
    dynamic = -0.002 * w**2 * (wa**2 + 0.24j * wa * w) / (wa**2 - w**2 + 0.24j * wa * w)
    alone, own = (load.modal * phi / d).sum() + load.electric[-1], (phi**2 / d).sum() + system.capacitance_f[-1, -1]
    force = dynamic * alone / (1 + dynamic * own)
    assert driven.voltage[0, -1] == pytest.approx(complex(force[0]), rel=1e-10)
    stroke = inner_states(system.connections[-1].port(), 1j * w, driven.voltage[:, -1:], 0.0)[0, 1]
    stroke *= (0.002 * wa**2) ** -0.5
    assert stroke == pytest.approx(complex((force / (0.002 * (wa**2 + 0.24j * wa * w)))[0]), rel=1e-10)


def test_many_places_of_it_are_the_single_ones():
    """Place, mass, frequency and damping varied together, as tolerances and searches do."""
    project = hung(FORCE, RESISTOR)
    candidate, path = project.candidate(), "candidates[A].absorbers[M1]"
    varied = {
        "x_m": np.array([0.1, 0.22, 0.3]),
        "mass_kg": np.array([1e-3, 2e-3, 4e-3]),
        "frequency_hz": np.array([18.0, 19.0, 120.0]),
        "damping_ratio": np.array([0.0, 0.1, 0.3]),
    }
    found = layouts(project, candidate, {f"{path}.{n}": v for n, v in varied.items()}, 3)
    zeta = found.damping(3)
    for i in range(3):
        one = replace(MASS, **{n: float(v[i]) for n, v in varied.items()})
        alone = predict(hung(FORCE, RESISTOR, one, modes_shown=3))
        assert zeta[i] == pytest.approx([m.zeta for m in alone.modes], rel=2e-4)
        added = alone.added_mass_kg
        assert found.beam.added_kg[i] == pytest.approx(added, rel=1e-9)


def test_two_patches_of_many_layouts_take_it_into_account():
    project = hung(FORCE, RESISTOR, replace(MASS, tuning=Tuning(1)))
    candidate = project.candidate()
    x = np.array([0.005, 0.05])
    found = layouts(project, candidate, {f"candidates[A].patches[{candidate.patches[0].id}].x_start_m": x}, 2)
    for i in range(2):
        moved = replace(candidate, patches=(replace(candidate.patches[0], x_start_m=float(x[i])),))
        alone = predict(with_candidate(project, moved))
        assert found.damping(2)[i] == pytest.approx([m.zeta for m in alone.modes[:2]], rel=2e-4)


@pytest.mark.parametrize("tuning", [None, Tuning(2, "optimum")], ids=["both fixed", "one fixed"])
def test_a_fixed_mass_beside_tuned_circuits_in_many_layouts(tuning):
    """One circuit of many values beside one of a single value, seen by a third."""
    other = replace(MASS, id="M2", x_m=0.2, tuning=tuning)
    project = hung(FORCE, Circuit("resistor", {}, Tuning(1, "optimum")), MASS, other)
    candidate = project.candidate()
    x = np.array([0.005, 0.05, 0.1])
    found = layouts(project, candidate, {f"candidates[A].patches[{candidate.patches[0].id}].x_start_m": x}, 2)
    for i in range(3):
        moved = replace(candidate, patches=(replace(candidate.patches[0], x_start_m=float(x[i])),))
        alone = predict(with_candidate(project, moved))
        assert found.damping(2)[i] == pytest.approx([m.zeta for m in alone.modes[:2]], rel=1e-3)


def test_a_mass_without_any_patch_can_be_varied_too():
    """Damping and peaks of many as of one; a tolerance study on it alone."""
    project = lab(load=FORCE, modes_shown=2)
    alone = Candidate("A", "mass alone", absorbers=(MASS,))
    project = with_candidate(project, alone)
    masses = np.array([2e-3, 5e-4])
    found = layouts(project, alone, {"candidates[A].absorbers[M1].mass_kg": masses}, 2)
    before, after = found.peaks((0, 1))
    for i, mass in enumerate(masses.tolist()):
        one = predict(with_candidate(project, replace(alone, absorbers=(replace(MASS, mass_kg=mass),))))
        assert found.damping(2)[i] == pytest.approx([m.zeta for m in one.modes[:2]], rel=2e-4)
        assert 20 * np.log10(after[i] / before[i]) == pytest.approx([m.peak_change_db for m in one.modes[:2]], abs=0.02)
    spread = tolerance_study(project, samples=60).modes[0]
    assert spread.zeta.p10 < predict(project).modes[0].zeta < spread.zeta.p90
    assert any(cause.path.startswith("candidates[A].absorbers[M1].") for cause in spread.causes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"x_m": 0.0}, "Tuned mass M1 is at 0.0 mm, on the root, which is clamped and cannot move."),
        ({"x_m": 0.31}, "Tuned mass M1 is at 310.0 mm, off the span of 300.0 mm. Move it onto the span."),
        ({"mass_kg": 0.0}, "Tuned mass M1: mass is 0 g; it must be from"),
        ({"frequency_hz": -1.0}, "Tuned mass M1: frequency is"),
        ({"damping_ratio": -0.1}, "Tuned mass M1: damping ratio is"),
        ({"allowed_stroke_m": 0.0}, "Tuned mass M1: allowed stroke is 0 mm; it must be above 0 mm"),
    ],
)
def test_what_cannot_be_is_refused_in_words(changes, words):
    problems = find_problems(hung(FORCE, RESISTOR, replace(MASS, **changes)))
    assert len(problems) == 1
    assert problems[0].message.startswith(words)
    assert problems[0].path == f"candidates[A].absorbers[M1].{next(iter(changes))}"


def test_a_part_that_nothing_holds_is_refused():
    project = hung()
    loose = replace(project, structure=replace(project.structure, root=Support("free")))
    assert "needs a part that is held" in find_problems(loose)[0].message
    sprung = replace(project, structure=replace(project.structure, root=Support("elastic", 1e4, 50.0)))
    assert find_problems(sprung) == ()


def test_it_is_told_in_report_and_data():
    project = hung(FORCE, RESISTOR, replace(MASS, tuning=Tuning(1), allowed_stroke_m=0.01))
    found = predict(project)
    told = prediction_json(project, found)["tuned_masses"][0]
    assert told["id"] == "M1" and told["mass_kg"] == 0.002 and told["stroke_m"] == found.absorbers[0].stroke_m
    assert told["stiffness_n_m"] == pytest.approx(0.002 * (2 * np.pi * told["frequency_hz"]) ** 2)
    text = prediction_text(project, found)
    assert f"M1: {found.absorbers[0].values_told}" in text and "of which patches and tuned masses" in text
    assert f"under the load {found.absorbers[0].under_load}" in text


def test_a_place_that_hardly_moves_is_remarked():
    project = hung(FORCE, RESISTOR, replace(MASS, x_m=0.004, tuning=Tuning(1)))
    on_patch, still = predict(project).absorbers[0].remarks
    assert "sits on the package of" in on_patch and "hardly moves" in still
    heavy = hung(FORCE, RESISTOR, replace(MASS, mass_kg=0.1, tuning=Tuning(1)))
    assert "second body" in predict(heavy).absorbers[0].remarks[0]
    assert predict(hung()).absorbers[0].remarks == ()


def test_release_lets_the_mass_start_at_rest_where_its_place_is():
    item = side(hung(Release("pluck", 0.005, BAND)))
    start = transient(item.system, item.forcing)[0].free
    assert start.inner[-1].sum(axis=1).real == pytest.approx([0.0, 0.0], abs=1e-6)


def test_a_functional_of_the_base_drives_no_circuit():
    """Only what has inertia of its own feels the base itself."""
    item = side(lab(SHAKE, RESONANT))
    load, w = item.forcing.aim.load, np.array([100.0])
    still = Functional(load.modal, load.electric, load.rigid)
    assert load.base == 1.0
    np.testing.assert_array_equal(forced(item.system, load, w).voltage, forced(item.system, still, w).voltage)
