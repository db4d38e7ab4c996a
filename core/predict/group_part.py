"""The groups of a prediction: capacitances, the circuit in effect, its electrical load."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import Parameter
from core.circuit.preferred import SAME
from core.circuit.switched import INVERSION
from core.circuit.switching import Switching, simulate
from core.circuit.system import Connection
from core.predict.electrics import switching_words
from core.predict.electrics.impedance import OverFrequency, over_frequency
from core.predict.electrics.price import Price, Ranges, prices
from core.predict.electrics.safety import GroupSafety, group_safety
from core.predict.electrics.stability import StabilityRegion, stability_region
from core.predict.group_result import Metered, PartValue, PowerMeaning, VoltageMeaning
from core.predict.loads.loading import Vibration
from core.predict.remarks.advice import circuit_remarks
from core.predict.solved import Solved
from core.predict.use.drive import Driving
from core.predict.use.metered import METER_HZ, metered
from core.predict.use.sense import Sensing
from core.predict.use.transducer import Transducer
from core.units import words

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Group:
    """One group; `index` from 0."""

    solved: Solved
    index: int

    @property
    def _connection(self) -> Connection:
        return self.solved.system.connections[self.index]

    @property
    def _vibration(self) -> Vibration:
        return self.solved.vibration

    @property
    def id(self) -> str:
        return self.solved.candidate.groups[self.index].id

    @property
    def blocked_capacitance_f(self) -> float:
        return float(self.solved.beam.group_blocked_f[self.index, self.index])

    @property
    def free_capacitance_f(self) -> float:
        return float(self.solved.beam.group_free_f[self.index, self.index])

    @property
    def leads_capacitance_f(self) -> float:
        return abs(float(self.solved.system.capacitance_f[self.index, self.index]))

    @property
    def unbonded_capacitance_f(self) -> float:
        return float(self.solved.beam.group_unbonded_f[self.index])

    @property
    def circuit(self) -> str:
        return self._connection.kind.key

    @property
    def circuit_label(self) -> str:
        return self._connection.kind.label

    @property
    def branches(self) -> int:
        return self._connection.kind.branches

    @cached_property
    def values(self) -> tuple[PartValue, ...]:
        return part_values(self._connection)

    @cached_property
    def remarks(self) -> tuple[str, ...]:
        solved = self.solved
        told = circuit_remarks(
            solved.beam, solved.candidate.groups[self.index], self.index, self._connection, solved.candidate.build, solved.serves[self.index]
        )
        # what it costs to solve cold and hot, or in time, is spent where there is something to tell
        more = () if self.stability is None else (self.stability.sentence,)
        return (*more, *(() if self.switching is None else switching_words.sentences(self.switching)), *told)

    @cached_property
    def switching(self) -> Switching | None:
        kind, values = self._connection.kind, self._connection.numbers
        if not kind.worked_out or not self.solved.modes:
            return None
        return simulate(self.solved.system, self.index, self.solved.serves[self.index], values.get(INVERSION.name, 0.0))

    def over_frequency(self, frequency_hz: Array) -> OverFrequency:
        return over_frequency(self.solved, self.index, frequency_hz)

    @cached_property
    def prices(self) -> tuple[Price, ...]:
        return prices(self.solved, self.index)

    def prices_over(self, ranges: Ranges, *, with_tuned: bool = True) -> tuple[Price, ...]:
        return prices(self.solved, self.index, ranges, with_tuned=with_tuned)

    @cached_property
    def stability(self) -> StabilityRegion | None:
        return stability_region(self.solved, self.index)

    @cached_property
    def safety(self) -> GroupSafety:
        return group_safety(self.solved, self.index)

    @property
    def voltage_peak_v(self) -> float:
        return float(self._vibration.group_voltage_v[self.index])

    @property
    def power_w(self) -> float:
        return float(self._vibration.group_power_w[self.index])

    @property
    def modal_capacitance_f(self) -> tuple[float, ...]:
        return tuple(self.solved.beam.modal_capacitance_f[: self.solved.modes, self.index].tolist())

    @cached_property
    def metered(self) -> tuple[Metered, ...]:
        return tuple(metered(self.solved.beam, self.index, f) for f in METER_HZ)

    @property
    def tip_m_per_v(self) -> float:
        beam = self.solved.beam
        return float(Transducer(beam, self.index, beam.spec.span_m).static_m_per_v)

    @property
    def open_v_per_n(self) -> float:
        return -self.tip_m_per_v / max(self.free_capacitance_f, 1e-300)

    @cached_property
    def sensing(self) -> Sensing:
        return Sensing(self.solved, self.index)

    @cached_property
    def driving(self) -> Driving:
        return Driving(self.solved, self.index)

    @property
    def blocked_n_per_v(self) -> float | None:
        stiffness = self.solved.beam.tip_stiffness_n_m
        return None if stiffness is None else self.tip_m_per_v * stiffness

    @property
    def per_volt(self) -> str:
        blocked = self.blocked_n_per_v
        if blocked is None:
            return "no static bend: the tip cannot move, or nothing holds the part"
        moves, holds, senses = self.tip_m_per_v, blocked, self.open_v_per_n
        return (
            f"tip {words.engineering(moves, 'm')}/V, held {words.engineering(holds, 'N')}/V, "
            f"open {words.engineering(senses, 'V')}/N"
        )

    @property
    def current_peak_a(self) -> float:
        return float(self._vibration.group_current_a[self.index])

    @property
    def energy_j(self) -> float | None:
        energy = float(self._vibration.group_energy_j[self.index])
        return None if np.isnan(energy) else energy

    @property
    def voltage_meaning(self) -> VoltageMeaning:
        return self._vibration.meaning

    @property
    def power_meaning(self) -> PowerMeaning:
        return self._vibration.power_meaning

    @property
    def under_load(self) -> str:
        if not np.isfinite(self.voltage_peak_v):
            return "voltage and current without bound"
        parts = [
            f"{words.voltage(self.voltage_peak_v)} {self.voltage_meaning}",
            f"{words.engineering(self.current_peak_a, 'A')} {self.voltage_meaning}",
            f"{words.power(self.power_w)} {self.power_meaning}",
        ]
        if self.energy_j is not None:
            parts.append(f"{words.engineering(self.energy_j, 'J')} in all")
        return ", ".join(parts)


def part_values(connection: Connection) -> tuple[PartValue, ...]:
    """The circuit's values in effect, SI; without the losses of a part that has none, and what only stands for a switch."""
    return tuple(
        PartValue(p.name, p.label, si_unit(p), connection.numbers[p.name], _wanted(connection, p.name))
        for p in connection.kind.parameters
        if (connection.numbers[p.name] or not p.loss) and not (connection.kind.worked_out and p.name in connection.kind.tuned)
    )


def _wanted(connection: Connection, name: str) -> float | None:
    """What was tuned where another part is taken for it."""
    if connection.wanted is None:
        return None
    wanted, taken = float(connection.wanted[name]), connection.numbers[name]
    return None if abs(wanted - taken) <= SAME * abs(taken) else wanted


def si_unit(parameter: Parameter) -> str:
    """SI unit of a circuit value, from the ending of its name."""
    return {"ohm": "ohm", "h": "H", "f": "F", "s": "S"}.get(parameter.name.rsplit("_", 1)[-1], "")
