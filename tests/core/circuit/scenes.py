"""Small coupled systems for the circuit tests."""

from __future__ import annotations

import numpy as np

from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import Functional


def connection(kind: str, instrument_s: float = 0.0, **values: float) -> Connection:
    return Connection(CIRCUITS[kind], CIRCUITS[kind].complete(values), instrument_s)


def one_mode(k: float, circuit: Connection, zeta: float = 0.0, loss: float = 0.0) -> CoupledSystem:
    """omega_sc = 1, C = 1, coupling k."""
    return CoupledSystem(
        np.ones(1), np.full(1, zeta), np.array([[k]]), np.ones((1, 1)), np.full((1, 1), loss), (circuit,)
    )


def three_modes(*circuits: Connection, loss: float = 0.0, zeta: float = 0.002) -> CoupledSystem:
    """Three modes; one group, or two that share some capacitance."""
    theta = np.array([[0.10, 0.03], [0.25, -0.20], [0.12, 0.40]])[:, : len(circuits)]
    capacitance = np.array([[1.0, 0.04], [0.04, 0.7]])[: len(circuits), : len(circuits)]
    return CoupledSystem(
        np.array([1.0, 3.1, 7.4]), np.full(3, zeta), theta, capacitance, loss * capacitance, circuits
    )


def functional(*modal: float, groups: int = 1) -> Functional:
    return Functional(np.array(modal), np.zeros(groups), np.zeros(0))
