"""Damping of many layouts at once, by the secular equation of one, two and three ports, against one at a time."""

import numpy as np
import pytest

from core.circuit import damping
from core.circuit.damping import FEW, damping_of, mode_damping
from core.circuit.secular import roots, secular_of
from core.circuit.system import CoupledSystem
from tests.core.circuit.scenes import connection

KINDS = {
    "one resistor": ("resistor",),
    "one R-L": ("series R-L",),
    "two resistors": ("resistor", "resistor"),
    "resistor and R-L": ("resistor", "series R-L"),
    "two R-L": ("series R-L", "parallel R-L"),
    "three": ("resistor", "series R-L", "open"),
}
COUNT = 3 * FEW


def many(kinds: tuple[str, ...], loss: float) -> CoupledSystem:
    """Layouts of four modes whose couplings, capacitances and parts all differ."""
    random, ports = np.random.default_rng(7), len(kinds)
    omega = np.array([1.0, 3.1, 7.4, 11.9]) * random.uniform(0.9, 1.1, (COUNT, 1))
    theta = random.uniform(-0.3, 0.3, (COUNT, 4, ports))
    mixed = random.uniform(-0.1, 0.1, (COUNT, ports, ports))
    capacitance = np.eye(ports) + mixed @ np.swapaxes(mixed, -1, -2)
    circuits = []
    for kind in kinds:
        circuit = connection(kind)
        parts = {"resistance_ohm": (0.05, 3.0), "inductance_h": (0.05, 1.5), "winding_ohm": (0.0, 0.3), "core_s": (0.0, 0.1)}
        for name in circuit.values:
            circuit.values[name] = random.uniform(*parts[name], COUNT)
        circuits.append(circuit)
    return CoupledSystem(
        omega, np.full((COUNT, 4), 0.002), theta, capacitance, loss * capacitance, tuple(circuits)
    )


@pytest.mark.parametrize("loss", [0.0, 0.02])
@pytest.mark.parametrize("name", list(KINDS))
def test_many_layouts_have_the_damping_that_each_has_alone(name, loss):
    system = many(KINDS[name], loss)
    together = mode_damping(system, 3)
    alone = np.array([mode_damping(system.one(i), 3) for i in range(COUNT)])
    np.testing.assert_allclose(together, alone, rtol=1e-8)


@pytest.mark.parametrize("name", ["one resistor", "one R-L", "two resistors"])
def test_the_secular_equation_settles_what_it_is_asked(name):
    """It is the quick way: nearly all layouts without a circuit damped beyond swinging must be had by it."""
    equation = secular_of(many(KINDS[name], 0.02))
    assert roots(equation).settled.mean() > 0.9


@pytest.mark.parametrize("count", [3, COUNT])
def test_a_fast_state_sends_no_layout_to_be_solved_by_itself(monkeypatch, count):
    """A search asks thousands of times for one mode's damping; where roots do not settle, all layouts go through their matrices
    together."""
    system = many(KINDS["resistor and R-L"], 0.02).at(np.arange(count))
    system.connections[0].values["resistance_ohm"] = np.full(count, 1e-7)
    alone = [mode_damping(system.one(i), 2)[1] for i in range(count)]
    solved = []
    monkeypatch.setattr(damping, "roots_of", lambda _: None)
    monkeypatch.setattr(damping, "mode_damping", lambda *asked: solved.append(asked))
    np.testing.assert_allclose(damping_of(system, 1), alone, rtol=1e-6)
    assert not solved
