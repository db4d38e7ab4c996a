"""A mass on a spring and a damper at one place of the structure.

With V the force on it and I the velocity of the place, k = m (2 pi f)^2, c = 2 zeta m 2 pi f,

    I = V/(m s) + V s/(c s + k):

the mass stands against the base (its own acceleration counts, so a moving base pushes it), spring and
damper in line with it. States sqrt(m) z' and sqrt(k) e, e the motion of the mass against the structure.

Closed forms on one undamped mode, mu = m phi^2 (phi the mass-normalised deflection there), f over the
mode's frequency. Largest damping: f = 1/(1 + mu), zeta = sqrt(mu/(1 + mu)), where both poles meet at
sqrt(mu)/2. Lowest peak under a force: f = 1/(1 + mu), zeta = sqrt(3 mu/(8 (1 + mu))) (Den Hartog 1956,
Brock 1946; with c made dimensionless by the mode's frequency the (1 + mu) becomes cubed). Least mean square
under a white force: f = sqrt(1 + mu/2)/(1 + mu), zeta = sqrt(mu (1 + 3 mu/4)/(4 (1 + mu)(1 + mu/2))). Where
the base moves, f = sqrt(1 - mu/2)/(1 + mu) with zeta = sqrt(3 mu/(8 (1 + mu)(1 - mu/2))) and
sqrt(mu (1 - mu/4)/(4 (1 + mu)(1 - mu/2))) (Warburton 1982; the last line from memory).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from core.beam.varied import Number
from core.circuit.kind import Array, CircuitKind, ComplexArray, Parameter, Port, Target, Values
from core.circuit.network import COMMON, LEAD, Network, Part
from core.project.fields import FIELDS

LEAST_DAMPING = 1e-6
"""Stands in for less, which no spring has: without any the damper's own rate would be infinite. Frequencies
move by its square."""
LARGEST_MU = 1.9
"""The forms for a moving base have no value at a mass ratio of 2."""


def _parameter(name: str, default: float, sharp: bool = False) -> Parameter:
    field = FIELDS[f"absorbers.{name}"]
    return Parameter(name, field.label, field.unit, field.range.low, field.range.high, default, sharp)


MASS = _parameter("mass_kg", 0.02)
FREQUENCY = _parameter("frequency_hz", 20.0, sharp=True)
DAMPING = _parameter("damping_ratio", 0.1)


def _parts(values: Values) -> tuple[Array, Array, Array]:
    """Mass in kg, stiffness in N/m, damper in N s/m."""
    m, f, zeta = (np.asarray(values[p.name], dtype=float) for p in (MASS, FREQUENCY, DAMPING))
    omega = 2.0 * np.pi * f
    return m, m * omega**2, 2.0 * np.maximum(zeta, LEAST_DAMPING) * m * omega


def stiffness_and_damper(values: Values) -> tuple[float, float]:
    """k in N/m and c in N s/m of one layout."""
    m, k, _ = _parts(values)
    return float(k), float(2.0 * np.asarray(values[DAMPING.name]) * (m * k) ** 0.5)


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    m, k, c = _parts(values)
    inertia, link = m * s, c * s + k
    return inertia * link, inertia * s + link


def _port(values: Values) -> Port:
    m, k, c = _parts(values)
    lead = np.broadcast_shapes(m.shape, k.shape, c.shape)
    b, base, travel, damper = (np.zeros((*lead, *shape)) for shape in ((2, 1), (2,), (3,), (1, 3)))
    b[..., 0, 0] = m**-0.5
    base[..., 0] = -(m**0.5)
    travel[..., 2] = k**-0.5
    # the damper's speed is that of V - k e over c
    damper[..., 0, 0], damper[..., 0, 2] = c**-0.5, -((k / c) ** 0.5)
    none = np.zeros((*lead, 1, 1)), np.zeros((*lead, 2, 2))
    return Port(none[0], b, np.swapaxes(b, -1, -2), none[1], base, travel=travel, dampers=damper)


def _closed_form(goal: str, target: Target) -> dict[str, Number]:
    mu = np.minimum(np.asarray(target.k2, dtype=float), LARGEST_MU)
    if goal == "peak":
        side = 1.0 - mu / 2 if target.by_base else np.ones_like(mu)
        ratio, zeta2 = np.sqrt(side) / (1 + mu), 3 * mu / (8 * (1 + mu) * side)
    elif goal == "mean square":
        side, more = (1.0 - mu / 2, 1.0 - mu / 4) if target.by_base else (1.0 + mu / 2, 1.0 + 3 * mu / 4)
        ratio, zeta2 = np.sqrt(side) / (1 + mu), mu * more / (4 * (1 + mu) * side)
    else:
        ratio, zeta2 = 1 / (1 + mu), mu / (1 + mu)
    f, zeta = ratio * target.omega_rad_s / (2 * np.pi), np.sqrt(zeta2)
    if not mu.ndim:
        return {FREQUENCY.name: float(f), DAMPING.name: float(zeta)}
    return {FREQUENCY.name: f, DAMPING.name: zeta}


def _network(values: Mapping[str, float]) -> Network:
    """Mass, and beside it damper and spring in line."""
    m, k, c = (float(part) for part in _parts(values))
    return (
        Part("M", "inductor", m, (LEAD, COMMON), MASS.name),
        Part("D", "resistor", c, (LEAD, "n1")),
        Part("K", "capacitor", 1.0 / k, ("n1", COMMON)),
    )


KIND = CircuitKind(
    "tuned mass",
    "Tuned mass",
    (MASS, FREQUENCY, DAMPING),
    _immittance,
    _port,
    _closed_form,
    hangs_on="place",
    network=_network,
)
