"""No number without its truth: nodes, held outputs, meters, shares, poles, and what JSON hands to a script."""

import json
import math

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.predict.predict import predict
from core.predict.report.report import prediction_json
from core.project import library
from core.project.candidate import Circuit, Tuning
from core.project.record import Constant
from core.project.structure import Damping, GroundSpring, PointMass, Support
from tests.core.predict.scenes import FORCE, KNOCK, PLUCK, RESISTOR, RESONANT, SHAKE, lab, pair
from tests.levels import beam_example

KEYS = [key for key, _ in library.examples()]


@pytest.mark.parametrize("key", KEYS)
def test_every_node_is_where_the_moment_is_nothing_and_none_is_missed(key):
    """Against a fine sampling of the exact curvature: as many sign changes, each at its place; the free
    tip, where the moment only dies away, is none."""
    project = beam_example(key)
    found = predict(project)
    beam = solve(project, project.candidate(), n_modes=12)
    span = project.structure.span_m
    fine = np.linspace(1e-3, 1 - 1e-3, 10001) * span
    curvature = (beam.omega_rad_s[:, None] * beam.units) @ beam.curvature_row(fine).T
    for mode, k in zip(found.modes, curvature, strict=False):
        change = np.flatnonzero(k[:-1] * k[1:] < 0)
        before, after = k[change], k[change + 1]
        expected = fine[change] + (fine[change + 1] - fine[change]) * before / (before - after)
        assert len(mode.strain_nodes_m) == len(expected)
        np.testing.assert_allclose(mode.strain_nodes_m, expected, atol=2e-6)


def test_the_drawing_shows_the_nodes_of_the_prediction():
    from app.drawing.view_model import mode_views

    found = predict(beam_example("touring-ski"))
    for view, mode in zip(mode_views(found, 5), found.modes, strict=True):
        assert tuple(view.strain_nodes_m) == mode.strain_nodes_m


def held(project, tip="pinned"):
    return replace(project, structure=replace(project.structure, tip=Support(tip)))


@pytest.mark.parametrize("tip", ["pinned", "clamped"])
def test_an_output_that_cannot_move_is_said_and_nothing_is_tuned_to_it(tip):
    aimed = Circuit("resistor", tuning=Tuning(mode=1, rule="optimum", goal="peak"))
    damped = Circuit("resistor", tuning=Tuning(mode=1, rule="optimum", goal="damping"))
    load = replace(FORCE, x_m=0.15)
    found = predict(held(lab(load=load, circuit=aimed), tip))
    assert any(r.code == "held output" and "cannot move" in r.text for r in found.remarks)
    assert np.abs(found.response.after).max() == 0.0
    assert all(mode.peak_change_db is None for mode in found.modes)
    assert math.isnan(found.response.mean_square_change_db)
    other = predict(held(lab(load=load, circuit=damped), tip))
    assert found.groups[0].values[0].value == pytest.approx(other.groups[0].values[0].value, rel=1e-9)
    moved = predict(held(lab(load=load, circuit=aimed, output_x_m=0.15), tip))
    assert not any(r.code == "held output" for r in moved.remarks)
    assert moved.modes[0].peak_change_db < 0


@pytest.mark.parametrize("tip", ["pinned", "clamped"])
@pytest.mark.parametrize("load", [FORCE, KNOCK, PLUCK], ids=lambda load: load.name)
def test_a_load_that_can_move_nothing_does_nothing_and_says_so(load, tip):
    project = held(lab(load=replace(load, x_m=None), output_x_m=0.15), tip)
    found = predict(project).whole()
    codes = {r.code: r.text for r in found.remarks}
    assert "acts at the tip, which cannot move" in codes["held load"] and "large rotation" not in codes
    of_load = [limit.value for limit in found.limits if load.name in limit.load]
    assert not np.any(of_load) and not any("at the tip" in limit.load for limit in found.limits)
    assert np.abs(found.response.after).max() == 0.0
    assert all(mode.peak_change_db is None for mode in found.modes)
    json.dumps(prediction_json(project, found), allow_nan=False)


def test_a_meter_beside_a_mode_is_told():
    """The lab beam at 120 Hz, beside mode 2: well below its free 69.6 nF (1-D: 49.6 nF)."""
    group = predict(beam_example("lab-beam")).groups[0]
    low, high = group.metered
    assert (low.frequency_hz, high.frequency_hz) == (120.0, 1000.0)
    assert low.near_mode == 2
    assert low.capacitance_f < 0.9 * group.free_capacitance_f
    assert group.blocked_capacitance_f * 0.9 < high.capacitance_f < group.free_capacitance_f * 1.1


def test_a_meter_reads_what_a_tiny_shunt_draws():
    """The same capacitance from the harmonic response of the whole system: an open group driven at the
    frequency. Far below mode 1 it is the static free one."""
    project = lab()
    beam = solve(project, project.candidate(), n_modes=12)
    from core.circuit.connect import coupled_system
    from core.predict.use.metered import metered

    system = coupled_system(beam, project.candidate())
    assert metered(beam, 0, 0.01).capacitance_f == pytest.approx(beam.group_free_f[0, 0], rel=1e-6)
    w = 2 * np.pi * 300.0
    d = beam.omega_rad_s**2 - w**2 + 2j * system.zeta * beam.omega_rad_s * w
    expected = beam.group_corrected_f[0, 0] + (beam.group_theta[:, 0] ** 2 / d).sum().real
    assert metered(beam, 0, 300.0).capacitance_f == pytest.approx(expected, rel=1e-12)


def test_a_series_group_says_its_electrical_share():
    for mode in predict(pair(lab(), polarity=1, wiring="series")).modes:
        rest = 1.0 - sum(share for _, share in mode.layer_shares) - mode.package_share
        assert mode.electric_share == pytest.approx(rest, abs=1e-6)
    assert all(mode.electric_share == 0.0 for mode in predict(lab()).modes)


def test_no_damping_is_none_and_not_a_negative_rest():
    project = lab(circuit=Circuit("open"))
    bare = replace(project, structure=replace(project.structure, damping=Damping((0.0,))))
    packages = tuple(replace(p, ceramic=replace(p.ceramic, tan_delta=Constant(0.0))) for p in bare.packages)
    found = predict(replace(bare, packages=packages))
    assert all(mode.zeta >= 0.0 for mode in found.modes)
    assert all(pole.damping_ratio >= 0.0 for mode in found.modes for pole in mode.poles)


def test_a_ceramic_that_feels_nothing_gives_numbers():
    project = lab(output="strain")
    dead = tuple(replace(p, ceramic=replace(p.ceramic, d31_c_n=Constant(0.0))) for p in project.packages)
    found = predict(replace(project, packages=dead))
    assert np.isfinite(found.response.after).all() and np.abs(found.response.after).max() > 0
    assert "NaN" not in str(prediction_json(project, found))


@pytest.mark.parametrize("load", [FORCE, SHAKE, PLUCK, KNOCK])
@pytest.mark.parametrize("circuit", [RESISTOR, RESONANT, Circuit("open"), Circuit("shorted")])
def test_nothing_shown_is_not_a_number(load, circuit):
    found = predict(lab(load=load, circuit=circuit))
    ring = found.ring_down
    for value in (ring.settle_after_s, ring.half_life_after_s, ring.settle_before_s, ring.half_life_before_s):
        assert not math.isnan(value)
    for group in found.groups:
        assert not math.isnan(group.voltage_peak_v + group.power_w + group.current_peak_a)


def test_a_mass_that_drowns_the_digits_is_told():
    project = lab()
    heavy = replace(project.structure, masses=(PointMass("block", 0.3, 9500.0),))
    assert any(r.code == "ill-scaled" for r in predict(replace(project, structure=heavy)).remarks)
    assert not any(r.code == "ill-scaled" for r in predict(project).remarks)


def test_volts_per_newton_are_metres_per_coulomb():
    """Reciprocity: open voltage per force = deflection per charge, C_free times that per volt; against
    the bending line of a force and of a voltage."""
    project = lab()
    group = predict(project).groups[0]
    assert abs(group.tip_m_per_v / group.free_capacitance_f) == pytest.approx(abs(group.open_v_per_n), rel=1e-12)
    beam = solve(project, project.candidate())
    slow = predict(lab(load=replace(FORCE, band_hz=(0.01, 1.0)), output="voltage", circuit=Circuit("open")))
    tan = project.packages[0].ceramic.tan_delta.value
    assert abs(slow.response.after[0]) == pytest.approx(
        abs(group.open_v_per_n) / (1 + (tan * group.blocked_capacitance_f / group.free_capacitance_f) ** 2) ** 0.5,
        rel=2e-3,
    )
    assert group.tip_m_per_v == pytest.approx(-float(beam.deflection_row(0.3) @ beam.group_theta_rows[0]), rel=1e-6)


def test_the_blocked_force_is_what_a_stiff_stop_at_the_tip_feels():
    project = lab()
    group = predict(project).groups[0]
    stop = GroundSpring("stop", 0.3, 1e9)
    held = predict(replace(project, structure=replace(project.structure, springs=(stop,)))).groups[0]
    assert held.tip_m_per_v * stop.k_t_n_m == pytest.approx(group.blocked_n_per_v, rel=1e-5)
    assert prediction_json(project, predict(project))["groups"][0]["blocked_n_per_v"] == group.blocked_n_per_v
    pinned = predict(replace(project, structure=replace(project.structure, tip=Support("pinned")))).groups[0]
    assert pinned.blocked_n_per_v is None and "cannot move" in pinned.per_volt


def test_json_hands_on_curves_patches_and_the_circuits_own_poles():
    project = lab(circuit=RESISTOR)
    found = predict(project)
    report = prediction_json(project, found)
    np.testing.assert_allclose(report["response"]["frequency_hz"], found.response.frequency_hz)
    np.testing.assert_allclose(report["response"]["after"]["imag"], found.response.after.imag)
    [patch] = report["patches"]
    assert patch["strain_highest"] == pytest.approx(
        next(x.value for x in found.limits if x.name == "Strain in vibration"), rel=1e-9
    )
    [pole] = report["circuit_poles"]
    resistance, capacitance = found.groups[0].values[0].value, found.groups[0].blocked_capacitance_f
    # minus 1/(R C) with what the dielectric leaks, C between the blocked and the free one
    assert -pole["real_rad_s"] * resistance * capacitance == pytest.approx(1.0, abs=0.15)
    assert report["groups"][0]["metered"][0]["near_mode"] == 2
    assert report["leads"][0]["volts"] == found.leads.largest.volts


def test_a_side_that_is_never_strained_has_no_place():
    """A pinned span bent at its end: one of two ceramics is never pulled."""
    project = beam_example("lab-beam")
    project = replace(project, active="C", service=replace(project.service, loads=(PLUCK,), active_load=0))
    ends = replace(project.structure, root=Support("pinned"), tip=Support("pinned"))
    found = predict(replace(project, structure=ends))
    assert all(math.isfinite(x.value) for x in found.limits)


@pytest.mark.parametrize("key", ["lab-beam", "touring-ski"])
def test_response_between_the_highest_kept_modes(key):
    """Against forty kept modes, up to where the band of nine kept ones ends: within 1e-4 of what is there, notches apart."""
    from core.circuit.connect import coupled_system
    from core.circuit.transfer import forced
    from core.predict.forcing import active_load, forcing

    project = beam_example(key)
    candidate = replace(project.candidate(), groups=())
    answers = []
    for kept in (9, 40):
        beam = solve(project, candidate, n_modes=kept)
        item = forcing(beam, active_load(project), project.view)
        w = np.geomspace(0.5 * beam.omega_rad_s[0], beam.omega_rad_s[4] * 1.2, 800)
        driven = forced(coupled_system(beam, candidate), item.aim.load, w)
        answers.append(driven.output(item.aim.output, item.aim.residual)[1] + item.beyond_static(w))
    size = np.abs(answers[1])
    around = np.array([size[max(i - 40, 0) : i + 41].mean() for i in range(len(size))])
    assert (np.abs(answers[0] - answers[1]) / np.maximum(size, around)).max() < 1e-4
