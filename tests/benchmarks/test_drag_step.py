"""Speed of the engine: one drag step of the ski, beside the general-purpose route.

`pytest tests/benchmarks -m benchmark` prints the table; `extra_info` carries the ratio and the
accuracy against a finely divided solution.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from core.piezo.layout import solve
from core.project import library
from core.study.position import damping_against_position
from tests.benchmarks.ski_scene import MODES, described, drag_step, moved, ski
from tests.reference import hermite_route

pytestmark = pytest.mark.benchmark


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
    benchmark.pedantic(
        drag_step, setup=lambda: ((project, moved(candidate, float(next(starts)))), {}), rounds=400, warmup_rounds=20
    )
    fine = solve(project, candidate, MODES + 4, refine=3, more_terms=2)
    ours = drag_step(project, candidate).beam
    reference = described(fine)
    general = hermite_route.solve(reference, elements=100, modes=MODES)
    slow = _median_s(lambda: hermite_route.solve(reference, elements=100, modes=MODES), 7)
    info = benchmark.extra_info
    info["general_route_ms"] = round(1e3 * slow, 1)
    info["ratio"] = round(slow / benchmark.stats.stats.median, 1)
    info["worst_frequency_error"] = _worst(ours.omega_rad_s, fine.omega_rad_s)
    info["general_route_frequency_error"] = _worst(general.omega_rad_s, fine.omega_rad_s)
    info["worst_k2_error"] = _worst(ours.k2, fine.k2)
    info["general_route_k2_error"] = _worst(general.k2, fine.k2)
    assert info["worst_frequency_error"] < 1e-6
    assert info["worst_frequency_error"] <= info["general_route_frequency_error"]


def _worst(values: np.ndarray, exact: np.ndarray) -> float:
    return float(np.abs(values[:MODES] / exact[:MODES] - 1).max())


def test_position_strip(benchmark):
    """120 positions, 5 modes."""
    project = library.example("touring-ski")
    patch = project.candidate("A").patches[0]
    strip = benchmark(damping_against_position, project, "A", patch.id, 120, 5)
    assert strip.zeta.shape == (120, 5)
