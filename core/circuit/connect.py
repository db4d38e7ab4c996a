"""From a solved layout and its groups to the coupled system, circuit values in effect.

A group's values are those saved, or follow its tuning rule on the chosen mode: the closed form
with the capacitance that goes with K^2 (an instrument's cable added), or the optimum of the
whole coupled model started there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number, Variation
from core.circuit import instrument
from core.circuit.kind import Target, Values
from core.circuit.optimum import Aim, optimise
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection, CoupledSystem
from core.piezo.layout import CoupledBeam
from core.project.candidate import Candidate, Group

Array = NDArray[np.float64]

SMALLEST_CAPACITANCE_F = 1e-15
"""Stands in for a group without a patch, so that its circuit hangs on something."""


def coupled_system(
    beam: CoupledBeam, candidate: Candidate, aim: Aim | None = None, variation: Variation | None = None
) -> CoupledSystem:
    """Modes, groups and circuits of a layout, or of many, every value tuned as its group says.

    `aim` serves the goals 'peak' and 'mean square' of an optimum; `variation` may hold circuit values.
    Raises KeyError for a circuit kind that is not in the registry.
    """
    groups = candidate.groups
    path, varied = f"candidates[{candidate.id}].groups", variation or {}
    values = [_given(g, f"{path}[{g.id}].circuit.values", varied) for g in groups]
    beside = [beside_f(g, v) for g, v in zip(groups, values, strict=True)]
    own = np.diagonal(beam.group_blocked_f, axis1=-2, axis2=-1)
    added = np.where(own > 0, 0.0, SMALLEST_CAPACITANCE_F)
    if groups:
        added = added + np.stack(np.broadcast_arrays(*beside), axis=-1)
    system = CoupledSystem(
        omega_rad_s=beam.omega_rad_s,
        zeta=beam.zeta0,
        theta=beam.group_theta,
        capacitance_f=beam.group_corrected_f + added[..., None] * np.eye(len(groups)),
        loss_f=beam.group_loss_f(),
        connections=tuple(_start(beam, g, j, values[j], beside[j]) for j, g in enumerate(groups)),
    )
    return _optimised(system, beam, groups, beside, aim)


def beside_f(group: Group, values: Values) -> Number:
    """What hangs straight across the leads beside the patches' own capacitance, F: an instrument's cable
    and the circuit's added capacitor."""
    return instrument.capacitance_f(group.instrument) + CIRCUITS[group.circuit.kind].across(values)


def target_of(beam: CoupledBeam, group: int, mode: int, beside: Number) -> Target:
    """The mode (from 0) as the group's circuit sees it, other groups shorted, with what hangs beside the
    patches' own capacitance (`beside_f`)."""
    mode = min(max(mode, 0), beam.omega_rad_s.shape[-1] - 1)
    own = beam.modal_capacitance_f[..., mode, group]
    blocked = np.maximum(beam.group_blocked_f[..., group, group], SMALLEST_CAPACITANCE_F)
    own = np.where(own > 0, own, blocked)
    total = own + beside
    k2 = beam.group_k2[..., mode, group] * own / total
    if k2.ndim:
        return Target(beam.omega_rad_s[..., mode], k2, total)
    return Target(float(beam.omega_rad_s[mode]), float(k2), float(total))


def _given(group: Group, path: str, variation: Variation) -> dict[str, Number]:
    """The circuit's values as saved, or as they vary."""
    complete = CIRCUITS[group.circuit.kind].complete(group.circuit.values)
    return {n: variation.get(f"{path}.{n}", v) for n, v in complete.items()}


def _start(
    beam: CoupledBeam, group: Group, index: int, given: dict[str, Number], beside: Number
) -> Connection:
    kind, values, tuning = CIRCUITS[group.circuit.kind], dict(given), group.circuit.tuning
    if tuning is not None and kind.closed_form is not None:
        values.update(kind.closed_form(tuning.goal, target_of(beam, index, tuning.mode - 1, beside)))
    return Connection(kind, values, instrument.conductance_s(group.instrument))


def _optimised(
    system: CoupledSystem,
    beam: CoupledBeam,
    groups: tuple[Group, ...],
    beside: list[Number],
    aim: Aim | None,
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
            target_of(beam, j, mode, beside[j]),
            mode=mode,
            goal=tuning.goal,
            weights=tuning.weights,
            aim=aim,
        )
        system = system.with_values(j, values)
    return system
