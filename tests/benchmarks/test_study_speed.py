"""Speed of maps and searches on the ski, beside the general-purpose route, with their accuracy.

`pytest tests/benchmarks -m benchmark` prints the table; `extra_info` carries ratio and accuracy.
The general-purpose route is timed per layout in the same run (modes, coupling, tuned resistor and
poles; no response, which the map does not need either) and scaled to the map's 10,000 layouts.
"""

from __future__ import annotations

import dataclasses
import time
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.project import library
from core.project.edit import with_structure
from core.study.layouts import layouts, placed
from core.study.placement.maps import default_request, placement_map
from core.study.search.goals import Goal, Limits, SearchRequest
from core.study.search.search import search
from tests.reference import hermite_route
from tests.reference.lamination import Lamination

pytestmark = pytest.mark.benchmark

STARTS = tuple(float(x) for x in np.linspace(0.004, 0.546, 200))
LENGTHS = tuple(float(n) for n in np.linspace(0.05, 0.25, 50))


def ski():
    """The ski without keep-outs and holes, so that all 10,000 layouts are solved."""
    return with_structure(library.example("touring-ski"), keep_outs=(), datums=())


def ski_map(project):
    """200 starts by 50 lengths, damping of five modes with the circuit tuned at each layout."""
    request = default_request(project, "P1", mode=1, shape=(2, 2))
    return dataclasses.replace(
        request, weights=(1.0,) * 5, x_start_m=STARTS, size_m=LENGTHS, respect_limits=False
    )


def reference_seconds(project, layouts: int = 8) -> float:
    """Seconds per layout of the general-purpose route."""
    candidate = project.candidate()
    begun = time.perf_counter()
    for start in np.linspace(0.05, 0.5, layouts):
        patch = replace(candidate.patches[0], x_start_m=float(start))
        beam = Lamination(project, replace(candidate, patches=(patch,))).as_beam()
        hermite_route.solve(beam, elements=100, modes=8, points=1)
    return (time.perf_counter() - begun) / layouts


def worst_coupling_error(project) -> float:
    """Largest relative error of K^2 above 1e-4, five modes, against the exact single solution."""
    candidate = project.candidate()
    patch, worst = candidate.patches[0], 0.0
    random = np.random.default_rng(3)
    for start, length in zip(random.uniform(0.0, 0.55, 40), random.uniform(0.05, 0.25, 40), strict=True):
        there = placed(candidate, "P1", np.array([start]), np.array([length]))
        quick = layouts(project, candidate, there, 5).beam.group_k2[0, :5, 0]
        moved = replace(patch, x_start_m=float(start), length_m=float(length))
        exact = solve(project, replace(candidate, patches=(moved,))).group_k2[:5, 0]
        clear = exact > 1e-4
        worst = max([worst, *(np.abs(quick[clear] / exact[clear] - 1.0))])
    return worst


def test_ten_thousand_layouts(benchmark):
    """Target: at most 3 s on two cores, 100 times faster than the general-purpose route."""
    project = ski()
    request = ski_map(project)
    with ProcessPoolExecutor(2) as pool:
        placement_map(project, dataclasses.replace(request, x_start_m=STARTS[:4]), executor=pool)
        found = benchmark.pedantic(placement_map, (project, request), {"executor": pool}, rounds=3)
    assert np.isfinite(found.values).all()
    assert found.values.size == 10_000
    begun = time.perf_counter()
    placement_map(project, request)
    alone = time.perf_counter() - begun
    seconds, reference = benchmark.stats.stats.min, 1e4 * reference_seconds(project)
    benchmark.extra_info["one process, s"] = round(alone, 2)
    benchmark.extra_info["general-purpose route, s"] = round(reference, 1)
    benchmark.extra_info["ratio"] = round(reference / seconds, 1)
    error = worst_coupling_error(project)
    benchmark.extra_info["worst error of K^2 above 1e-4"] = f"{100 * error:.4f} %"
    assert error < 1e-3


def test_two_patch_search(benchmark):
    """Target: at most 10 s."""
    project = library.example("touring-ski")
    names = tuple(package.name for package in project.packages)
    limits = Limits(names, ("resistor", "series R-L"), patches=(2,))
    request = SearchRequest(Goal("weighted", weights=(1.0, 1.0)), limits)
    result = benchmark.pedantic(search, (project, request), rounds=2)
    assert len(result.found) == 5
    benchmark.extra_info["layouts scored"] = result.evaluations
    benchmark.extra_info["best"] = result.found[0].score_words
