"""A prediction in parts: each worked out from the solved layout when it is first asked for, and kept.

During a drag a window asks for what is seen, at rest and on paper everything is asked for, always by these
same functions of the same solved layout: what a part says does not depend on what was asked before it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.predict.absorber_part import HungMass
from core.predict.electrics.clipping import ClipSign, clip_sign
from core.predict.electrics.leads import Leads
from core.predict.electrics.stop import StopSign, stop_sign
from core.predict.group_part import Group
from core.predict.group_result import PlateResult
from core.predict.loads.amplifier_limits import amplifier_limits
from core.predict.loads.limits import check_limits
from core.predict.loads.service_swing import at_service
from core.predict.mode_part import Mode, modes_of
from core.predict.mode_result import AtService, Pole, TorsionMode
from core.predict.poles import circuit_poles
from core.predict.prediction import Limit, Remark, Response, RingDown, Shapes
from core.predict.remarks.validity import errors, remarks
from core.predict.ringdown import ring_down
from core.predict.solved import Solved
from core.predict.use.driven import DrivenLeads, driven_leads
from core.project.provenance import assumed, gathered

Array = NDArray[np.float64]

ON_REQUEST = frozenset({"prices"})
"""What varies and tunes the circuit anew, and waits for the page or the paper that prints it: no part of the whole."""
TORSION_TOLD = 3
"""Modes of torsion that are worked out."""


@dataclass(frozen=True, eq=False)
class Parts:
    """The `Prediction` of a solved layout."""

    solved: Solved

    @property
    def candidate(self) -> str:
        return self.solved.candidate.id

    @property
    def before_label(self) -> str:
        return self.solved.before_label

    @property
    def total_mass_kg(self) -> float:
        return self.solved.beam.total_mass_kg

    @property
    def added_mass_kg(self) -> float:
        return self.solved.beam.added_mass_kg

    @property
    def bare_mass_kg(self) -> float:
        bare = self.solved.bare_beam
        return bare.total_mass_kg if self.solved.project.structure.layers else bare.attached_mass_kg

    @property
    def tip_stiffness_n_m(self) -> float | None:
        return self.solved.bare_beam.tip_stiffness_n_m if self.solved.project.structure.layers else None

    @property
    def torsion_hz(self) -> tuple[float, ...]:
        from core.beam.torsion import (
            torsion_hz,  # its band solver takes long to load, and a drag does without
        )

        return torsion_hz(self.solved.beam.spec) if self.solved.project.structure.layers else ()

    @cached_property
    def torsion(self) -> tuple[TorsionMode, ...]:
        twists, beam = self.solved.twists, self.solved.beam
        if twists is None:
            return ()
        first, told = beam.n_kept - beam.n_twist, not self.torsion_is_apart
        return tuple(
            TorsionMode(
                n + 1, f, twists.x_m, twists.edge[n], twists.other_edge[n],
                float(beam.k2[first + n]) if told else None, self.solved.damping_of(first + n) if told else None,
            )
            for n, f in enumerate(twists.frequency_hz[:TORSION_TOLD])
        )  # fmt: skip

    @property
    def torsion_is_apart(self) -> bool:
        return not self.solved.beam.ceramics.is_askew

    @property
    def unstable(self) -> tuple[str, ...]:
        return self.solved.unstable

    @cached_property
    def stop(self) -> StopSign | None:
        return stop_sign(self.solved)

    @cached_property
    def clips(self) -> ClipSign | None:
        return clip_sign(self.solved)

    @cached_property
    def modes(self) -> tuple[Mode, ...]:
        return modes_of(self.solved)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        return tuple(Group(self.solved, g) for g in range(len(self.solved.candidate.groups)))

    @cached_property
    def absorbers(self) -> tuple[HungMass, ...]:
        return tuple(HungMass(self.solved, k) for k in range(len(self.solved.candidate.absorbers)))

    @cached_property
    def at_service(self) -> tuple[AtService, ...]:
        return at_service(self.solved)

    @cached_property
    def response(self) -> Response:
        return self.solved.response

    @cached_property
    def ring_down(self) -> RingDown:
        solved = self.solved
        moved = None if solved.unstable else solved.stretches
        return ring_down(solved.side, solved.before, moved, solved.project.service.settle_to)

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        solved = self.solved
        load, service = solved.side.forcing.load, solved.project.service
        absorbers = solved.candidate.absorbers
        found = check_limits(solved.over_x, solved.system, solved.vibration, solved.bends, load, service, absorbers)
        return tuple(sorted((*found, *amplifier_limits(solved)), key=lambda item: item.margin))

    @cached_property
    def remarks(self) -> tuple[Remark, ...]:
        return remarks(self.solved)

    @cached_property
    def errors(self) -> tuple[Remark, ...]:
        return errors(self.solved)

    @cached_property
    def shapes(self) -> Shapes:
        return self.solved.shapes

    @cached_property
    def chords(self) -> dict[int, tuple[Array, Array]]:
        across = [mode.number for mode in self.modes if mode.name.startswith("C")]
        if not across:
            return {}
        left, right = self.solved.edges_of([number - 1 for number in across])
        return {number: (left[k], right[k]) for k, number in enumerate(across)}

    @cached_property
    def assumed_inputs(self) -> tuple[str, ...]:
        return gathered(assumed(self.solved.project, self.candidate))

    @cached_property
    def plates(self) -> tuple[PlateResult, ...]:
        beam = self.solved.beam
        return tuple(
            PlateResult(
                patch=plate.patch,
                face="top" if plate.on_top else "underside",
                blocked_capacitance_f=float(beam.blocked_f[j, j]),
                free_capacitance_f=float(beam.free_f[j, j]),
                strain=state.strain,
                voltage_v=state.voltage,
                bond_shear_pa=state.shear_pa,
                bond_length_m=plate.shear_lag_m,
            )
            for j, (plate, state) in enumerate(zip(beam.plates, self.solved.vibration.plates, strict=True))
        )

    @cached_property
    def circuit_poles(self) -> tuple[Pole, ...]:
        return circuit_poles(self.solved.spectra)

    @cached_property
    def leads(self) -> Leads | None:
        return self.solved.leads

    @cached_property
    def driven(self) -> tuple[DrivenLeads, ...]:
        return driven_leads(self.solved)

    @property
    def asked_for(self) -> frozenset[str]:
        return frozenset(PARTS & self.__dict__.keys())

    def whole(self) -> Parts:
        for name in PARTS:
            getattr(self, name)
        for item in (*self.modes, *self.groups, *self.absorbers):
            for name, member in vars(type(item)).items():
                if isinstance(member, property | cached_property) and name not in ON_REQUEST:
                    getattr(item, name)
        return self


PARTS = frozenset(name for name, member in vars(Parts).items() if isinstance(member, cached_property))
