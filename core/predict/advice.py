"""Remarks on a group's circuit: parts that cannot be wound, what an instrument does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from core.circuit import instrument
from core.circuit.connect import beside_f, target_of
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
    inductance = connection.numbers.get("inductance_h", 0.0)
    if inductance > LARGEST_WOUND_H:
        yield (
            f"{words.engineering(inductance, 'H')} is not a wound part: synthetic inductor, added capacitance "
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
    tuning = group.circuit.tuning
    rule = connection.kind.closed_form
    if tuning is None or tuning.rule != "optimum" or rule is None:
        return
    target = target_of(beam, index, tuning.mode - 1, beside_f(group, connection.values))
    start = rule(tuning.goal, replace(target, given=connection.values))
    for name, value in start.items():
        if value > 0 and abs(np.log(connection.numbers[name] / value)) > 0.95 * SEARCH_SPAN:
            yield f"The optimum of {name.split('_')[0]} lies at the edge of the search: treat it as a bound."
