"""What a circuit kind has to say about itself: parameters, immittance, states, tuning.

A circuit across a group obeys `a(s) I = b(s) V`, V the voltage across the leads and I the
current into the circuit, for exp(s t). The pair (a, b) stays finite for a short (0, 1), an
open lead (1, 0) and everything between, where an admittance or an impedance alone would not.

With n leads V and I are columns and (a, b) are (..., n, n) matrices.

For the poles the same circuit is given by states x of its own,

    x' = B V - F x + h a_0,    I = G V + C x,

a_0 the acceleration of the base. In energy variables (a voltage times sqrt(C), a current times sqrt(L);
stored energy |x|^2/2) it takes the power V.I - x.x' = (V, x) M (V, x) with M = [[G, C], [-B, F]]. What is
passive has M + M^T >= 0 and is written so, part by part: the coupled matrix is then a skew part minus a
dissipation and cannot become unstable, whatever the values. A damper between V and x is given apart, as the
row whose square is its heat: where it is stiff the rest must not drown in its rounding. Any other law is carried alike and is told by
its poles.

The same holds for what hangs on a place of the structure: V is then the force that it takes, I the
velocity at which it follows, C the compliance there, an inductor a mass, a conductance the inverse of a damper.

Values, ports and targets may be arrays over layouts (a leading axis) in place of numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from math import inf
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number
from core.circuit.network import Network

Values = Mapping[str, Number]
N = TypeVar("N", bound=Number)
Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

LARGEST_RESISTANCE_OHM = 1e15
"""What a tuning rule answers where the best resistance grows without bound (no coupling)."""
LARGEST_INDUCTANCE_H = 1e12
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
    sharp: bool = False
    """Whether a few per cent beside its best value are already far away."""
    rounding: Literal["nearest", "up", "down", "as it is"] = "nearest"
    """To which side a preferred value may lie: never across a limit of stability. "As it is": no part."""
    loss: bool = False
    """Whether it is what a real part loses: zero for an ideal one, and then not worth telling."""

    @property
    def is_part(self) -> bool:
        """Whether it is bought as a resistor, a coil or a capacitor, or set by some."""
        return self.rounding != "as it is" and not self.loss and self.name.rsplit("_", 1)[-1] in ("ohm", "h", "f")

    @property
    def may_be_zero(self) -> bool:
        """A resistance of zero is a plain wire; any other part of size zero is not there."""
        return self.loss or self.low < 0.0 or self.name.startswith("resistance")


@cache
def numbered(name: str, branch: int) -> str:
    """The name of a value in a branch (from 1) of a circuit with several: "inductance_2_h"; 0 for one of one branch."""
    if not branch:
        return name
    what, _, unit = name.rpartition("_")
    return f"{what}_{branch}_{unit}"


@cache
def branch_of(name: str) -> int:
    """The branch (from 1) of a value so named; 1 for one of one branch."""
    what, _, _ = name.rpartition("_")
    number = what.rpartition("_")[2]
    return int(number) if number.isdigit() else 1


def is_inductance(name: str) -> bool:
    """Whether a circuit's value is an inductance."""
    return name.startswith("inductance")


INDUCTANCE = Parameter("inductance_h", "Inductance", "H", 0.0, LARGEST_INDUCTANCE_H, 100.0, True)


def resistance_parameter(default_ohm: float) -> Parameter:
    """The resistor of a circuit; every kind starts from a value of its own size."""
    return Parameter("resistance_ohm", "Resistance", "kohm", 0.0, LARGEST_RESISTANCE_OHM, default_ohm)


@dataclass(frozen=True)
class Port:
    """What hangs on n leads, with k states of its own (see the module text).

    `short` True forces V = 0 and the rest does not count.
    """

    conductance_s: Array
    """G, (..., n, n)."""
    coupling: Array
    """B, (..., k, n): 1/sqrt(H) for an inductor branch."""
    back: Array
    """C, (..., n, k); B transposed in a circuit of inductors."""
    damping: Array
    """F, (..., k, k), 1/s."""
    base: Array
    """h, (..., k): what a unit acceleration of the base adds to the rates of the states."""
    travel: Array | None = None
    """(..., n + k): a motion inside that has its limit, or the voltage behind an amplifier's output, read off V and x;
    None where there is none."""
    heating: Array | None = None
    """(..., 1, n + k): its square is the heat in what feeds; None where all that is taken in turns into heat."""
    dampers: Array | None = None
    """(..., j, n + k) rows w on V and x: each adds w w^T to M."""
    short: bool = False

    @property
    def states(self) -> int:
        return self.damping.shape[-1]

    @cached_property
    def flow(self) -> Array:
        """M, (..., n + k, n + k), dampers included."""
        top = np.concatenate([self.conductance_s, self.back], axis=-1)
        out = np.concatenate([top, np.concatenate([-self.coupling, self.damping], axis=-1)], axis=-2)
        return out if self.dampers is None else out + np.swapaxes(self.dampers, -1, -2) @ self.dampers


def one_lead(
    conductance_s: Number = 0.0, damping: Array | None = None, coupling: Array | None = None
) -> Port:
    """A port of one lead whose states are inductor currents: G (...), F (..., k, k), B (..., k)."""
    damping = np.zeros((0, 0)) if damping is None else damping
    coupling = np.zeros(0) if coupling is None else coupling
    return Port(
        conductance_s=np.asarray(conductance_s, dtype=float)[..., None, None],
        coupling=coupling[..., :, None],
        back=coupling[..., None, :],
        damping=damping,
        base=np.zeros(damping.shape[-1]),
    )


def shorted_lead() -> Port:
    """Leads joined."""
    return replace(one_lead(), short=True)


@dataclass(frozen=True)
class Target:
    """The mode a circuit is tuned to, as a single resonator.

    `k2` and `capacitance_f` include what a cable or a capacitor adds in parallel. At a place of the
    structure `k2` is the mass ratio, which splits a mode in two as K^2 does. `by_base` says that the load
    moves the base.
    """

    omega_rad_s: Number
    k2: Number
    capacitance_f: Number
    by_base: bool = False
    given: Values = field(default_factory=dict)
    """Values that no rule sets."""
    blocked_f: Number = inf
    """True blocked capacitance with what is beside it."""
    leak: Number = 0.0
    """What conducts across the leads by itself, over omega C."""
    further: tuple[Target, ...] = ()
    """The modes of the second branch, the third ..., of a circuit with several."""


@dataclass(frozen=True)
class CircuitKind:
    """An entry of the registry: what may hang on the leads of a group, or at a place of the structure.

    `immittance(values, s) -> (a, b)` with arrays shaped like s; `port(values) -> Port`;
    `closed_form(goal, target) -> values`, or None where there is nothing to tune; `across(values)` is a
    capacitance straight across the leads, F, which both descriptions leave out: it joins the group's own;
    `network(values)` is the circuit with it as parts between nodes (`core.circuit.network`), of one layout.
    """

    key: str
    label: str
    parameters: tuple[Parameter, ...]
    immittance: Callable[[Values, ComplexArray], tuple[ComplexArray, ComplexArray]]
    port: Callable[[Values], Port]
    closed_form: Callable[[str, Target], dict[str, Number]] | None = None
    across: Callable[[Values], Number] = lambda values: 0.0
    hangs_on: Literal["leads", "place"] = "leads"
    network: Callable[[Mapping[str, float]], Network] = lambda values: ()
    equivalent: Callable[[Mapping[str, float]], Network] | None = None
    """A linear network that stands in a netlist for what no linear parts make."""
    drawn: Callable[[Mapping[str, float]], Network] | None = None
    """Its parts as a schematic shows them, where no linear network of parts is what it is."""
    worked_out: bool = False
    """Whether its tuned values follow from what it hangs on whatever is saved: what stands for a circuit that is not
    linear, in the mode it serves. It has no network of linear parts."""
    branches: int = 1
    """How many branches it has, each tuned on a mode of its own; values of one of several are `numbered`."""
    met_f: Callable[[Values, Number], Number] = lambda values, capacitance_f: capacitance_f
    """What its first inductor resonates with, F, of the capacitance of the patches and all that is beside them."""
    active: bool = False
    """Whether it has a supply and may feed: told by its poles, and never offered as passive."""

    @cached_property
    def tuned(self) -> tuple[str, ...]:
        """Names of the values a tuning rule sets."""
        if self.closed_form is None:
            return ()
        return tuple(self.closed_form("damping", Target(1.0, 0.01, 1.0)))

    def tuned_in(self, branch: int) -> tuple[str, ...]:
        """Names of the values a tuning rule sets in a branch (from 1)."""
        if self.branches == 1:
            return self.tuned
        return tuple(name for name in self.tuned if f"_{branch}_" in name)

    @property
    def resonates(self) -> bool:
        """Whether the circuit has a frequency of its own with the patch."""
        return any(p.unit == INDUCTANCE.unit for p in self.parameters)

    def complete(self, values: Mapping[str, N]) -> dict[str, N | float]:
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


def one_state(rate: Number, coupling: Number) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """F and c of a port with one state: x' = -rate x + coupling V."""
    return np.asarray(rate, dtype=float)[..., None, None], np.asarray(coupling, dtype=float)[..., None]


def is_zero(value: Number) -> bool:
    """Whether a value is zero, in every layout."""
    return not np.any(value)
