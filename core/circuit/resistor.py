"""A resistor across the leads.

Closed forms on one undamped mode, tau = R C omega_sc: largest pole damping
tau = (1 + K^2)^(-3/4) with zeta = (sqrt(1 + K^2) - 1)/2 (Preumont, Vibration Control of Active
Structures, from memory); lowest peak tau = 1/sqrt(1 + K^2/2) with peak 2/K^2 (Thomas, Ducarne
& Deue 2012, from memory); lowest mean square under white force tau = 1.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from core.beam.varied import Number
from core.circuit.kind import (
    CircuitKind,
    ComplexArray,
    Port,
    Target,
    Values,
    is_zero,
    one_lead,
    ratio,
    resistance_parameter,
    shorted_lead,
)
from core.circuit.network import Network, in_line

RESISTANCE = resistance_parameter(1e5)


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    return np.full_like(s, values["resistance_ohm"]), np.ones_like(s)


def _port(values: Values) -> Port:
    resistance = values["resistance_ohm"]
    return shorted_lead() if is_zero(resistance) else one_lead(conductance_s=ratio(1.0, resistance))


def closed_form(goal: str, target: Target) -> dict[str, Number]:
    """R for a goal on one undamped mode."""
    tau: Number
    if goal == "peak":
        tau = 1 / (1 + target.k2 / 2) ** 0.5
    elif goal == "mean square":
        tau = 1.0
    else:
        tau = (1 + target.k2) ** -0.75
    return {"resistance_ohm": tau / (target.capacitance_f * target.omega_rad_s)}


def _network(values: Mapping[str, float]) -> Network:
    return in_line(("R", "resistor", values[RESISTANCE.name], RESISTANCE.name))


KIND = CircuitKind(
    "resistor", "Resistor", (RESISTANCE,), _immittance, _port, closed_form, network=_network
)
