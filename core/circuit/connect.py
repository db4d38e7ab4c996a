"""From a solved layout and its groups to the coupled system, circuit values in effect.

A group's values are those saved, or follow its tuning rule on the chosen mode: the closed form
with the capacitance that goes with K^2 (an instrument's cable added), or the optimum of the
whole coupled model started there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit import instrument
from core.circuit.kind import Target
from core.circuit.optimum import Aim, optimise
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection, CoupledSystem
from core.piezo.layout import CoupledBeam
from core.project.model import Candidate, Group

Array = NDArray[np.float64]

SMALLEST_CAPACITANCE_F = 1e-15
"""Stands in for a group without a patch, so that its circuit hangs on something."""


def coupled_system(beam: CoupledBeam, candidate: Candidate, aim: Aim | None = None) -> CoupledSystem:
    """Modes, groups and circuits of a layout, every value tuned as its group says.

    `aim` serves the goals 'peak' and 'mean square' of an optimum. Raises KeyError for a circuit
    kind that is not in the registry.
    """
    groups = candidate.groups
    cables = np.array([instrument.capacitance_f(g.instrument) for g in groups])
    diagonal = np.maximum(np.diag(beam.group_blocked_f), 0.0)
    filler = np.where(diagonal > 0, 0.0, SMALLEST_CAPACITANCE_F)
    system = CoupledSystem(
        omega_rad_s=beam.omega_rad_s,
        zeta=beam.zeta0,
        theta=beam.group_theta,
        capacitance_f=beam.group_corrected_f + np.diag(cables + filler),
        loss_f=group_loss_f(beam),
        connections=tuple(_start(beam, g, j, float(cables[j])) for j, g in enumerate(groups)),
    )
    return _optimised(system, beam, groups, cables, aim)


def group_loss_f(beam: CoupledBeam) -> Array:
    """(G, G) true blocked capacitance times tan delta, F: omega times it is a conductance."""
    if not beam.plates:
        return np.zeros_like(beam.group_blocked_f)
    root = np.sqrt([max(p.coefficients.tan_delta, 0.0) for p in beam.plates])
    combine = beam.terminals.combine * root[:, None]
    return combine.T @ beam.blocked_f @ combine


def target_of(beam: CoupledBeam, group: int, mode: int, cable_f: float) -> Target:
    """The mode (from 0) as the group's circuit sees it, other groups shorted."""
    mode = min(max(mode, 0), len(beam.omega_rad_s) - 1)
    own = float(beam.modal_capacitance_f[mode, group])
    if own <= 0:
        own = max(float(beam.group_blocked_f[group, group]), SMALLEST_CAPACITANCE_F)
    total = own + cable_f
    k2 = float(beam.group_k2[mode, group]) * own / total
    return Target(float(beam.omega_rad_s[mode]), k2, total)


def _start(beam: CoupledBeam, group: Group, index: int, cable_f: float) -> Connection:
    kind = CIRCUITS[group.circuit.kind]
    values = kind.complete(group.circuit.values)
    tuning = group.circuit.tuning
    if tuning is not None and kind.closed_form is not None:
        values.update(kind.closed_form(tuning.goal, target_of(beam, index, tuning.mode - 1, cable_f)))
    return Connection(kind, values, instrument.conductance_s(group.instrument))


def _optimised(
    system: CoupledSystem, beam: CoupledBeam, groups: tuple[Group, ...], cables: Array, aim: Aim | None
) -> CoupledSystem:
    wanted = [
        j
        for j, g in enumerate(groups)
        if g.circuit.tuning is not None
        and g.circuit.tuning.rule == "optimum"
        and CIRCUITS[g.circuit.kind].closed_form is not None
    ]
    # Groups pull each other off tune: go round twice when there are several.
    for j in wanted * (2 if len(wanted) > 1 else 1):
        tuning = groups[j].circuit.tuning
        assert tuning is not None
        mode = min(tuning.mode - 1, system.n_modes - 1)
        values = optimise(
            system,
            j,
            target_of(beam, j, mode, float(cables[j])),
            mode=mode,
            goal=tuning.goal,
            weights=tuning.weights,
            aim=aim,
        )
        old = system.connections[j]
        system = system.with_connection(j, Connection(old.kind, values, old.instrument_s))
    return system
