"""What the leads of a group may do to a person: volts, stored charge and energy, and the resistor that bleeds them.

The largest voltage of the open leads (`core.predict.electrics.leads`) stands on the free capacitance of the patches. A bleed
resistor on the patches' side of the connector takes it away when the leads are open; it costs damping,
and a negative capacitance in series with the leads does not bear it: at rest the patches are then no capacitor.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, log

from core.circuit.instrument import bleed_s
from core.circuit.spectrum import spectra
from core.circuit.system import CoupledSystem
from core.predict.electrics.leads import TOUCHED_DC_V, LeadVoltage, volts_up_to
from core.predict.poles import growths_of, mode_damping
from core.predict.solved import Solved
from core.project.served import served_mode
from core.units import words

DEFERS = "Local codes and licensed practice decide on use and protection."
"""Stands wherever a voltage at the leads is told, on screen and on paper."""
USUAL_BLEED_OHM = 10e6
LEAST_TOLD = 1e-4
"""Damping ratio below which a cost is nothing."""
DISCHARGED_V = 1.0
"""Down to which a charge counts as gone."""


@dataclass(frozen=True)
class Bleed:
    """A bleed resistor across the leads of a group, fitted or proposed.

    `to_touch_s`, `to_nothing_s` : from the largest voltage down to what may be touched, and to 1 V, leads open. `cost`
    : damping ratio of mode `mode` (from 1) that it takes; None where the circuit would drift with it.
    """

    ohm: float
    fitted: bool
    to_touch_s: float
    to_nothing_s: float
    mode: int
    cost: float | None

    @property
    def time(self) -> str:
        """ "3.9 s to 1 V"."""
        return f"{words.seconds(self.to_nothing_s)} to {words.voltage(DISCHARGED_V)}"

    @property
    def costs(self) -> str:
        """ "costs 0.02 % of damping in mode 1"; that it cannot be, in words."""
        if self.cost is None:
            return "not with this circuit: it would drift"
        return self._costs("takes", "adds")

    @property
    def sentence(self) -> str:
        """All of it."""
        name = words.engineering(self.ohm, "ohm")
        lead = f"Bleed resistor {name} across the leads" if self.fitted else f"No bleed resistor is fitted; {name} across the leads"
        if self.cost is None:
            told = "drives this circuit off" if self.fitted else "would drive this circuit off"
            return f"{lead} {told}: it drifts. Keep the leads shorted while they are open to hands."
        does, costs = ("discharges", self.costs) if self.fitted else ("would discharge", self._costs("take", "add"))
        return f"{lead} {does} them in {self.time} ({words.seconds(self.to_touch_s)} to {TOUCHED_DC_V:g} V) and {costs}."

    def _costs(self, takes: str, adds: str) -> str:
        cost = self.cost or 0.0
        told = words.damping(abs(cost)) if abs(cost) >= LEAST_TOLD else f"less than {words.damping(LEAST_TOLD)}"
        verb, side = (takes, "from") if cost >= 0.0 else (adds, "to")
        return f"{verb} {told} of damping {side} mode {self.mode}"


@dataclass(frozen=True)
class GroupSafety:
    """A group's open leads: the largest voltage (0 where nothing makes one) with its cause, and what it stores."""

    group: str
    largest: LeadVoltage | None
    capacitance_f: float
    touch: str
    verdict: str
    bleed: Bleed

    @property
    def volts(self) -> float:
        return 0.0 if self.largest is None else self.largest.volts

    @property
    def charge_c(self) -> float:
        return self.capacitance_f * self.volts

    @property
    def energy_j(self) -> float:
        return 0.5 * self.capacitance_f * self.volts**2

    @property
    def stored(self) -> str:
        """ "7.1 µC, 0.28 mJ at 79 V on 90 nF"."""
        if not isfinite(self.volts):
            return "unbounded"
        charge, energy = words.engineering(self.charge_c, "C"), words.engineering(self.energy_j, "J")
        return f"{charge}, {energy} at {volts_up_to(self.volts)} on {words.capacitance(self.capacitance_f)}"


def group_safety(solved: Solved, index: int) -> GroupSafety:
    """Of a group (from 0) of a solved layout."""
    name = solved.candidate.groups[index].id
    own = solved.leads.of(f"group {name}") if solved.leads else None
    largest = next((one for one in own.found if one.is_open), None) if own else None
    capacitance = float(solved.beam.group_free_f[index, index])
    return GroupSafety(
        group=name,
        largest=largest,
        capacitance_f=capacitance,
        touch=own.touch if own else "Nothing is given that makes a voltage: measure it before touching.",
        verdict=own.verdict if own else "not known",
        bleed=_bleed(solved, index, capacitance, largest.volts if largest else 0.0),
    )


def _bleed(solved: Solved, index: int, capacitance_f: float, volts: float) -> Bleed:
    """The one that is fitted, else the usual one."""
    group, system = solved.candidate.groups[index], solved.system
    ohm = USUAL_BLEED_OHM if group.bleed_ohm is None else group.bleed_ohm
    fitted = group.bleed_ohm is not None
    mode = min(served_mode(solved.project, solved.candidate), solved.modes)
    without = _with_leak(system, index, -bleed_s(group) if fitted else 0.0)
    held = system if fitted else _with_leak(system, index, 1.0 / ohm)
    before, after = (_zeta(one, mode) for one in (without, held))
    constant = ohm * capacitance_f

    def down_to(level: float) -> float:
        return constant * log(volts / level) if volts > level else 0.0

    cost = None if after is None else (before if before is not None else after) - after
    return Bleed(ohm, fitted, down_to(TOUCHED_DC_V), down_to(DISCHARGED_V), mode, cost)


def _with_leak(system: CoupledSystem, index: int, conductance_s: float) -> CoupledSystem:
    """With so much more conductance beside one circuit."""
    own = system.connections[index]
    return system.with_connection(index, replace(own, instrument_s=max(own.instrument_s + conductance_s, 0.0)))


def _zeta(system: CoupledSystem, mode: int) -> float | None:
    """Damping ratio of a mode (from 1), None where something grows."""
    found = spectra(system, mode)
    return None if growths_of(system, found) else mode_damping(found[-1], mode - 1)
