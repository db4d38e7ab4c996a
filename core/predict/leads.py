"""The largest voltage a person can meet at the leads, and what it means for touching them.

The worst of the static service forces, of every load case (leads open, and with the circuits as they
are) and of the change of temperature (`core.predict.heat`), for every group and for every ceramic by itself. One
number, for the screen, the cards and the sheet. Open leads keep the bleed resistor that sits on the patches' side;
a bend may come faster than it bleeds.

Limits of touch: extra-low voltage of IEC 61140, 50 V ac and 120 V dc, and half of each where live
parts may be touched (as quoted publicly, from memory: check the standard that applies).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, floor, log10, sqrt

import numpy as np
from numpy.typing import NDArray

from core.circuit import open as open_leads
from core.circuit.instrument import bleed_s
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import forced
from core.piezo.layout import CoupledBeam
from core.predict.extremes import extremes_in_time
from core.predict.forcing import amplitude, forcing
from core.predict.grid import response_grid
from core.predict.heat import Ramp, lead_heat_v, plate_charges_c, ramp_of
from core.predict.limits import StaticBend
from core.predict.loading import SIGMAS, load_sentence
from core.predict.mean_square import density_points
from core.predict.random_load import is_random
from core.predict.response import Side, resonances
from core.predict.transient import held_bend, is_transient, transient
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.service import Load, Release
from core.units import words

Array = NDArray[np.float64]

LOW_AC_V, LOW_DC_V = 50.0, 120.0
"""Extra-low voltage: root mean square of an alternating, value of a steady voltage."""
TOUCHED_AC_V, TOUCHED_DC_V = 25.0, 60.0
"""The same where live parts may be touched, as bare leads can be."""
POINTS = 240


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
        return self.found[0]

    @property
    def gravest(self) -> LeadVoltage:
        """The one that decides whether leads may be touched."""
        return max(self.found, key=lambda one: one.share_of_limit)

    def of(self, where: str) -> Leads | None:
        """The causes at one place, None without any."""
        own = tuple(one for one in self.found if one.where == where)
        return Leads(own) if own else None

    @property
    def with_circuit(self) -> LeadVoltage | None:
        """The largest with the circuits connected; None where every lead is open or shorted."""
        return next((one for one in self.found if not one.is_open), None)

    @property
    def is_safe(self) -> bool:
        """Whether even bare leads may be touched."""
        return not self.gravest.over(TOUCHED_AC_V, TOUCHED_DC_V)

    @property
    def up_to(self) -> str:
        """ "585 V": rounded up, never down."""
        return f"{rounded_up(self.largest.volts)} V"

    @property
    def verdict(self) -> str:
        """What may be done with bare leads, in two or three words."""
        if self.is_safe:
            return "may be touched"
        return "never touch" if self.gravest.over(LOW_AC_V, LOW_DC_V) else "do not touch bare"

    @property
    def touch(self) -> str:
        """What the voltages mean for a person, as one sentence."""
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


def lead_voltages(
    project: Project,
    candidate: Candidate,
    beam: CoupledBeam,
    system: CoupledSystem,
    found: list[Spectrum],
    bends: tuple[StaticBend, ...],
) -> Leads | None:
    """Every cause, for the layout solved as `beam` with the circuits of `system` and their poles."""
    if not beam.plates:
        return None
    free = opened(candidate, system)
    causes = [*_bends(beam, bends), *_heat(project, beam, system, free)]
    open_poles = spectra(free, len(found))
    conducting = _conducting(beam, system)
    grows = any(s.unstable.any() for s in found)
    for load in project.service.loads:
        words_of = load_sentence(forcing(beam, load, project.view), beam.spec.span_m)
        for volts, name in zip(_dynamic(project, beam, free, open_poles, load), beam.group_ids, strict=True):
            causes.append(LeadVoltage(f"group {name}", volts, False, f"{words_of}, leads open", True))
        if not any(conducting):
            continue
        with_circuit = [np.inf] * len(conducting) if grows else _dynamic(project, beam, system, found, load)
        for volts, name, counts in zip(with_circuit, beam.group_ids, conducting, strict=True):
            if counts:
                causes.append(LeadVoltage(f"group {name}", volts, False, f"{words_of}, with the circuit", False))
    causes = [one for one in causes if one.volts > 0]
    return Leads(tuple(sorted(causes, key=lambda one: -one.volts))) if causes else None


def _bends(beam: CoupledBeam, bends: tuple[StaticBend, ...]) -> list[LeadVoltage]:
    out = []
    for bend in bends:
        cause = f"{bend.words}, leads open"
        for name, volts in zip(beam.group_ids, np.abs(bend.lead_voltage).tolist(), strict=True):
            out.append(LeadVoltage(f"group {name}", volts, True, cause, True))
        for plate, volts in zip(beam.plates, np.abs(bend.open_voltage).tolist(), strict=True):
            out.append(LeadVoltage(f"{plate.patch} by itself", volts, True, cause, True))
    return out


def _heat(project: Project, beam: CoupledBeam, system: CoupledSystem, opened: CoupledSystem) -> list[LeadVoltage]:
    """A ceramic by itself has nothing that bleeds it; with a circuit heat counts at the rate a person stated, at
    once it counts as open leads."""
    ramp = ramp_of(project.service)
    if ramp is None:
        return []
    alone = np.abs(plate_charges_c(beam, ramp.span_k)) / np.diag(beam.free_f)
    out = [
        LeadVoltage(f"{plate.patch} by itself", float(volts), True, f"{ramp.words}, leads open", True)
        for plate, volts in zip(beam.plates, alone, strict=True)
    ]
    out += _heated(beam, opened, ramp, "leads open", True)
    if ramp.time_s > 0.0:
        conducting = dict(zip(beam.group_ids, _conducting(beam, system), strict=True))
        found = _heated(beam, system, ramp, "with the circuit", False)
        out += [one for name, one in zip(beam.group_ids, found, strict=True) if conducting[name]]
    return out


def _heated(beam: CoupledBeam, system: CoupledSystem, ramp: Ramp, state: str, is_open: bool) -> list[LeadVoltage]:
    volts = np.abs(lead_heat_v(beam, system, ramp)).tolist()
    return [
        LeadVoltage(f"group {name}", v, True, f"{ramp.words}, {state}", is_open)
        for name, v in zip(beam.group_ids, volts, strict=True)
    ]


def _conducting(beam: CoupledBeam, system: CoupledSystem) -> list[bool]:
    """Which groups have a circuit that carries current."""
    return [not c.port().short and c.kind.key != "open" for c in system.connections[: len(beam.group_ids)]]


def opened(candidate: Candidate, system: CoupledSystem) -> CoupledSystem:
    """The same with the leads of every group open: only its bleed resistor stays."""
    free = tuple(Connection(open_leads.KIND, {}, bleed_s(group)) for group in candidate.groups)
    return replace(system, connections=(*free, *system.connections[len(free) :]))


def _dynamic(
    project: Project, beam: CoupledBeam, system: CoupledSystem, found: list[Spectrum], load: Load
) -> list[float]:
    """Largest voltage across the leads of each group under one load."""
    item = forcing(beam, load, project.view)
    groups = len(beam.group_ids)
    if is_transient(load):
        size = np.zeros(groups)
        if isinstance(load, Release):
            size = np.abs(held_bend(system, item, load.deflection_m)[0])[:groups]
        for stretch in transient(system, item):
            moved = stretch.whole
            there = extremes_in_time(
                moved.rate, moved.voltage[:groups], np.arange(groups), groups, stretch.length_s
            )
            size = np.maximum(size, np.maximum(there.high, -there.low))
        return [float(v) for v in size]
    side = Side(system, item)
    centres, widths = resonances(side, found, None, len(found))
    if is_random(load):
        points, weights = density_points(load, centres, widths)
        volts = SIGMAS * np.sqrt(weights @ np.abs(forced(system, item.aim.load, points).voltage) ** 2)
    else:
        points = response_grid(item.aim.band_rad_s, centres, widths, POINTS)
        volts = amplitude(load) * np.abs(forced(system, item.aim.load, points).voltage).max(axis=0)
    return [float(v) for v in volts[:groups]]
