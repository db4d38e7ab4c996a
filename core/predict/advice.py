"""Remarks on a group's circuit: parts that cannot be wound, what an instrument does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from core.circuit import coil, instrument
from core.circuit.connect import beside_f, target_for, target_of
from core.circuit.kind import is_inductance
from core.circuit.optimum import SEARCH_SPAN
from core.circuit.system import Connection
from core.piezo.layout import CoupledBeam
from core.project.candidate import Group
from core.units import words

LARGEST_WOUND_H = 1.0


def circuit_remarks(beam: CoupledBeam, group: Group, index: int, connection: Connection) -> tuple[str, ...]:
    """What to know before building this circuit."""
    return tuple(
        [
            *_inductor(connection),
            *_instrument(beam, group, index, connection),
            *_edge(beam, group, index, connection),
        ]
    )


def _inductor(connection: Connection) -> Iterator[str]:
    largest = max((value for name, value in connection.numbers.items() if is_inductance(name)), default=0.0)
    if largest > LARGEST_WOUND_H:
        yield (
            f"{words.engineering(largest, 'H')} is not a wound part: synthetic inductor, added capacitance "
            "(at the cost of K²), a higher mode, or the plain resistor."
        )


def _instrument(beam: CoupledBeam, group: Group, index: int, connection: Connection) -> Iterator[str]:
    hung = group.instrument
    if hung is None or len(beam.omega_rad_s) == 0:
        return
    cable = instrument.capacitance_f(hung)
    tuning = group.circuit.tuning
    mode = 0 if tuning is None else min(tuning.mode, len(beam.omega_rad_s)) - 1
    target = target_of(beam, index, mode, cable)
    if connection.kind.key == "open":
        tau = float(hung.resistance_ohm * target.capacitance_f * target.omega_rad_s)
        added = instrument.added_damping(float(target.k2), tau)
        yield (
            f"Not open: {hung.name} ({words.engineering(hung.resistance_ohm, 'ohm')}) is a shunt and adds "
            f"{words.share(added)} of damping to mode {mode + 1}."
        )
    if cable > 0.01 * target.capacitance_f:
        lost = float(cable / target.capacitance_f)
        yield f"{hung.name} adds {words.engineering(cable, 'F')} to the leads and takes {words.share(lost)} of K²."


def _edge(beam: CoupledBeam, group: Group, index: int, connection: Connection) -> Iterator[str]:
    """Values at a bound: what the rule asks for is not to be had."""
    tuning = group.circuit.tuning
    rule = connection.kind.closed_form
    if tuning is None or rule is None:
        return
    target = target_for(beam, index, tuning, connection.kind, connection.values, beside_f(group, connection.values))
    lossless = {n: v for n, v in connection.values.items() if not n.startswith(("winding", "core"))}
    start, ideal = (rule(tuning.goal, replace(target, given=given)) for given in (connection.values, lossless))
    for parameter in connection.kind.parameters:
        name = parameter.name
        value = float(start.get(name, 0.0))
        if value <= 0.0:
            continue
        now = connection.numbers[name]
        gone = abs(np.log(now / value)) > 0.95 * SEARCH_SPAN if tuning.rule == "optimum" else False
        if _as_good_as_none(now, float(ideal[name])) and parameter.unit == "kohm" and connection.kind.resonates:
            yield f"{parameter.label} at its bound: the coil loses more than is best. A coil that loses less would damp more."
        elif gone:
            yield f"The optimum of {parameter.label.lower()} lies at the edge of the search: treat it as a bound."


def _as_good_as_none(now: float, ideal: float) -> bool:
    """Whether a resistance is what is left where nothing more is wanted: far below the ideal coil's in line, far above
    beside it."""
    return not coil.LEAST_SHARE * 2 < now / ideal < 0.5 / coil.LEAST_SHARE if ideal > 0.0 else False
