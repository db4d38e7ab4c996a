"""The active load and the output point as functionals of the coupled beam."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.objective import Aim
from core.circuit.transfer import Functional
from core.piezo.coupled_beam import CoupledBeam
from core.predict.loads.random_load import spectrum_rms_m_s2
from core.project.model import Project, View
from core.project.service import (
    BaseLoad,
    BaseShock,
    BaseStep,
    Impact,
    Load,
    PointLoad,
    Release,
    RootAcceleration,
    TipForce,
)
from core.units import words

Array = NDArray[np.float64]

LOWEST_HZ = 1e-3
"""A band from zero starts here: its points are spaced in the logarithm."""

DERIVATIVE = {"receptance": 0, "mobility": 1, "accelerance": 2, "strain": 0, "voltage": 0, "current": 0}
"""Of the deflection at the output point; it stays the aim of a tuning when a patch is looked at."""
FORCE_UNITS = {"receptance": "m/N", "mobility": "m/(N s)", "accelerance": "m/(N s²)"}
BASE_UNITS = {"receptance": "s²", "mobility": "s", "accelerance": "1"}
BASE_NAMES = {"receptance": "Displacement", "mobility": "Velocity", "accelerance": "Acceleration"}


@dataclass(frozen=True)
class Forcing:
    """A load and an output on one beam.

    `load_row`, `output_row` : (..., n) in the beam's unknowns; `aim` holds the same as modal
    functionals with the static answer of the truncated modes, and the band.
    """

    load: Load
    load_row: Array
    output_row: Array
    aim: Aim
    load_x_m: float
    output_x_m: float
    kind: str
    residual_s2: Array | float = 0.0
    """What the truncated modes add to the residual per omega^2 (m s^2/N): their sum of phi phi/omega_n^4.
    Static alone leaves 5e-4 between the highest kept modes."""
    output_held: bool = False
    """Whether the output point cannot move: its response is exactly nothing, and nothing is tuned to it."""
    load_held: bool = False
    """Whether the load acts where nothing can move: it does exactly nothing, and nothing is tuned to it."""
    served: int | None = None
    """Index of the mode the circuits serve; a load that lasts lets go of this one where it drives it."""

    @property
    def factor(self) -> int:
        return self.aim.derivative

    def beyond_static(self, omega_rad_s: Array) -> Array:
        """(F,) what the truncated modes answer at the output beyond their static share, to the second
        order of frequency."""
        return np.asarray(self.residual_s2 * omega_rad_s**2)

    @property
    def tuning_aim(self) -> Aim | None:
        """What an optimum may look at: nothing where the output cannot move or the load moves nothing."""
        return None if self.output_held or self.load_held else self.aim


def active_load(project: Project) -> Load:
    """The load the prediction is made for; the first when the index points past the end."""
    loads = project.service.loads
    return loads[project.service.active_load] if project.service.active_load < len(loads) else loads[0]


def load_x_m(load: Load, span_m: float) -> float:
    """Where a load acts: its x, the tip by default, the root for base motion."""
    if not isinstance(load, PointLoad):
        return 0.0
    return span_m if load.x_m is None else load.x_m


def forcing(beam: CoupledBeam, load: Load, view: View) -> Forcing:
    """Functionals of the load and of the view's output point on this beam, or on many."""
    span = beam.spec.span_m
    out_x = span if view.output_x_m is None else view.output_x_m
    at = load_x_m(load, span)
    rows = beam.deflection_row(np.array([at, out_x]))
    rigid = beam.rigid_deflection(np.array([at, out_x]))
    if isinstance(load, BaseLoad):
        rows[..., 0, :], rigid[..., 0] = beam.base_row(), 0.0
    held = point_is_held(beam, rows[..., 1, :], rigid[..., 1])
    stuck = not isinstance(load, BaseLoad) and point_is_held(beam, rows[..., 0, :], rigid[..., 0])
    # what is left of such a row is rounding, and a curve of it, or a bend that moves it, would be read as a result
    if held:
        rows[..., 1, :] = 0.0
    if stuck:
        rows[..., 0, :] = 0.0
    modal = rows @ np.swapaxes(beam.units, -1, -2)
    electric = electric_residual(beam, rows, modal)
    omega = beam.omega_rad_s
    row, output_row = rows[..., 0, :], rows[..., 1, :]
    residual = (row * output_row).sum(axis=-1) - (modal[..., 0, :] * modal[..., 1, :]).sum(axis=-1)
    aim = Aim(
        load=Functional(omega * modal[..., 0, :], electric[..., 0, :], rigid[..., 0], float(isinstance(load, BaseLoad))),
        output=Functional(omega * modal[..., 1, :], electric[..., 1, :], rigid[..., 1]),
        residual=residual if residual.ndim else float(residual),
        band_rad_s=(2 * np.pi * max(load.band_hz[0], LOWEST_HZ), 2 * np.pi * load.band_hz[1]),
        derivative=DERIVATIVE[view.output],
    )
    kind = "base" if isinstance(load, BaseLoad) else "force"
    beyond = rows @ np.swapaxes(beam.beam.unit[..., beam.n_kept :, :], -1, -2)
    second = (beyond[..., 0, :] * beyond[..., 1, :] * beam.beam.mu_s2[..., beam.n_kept :]).sum(axis=-1)
    return Forcing(load, row, output_row, aim, at, out_x, kind, second if second.ndim else float(second), held, stuck)


HELD = 1e-12
"""Compliance at a point, over that of a cantilever of the span, below which the point cannot move."""


def point_is_held(beam: CoupledBeam, row: Array, rigid: Array) -> bool:
    """Whether a point with that row (..., n) and rigid motion cannot move, in every layout."""
    if np.abs(rigid).max(initial=0.0) > 1e-9:
        return False
    scale = beam.spec.span_m**3 / max(float(np.max(beam.section.bending)), 1e-300)
    return bool(((row * row).sum(axis=-1) <= HELD * scale).all())


def electric_residual(beam: CoupledBeam, rows: Array, modal: Array) -> Array:
    """(..., k, P) charge that the truncated modes add statically under loads `rows` (..., k, n), given
    their products with the kept unit vectors (..., k, N); deflection at the places."""
    whole = rows @ np.swapaxes(beam.port_rows, -1, -2)
    return np.asarray(whole - modal @ (beam.port_theta / beam.omega_rad_s[..., None]))


def amplitude(load: Load) -> float:
    """Harmonic amplitude the response is multiplied with: N or m/s^2; 1 for a transient or a spectrum."""
    if isinstance(load, TipForce):
        return load.force_n
    return load.level_m_s2 if isinstance(load, RootAcceleration) else 1.0


def place(x_m: float, span_m: float) -> str:
    """A point along the span in words."""
    if x_m >= span_m * (1 - 1e-9):
        return "the tip"
    return "the root" if x_m <= 0 else words.millimetres(x_m)


def response_words(item: Forcing, view: View, span_m: float) -> tuple[str, str]:
    """(label, SI unit) of the frequency response."""
    at = place(item.output_x_m, span_m)
    shown = view.output if view.output in FORCE_UNITS else "receptance"  # no patch to look at
    if item.kind == "base":
        return f"{BASE_NAMES[shown]} of {at} per root acceleration", BASE_UNITS[shown]
    label = f"{shown.capitalize()} at {at}, force at {place(item.load_x_m, span_m)}"
    return label, FORCE_UNITS[shown]


def load_words(load: Load, times: float = 1.0) -> str:
    """A load, `times` as large, with its unit."""
    if isinstance(load, TipForce):
        return words.engineering(load.force_n * times, "N")
    if isinstance(load, RootAcceleration):
        return f"{words.significant(load.level_m_s2 * times)} m/s² {'rms' if load.random else 'amplitude'}"
    if isinstance(load, Release):
        return words.engineering(load.deflection_m * times, "m")
    if isinstance(load, Impact):
        return words.engineering(load.impulse_n_s * times, "N s")
    if isinstance(load, BaseShock):
        return f"{words.significant(load.peak_m_s2 * times)} m/s² for {words.seconds(load.duration_s)}"
    if isinstance(load, BaseStep):
        return f"{words.significant(load.level_m_s2 * times)} m/s²"
    return f"{words.significant(spectrum_rms_m_s2(load) * times)} m/s² rms"
