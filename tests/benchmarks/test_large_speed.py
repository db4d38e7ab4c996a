"""Speed of large predictions, beside the general-purpose route and plain numpy where those can describe them.

`pytest tests/benchmarks -m benchmark` prints the table. A prediction is timed twice: what a drag first asks for
(modes with their damping, and the response), and all that a release works out of it. Each scene is there at the usual level
`across` and at two below it: what is aimed at in milliseconds was set at the level `plain`.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from msgspec.structs import replace

from core.predict.predict import predict
from core.predict.prediction import Prediction
from core.project.edit import with_candidate
from core.project.model import Project
from tests.benchmarks.large_scenes import with_groups, with_modes, with_stations, with_tuned_mass
from tests.benchmarks.reference_route import rivals

pytestmark = pytest.mark.benchmark

SCENES = {
    "400 stations": with_stations(400),
    "12 patches in 6 groups, optimum": with_groups(),
    "40 modes": with_modes(40),
    "a tuned mass, optimum": with_tuned_mass(),
}


def moving(project: Project) -> Iterator[Project]:
    """The project with its first patch at ever new places."""
    candidate = project.candidate()
    first, *others = candidate.patches
    for x in np.tile(np.linspace(first.x_start_m, first.x_start_m + 9e-3, 37), 1000).tolist():
        yield with_candidate(project, replace(candidate, patches=(replace(first, x_start_m=x), *others)))


def first_asked(project: Project) -> tuple[object, ...]:
    found = predict(project)
    return tuple((m.f_short_hz, m.k2, m.zeta) for m in found.modes), found.response


def whole(project: Project) -> Prediction:
    """What a release works out."""
    return predict(project).whole()


def prices(project: Project) -> object:
    """The same with what only the circuits' page and card ask for."""
    return [group.prices for group in whole(project).groups]


def seconds(work: Callable[[Project], object], project: Project, rounds: int) -> float:
    places, taken = moving(project), []
    for _ in range(rounds + 2):
        there = next(places)
        begun = time.perf_counter()
        work(there)
        taken.append(time.perf_counter() - begun)
    return float(np.median(taken[2:]))


@pytest.mark.parametrize("level", ["across", "section", "plain"])
@pytest.mark.parametrize("name", list(SCENES))
def test_large_prediction(benchmark, name, level):
    project = SCENES[name]
    project = replace(project, structure=replace(project.structure, level=level))
    places = moving(project)
    gc.freeze()  # as the program does once its window is up
    benchmark.pedantic(first_asked, setup=lambda: ((next(places),), {}), rounds=40, warmup_rounds=3)
    benchmark.extra_info["all of a release, ms"] = round(1e3 * seconds(whole, project, 20), 1)
    benchmark.extra_info["and what it costs to miss every value, ms"] = round(1e3 * seconds(prices, project, 5), 1)
    modes = project.view.modes_shown
    for route, rival in rivals(modes).items() if len(project.candidate().groups) == 1 and not project.candidate().absorbers else ():
        benchmark.extra_info[f"{route}, modes and response alone, ms"] = round(1e3 * seconds(rival, project, 5), 1)
    assert len(predict(project).modes) == modes
