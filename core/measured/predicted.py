"""The prediction of the very state that was measured: leads, instrument, sensor and temperature of the bench."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from msgspec.structs import replace

from core.circuit.instrument import added_damping
from core.predict.poles import told_pole
from core.predict.predict import predict
from core.predict.prediction import Prediction
from core.project.candidate import Circuit, Instrument
from core.project.measurement import Bench, Leads
from core.project.model import Project
from core.project.structure import PointMass

POINTS = 60
LEAST_K2 = 5e-4
"""Modes with less coupling are not judged on: a small part of the patch decides them."""


@dataclass(frozen=True)
class StateMode:
    """A mode as predicted in a state of the leads."""

    number: int
    f_hz: float
    zeta: float


def in_state(
    project: Project, leads: Leads, bench: Bench, candidate_id: str | None = None, resistance_ohm: float | None = None
) -> Project:
    """The project as it stood on the bench: every group in that state, the sensor a mass at its place."""
    candidate = project.candidate(candidate_id)
    circuit = Circuit("resistor", {"resistance_ohm": resistance_ohm or 1e5}) if leads == "resistor" else Circuit(leads)
    hung = None if leads == "shorted" else bench.instrument
    groups = tuple(replace(g, circuit=circuit, instrument=hung) for g in candidate.groups)
    candidates = tuple(replace(c, groups=groups) if c.id == candidate.id else c for c in project.candidates)
    return replace(with_sensor(project, bench), candidates=candidates, active=candidate.id)


def with_sensor(project: Project, bench: Bench) -> Project:
    """The project with the bench's sensor as a mass."""
    if bench.sensor_kg <= 0.0:
        return project
    structure = project.structure
    at = structure.span_m if bench.sensor_x_m is None else bench.sensor_x_m
    masses = (*structure.masses, PointMass("sensor", at, bench.sensor_kg))
    return replace(project, structure=replace(structure, masses=masses))


def prediction_in(
    project: Project, leads: Leads, bench: Bench, candidate_id: str | None = None, resistance_ohm: float | None = None
) -> Prediction:
    """The whole prediction of a candidate in that state."""
    standing = in_state(project, leads, bench, candidate_id, resistance_ohm)
    return predict(standing, points=POINTS, temperature_c=bench.temperature_c)


def state_modes(
    project: Project, leads: Leads, bench: Bench, candidate_id: str | None = None, resistance_ohm: float | None = None
) -> tuple[StateMode, ...]:
    """Frequency and damping of every mode shown, as that state gives them."""
    return modes_of(prediction_in(project, leads, bench, candidate_id, resistance_ohm))


def modes_of(prediction: Prediction) -> tuple[StateMode, ...]:
    """Frequency and damping of the modes by their own poles: where a circuit splits one, the lower counts."""
    out = []
    for mode in prediction.modes:
        f = told_pole(mode.poles).frequency_hz if mode.poles else mode.f_short_hz
        out.append(StateMode(mode.number, f, mode.zeta))
    return tuple(out)


def instrument_damping(prediction: Prediction, instrument: Instrument | None) -> dict[int, float]:
    """Damping ratio that an input across the leads of every group adds, by mode."""
    if instrument is None:
        return {}
    return {
        mode.number: sum(
            added_damping(k2, 2.0 * np.pi * mode.f_short_hz * instrument.resistance_ohm * group.modal_capacitance_f[n])
            for k2, group in zip(mode.group_k2, prediction.groups, strict=True)
        )
        for n, mode in enumerate(prediction.modes)
    }


def modal_masses(prediction: Prediction, x_m: float | None = None) -> dict[int, float]:
    """Modal mass in kg at a place (None: the tip), by mode; a place that does not move is left out."""
    shapes = prediction.shapes
    x = float(shapes.x_m[-1]) if x_m is None else x_m
    out = {}
    for n, shape in enumerate(shapes.deflection):
        moved = float(np.interp(x, shapes.x_m, shape))
        if abs(moved) > 1e-9:
            out[n + 1] = 1.0 / moved**2
    return out
