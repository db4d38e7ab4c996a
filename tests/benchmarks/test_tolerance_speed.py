"""Speed of the tolerance study on the ski, beside the general-purpose route, with its accuracy.

`pytest tests/benchmarks -m benchmark` prints the table; `extra_info` carries ratio and accuracy.
Every input of the ski varies. The general-purpose route and plain numpy are timed per sample in the same run
(modes, coupling, poles, and a response of 100 frequencies for the peaks) and scaled to the 10,000 samples.
"""

from __future__ import annotations

import time
from concurrent.futures import Executor

import numpy as np
import pytest

from core.piezo.layout import solve
from core.study.executors import local_executor
from core.study.tolerance.samples import draw, with_sample
from core.study.tolerance.tolerance import evaluate, request_of, tolerance_study
from tests.benchmarks.reference_route import rival_seconds
from tests.levels import beam_example

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(900)]

SAMPLES = 10_000


def run(project, executor: Executor | None):
    return tolerance_study(project, samples=SAMPLES, seed=1, executor=executor)


def some_samples(project, samples: int = 8):
    """A few samples as projects of their own."""
    request = request_of(project)
    for row in draw(request.inputs, samples, 1):
        yield with_sample(project, request.held, request.inputs, row)


def worst_errors(project) -> tuple[float, float]:
    """Largest relative error of K^2 above 1e-4 and of frequency, five modes, 40 samples."""
    request = request_of(project)
    rows = draw(request.inputs, 40, 9)
    _, f, k2 = evaluate(request, rows, 0)[:3]
    coupling = frequency = 0.0
    for i, row in enumerate(rows):
        sample = with_sample(project, request.held, request.inputs, row)
        beam = solve(sample, sample.candidate())
        exact = beam.group_k2[: request.modes, 0]
        clear = exact > 1e-4
        coupling = max([coupling, *np.abs(k2[i][clear] / exact[clear] - 1.0)])
        hertz = beam.omega_rad_s[: request.modes] / (2.0 * np.pi)
        frequency = max(frequency, float(np.abs(f[i] / hertz - 1.0).max()))
    return coupling, frequency


def test_ten_thousand_samples(benchmark):
    """On two cores; the rivals are timed per sample in the same run and scaled."""
    project = beam_example("touring-ski")
    with local_executor("processes", 2) as pool:
        tolerance_study(project, samples=4000, executor=pool)  # the workers' imports
        result = benchmark.pedantic(run, (project, pool), rounds=3)
    assert result.complete and np.isfinite(result.samples.zeta).all()
    with local_executor("threads", 2) as pool:
        begun = time.perf_counter()
        again = run(project, pool)
        threads = time.perf_counter() - begun
    begun = time.perf_counter()
    run(project, None)
    alone = time.perf_counter() - begun
    np.testing.assert_array_equal(again.samples.zeta, result.samples.zeta)
    benchmark.extra_info["inputs that vary"] = len(result.inputs)
    benchmark.extra_info["two threads, s"] = round(threads, 2)
    benchmark.extra_info["one thread, s"] = round(alone, 2)
    for name, each in rival_seconds(some_samples(project), points=100).items():
        benchmark.extra_info[f"{name}, s"] = round(SAMPLES * each, 1)
        benchmark.extra_info[f"{name}, ratio"] = round(SAMPLES * each / benchmark.stats.stats.min, 1)
    coupling, frequency = worst_errors(project)
    benchmark.extra_info["worst error of K^2 above 1e-4"] = f"{100 * coupling:.5f} %"
    benchmark.extra_info["worst error of frequency"] = f"{100 * frequency:.5f} %"
    assert coupling < 1e-3
