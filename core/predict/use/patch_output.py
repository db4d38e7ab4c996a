"""Outputs that belong to a patch instead of a point: strain of its ceramic, voltage and current of its leads.

The strain is that of the ceramic's mid-plane, the mean over its working length, with the stretch that
the patches' own voltages put into the section.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.objective import Aim
from core.circuit.transfer import Functional
from core.piezo.coupled_beam import CoupledBeam
from core.predict.fields import Fields
from core.predict.forcing import Forcing, place
from core.predict.loads.readings import plate_readings
from core.predict.prediction import Response
from core.project.candidate import Candidate
from core.project.model import View
from core.project.patch import Patch

Array = NDArray[np.float64]

LABELS = {
    "strain": "Strain of the ceramic of {0} (mean)",
    "voltage": "Voltage on the leads of {0}",
    "current": "Current in the leads of {0}",
}
UNITS = {
    ("strain", "force"): "1/N",
    ("strain", "base"): "s²/m",
    ("voltage", "force"): "V/N",
    ("voltage", "base"): "V s²/m",
    ("current", "force"): "A/N",
    ("current", "base"): "A s²/m",
}


def at_patch(over_x: Fields, candidate: Candidate, item: Forcing, view: View) -> Forcing | None:
    """The forcing with the patch's strain or voltage as output; None for an output at a point."""
    patch = view.looked_at(candidate)
    if patch is None:
        return None
    if view.output == "strain":
        return replace(item, aim=_strain(over_x, item, patch), residual_s2=0.0, output_held=False)
    aim = _voltage if view.output == "voltage" else _current
    return replace(item, aim=aim(over_x.beam, candidate, item, patch), residual_s2=0.0, output_held=False)


def _strain(over_x: Fields, item: Forcing, patch: Patch) -> Aim:
    j = next(j for j, plate in enumerate(over_x.beam.plates) if plate.patch == patch.id)
    mean = plate_readings(over_x, item)[j].mean_strain
    functional = Functional(mean.modal[0], -mean.voltage[0], np.zeros(over_x.beam.n_rigid))
    return replace(item.aim, output=functional, residual=float(mean.load[0]), derivative=0)


def _voltage(beam: CoupledBeam, candidate: Candidate, item: Forcing, patch: Patch) -> Aim:
    leads = _leads(beam, candidate, patch)
    functional = Functional(np.zeros(len(beam.omega_rad_s)), -1.0 * leads, np.zeros(beam.n_rigid))
    return replace(item.aim, output=functional, residual=0.0, derivative=0)


def _current(beam: CoupledBeam, candidate: Candidate, item: Forcing, patch: Patch) -> Aim:
    """What flows out of the group into circuit, instrument and cable: the rate of the charge
    theta^T q + e F - C (1 - j tan delta) V. Shorted leads carry it too, so there is a before."""
    leads = _leads(beam, candidate, patch)
    electric = (beam.port_corrected_f - 1j * beam.port_loss_f()) @ leads
    functional = Functional(beam.port_theta @ leads, electric, np.zeros(beam.n_rigid))
    residual = float(item.aim.load.electric @ leads) if len(leads) else 0.0
    return replace(item.aim, output=functional, residual=residual, derivative=1)


def _leads(beam: CoupledBeam, candidate: Candidate, patch: Patch) -> Array:
    """(P,) 1 for the group the patch is wired to."""
    out = np.zeros(beam.port_rows.shape[-2])
    for g, group in enumerate(candidate.groups):
        out[g] = any(m.patch == patch.id for m in group.members)
    return out


def patch_words(item: Forcing, candidate: Candidate, view: View, span_m: float) -> tuple[str, str]:
    """(label, SI unit) of the response at a patch."""
    patch = view.looked_at(candidate)
    assert patch is not None
    group = next((g for g in candidate.groups if any(m.patch == patch.id for m in g.members)), None)
    name = patch.id if view.output == "strain" or group is None else f"group {group.id}"
    label, unit = LABELS[view.output].format(name), UNITS[view.output, item.kind]
    if item.kind == "base":
        return f"{label} per root acceleration", unit
    return f"{label}, force at {place(item.load_x_m, span_m)}", unit


def without_before(curves: Response) -> Response:
    """A voltage has no before: shorted leads have none."""
    return replace(curves, before=np.full_like(curves.before, np.nan), mean_square_change_db=np.nan)
