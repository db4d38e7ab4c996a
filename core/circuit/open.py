"""Leads free: no current but the dielectric's own leak. What really hangs on the leads (an
instrument) belongs to the group, not to this circuit."""

from __future__ import annotations

import numpy as np

from core.circuit.kind import CircuitKind, ComplexArray, Port, Values, one_lead


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    return np.ones_like(s), np.zeros_like(s)


def _port(values: Values) -> Port:
    return one_lead()


KIND = CircuitKind("open", "Open", (), _immittance, _port)
