"""Speed of the engine: one drag step of the ski, beside the general-purpose route and plain numpy.

`pytest tests/benchmarks -m benchmark` prints the table; `extra_info` carries the ratio and the
accuracy against a finely divided solution.
"""

from __future__ import annotations

import gc
import itertools
import time
from functools import partial

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.predict.predict import bare, modes_kept
from core.project import library
from core.project.edit import with_candidate, with_structure
from core.study.placement.position import damping_against_position
from tests.benchmarks.reference_route import plain_step, reference_step, rival_seconds
from tests.benchmarks.ski_scene import MODES, drag_step, ski
from tests.benchmarks.ski_scene import moved as at_place

pytestmark = pytest.mark.benchmark

EQUALLY_ACCURATE = 300
"""Cubic elements with which the general-purpose route comes as close as the engine."""


def _median_s(work, rounds: int) -> float:
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return float(np.median(taken))


def test_drag_step(benchmark):
    project, candidate = ski()
    starts = iter(np.tile(np.linspace(0.017, 0.6, 97), 1000))
    gc.freeze()  # as the program does once its window is up
    benchmark.pedantic(
        drag_step, setup=lambda: ((project, at_place(candidate, float(next(starts)))), {}), rounds=400, warmup_rounds=20
    )
    fine = solve(project, candidate, MODES + 4, finer=2)
    ours = drag_step(project, candidate)
    info = benchmark.extra_info
    info["frequency_error"] = _worst(ours.beam.omega_rad_s, fine.omega_rad_s)
    info["k2_error"] = _worst(ours.beam.k2, fine.k2)
    plain = _median_s(partial(plain_step, project, candidate), 30)
    rival = plain_step(project, candidate)
    info["plain numpy, 22 elements of degree 6: ms"] = round(1e3 * plain, 2)
    info["plain numpy: ratio"] = round(plain / benchmark.stats.stats.median, 2)
    info["plain numpy: frequency_error"] = _worst(rival.omega_rad_s, fine.omega_rad_s)
    info["plain numpy: k2_error"] = _worst(rival.k2, fine.k2)
    np.testing.assert_allclose(ours.damping, rival.damping, rtol=1e-5)
    for elements in (100, EQUALLY_ACCURATE):
        general = reference_step(project, candidate, elements=elements)
        taken = _median_s(partial(reference_step, project, candidate, elements=elements), 15)
        name = f"general route, {elements} elements: "
        info[name + "ms"] = round(1e3 * taken, 1)
        info[name + "ratio"] = round(taken / benchmark.stats.stats.median, 1)
        info[name + "frequency_error"] = _worst(general.omega_rad_s, fine.omega_rad_s)
        info[name + "k2_error"] = _worst(general.k2, fine.k2)
        np.testing.assert_allclose(ours.damping, general.damping, rtol=1e-4)
        assert info["frequency_error"] < min(1e-6, 1.2 * info[name + "frequency_error"])
        assert info["k2_error"] < min(1e-6, 2.0 * info[name + "k2_error"])


@pytest.mark.parametrize("level", ["section", "across"])
@pytest.mark.parametrize("name", ["lab-beam", "louvre-blade", "touring-ski"])
def test_one_layout(benchmark, name, level):
    """A layout solved as a prediction solves it, its patch at ever new places; the row of the README is the minimum."""
    project = with_structure(library.example(name), level=level)
    candidate, kept = project.candidate(), modes_kept(project, bare(project))
    starts = np.tile(candidate.patches[0].x_start_m + np.linspace(0.0, 3e-3, 97), 1000)
    layouts = (replace(candidate, patches=(replace(candidate.patches[0], x_start_m=x), *candidate.patches[1:])) for x in starts.tolist())
    gc.freeze()
    benchmark.pedantic(solve, setup=lambda: ((project, next(layouts), kept), {}), rounds=100, warmup_rounds=5)


def _worst(values: np.ndarray, exact: np.ndarray) -> float:
    return float(np.abs(values[:MODES] / exact[:MODES] - 1).max())


@pytest.mark.parametrize("moved", ["circuit", "layout"])
@pytest.mark.parametrize("level", ["plain", "section", "across"])
def test_position_strip(benchmark, level, moved):
    """120 positions, 5 modes, tuned at each, as the window asks for it while what the circuit is tuned on changes, or the patch's
    length does (of its start a strip knows nothing)."""
    project = with_structure(library.example("touring-ski"), level=level)
    candidate = project.candidate("A")
    patch, group = candidate.patches[0], candidate.groups[0]

    def changed(step: int):
        if moved == "layout":
            return with_candidate(project, replace(candidate, patches=(replace(patch, length_m=patch.length_m + 1e-5 * step),)))
        tuning = replace(group.circuit.tuning, mode=1 + step % 3)
        return with_candidate(project, replace(candidate, groups=(replace(group, circuit=replace(group.circuit, tuning=tuning)),)))

    projects = map(changed, itertools.count(1))
    setup = lambda: ((next(projects), "A", patch.id, 120, 5), {})  # noqa: E731
    strip = benchmark.pedantic(damping_against_position, setup=setup, rounds=40, warmup_rounds=3)
    assert strip.zeta.shape == (120, 5)
    places = [with_candidate(project, at_place(candidate, x)) for x in np.linspace(0.05, 0.5, 6).tolist()]
    for name, each in rival_seconds(places, modes=5).items():
        benchmark.extra_info[f"{name}, ms"] = round(1e3 * 120 * each, 1)
