"""Tolerances: samples against single predictions, one answer per seed, causes, allowed misplacement."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.damping import mode_damping
from core.piezo.layout import solve
from core.predict.predict import predict
from core.project import store
from core.project.model import Tolerance
from core.study.placement.placement_error import drawing_figure, placement_error
from core.study.tolerance.ranking import correlation_and_share
from core.study.tolerance.samples import draw, with_sample
from core.study.tolerance.tolerance import BLOCK, evaluate, request_of, tolerance_study
from core.study.tolerance.uncertain import RIGID, tolerance_of, uncertain_inputs
from tests.levels import beam_example

SOFT_ROOT = {"structure.root.kind": Tolerance(unknown=(30.0, RIGID))}


def _project(key: str, candidate: str, *, soft: bool = False):
    project = replace(beam_example(key), active=candidate)
    return replace(project, tolerances=SOFT_ROOT) if soft else project


@pytest.mark.parametrize(
    ("key", "candidate", "soft"),
    [
        ("touring-ski", "A", True),
        ("touring-ski", "C", False),
        ("lab-beam", "C", True),
        ("gantry-bracket", "C", False),
        ("louvre-blade", "A", False),
    ],
)
def test_samples_are_single_predictions(key, candidate, soft):
    """Every input varied at once; K^2 within 1e-4 where it is above 1e-4, damping within 1e-3."""
    request = request_of(_project(key, candidate, soft=soft))
    values = draw(request.inputs, 12, 3)
    zeta, f, k2 = evaluate(request, values, 0)[:3]
    for i, row in enumerate(values):
        project = with_sample(request.project, request.held, request.inputs, row)
        beam = solve(project, project.candidate(candidate))
        np.testing.assert_allclose(f[i], beam.omega_rad_s[: request.modes] / (2 * np.pi), rtol=2e-5)
        exact = beam.k2[: request.modes]
        counts = exact > 1e-4
        np.testing.assert_allclose(k2[i][counts], exact[counts], rtol=1e-4)
        damping = mode_damping(coupled_system(beam, project.candidate(candidate)), request.modes)
        np.testing.assert_allclose(zeta[i], damping, rtol=1e-3)


def test_peak_change_is_that_of_the_prediction():
    project = _project("touring-ski", "C")
    request = request_of(project)
    nominal = np.array([[i.nominal for i in request.inputs]])
    peak = evaluate(request, nominal, 1).peak_change_db[0]
    for value, mode in zip(peak, predict(project).modes, strict=True):
        assert value == pytest.approx(mode.peak_change_db, abs=0.05)


def test_the_response_band_holds_the_nominal_curve():
    project = _project("lab-beam", "A")
    result = tolerance_study(project, samples=2 * BLOCK, seed=5)
    assert result.response is not None
    request = request_of(project)
    nominal = np.array([[i.nominal for i in request.inputs]])
    curve = evaluate(request, nominal, 1).curves[0]
    inside = (curve >= 0.98 * result.response.p10) & (curve <= 1.02 * result.response.p90)
    assert inside.mean() > 0.9


def test_one_seed_one_answer_whoever_computes():
    project = _project("lab-beam", "A")
    alone = tolerance_study(project, samples=300, seed=7)
    with ThreadPoolExecutor(2) as pool:
        shared = tolerance_study(project, samples=300, seed=7, executor=pool, chunk=BLOCK)
    assert alone is not None and shared is not None
    for name in ("values", "zeta", "f_short_hz", "k2", "peak_change_db"):
        np.testing.assert_array_equal(getattr(alone.samples, name), getattr(shared.samples, name))
    assert alone.modes == shared.modes
    other = tolerance_study(project, samples=300, seed=8)
    assert other.modes != alone.modes


def test_partial_results_come_and_cancelling_ends_it():
    project = _project("lab-beam", "A")
    seen = []
    result = tolerance_study(project, samples=3 * BLOCK, chunk=BLOCK, on_partial=seen.append)
    assert [r.progress.done for r in seen] == [BLOCK, 2 * BLOCK]
    assert not seen[0].complete and result.complete
    assert np.isfinite(seen[0].modes[0].zeta.p50)
    assert np.isnan(seen[0].samples.zeta[-1]).all()
    stopped = tolerance_study(project, samples=3 * BLOCK, chunk=BLOCK, cancelled=lambda: True)
    assert stopped is None


def test_a_tolerance_alone_makes_its_own_band():
    """Only the inherent damping varies: its limits are those of mode 5, which no circuit damps."""
    project = _project("lab-beam", "A")
    held = request_of(project).held
    exact = {i.path: Tolerance(0.0) for i in uncertain_inputs(project, held)}
    project = replace(project, tolerances=exact | {"structure.damping.ratios": Tolerance(0.2)})
    result = tolerance_study(project, samples=2000, seed=2)
    assert [i.path for i in result.inputs] == ["structure.damping.ratios"]
    mode = result.modes[3]
    nominal = predict(project).modes[3].zeta_inherent
    assert mode.zeta.p90 - mode.zeta.p10 == pytest.approx(0.8 * 0.4 * nominal, rel=0.01)
    assert mode.causes[0].share == pytest.approx(1.0, abs=1e-6)


def test_spreads():
    project = _project("lab-beam", "A")
    inputs = request_of(project).inputs
    limits, bell = draw(inputs, 4000, 1), draw(inputs, 4000, 1, "two sigma")
    low, high = (np.array([getattr(i, n) for i in inputs]) for n in ("low", "high"))
    assert (limits >= low).all() and (limits <= high).all()
    np.testing.assert_allclose(bell.std(axis=0), (high - low) / 4, rtol=0.02)


def test_nothing_to_vary_is_said_in_words():
    project = _project("lab-beam", "A")
    held = request_of(project).held
    exact = {i.path: Tolerance(0.0) for i in uncertain_inputs(project, held)}
    with pytest.raises(ValueError, match="Every input is taken as exact"):
        tolerance_study(replace(project, tolerances=exact))
    bare = replace(project.candidate(), patches=(), groups=())
    with pytest.raises(ValueError, match="no patch"):
        tolerance_study(replace(project, candidates=(bare,)))


def test_tolerances_are_saved_and_read_back():
    project = _project("lab-beam", "A", soft=True)
    again = store.loads(store.dumps(project))
    assert again == project
    root = next(i for i in request_of(again).inputs if i.kind == "clamp")
    assert not root.known and root.low == 0.0 and root.high == pytest.approx(1.0 / 30.0)
    assert tolerance_of(root) == SOFT_ROOT["structure.root.kind"]


def test_an_input_that_costs_both_ways_is_seen():
    rng = np.random.default_rng(0)
    x = rng.random((2000, 3))
    y = np.stack([(x[:, 0] - 0.5) ** 2, x[:, 1]], axis=1)
    rho, share = correlation_and_share(x, y)
    assert abs(rho[0, 0]) < 0.1 and share[0, 0] > 0.9
    assert rho[1, 1] == pytest.approx(1.0) and share[1:, 0].max() < 0.02


def test_the_cause_of_a_detuned_shunt_is_its_capacitance():
    result = tolerance_study(_project("touring-ski", "C"), samples=1000)
    assert result.target_mode == 1
    first = result.modes[0].causes[0]
    assert "Permittivity" in first.label and first.share > 0.2 and first.direction == 0


def test_allowed_misplacement_costs_five_per_cent():
    project = _project("lab-beam", "C")
    error = placement_error(project, "C", project.candidate().patches[0].id)
    request = request_of(project)
    patch = request.held.patches[0]
    shifted = replace(patch, x_start_m=patch.x_start_m + error.toward_tip.loss_m)
    beam = solve(project, replace(request.held, patches=(shifted, *request.held.patches[1:])))
    zeta = mode_damping(coupled_system(beam, request.held), 1)[0]
    assert error.mode == 1 and error.toward_tip.is_lost
    assert zeta == pytest.approx(0.95 * error.zeta, rel=2e-3)
    margin = project.packages[0].margin_m
    assert error.toward_root.room_m == pytest.approx(patch.x_start_m - margin, abs=1e-5)
    tip, root = error.tolerances_x_m
    assert 0.0 < tip <= error.toward_tip.loss_m and 0.0 < root <= error.toward_root.room_m


def test_figures_for_a_drawing():
    assert [drawing_figure(v) for v in (0.0, 4.9e-3, 1.55e-3, 2.2e-3, 1e-3)] == pytest.approx(
        [0.0, 3e-3, 1.5e-3, 2e-3, 1e-3]
    )


def test_the_widest_tolerances_break_nothing():
    """Samples that no ceramic can be (k31^2 above 1) count as lost; the others stand."""
    project = _project("lab-beam", "C", soft=True)
    held = request_of(project).held
    wide = {i.path: Tolerance(0.02 if i.absolute else 0.95) for i in uncertain_inputs(project, held)}
    result = tolerance_study(replace(project, tolerances=wide | SOFT_ROOT), samples=256)
    mode = result.modes[0]
    assert 0.02 < mode.lost < 0.5
    assert 0.0 < mode.zeta.p10 < mode.zeta.p90 < 0.2
