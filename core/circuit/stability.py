"""How far a negative capacitance may go on a group before it fails, in closed form.

In parallel it may use up the true blocked capacitance on the leads. What fails does so at once, without time
for a current, so whatever conducts in the other groups counts as open there and their capacitances join in.
In series it must exceed the static free capacitance on the leads: it fails at rest, where whatever conducts in
the other groups is a short. An input or a bleed resistor beside it discharges the patches at rest, and then nothing
holds. Both are Schur complements of the capacitance matrix, the place where its determinant passes through
zero. (de Marneffe & Preumont 2008, Smart Mater. Struct. 17, 035015, for one group; from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit import instrument, negative_capacitance
from core.circuit.at_rest import stored_f
from core.circuit.connect import beside_f
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection
from core.piezo.coupled_beam import CoupledBeam
from core.project.candidate import Candidate, Group

Array = NDArray[np.float64]

MARGIN = 0.05
"""From where a negative capacitance fails to what is named as holding."""


@dataclass(frozen=True)
class Setting:
    """A negative capacitance against where it fails, F; infinite where nothing holds."""

    value_f: float
    limit_f: float
    in_series: bool

    @property
    def holds(self) -> bool:
        return self.room > 0.0

    @property
    def room(self) -> float:
        """Margin relative to the limit: how much further it may go; negative where it fails."""
        gone = self.value_f / self.limit_f - 1.0
        return gone if self.in_series else -gone

    @property
    def nearest_f(self) -> float | None:
        """The value itself where it holds, else the nearest that holds with `MARGIN`; None where nothing does."""
        if self.holds:
            return self.value_f
        if not np.isfinite(self.limit_f):
            return None
        return self.limit_f * (1.0 + MARGIN if self.in_series else 1.0 - MARGIN)


def has_one(group: Group) -> bool:
    """Whether the group's circuit has a negative capacitance."""
    kind = CIRCUITS.get(group.circuit.kind)
    return kind is not None and any(p.name == negative_capacitance.NAME for p in kind.parameters)


def in_series(group: Group) -> bool:
    """Whether it stands in line with the leads, not across them."""
    return group.circuit.kind == negative_capacitance.SERIES.key


def limit_f(beam: CoupledBeam, candidate: Candidate, index: int) -> Array:
    """(...) what the negative capacitance of a group (from 0) must stay below (in parallel) or above (in
    series), F, the other groups' circuits at their saved values. Not positive in parallel, or infinite in
    series, where none holds."""
    groups = candidate.groups
    series = in_series(groups[index])
    if series and instrument.beside_s(groups[index]) > 0.0:
        return np.full(beam.group_free_f.shape[:-2], np.inf)
    every = beam.group_free_f if series else beam.group_blocked_f
    own = every[..., index, index] + instrument.capacitance_f(groups[index].instrument)
    others = [j for j, g in enumerate(groups) if j != index and _holds_charge(g, at_rest=series)]
    if not others:
        return np.asarray(own)
    beside = np.diag([_beside(groups[j], at_rest=series) for j in others])
    block = every[..., np.array(others)[:, None], others] + beside
    row = every[..., index, others]
    taken = (row * np.linalg.solve(block, row[..., None])[..., 0]).sum(axis=-1)
    return np.asarray(own - taken)


def setting(beam: CoupledBeam, candidate: Candidate, index: int, value_f: float) -> Setting:
    """The value of one layout against its limit."""
    return Setting(value_f, float(limit_f(beam, candidate, index)), in_series(candidate.groups[index]))


def _holds_charge(group: Group, at_rest: bool) -> bool:
    """Whether a group's charge stays on it: at rest only where nothing conducts, in no time unless shorted."""
    if not at_rest:
        return not _hung(group).port().short
    return instrument.beside_s(group) == 0.0 and stored_f(_hung(group)) is not None


def _beside(group: Group, at_rest: bool) -> float:
    """What stores beside another group's patches, F: its cable and capacitors, those in line too where they have had
    time."""
    hung = _hung(group)
    return float(beside_f(group, hung.values)) + float((stored_f(hung) or 0.0) if at_rest else 0.0)


def _hung(group: Group) -> Connection:
    """Its circuit at the values saved."""
    kind = CIRCUITS[group.circuit.kind]
    return Connection(kind, kind.complete(group.circuit.values))
