"""Speed of maps and searches on the ski, beside the general-purpose route and plain numpy, with their accuracy.

`pytest tests/benchmarks -m benchmark` prints the table; `extra_info` carries ratio and accuracy.
The general-purpose route and plain numpy are timed per layout in the same run (modes, coupling, tuned resistor and
poles; no response, which the map does not need either) and scaled to as many layouts.
"""

from __future__ import annotations

import dataclasses
import time

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.project import library
from core.project.edit import with_candidate, with_structure
from core.study.executors import local_executor
from core.study.layouts import layouts, placed
from core.study.placement.map_values import map_chunk
from core.study.placement.maps import default_request, placement_map
from core.study.search.goals import Goal, Limits, SearchRequest
from core.study.search.search import search
from tests.benchmarks.reference_route import rival_seconds
from tests.levels import beam_example

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(900)]

STARTS = tuple(float(x) for x in np.linspace(0.004, 0.546, 200))
LENGTHS = tuple(float(n) for n in np.linspace(0.05, 0.25, 50))


def ski():
    """The ski without keep-outs and holes, so that all 10,000 layouts are solved, at the level of what the rivals compute."""
    return with_structure(beam_example("touring-ski"), keep_outs=(), datums=())


def ski_map(project):
    """200 starts by 50 lengths, damping of five modes with the circuit tuned at each layout."""
    request = default_request(project, "P1", mode=1, shape=(2, 2))
    return dataclasses.replace(
        request, weights=(1.0,) * 5, x_start_m=STARTS, size_m=LENGTHS, respect_limits=False
    )


def at_places(project, layouts: int = 8):
    """The project with its patch at so many places."""
    candidate = project.candidate()
    for start in np.linspace(0.05, 0.5, layouts).tolist():
        patch = replace(candidate.patches[0], x_start_m=start)
        yield with_candidate(project, replace(candidate, patches=(patch,)))


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


@pytest.mark.parametrize("starts", [200, 2000], ids=["10,000 layouts", "100,000 layouts"])
def test_many_layouts(benchmark, starts):
    """On two cores; the rivals are timed per layout in the same run and scaled."""
    project = ski()
    x = tuple(np.linspace(STARTS[0], STARTS[-1], starts).tolist())
    request = dataclasses.replace(ski_map(project), x_start_m=x)
    with local_executor("processes", 2) as pool:
        placement_map(project, dataclasses.replace(request, x_start_m=STARTS[:8]), executor=pool)
        found = benchmark.pedantic(placement_map, (project, request), {"executor": pool}, rounds=3 if starts == 200 else 1)
    assert np.isfinite(found.values).all()
    layouts, seconds, info = found.values.size, benchmark.stats.stats.min, benchmark.extra_info
    info["microseconds a layout"] = round(1e6 * seconds / layouts, 1)
    for name, each in rival_seconds(at_places(project)).items():
        info[f"{name}, s"], info[f"{name}, ratio"] = round(layouts * each, 1), round(layouts * each / seconds, 1)
    if starts == len(STARTS):
        begun = time.perf_counter()
        placement_map(project, request)
        info["one process, s"] = round(time.perf_counter() - begun, 2)
        error = worst_coupling_error(project)
        info["worst error of K^2 above 1e-4"] = f"{100 * error:.4f} %"
        assert error < 1e-3


def test_ten_thousand_layouts_at_the_usual_level(benchmark):
    """Carried over, in one process, with the largest difference of every 97th cell from that in full, of the largest value."""
    project = with_structure(library.example("touring-ski"), level="across", keep_outs=(), datums=())
    asked = ski_map(project)
    found = benchmark.pedantic(placement_map, (project, asked), rounds=2)
    cells = np.arange(0, found.values.size, 97)
    exact, info = map_chunk(project, asked, cells)[0], benchmark.extra_info
    apart = np.abs(found.values.ravel()[cells] - exact).max() / found.values.max()
    info["worst difference from full, of the largest value"] = f"{100 * apart:.3f} %"
    for name, each in rival_seconds(at_places(ski())).items():
        info[f"{name}, with one deflection only, s"] = round(found.values.size * each, 1)
    assert apart < 5e-3


@pytest.mark.parametrize("name", ["lab-beam", "touring-ski"])
def test_a_layout_of_a_map_at_the_usual_level(benchmark, name):
    """One process; up to 500 layouts, carried over where that is worth it."""
    project = with_structure(library.example(name), level="across", keep_outs=(), datums=())
    asked = default_request(project, project.candidate().patches[0].id, mode=1, shape=(25, 20))
    asked = dataclasses.replace(asked, respect_limits=False)
    found = benchmark.pedantic(placement_map, (project, asked), rounds=3, warmup_rounds=1)
    solved = int((found.reason < 0).sum())
    benchmark.extra_info["milliseconds a layout"] = round(1e3 * benchmark.stats.stats.min / solved, 2)


@pytest.mark.parametrize("level", ["section", "across"])
def test_two_patch_search(benchmark, level):
    """Every layout scored is solved, and the five best are predicted singly."""
    project = with_structure(library.example("touring-ski"), level=level)
    names = tuple(package.name for package in project.packages)
    limits = Limits(names, ("resistor", "series R-L"), patches=(2,))
    request = SearchRequest(Goal("weighted", weights=(1.0, 1.0)), limits)
    result = benchmark.pedantic(search, (project, request), rounds=2)
    assert len(result.found) == 5
    benchmark.extra_info["layouts scored"] = result.evaluations
    benchmark.extra_info["best"] = result.found[0].score_words
    for name, each in rival_seconds(at_places(project)).items():
        benchmark.extra_info[f"{name} for as many layouts, s"] = round(result.evaluations * each, 1)
