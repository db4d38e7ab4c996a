"""Leads joined: the voltage is zero, the patch adds its short-circuit stiffness only."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from core.circuit.kind import CircuitKind, ComplexArray, Port, Values, shorted_lead
from core.circuit.network import Network, in_line


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    return np.zeros_like(s), np.ones_like(s)


def _port(values: Values) -> Port:
    return shorted_lead()


def _network(values: Mapping[str, float]) -> Network:
    return in_line(("R", "resistor", 0.0, ""))


KIND = CircuitKind("shorted", "Shorted", (), _immittance, _port, network=_network)
