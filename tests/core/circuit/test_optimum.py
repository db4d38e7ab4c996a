"""Numerical optima on the whole model: never worse than the closed form, and really optima."""

import numpy as np
import pytest

from core.circuit.damping import mode_damping
from core.circuit.kind import Target
from core.circuit.objective import Aim
from core.circuit.optimum import optimise
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection
from tests.core.circuit.scenes import connection, functional, three_modes

LOAD = functional(1.0, -1.0, 1.0)
AIM = Aim(LOAD, LOAD, 0.0, (0.2, 9.0))
W = np.concatenate([np.linspace(0.5, 1.6, 40001), np.linspace(1.6, 9.0, 4001)[1:]])


def quality(system, goal):
    """What each goal makes small, evaluated another way than the search does."""
    if goal == "damping":
        return -mode_damping(system, 1)[0]
    if goal == "weighted":
        return -float(mode_damping(system, 3) @ [1.0, 2.0, 0.5])
    squared = AIM.squared(system, W)
    if goal == "peak":
        return float(squared[:40001].max())
    return float(np.sum(np.diff(W) * (squared[1:] + squared[:-1])) / 2)


def tuned(kind, goal, loss=0.02):
    target = Target(1.0, 0.0098, 1.03)
    start = CIRCUITS[kind].closed_form(goal, target)
    system = three_modes(Connection(CIRCUITS[kind], start), loss=loss)
    values = optimise(system, 0, target, modes=(0,), goal=goal, weights=(1.0, 2.0, 0.5), aim=AIM)
    return system, values


def with_values(system, kind, values):
    return system.with_connection(0, Connection(CIRCUITS[kind], values))


@pytest.mark.parametrize("kind", ["resistor", "series R-L", "parallel R-L"])
@pytest.mark.parametrize("goal", ["damping", "peak", "mean square", "weighted"])
def test_not_worse_than_the_closed_form_nor_than_its_neighbours(kind, goal):
    system, values = tuned(kind, goal)
    best = quality(with_values(system, kind, values), goal)
    assert best <= quality(system, goal) + 1e-6 * abs(best)
    for name in values:
        for factor in (0.97, 1.03):
            near = quality(with_values(system, kind, {**values, name: values[name] * factor}), goal)
            assert near >= best - 1e-5 * abs(best)


def test_largest_damping_of_a_resonant_circuit_is_the_double_pole():
    """Hagood & von Flotow 1991: both poles at K/2, here in the presence of other modes."""
    system, values = tuned("series R-L", "damping", loss=0.0)
    found = mode_damping(with_values(system, "series R-L", values), 1)[0]
    assert found == pytest.approx(0.0098**0.5 / 2, rel=0.06)


def test_without_coupling_the_closed_form_stays():
    system = three_modes(connection("resistor", resistance_ohm=3.0))
    assert optimise(system, 0, Target(1.0, 0.0, 1.0), modes=(0,), goal="damping") == {"resistance_ohm": 3.0}
