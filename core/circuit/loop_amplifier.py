"""The amplifier of an active loop on the leads of the driven group: its output resistance, nothing driven.

What the loop adds, it reads off another group: `core.circuit.loop.closed` puts both in one connection. The resistance is
the loop's (`LoopDesign.output_ohm`), no value of the circuit.
"""

from __future__ import annotations

import numpy as np

from core.beam.varied import Number
from core.circuit.kind import CircuitKind, ComplexArray, Port, Values, one_lead, ratio

OUTPUT, USUAL_OHM = "output_ohm", 50.0


def output_ohm(values: Values) -> Number:
    """Output resistance of the amplifier, ohm."""
    return values.get(OUTPUT, USUAL_OHM)


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    return np.full_like(s, output_ohm(values)), np.ones_like(s)


def _port(values: Values) -> Port:
    return one_lead(conductance_s=ratio(1.0, output_ohm(values)))


KIND = CircuitKind("loop", "Active loop", (), _immittance, _port, active=True)
