"""What it costs to miss a circuit value: the damping of every mode along a factor of two to either side.

Each value of a group's circuit is varied by itself, everything else held at what is in effect, on the full
coupled model. So is the capacitance on the leads, which is no part on the board and never quite what the
catalogue says.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.beam.varied import Number
from core.circuit.connect import coupled_system, hold
from core.circuit.damping import mode_damping
from core.circuit.kind import CircuitKind, Parameter, branch_of
from core.circuit.system import CoupledSystem
from core.predict.solved import Solved
from core.project.candidate import Candidate, Tuning
from core.units import words
from core.units.sentence import inside

Array = NDArray[np.float64]

SPAN = 2.0
"""Factor to either side of the present value."""
POINTS, FEWER_POINTS = 25, 9
"""Of a curve; of a circuit of several branches, whose values are many and whose poles are dear."""
LEADS = "leads_f"
"""Name under which the capacitance on the leads is varied."""
MISSED = {"ohm": 2.0, "H": 1.05, "F": 1.10}
"""By how much a part of each unit is counted as missed, a factor: what is at hand or drifts."""
MISSED_WORDS = {"ohm": "a factor of two in R", "H": "5 % in L", "F": "10 % in C"}


@dataclass(frozen=True)
class Price:
    """The damping along one value of a group's circuit.

    name, label, unit : of the value, the unit SI; mode : from 1, the one the circuit serves; values : (n,)
    ascending, SI, the present one and both misses among them; damping : (modes, n) damping ratio of every mode shown, nan where
    a pole grows; present : what is in effect; tuned : what the largest damping of the mode wants, the other
    values tuned with it, None where nothing is tuned; at_present : (modes,) damping ratios; low, high : (modes,)
    the same with the value too small and too large by the factor `missed`.
    """

    group: str
    name: str
    label: str
    unit: str
    mode: int
    values: Array
    damping: Array
    present: float
    tuned: float | None
    at_present: Array
    missed: float
    low: Array
    high: Array
    others: tuple[int, ...] = ()
    """Modes (from 1) that the circuit's other branches serve."""

    @property
    def target(self) -> Array:
        """(n,) damping ratio of the mode served."""
        return np.asarray(self.damping[self.mode - 1])

    @property
    def cost(self) -> float:
        """Share of the served mode's damping lost on the worse side of a miss; negative for a gain on both, 1
        where a pole grows."""
        return self.cost_of(self.mode)

    def cost_of(self, mode: int) -> float:
        """The same of any mode (from 1)."""
        here = self.at_present[mode - 1]
        worse = min(float(np.nan_to_num(side[mode - 1])) for side in (self.low, self.high))
        return 1.0 - worse / float(here) if here > 0.0 else 0.0

    @property
    def sentence(self) -> str:
        """What a miss costs: "5 % in L cost mode 1 12 % of its damping", of other branches' modes too."""
        missed = MISSED_WORDS[self.unit]
        verb = "cost" if self.unit != "ohm" else "costs"
        if not np.isfinite(self.at_present[self.mode - 1]):
            return f"No price of {inside(self.label)}: the circuit as it is does not hold."
        if np.isnan(self.low).any() or np.isnan(self.high).any():
            return f"{missed[0].upper()}{missed[1:]}: a pole grows, the circuit does not hold."
        told = [f"mode {self.mode} {self._share(self.mode)} of its damping"]
        told += [f"mode {mode} {self._share(mode)}" for mode in self.others]
        return f"{missed[0].upper()}{missed[1:]} {verb} {', '.join(told)}."

    def _share(self, mode: int) -> str:
        cost = self.cost_of(mode)
        return words.share(cost) if cost >= 0.005 else "nothing"


Ranges = Mapping[str, tuple[float, float]]
"""The lowest and highest value wanted, SI, by the name of a value."""


def prices(
    solved: Solved, index: int, ranges: Ranges | None = None, *, with_tuned: bool = True
) -> tuple[Price, ...]:
    """Of every value of a group's circuit (index from 0) that has a size, the capacitance on the leads last.

    Along a factor of two to either side, or along `ranges`: then of the values in it alone, and of a range of nothing
    the present value and its misses. All layouts are solved at once. `with_tuned` False leaves out what costs a tuning,
    where no rule has set the values already. None for shorted and open
    leads, and for a switch, which follows by itself. About a millisecond a value.
    """
    connection, group = solved.system.connections[index], solved.candidate.groups[index]
    if connection.kind.closed_form is None or connection.kind.worked_out or not solved.modes:
        return ()
    held = hold(solved.candidate, solved.system)
    mode = min(solved.serves[index] + 1, solved.modes)
    tuned = _tuned(solved, index, mode) if with_tuned or group.circuit.tuning is not None else {}
    points = _points(connection.kind)
    curves = []
    for parameter in connection.kind.parameters:
        present, unit = connection.numbers[parameter.name], _unit(parameter)
        if present <= 0.0 or unit not in MISSED or not _wanted(ranges, parameter.name):
            continue
        served = _served_by(parameter.name, solved, index, mode)
        curves.append(_Curve(parameter.name, parameter.label, unit, served, present, *_factors(MISSED[unit], _span(ranges, parameter.name, present), points)))
    if _wanted(ranges, LEADS):
        present = abs(float(solved.system.capacitance_f[index, index]))
        factors = _factors(MISSED["F"], _span(ranges, LEADS, present), points)
        curves.append(_Curve(LEADS, "Capacitance on the leads", "F", mode, present, *factors))
    found = _damping(solved, held, index, curves)
    out = [_price(group.id, c, tuned.get(c.name), own) for c, own in zip(curves, found, strict=True)]
    tuning = group.circuit.tuning
    branches = tuning.modes(connection.kind.branches) if tuning is not None and connection.kind.branches > 1 else ()
    shown = [m for m in branches if m <= solved.modes]
    return tuple(dataclasses.replace(p, others=tuple(m for m in shown if m != p.mode)) for p in out)


def _wanted(ranges: Ranges | None, name: str) -> bool:
    return ranges is None or name in ranges


def _span(ranges: Ranges | None, name: str, present: float) -> tuple[float, float]:
    """The factors on the present value that bound the curve."""
    if ranges is None:
        return 1.0 / SPAN, SPAN
    low, high = ranges[name]
    return low / present, high / present


@dataclass(frozen=True)
class _Curve:
    """One value to vary by `factors` (n,); `missed` tells where the small miss, the present value and the large one stand."""

    name: str
    label: str
    unit: str
    mode: int
    present: float
    factors: Array
    missed: tuple[int, int, int]


def _damping(solved: Solved, held: Candidate, index: int, curves: list[_Curve]) -> list[Array]:
    """(n, modes) damping ratios along each curve: the layouts of all of them solved at once."""
    if not curves:
        return []
    ends = np.cumsum([len(c.factors) for c in curves])
    rows = [slice(end - len(c.factors), end) for c, end in zip(curves, ends, strict=True)]
    group, variation = held.groups[index], {}
    for curve, own in zip(curves, rows, strict=True):
        if curve.name != LEADS:
            values = np.full(ends[-1], curve.present)
            values[own] *= curve.factors
            variation[f"candidates[{held.id}].groups[{group.id}].circuit.values.{curve.name}"] = values
    system = coupled_system(solved.beam, held, variation=variation)
    stored = np.broadcast_to(system.capacitance_f, (ends[-1], *system.capacitance_f.shape[-2:])).copy()
    for curve, own in zip(curves, rows, strict=True):
        if curve.name == LEADS:  # what the circuit adds is on them too; K^2 changes with it
            stored[own, index, index] += (curve.factors - 1.0) * curve.present
    found = mode_damping(_with_capacitance(system, stored), solved.modes)
    return [found[own] for own in rows]


def _with_capacitance(system: CoupledSystem, stored: Array) -> CoupledSystem:
    def every(a: Array, own: int) -> Array:
        return np.broadcast_to(a, (len(stored), *a.shape[a.ndim - own :]))

    return dataclasses.replace(
        system, omega_rad_s=every(system.omega_rad_s, 1), zeta=every(system.zeta, 1), theta=every(system.theta, 2),
        capacitance_f=stored, loss_f=every(system.loss_f, 2),
    )  # fmt: skip


def _points(kind: CircuitKind) -> int:
    return FEWER_POINTS if kind.branches > 1 else POINTS


def _served_by(name: str, solved: Solved, index: int, mode: int) -> int:
    """The mode (from 1) that a value's branch serves."""
    kind, tuning = solved.system.connections[index].kind, solved.candidate.groups[index].circuit.tuning
    if kind.branches == 1 or tuning is None:
        return mode
    return min(tuning.modes(kind.branches)[branch_of(name) - 1], solved.modes)


def _factors(missed: float, span: tuple[float, float], points: int) -> tuple[Array, tuple[int, int, int]]:
    """(n,) ascending factors on the present value, and where the small miss, 1 and the large miss stand."""
    wanted = np.array([1.0 / missed, 1.0, missed])
    curve = np.geomspace(*span, points)
    apart = np.abs(curve[:, None] / wanted - 1.0).min(axis=1) > 1e-9
    every = np.sort(np.concatenate([curve[apart], wanted]))
    low, here, high = np.searchsorted(every, wanted)
    return every, (int(low), int(here), int(high))


def _price(group: str, curve: _Curve, tuned: Number | None, found: Array) -> Price:
    low, here, high = (found[i] for i in curve.missed)
    return Price(
        group, curve.name, curve.label, curve.unit, curve.mode, curve.present * curve.factors, found.T, curve.present,
        None if tuned is None else float(tuned), here, MISSED[curve.unit], low, high,
    )  # fmt: skip


def _unit(parameter: Parameter) -> str:
    return {"ohm": "ohm", "h": "H", "f": "F"}.get(parameter.name.rsplit("_", 1)[-1], "")


def _tuned(solved: Solved, index: int, mode: int) -> dict[str, float]:
    """What a rule sets, by name: the rule the values follow, else the largest damping of the mode served."""
    connection, group = solved.system.connections[index], solved.candidate.groups[index]
    names = connection.kind.tuned
    values = connection.numbers
    if group.circuit.tuning is None:
        circuit = replace(group.circuit, tuning=Tuning(mode, "optimum"))
        groups = list(hold(solved.candidate, solved.system).groups)
        groups[index] = replace(group, circuit=circuit)
        wanted = replace(solved.candidate, groups=tuple(groups))
        values = coupled_system(solved.beam, wanted).connections[index].numbers
    return {name: values[name] for name in names}
