"""Remarks on a group's circuit: parts that cannot be wound, what an instrument does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from core.circuit import coil, instrument
from core.circuit.connect import beside_f, target_for, target_of
from core.circuit.kind import INDUCTANCE, is_inductance
from core.circuit.optimum import SEARCH_SPAN
from core.circuit.system import Connection
from core.piezo.coupled_beam import CoupledBeam
from core.project.candidate import Build, Group
from core.units import words
from core.units.sentence import inside

WORTH_TELLING = 0.02
"""Of the loss wanted in line with a coil, from which its winding is worth a word."""


def circuit_remarks(
    beam: CoupledBeam, group: Group, index: int, connection: Connection, build: Build, served: int
) -> tuple[str, ...]:
    """What to know before building this circuit, which serves a mode (from 0), from such parts."""
    return tuple(
        [
            *_inductors(beam, connection, build, served),
            *_instrument(beam, group, index, connection, served),
            *_edge(beam, group, index, connection),
        ]
    )


def _inductors(beam: CoupledBeam, connection: Connection, build: Build, served: int) -> Iterator[str]:
    """What is no wound part, and what the winding of one that is takes of the loss wanted."""
    values = connection.numbers
    sizes = {name: value for name, value in values.items() if is_inductance(name)}
    simulated = [value for value in sizes.values() if value > build.largest_coil_h]
    if simulated:
        told = " and ".join(words.engineering(value, "H") for value in simulated)
        yield (
            f"{told}: no wound part (up to {words.engineering(build.largest_coil_h, 'H')}), so simulated by amplifiers, see the "
            "parts list. Added capacitance (at the cost of K²), a higher mode or the plain resistor do without."
        )
    if len(sizes) == 1 and not simulated and not coil.winding_ohm(values) and len(beam.omega_rad_s):
        yield from _winding(beam, connection, build, served)


def _winding(beam: CoupledBeam, connection: Connection, build: Build, served: int) -> Iterator[str]:
    """A coil's own resistance against what is wanted in line with it; beside it, (omega L)^2/R is the same."""
    values = connection.numbers
    inductance, wanted = values[INDUCTANCE.name], values.get("resistance_ohm", 0.0)
    omega = float(beam.omega_rad_s[served])
    if connection.kind.key.startswith("parallel"):
        wanted = (omega * inductance) ** 2 / wanted if wanted else 0.0
    winding = inductance / build.coil_time_s
    if inductance <= 0.0 or winding < WORTH_TELLING * wanted:
        return
    told = f"A coil of {words.engineering(inductance, 'H')} winds to about {words.engineering(winding, 'ohm')}"
    if winding < wanted:
        yield f"{told}, {words.share(winding / wanted)} of the loss wanted: type it as its winding, the resistor gives way."
    else:
        yield f"{told}, more than the {words.engineering(wanted, 'ohm')} wanted in line: a larger core, or a simulated one."


def _instrument(beam: CoupledBeam, group: Group, index: int, connection: Connection, served: int) -> Iterator[str]:
    hung = group.instrument
    if hung is None or len(beam.omega_rad_s) == 0:
        return
    cable = instrument.capacitance_f(hung)
    target = target_of(beam, index, served, cable)
    if connection.kind.key == "open":
        tau = float(hung.resistance_ohm * target.capacitance_f * target.omega_rad_s)
        added = instrument.added_damping(float(target.k2), tau)
        yield (
            f"Not open: {hung.name} ({words.engineering(hung.resistance_ohm, 'ohm')}) is a shunt and adds "
            f"{words.share(added)} of damping to mode {served + 1}."
        )
    if cable > 0.01 * target.capacitance_f:
        lost = float(cable / target.capacitance_f)
        yield f"{hung.name} adds {words.engineering(cable, 'F')} to the leads and takes {words.share(lost)} of K²."


def _edge(beam: CoupledBeam, group: Group, index: int, connection: Connection) -> Iterator[str]:
    """Values at a bound: what the rule asks for is not to be had."""
    tuning = group.circuit.tuning
    rule = connection.kind.closed_form
    if tuning is None or rule is None or connection.kind.worked_out:
        return
    target = target_for(beam, index, tuning, connection.kind, connection.values, beside_f(group, connection.values))
    lossless = {n: v for n, v in connection.values.items() if not n.startswith(("winding", "core"))}
    if connection.wanders and tuning.rule == "optimum":
        yield (
            "The search for the optimum ended before its values stood: what is in effect is the best it had met, no worse than "
            "the closed form. A goal of damping, fewer branches or fewer circuits tuned at once settle sooner."
        )
    start, ideal = (rule(tuning.goal, replace(target, given=given)) for given in (connection.values, lossless))
    for parameter in connection.kind.parameters:
        name = parameter.name
        value = float(start.get(name, 0.0))
        if value <= 0.0:
            continue
        now = connection.numbers[name]
        gone = abs(np.log(now / value)) > 0.95 * SEARCH_SPAN if tuning.rule == "optimum" else False
        lossy = start[name] != ideal[name]
        if lossy and _as_good_as_none(now, float(ideal[name])) and parameter.unit == "kohm" and connection.kind.resonates:
            yield f"{parameter.label} at its bound: the coil loses more than is best. A coil that loses less would damp more."
        elif gone:
            yield f"The optimum of {inside(parameter.label)} lies at the edge of the search: treat it as a bound."


def _as_good_as_none(now: float, ideal: float) -> bool:
    """Whether a resistance is what is left where nothing more is wanted: far below the ideal coil's in line, far above
    beside it."""
    return not coil.LEAST_SHARE * 2 < now / ideal < 0.5 / coil.LEAST_SHARE if ideal > 0.0 else False
