"""A resistor and an inductor in series across the leads.

Closed forms on one undamped mode, delta = omega_e/omega_sc, r = R C omega_sc,
omega_e = 1/sqrt(L C). Hagood & von Flotow 1991: pole placement delta = 1 + K^2,
r = 2 K/(1 + K^2)^(3/2), both poles at zeta = K/2; transfer function delta = sqrt(1 + K^2),
r = sqrt(2) K/(1 + K^2). Lowest mean square under white force: delta = sqrt(1 + K^2),
r = K/sqrt(1 + K^2).
"""

from __future__ import annotations

from collections.abc import Mapping

from core.beam.varied import Number
from core.circuit import coil
from core.circuit.kind import (
    INDUCTANCE,
    CircuitKind,
    ComplexArray,
    Port,
    Target,
    Values,
    is_zero,
    numbered,
    one_lead,
    one_state,
    ratio,
    resistance_parameter,
    shorted_lead,
)
from core.circuit.network import COMMON, LEAD, Network, Part

RESISTANCE = resistance_parameter(1e4)


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    return coil.pair(values, s, values["resistance_ohm"])


def _port(values: Values) -> Port:
    resistance, inductance = values["resistance_ohm"], values["inductance_h"]
    if is_zero(inductance):
        line = resistance + coil.winding_ohm(values)
        return shorted_lead() if is_zero(line) else one_lead(conductance_s=ratio(1.0, line))
    conductance, coupling, rate = coil.states(values, resistance)
    damping, coupling = one_state(rate, coupling)
    return one_lead(conductance, damping, coupling)


def closed_form(goal: str, target: Target, branch: int = 0) -> dict[str, Number]:
    """L and R; what the coil loses counts in R. `branch` numbers the values of a circuit of several (from 1)."""
    k2 = target.k2
    if goal == "peak":
        delta2, r = 1 + k2, (2 * k2) ** 0.5 / (1 + k2)
    elif goal == "mean square":
        delta2, r = 1 + k2, (k2 / (1 + k2)) ** 0.5
    else:
        delta2, r = (1 + k2) ** 2, 2 * (k2 / (1 + k2) ** 3) ** 0.5
    c, omega = target.capacitance_f, target.omega_rad_s
    inductance = 1 / (c * omega**2 * delta2)
    left = coil.left_in_line(target.given, r / (c * omega), omega * inductance, branch)
    return {numbered("inductance_h", branch): inductance, numbered("resistance_ohm", branch): left}


def _network(values: Mapping[str, float]) -> Network:
    """The inductor on the return, where a simulated one needs no second one."""
    line: Network = (Part("R", "resistor", values[RESISTANCE.name], (LEAD, "n1"), RESISTANCE.name),)
    line = line if values[RESISTANCE.name] else ()
    start = "n1" if line else LEAD
    return (*line, *coil.parts(values, start, COMMON))


KIND = CircuitKind(
    "series R-L", "Series R-L", (INDUCTANCE, RESISTANCE, *coil.LOSSES), _immittance, _port, closed_form,
    network=_network,
)  # fmt: skip
