"""What hangs on a group in parallel with its circuit: an input (a resistance and a cable), a bleed resistor."""

from __future__ import annotations

from math import sqrt

from core.circuit.kind import ratio
from core.circuit.network import COMMON, LEAD, Network, Part
from core.project.candidate import Group, Instrument


def conductance_s(instrument: Instrument | None) -> float:
    """Conductance across the leads, 0 without an instrument."""
    if instrument is None:
        return 0.0
    return float(ratio(1.0, instrument.resistance_ohm))


def bleed_s(group: Group) -> float:
    """Conductance of the group's bleed resistor, 0 without one."""
    return 0.0 if group.bleed_ohm is None else float(ratio(1.0, group.bleed_ohm))


def beside_s(group: Group) -> float:
    """Conductance of all that hangs beside the circuit."""
    return conductance_s(group.instrument) + bleed_s(group)


def capacitance_f(instrument: Instrument | None) -> float:
    """Capacitance across the leads, 0 without an instrument."""
    return 0.0 if instrument is None else instrument.capacitance_f


def added_damping(k2: float, tau: float) -> float:
    """Damping ratio that a resistance adds to a mode, tau = R C omega (Hagood & von Flotow 1991):
    K^2 tau / (2 (1 + tau^2 (1 + K^2)))."""
    return k2 * tau / (2 * (1 + tau**2 * (1 + k2)))


def tau_of_most(k2: float) -> float:
    """tau = R C omega of the resistance that adds most."""
    return 1.0 / sqrt(1.0 + k2)


def tau_adding(k2: float, zeta: float) -> float:
    """The larger tau whose resistance adds that damping ratio, the solution of `added_damping`; that of
    the most where none adds so much."""
    root = k2**2 - 16.0 * zeta**2 * (1.0 + k2)
    return (k2 + sqrt(root)) / (4.0 * zeta * (1.0 + k2)) if root > 0.0 else tau_of_most(k2)


def beside(group: Group) -> Network:
    """The same as parts: the bleed resistor, the input and its cable."""
    hung, own = group.instrument, []
    if group.bleed_ohm is not None:
        own.append(Part("Rb", "resistor", group.bleed_ohm, (LEAD, COMMON)))
    if hung is not None:
        own += [
            Part("R in", "resistor", hung.resistance_ohm, (LEAD, COMMON)),
            Part("C in", "capacitor", hung.capacitance_f, (LEAD, COMMON)),
        ]
    return tuple(part for part in own if part.value)
