"""Speed of what a circuit asks for: tuning on the coupled model for every kind and goal, the price of every value, the
switch in time."""

from __future__ import annotations

import pytest

from core.circuit.connect import coupled_system
from core.circuit.registry import CIRCUITS
from core.piezo.layout import solve
from core.predict.electrics.price import prices
from core.predict.electrics.stability import stability_region
from core.predict.forcing import active_load, forcing
from core.predict.predict import predict
from core.project.candidate import Circuit, Tuning
from tests.core.predict.scenes import lab

pytestmark = pytest.mark.benchmark

TUNED = [key for key, kind in CIRCUITS.items() if kind.closed_form and not kind.worked_out]
GIVEN = {"negative C parallel R": {"negative_capacitance_f": 4e-8}, "negative C series R": {"negative_capacitance_f": 9e-8}}


@pytest.mark.parametrize("goal", ["damping", "peak", "mean square", "weighted"])
@pytest.mark.parametrize("kind", TUNED)
def test_tuning_on_the_coupled_model(benchmark, kind, goal):
    """The layout is solved already: what a value or a slider costs."""
    tuning = Tuning(1, "optimum", goal, weights=(1.0, 1.0) if goal == "weighted" else ())
    project = lab(circuit=Circuit(kind, GIVEN.get(kind, {}), tuning))
    candidate = project.candidate()
    beam = solve(project, candidate, n_modes=8)
    aim = forcing(beam, active_load(project), project.view).tuning_aim
    benchmark.pedantic(coupled_system, (beam, candidate, aim), rounds=15, warmup_rounds=2)


@pytest.mark.parametrize("kind", TUNED)
def test_price_of_every_value(benchmark, kind):
    solved = predict(lab(circuit=Circuit(kind, GIVEN.get(kind, {}), Tuning(1)))).solved
    found = benchmark.pedantic(prices, (solved, 0), rounds=15, warmup_rounds=2)
    benchmark.extra_info["values"] = len(found)


def test_stability_from_cold_to_hot(benchmark):
    solved = predict(lab(circuit=Circuit("negative C series R", GIVEN["negative C series R"], Tuning(1)))).solved
    benchmark.pedantic(stability_region, (solved, 0), rounds=15, warmup_rounds=2)


@pytest.mark.parametrize("inversion", [0.0, 0.6, 0.9])
def test_switching_simulated(benchmark, inversion):
    """Steady motion and a decay."""
    solved = predict(lab(circuit=Circuit("switched inductor", {"inversion_ratio": inversion}, Tuning(1)))).solved

    def simulated():
        from core.circuit.switching import simulate

        return simulate(solved.system, 0, 0, inversion)

    benchmark.pedantic(simulated, rounds=15, warmup_rounds=2)
