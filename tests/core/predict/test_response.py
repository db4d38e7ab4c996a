"""Frequency response: static residual, reciprocity, peaks, before and after."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.transfer import forced
from core.piezo.layout import solve
from core.predict.grid import find_peaks, response_grid
from core.predict.predict import predict
from core.project.candidate import Circuit
from core.project.model import View
from core.project.structure import Damping
from tests.core.predict.scenes import FORCE, RESISTOR, RESONANT, SHAKE, lab, side, two_groups

SHORT = Circuit("shorted")


def test_static_end_is_the_exact_compliance():
    """Far below mode 1 the receptance is the static compliance, whatever modes are kept."""
    project = lab(circuit=SHORT)
    for n_modes in (3, 10):
        item = side(project, n_modes)
        driven = forced(item.system, item.forcing.aim.load, np.array([1e-3]))
        found = driven.output(item.forcing.aim.output, item.forcing.aim.residual)[1]
        row = item.forcing.load_row
        assert found[0].real == pytest.approx(float(row @ row), rel=1e-9)


@pytest.mark.parametrize("circuit", [RESISTOR, RESONANT, Circuit("open")])
def test_few_modes_with_residuals_answer_as_many(circuit):
    """Four modes with their residuals against twenty, the circuit the same, in the band of two."""
    many, few = side(lab(circuit=circuit), 20), side(lab(circuit=circuit), 4)
    same = few.system.with_connection(0, many.system.connections[0])
    omega = 2 * np.pi * np.geomspace(2.0, 180.0, 60)
    answers = [
        forced(system, item.forcing.aim.load, omega).output(
            item.forcing.aim.output, item.forcing.aim.residual
        )[1]
        for system, item in ((same, few), (many.system, many))
    ]
    scale = np.abs(answers[1])
    assert np.max(np.abs(answers[0] - answers[1]) / scale) < 1e-2
    assert np.median(np.abs(answers[0] - answers[1]) / scale) < 2e-4


def test_base_motion_moves_the_tip_with_the_base_far_below_resonance():
    """Relative motion under root acceleration: at low frequency minus the static sag per m/s^2."""
    project = lab(load=SHAKE, circuit=SHORT)
    found = predict(project)
    assert found.response.unit == "s²"
    sag = found.response.before[0].real
    bare = solve(project, project.candidate())
    expected = float(bare.base_row() @ bare.deflection_row(0.3))
    assert sag == pytest.approx(expected, rel=0.1)
    assert expected < 0


def test_voltage_per_newton_is_displacement_per_charge():
    """Reciprocity: open-circuit volts per newton at the tip equal tip metres per coulomb fed in."""
    item = side(lab(circuit=Circuit("open")), 8)
    system, aim = item.system, item.forcing.aim
    omega = np.array([30.0, 120.0, 131.0, 700.0])
    volts = forced(system, aim.load, omega).voltage[:, 0]
    for i, w in enumerate(omega):
        flexibility = 1 / (system.omega_rad_s**2 - w**2 + 2j * system.zeta * system.omega_rad_s * w)
        theta, lossy = system.theta[:, 0], system.capacitance_f[0, 0] - 1j * system.loss_f[0, 0]
        own_volts = 1 / (lossy + theta @ (flexibility * theta))
        metres = -(aim.output.modal @ (flexibility * theta)) * own_volts - aim.output.electric[0] * own_volts
        assert volts[i] == pytest.approx(-metres, rel=1e-10)


def test_before_is_the_shorted_patch_or_the_bare_structure():
    shorted = predict(lab(circuit=RESISTOR))
    bare = predict(lab(circuit=RESISTOR, before="bare structure"))
    assert shorted.before_label != bare.before_label
    np.testing.assert_array_equal(shorted.response.after.shape, bare.response.after.shape)
    peaks = [r.response.frequency_hz[np.argmax(np.abs(r.response.before[:200]))] for r in (shorted, bare)]
    assert peaks[0] > peaks[1] + 0.5


def test_a_short_changes_nothing():
    found = predict(lab(circuit=SHORT))
    np.testing.assert_allclose(found.response.after, found.response.before, rtol=1e-12)
    assert found.response.mean_square_change_db == 0.0
    for mode in found.modes:
        assert mode.peak_change_db is None or mode.peak_change_db == pytest.approx(0.0, abs=1e-9)
        assert mode.zeta == pytest.approx(mode.zeta_before, rel=1e-9)


@pytest.mark.parametrize("circuit", [RESISTOR, RESONANT])
@pytest.mark.parametrize("output", ["receptance", "mobility", "accelerance"])
def test_peak_change_against_a_dense_sweep(circuit, output):
    """The true local peaks, near both split ones, found again on 60 000 points."""
    project = lab(circuit=circuit, output=output)
    found = predict(project)
    item = side(project)
    for mode, f in ((0, found.modes[0].f_short_hz), (1, found.modes[1].f_short_hz)):
        omega = 2 * np.pi * np.linspace(0.6 * f, 1.6 * f, 60001)
        driven = forced(item.system, item.forcing.aim.load, omega)
        size = [
            np.abs(h * omega**item.forcing.factor)
            for h in driven.output(item.forcing.aim.output, item.forcing.aim.residual)
        ]
        wanted = 20 * np.log10(size[1].max() / size[0].max())
        assert found.modes[mode].peak_change_db == pytest.approx(wanted, abs=0.01)


def test_a_peak_outside_the_band_is_still_compared():
    found = predict(lab(load=replace(FORCE, band_hz=(60.0, 200.0))))
    assert found.modes[0].peak_change_db < -5
    assert (found.response.frequency_hz >= 60.0 - 1e-9).all()


def test_mean_square_change_against_quadrature():
    project = lab(circuit=RESONANT, load=replace(FORCE, band_hz=(10.0, 40.0)))
    found = predict(project)
    item = side(project)
    omega = 2 * np.pi * np.linspace(10.0, 40.0, 200001)
    driven = forced(item.system, item.forcing.aim.load, omega)
    before, after = (
        np.mean(np.abs(h) ** 2) for h in driven.output(item.forcing.aim.output, item.forcing.aim.residual)
    )
    assert found.response.mean_square_change_db == pytest.approx(10 * np.log10(after / before), abs=0.05)


def test_points_are_sorted_within_the_band_and_as_many_as_asked():
    found = predict(two_groups(lab(), RESONANT, RESISTOR), points=300)
    f = found.response.frequency_hz
    assert len(f) == 300
    assert (np.diff(f) >= 0).all()
    assert f[0] == pytest.approx(5.0) and f[-1] == pytest.approx(800.0)


def test_a_peak_a_hundredth_of_a_hertz_wide_is_met():
    omega = response_grid((10.0, 1000.0), np.array([123.4]), np.array([0.002]), 400)
    size = 1 / np.abs(123.4**2 - omega**2 + 2j * 0.002 * omega)
    peaks = find_peaks(omega, size)
    assert peaks.height.max() == pytest.approx(1 / (2 * 0.002 * 123.4), rel=1e-6)


def test_output_where_nothing_moves_has_no_peak():
    found = predict(replace(lab(), view=View(output_x_m=0.0)))
    assert all(m.peak_change_db is None for m in found.modes)


def test_undamped_structure_still_gives_numbers():
    project = lab()
    project = replace(project, structure=replace(project.structure, damping=Damping((0.0,))))
    found = predict(project)
    assert np.isfinite(found.response.peak_before)
    assert found.ring_down.settle_before_s == float("inf")
    assert np.isfinite(found.ring_down.settle_after_s)


def test_force_and_output_change_places():
    """Maxwell on the whole model, residuals included."""
    omega = np.array([50.0, 130.0, 900.0])
    answers = []
    for load_x, output_x in ((0.15, 0.2), (0.2, 0.15)):
        item = side(lab(load=replace(FORCE, x_m=load_x), output_x_m=output_x))
        driven = forced(item.system, item.forcing.aim.load, omega)
        answers.append(driven.output(item.forcing.aim.output, item.forcing.aim.residual)[1])
    np.testing.assert_allclose(*answers, rtol=1e-12)


def test_every_mode_in_a_wide_band_has_its_peak():
    """Modes beyond those shown are kept when the load's band reaches them."""
    found = predict(lab(load=replace(FORCE, band_hz=(5.0, 5000.0)), circuit=SHORT, modes_shown=3))
    curve = np.abs(found.response.before)
    peaks = np.flatnonzero((curve[1:-1] > curve[:-2]) & (curve[1:-1] > curve[2:]))
    beam = solve(lab(), lab().candidate(), n_modes=20)
    in_band = np.sum(beam.omega_rad_s < 2 * np.pi * 5000.0)
    assert in_band > 8 and len(peaks) == in_band
