"""The largest voltage a person can meet at the leads, and what it means for touching them.

The worst of the static service forces, of every load case (leads open, and with the circuits as they
are) and of the change of temperature (`core.predict.loads.heat`), for every group and for every ceramic by itself. One
number, for the screen, the cards and the sheet. Open leads keep the bleed resistor that sits on the patches' side;
a bend may come faster than it bleeds.

Limits of touch: extra-low voltage of IEC 61140, 50 V ac and 120 V dc, and half of each where live
parts may be touched (as quoted publicly, from memory: check the standard that applies).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, log10, sqrt

import numpy as np
from msgspec.structs import replace as with_
from numpy.typing import NDArray

from core.circuit.at_rest import stored_f, volts_at_rest
from core.circuit.connect import coupled_system
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import CoupledSystem
from core.piezo.coupled_beam import CoupledBeam
from core.predict.forcing import forcing
from core.predict.loads.heat import lead_heat_v, plate_charges_c, ramp_of
from core.predict.loads.limits import open_bends
from core.predict.loads.loading import load_sentence
from core.predict.loads.peaks import peaks
from core.project.candidate import Candidate, Circuit
from core.project.model import Project
from core.project.service import Load
from core.units import words

Array = NDArray[np.float64]

LOW_AC_V, LOW_DC_V = 50.0, 120.0
"""Extra-low voltage: root mean square of an alternating, value of a steady voltage."""
TOUCHED_AC_V, TOUCHED_DC_V = 25.0, 60.0
"""The same where live parts may be touched, as bare leads can be."""


@dataclass(frozen=True)
class LeadVoltage:
    """The largest voltage of one cause: where ("group G1", "P1 by itself"), peak in V, whether it stands
    (a bend or heat) or alternates, and whether the leads are open."""

    where: str
    volts: float
    steady: bool
    cause: str
    is_open: bool

    @property
    def effective_v(self) -> float:
        """What the limits of touch count: the value itself if it stands, else the root mean square of a
        sine as high."""
        return self.volts if self.steady else self.volts / sqrt(2.0)

    def over(self, ac_v: float, dc_v: float) -> bool:
        return self.effective_v > (dc_v if self.steady else ac_v)

    @property
    def share_of_limit(self) -> float:
        """Over the limit for leads that may be touched."""
        return self.effective_v / (TOUCHED_DC_V if self.steady else TOUCHED_AC_V)


@dataclass(frozen=True)
class Leads:
    """Every cause of voltage at the leads, largest first."""

    found: tuple[LeadVoltage, ...]

    @property
    def largest(self) -> LeadVoltage:
        """Of a layout that runs away the largest of its open leads: what grows without end has no size."""
        return next((one for one in self.found if np.isfinite(one.volts)), self.found[0])

    @property
    def gravest(self) -> LeadVoltage:
        """The one that decides whether leads may be touched."""
        finite = [one for one in self.found if np.isfinite(one.volts)]
        return max(finite or self.found, key=lambda one: one.share_of_limit)

    def of(self, where: str) -> Leads | None:
        """The causes at one place, None without any."""
        own = tuple(one for one in self.found if one.where == where)
        return Leads(own) if own else None

    @property
    def with_circuit(self) -> LeadVoltage | None:
        """The largest with the circuits connected; None where every lead is open or shorted."""
        return next((one for one in self.found if not one.is_open), None)

    @property
    def runs_away(self) -> bool:
        """Whether a circuit drives its leads without end."""
        return not all(np.isfinite(one.volts) for one in self.found)

    @property
    def is_safe(self) -> bool:
        """Whether even bare leads may be touched."""
        return not self.runs_away and not self.gravest.over(TOUCHED_AC_V, TOUCHED_DC_V)

    @property
    def up_to(self) -> str:
        """ "585 V": rounded up, never down."""
        return volts_up_to(self.largest.volts)

    @property
    def verdict(self) -> str:
        """What may be done with bare leads, in two or three words."""
        if self.is_safe:
            return "may be touched"
        return "never touch" if self.runs_away or self.gravest.over(LOW_AC_V, LOW_DC_V) else "do not touch bare"

    @property
    def touch(self) -> str:
        """What the voltages mean for a person, as one sentence."""
        if self.runs_away:
            return "The circuit runs away and drives its leads to the amplifier's rails: never touch; keep the supply off."
        one = self.gravest
        kind, low, touched = (
            ("dc", LOW_DC_V, TOUCHED_DC_V) if one.steady else ("ac rms", LOW_AC_V, TOUCHED_AC_V)
        )
        if not one.over(TOUCHED_AC_V, TOUCHED_DC_V):
            return f"Within {touched:g} V {kind}: bare leads may be touched."
        if not one.over(LOW_AC_V, LOW_DC_V):
            return (
                f"Above {touched:g} V {kind} ({one.cause}): no bare lead may be touched; insulate, keep "
                "shorted or bled."
            )
        return (
            f"Above {low:g} V {kind}, extra-low voltage ({one.cause}): never touch; keep shorted or bled "
            "until connected, and enclosed."
        )


SOURCE = "IEC 61140 as quoted publicly, from memory; check the standard that applies"


def rounded_up(value: float) -> str:
    """A voltage rounded up to two figures, never down."""
    if not np.isfinite(value):
        return "unbounded"
    if value < 10:
        return f"{ceil(value)}"
    step = 10.0 ** (floor(log10(value)) - 1)
    return words.fixed(ceil(value / step - 1e-9) * step, 0)


def volts_up_to(value: float) -> str:
    """The same with its unit: "140 V", "unbounded"."""
    return f"{rounded_up(value)} V" if np.isfinite(value) else rounded_up(value)


def lead_voltages(
    project: Project, candidate: Candidate, beam: CoupledBeam, system: CoupledSystem, found: list[Spectrum]
) -> Leads | None:
    """Every cause, for the layout solved as `beam` with the circuits of `system` and their poles: every ceramic by
    itself, every group with its leads open, and with the circuit it has."""
    if not beam.plates:
        return None
    free = opened(candidate, beam, system)
    causes = standing_voltages(project, beam, free, spectra(free, len(found)))
    connected = {
        f"group {name}"
        for name, c in zip(beam.group_ids, system.connections, strict=False)
        if not c.port().short and c.kind.key != "open"
    }
    if connected:
        standing = standing_voltages(project, beam, system, found)
        # Open leads are told above, unless what hangs on others makes more of it there.
        told = {(one.where, one.cause): one for one in causes}
        told |= {(one.where, one.cause): one for one in standing if one.where in connected or one.volts > _volts(told, one)}
        causes = list(told.values())
    causes += _by_itself(project, beam)
    return leads_of(causes)


def _volts(told: dict[tuple[str, str], LeadVoltage], one: LeadVoltage) -> float:
    """What is told already of the same place and cause."""
    same = told.get((one.where, one.cause))
    return 0.0 if same is None else same.volts


def leads_of(causes: list[LeadVoltage]) -> Leads | None:
    """The causes largest first; None where nothing makes a voltage."""
    counting = [one for one in causes if one.volts > 0]
    return Leads(tuple(sorted(counting, key=lambda one: -one.volts))) if counting else None


def opened(candidate: Candidate, beam: CoupledBeam, system: CoupledSystem) -> CoupledSystem:
    """The same with the leads of every group open: circuit, input and all that they add beside the patches are off,
    only its bleed resistor stays. What hangs on the structure is as it is in `system`."""
    groups = tuple(with_(group, circuit=Circuit("open"), instrument=None) for group in candidate.groups)
    held = tuple(with_(one, tuning=None) for one in candidate.absorbers)
    free = coupled_system(beam, with_(candidate, groups=groups, absorbers=held))
    count = len(groups)
    return replace(free, connections=(*free.connections[:count], *system.connections[count:]))


def standing_voltages(
    project: Project, beam: CoupledBeam, system: CoupledSystem, found: list[Spectrum]
) -> list[LeadVoltage]:
    """Every cause of voltage across the leads of every group as they are in `system`, whose poles are `found`.

    A bend counts where nothing but an input or a bleed resistor conducts at rest: another circuit has let its charge
    go, but a bend may come faster than these do. So does heat at once; at the rate a person stated it counts on all.
    """
    groups = system.connections[: len(beam.group_ids)]
    is_open = [c.kind.key == "open" for c in groups]
    live = [not c.port().short for c in groups]
    holds = [stored_f(c) is not None for c in groups]
    causes: list[LeadVoltage] = []

    def add(volts: Sequence[float], cause: str, counts: list[bool], steady: bool) -> None:
        for name, v, free, counting in zip(beam.group_ids, volts, is_open, counts, strict=True):
            if counting:
                state = "leads open" if free else "with the circuit"
                causes.append(LeadVoltage(f"group {name}", float(v), steady, f"{cause}, {state}", free))

    if any(holds):
        # A quick bend meets the patches alone, one that stands what the circuits store too: less than nothing where that is negative.
        # What an input or a bleed resistor lets go, it lets go later.
        insulated = replace(system, connections=tuple(replace(c, instrument_s=0.0) for c in system.connections))
        for bend in open_bends(beam, project.service):
            stands = np.abs(volts_at_rest(insulated, bend.charge_c)[: len(groups)])
            add(np.maximum(np.abs(bend.lead_voltage), stands).tolist(), bend.words, holds, True)
    ramp = ramp_of(project.service)
    if ramp is not None:
        add(np.abs(lead_heat_v(beam, system, ramp)).tolist(), ramp.words, live if ramp.time_s > 0.0 else holds, True)
    grows = any(s.unstable.any() for s in found)
    for load in project.service.loads if any(live) else ():
        volts = [np.inf] * len(live) if grows else _dynamic(project, beam, system, found, load)
        add(volts, load_sentence(forcing(beam, load, project.view), beam.spec.span_m), live, False)
    return causes


def _by_itself(project: Project, beam: CoupledBeam) -> list[LeadVoltage]:
    """Every ceramic on no leads yet, with nothing that bleeds it."""
    causes = [(f"{bend.words}, leads open", np.abs(bend.plate_voltage)) for bend in open_bends(beam, project.service)]
    ramp = ramp_of(project.service)
    if ramp is not None:
        charge = np.abs(plate_charges_c(beam, ramp.span_k))
        causes.append((f"{ramp.words}, leads open", charge / np.diag(beam.free_f)))
    return [
        LeadVoltage(f"{plate.patch} by itself", float(v), True, cause, True)
        for cause, volts in causes
        for plate, v in zip(beam.plates, volts, strict=True)
    ]


def _dynamic(
    project: Project, beam: CoupledBeam, system: CoupledSystem, found: list[Spectrum], load: Load
) -> list[float]:
    """Largest voltage across the leads of each group under one load."""
    groups = len(beam.group_ids)
    as_it_is = np.eye(groups, system.n_ports)
    read = peaks(project, beam, system, found, load, lambda s: np.broadcast_to(as_it_is, (len(s), *as_it_is.shape)))
    return [float(v) for v in read]
