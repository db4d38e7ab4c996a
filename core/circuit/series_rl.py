"""A resistor and an inductor in series across the leads.

Closed forms on one undamped mode, delta = omega_e/omega_sc, r = R C omega_sc,
omega_e = 1/sqrt(L C). Hagood & von Flotow 1991: pole placement delta = 1 + K^2,
r = 2 K/(1 + K^2)^(3/2), both poles at zeta = K/2; transfer function delta = sqrt(1 + K^2),
r = sqrt(2) K/(1 + K^2). Lowest mean square under white force: delta = sqrt(1 + K^2),
r = K/sqrt(1 + K^2).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from core.beam.varied import Number
from core.circuit.kind import (
    INDUCTANCE,
    CircuitKind,
    ComplexArray,
    Port,
    Target,
    Values,
    branch,
    is_zero,
    one_lead,
    ratio,
    resistance_parameter,
    shorted_lead,
)
from core.circuit.network import Network, in_line

RESISTANCE = resistance_parameter(1e4)


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    return values["resistance_ohm"] + values["inductance_h"] * s, np.ones_like(s)


def _port(values: Values) -> Port:
    resistance, inductance = values["resistance_ohm"], values["inductance_h"]
    if is_zero(inductance):
        return shorted_lead() if is_zero(resistance) else one_lead(conductance_s=ratio(1.0, resistance))
    damping, coupling = branch(ratio(resistance, inductance), ratio(1.0, inductance) ** 0.5)
    return one_lead(damping=damping, coupling=coupling)


def _closed_form(goal: str, target: Target) -> dict[str, Number]:
    k2 = target.k2
    if goal == "peak":
        delta2, r = 1 + k2, (2 * k2) ** 0.5 / (1 + k2)
    elif goal == "mean square":
        delta2, r = 1 + k2, (k2 / (1 + k2)) ** 0.5
    else:
        delta2, r = (1 + k2) ** 2, 2 * (k2 / (1 + k2) ** 3) ** 0.5
    c, omega = target.capacitance_f, target.omega_rad_s
    return {"inductance_h": 1 / (c * omega**2 * delta2), "resistance_ohm": r / (c * omega)}


def _network(values: Mapping[str, float]) -> Network:
    """The inductor on the return, where a simulated one needs no second one."""
    return in_line(
        ("R", "resistor", values[RESISTANCE.name], RESISTANCE.name),
        ("L", "inductor", values[INDUCTANCE.name], INDUCTANCE.name),
    )


KIND = CircuitKind(
    "series R-L", "Series R-L", (INDUCTANCE, RESISTANCE), _immittance, _port, _closed_form, network=_network
)
