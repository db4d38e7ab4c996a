"""What a circuit kind has to say about itself: parameters, immittance, states, tuning.

A circuit across a group obeys `a(s) I = b(s) V`, V the voltage across the leads and I the
current into the circuit, for exp(s t). The pair (a, b) stays finite for a short (0, 1), an
open lead (1, 0) and everything between, where an admittance or an impedance alone would not.

For the poles the same circuit is given as a passive port in energy variables: internal states
x (a voltage times sqrt(C), a current times sqrt(L)), stored energy |x|^2/2,

    x' = -F x + c V,    I = g V + c^T x,    F + F^T >= 0,  g >= 0,

so that the coupled matrix is a skew part minus a dissipation and cannot become unstable.

Values, ports and targets may be arrays over layouts (a leading axis) in place of numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number

Values = Mapping[str, Number]
ComplexArray = NDArray[np.complex128]

LARGEST_RESISTANCE_OHM = 1e15
"""What a tuning rule answers where the best resistance grows without bound (no coupling)."""
LARGEST_INDUCTANCE_H = 1e12
_NO_STATES = np.zeros(0)
_NO_DAMPING = np.zeros((0, 0))
LARGEST_RATE = 1e150
"""Cap of a rate [1/s]: keeps products finite; a state that fast is eliminated in any case."""


@dataclass(frozen=True)
class Parameter:
    """A circuit value a person may set; low and high in SI, `unit` is the display unit."""

    name: str
    label: str
    unit: str
    low: float
    high: float
    default: float


INDUCTANCE = Parameter("inductance_h", "Inductance", "H", 0.0, LARGEST_INDUCTANCE_H, 100.0)


def resistance_parameter(default_ohm: float) -> Parameter:
    """The resistor of a circuit; every kind starts from a value of its own size."""
    return Parameter("resistance_ohm", "Resistance", "kohm", 0.0, LARGEST_RESISTANCE_OHM, default_ohm)


@dataclass(frozen=True)
class Port:
    """A passive circuit as seen from the leads, in energy variables (see the module text).

    `short` True forces V = 0 and the rest does not count.
    """

    short: bool = False
    conductance_s: Number = 0.0
    damping: NDArray[np.float64] = field(default_factory=lambda: _NO_DAMPING)
    """F, (..., k, k), 1/s."""
    coupling: NDArray[np.float64] = field(default_factory=lambda: _NO_STATES)
    """c, (..., k), 1/sqrt(H) for an inductor branch."""


@dataclass(frozen=True)
class Target:
    """The mode a circuit is tuned to, as a single resonator.

    `k2` and `capacitance_f` include what a cable or a capacitor adds in parallel.
    """

    omega_rad_s: Number
    k2: Number
    capacitance_f: Number


@dataclass(frozen=True)
class CircuitKind:
    """An entry of the circuit registry.

    `immittance(values, s) -> (a, b)` with arrays shaped like s; `port(values) -> Port`;
    `closed_form(goal, target) -> values`, or None where there is nothing to tune; `across(values)` is a
    capacitance straight across the leads, F, which both descriptions leave out: it joins the group's own.
    """

    key: str
    label: str
    parameters: tuple[Parameter, ...]
    immittance: Callable[[Values, ComplexArray], tuple[ComplexArray, ComplexArray]]
    port: Callable[[Values], Port]
    closed_form: Callable[[str, Target], dict[str, Number]] | None = None
    across: Callable[[Values], Number] = lambda values: 0.0

    @property
    def tuned(self) -> tuple[str, ...]:
        """Names of the values a tuning rule sets."""
        if self.closed_form is None:
            return ()
        return tuple(self.closed_form("damping", Target(1.0, 0.01, 1.0)))

    @property
    def resonates(self) -> bool:
        """Whether the circuit has a frequency of its own with the patch."""
        return any(p.name == INDUCTANCE.name for p in self.parameters)

    def complete(self, values: Values) -> dict[str, Number]:
        """Values of every parameter, the default where `values` has none."""
        return {p.name: values.get(p.name, p.default) for p in self.parameters}

    def admittance(self, values: Values, s: ComplexArray) -> ComplexArray:
        """Y(s) = I/V [S]; infinite for a short."""
        a, b = self.immittance(values, np.asarray(s, dtype=complex))
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(a == 0, complex(np.inf), b / np.where(a == 0, 1, a))


def ratio(numerator: Number, denominator: Number) -> Number:
    """numerator/denominator, capped at LARGEST_RATE instead of infinity."""
    if not isinstance(numerator, np.ndarray) and not isinstance(denominator, np.ndarray):
        beyond_it = abs(denominator) <= abs(numerator) / LARGEST_RATE
        return LARGEST_RATE if beyond_it else numerator / denominator
    beyond = np.abs(denominator) <= np.abs(numerator) / LARGEST_RATE
    return np.where(beyond, LARGEST_RATE, numerator / np.where(beyond, 1.0, denominator))


def branch(rate: Number, coupling: Number) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """F and c of a port with one state: x' = -rate x + coupling V."""
    return np.asarray(rate, dtype=float)[..., None, None], np.asarray(coupling, dtype=float)[..., None]


def is_zero(value: Number) -> bool:
    """Whether a value is zero, in every layout."""
    return not np.any(value)
