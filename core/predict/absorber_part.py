"""The tuned masses of a prediction: values in effect, mass ratios, stroke and force under the active load."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from core.circuit import tuned_mass
from core.circuit.connect import mass_ratios
from core.predict.group_result import PowerMeaning, VoltageMeaning
from core.predict.solved import Solved
from core.project.candidate import Absorber
from core.project.plan import package_margins
from core.units import words

LEAST_RATIO = 1e-4
"""Mass over modal mass below which a tuned mass does next to nothing to the mode it is tuned to."""
STEADY_RATIO = 0.25
"""From here on it is no small addition: the mode splits far apart and the part feels a second body."""


@dataclass(frozen=True, eq=False)
class HungMass:
    """One tuned mass; `index` from 0."""

    solved: Solved
    index: int

    @property
    def _saved(self) -> Absorber:
        return self.solved.candidate.absorbers[self.index]

    @property
    def _port(self) -> int:
        return len(self.solved.candidate.groups) + self.index

    @property
    def _values(self) -> dict[str, float]:
        return self.solved.system.connections[self._port].numbers

    @property
    def id(self) -> str:
        return self._saved.id

    @property
    def x_m(self) -> float:
        return self._saved.x_m

    @property
    def mass_kg(self) -> float:
        return self._values[tuned_mass.MASS.name]

    @property
    def frequency_hz(self) -> float:
        return self._values[tuned_mass.FREQUENCY.name]

    @property
    def damping_ratio(self) -> float:
        return self._values[tuned_mass.DAMPING.name]

    @property
    def stiffness_n_m(self) -> float:
        return tuned_mass.stiffness_and_damper(self._values)[0]

    @property
    def damper_n_s_m(self) -> float:
        return tuned_mass.stiffness_and_damper(self._values)[1]

    @cached_property
    def mass_ratios(self) -> tuple[float, ...]:
        found = mass_ratios(self.solved.beam, self.index, self.mass_kg)
        return tuple(found[: self.solved.modes].tolist())

    @property
    def stroke_m(self) -> float:
        return float(self.solved.vibration.inside[self._port])

    @property
    def allowed_stroke_m(self) -> float | None:
        return self._saved.allowed_stroke_m

    @property
    def force_n(self) -> float:
        return float(self.solved.vibration.group_voltage_v[self._port])

    @property
    def power_w(self) -> float:
        return float(self.solved.vibration.group_power_w[self._port])

    @property
    def energy_j(self) -> float | None:
        energy = float(self.solved.vibration.group_energy_j[self._port])
        return None if np.isnan(energy) else energy

    @property
    def size_meaning(self) -> VoltageMeaning:
        return self.solved.vibration.meaning

    @property
    def power_meaning(self) -> PowerMeaning:
        return self.solved.vibration.power_meaning

    @property
    def briefly(self) -> str:
        tuned = f"{words.frequency(self.frequency_hz)}, {words.damping(self.damping_ratio)}"
        return f"{self.id} {words.mass(self.mass_kg)}, {tuned}"

    @property
    def values_told(self) -> str:
        return (
            f"{words.mass(self.mass_kg)} at {words.millimetres(self.x_m)}, {words.frequency(self.frequency_hz)}, "
            f"damping {words.damping(self.damping_ratio)}; spring {words.stiffness(self.stiffness_n_m)}, "
            f"damper {words.engineering(self.damper_n_s_m, 'N s/m')}"
        )

    @property
    def under_load(self) -> str:
        parts = [
            f"stroke {words.engineering(self.stroke_m, 'm')} {self.size_meaning}",
            f"force on the part {words.engineering(self.force_n, 'N')} {self.size_meaning}",
            f"heat {words.power(self.power_w)} {self.power_meaning}",
        ]
        if self.energy_j is not None:
            parts.append(f"{words.engineering(self.energy_j, 'J')} in all")
        return ", ".join(parts)

    def _under(self) -> Iterator[str]:
        """Patches of the top face whose package reaches under the mass."""
        project = self.solved.project
        for patch in self.solved.candidate.patches:
            margin = package_margins(project.package(patch.package))[0]
            if patch.face != "underside" and patch.x_start_m - margin < self.x_m < patch.x_end_m + margin:
                yield patch.id

    @cached_property
    def remarks(self) -> tuple[str, ...]:
        return tuple(self._remarks())

    def _remarks(self) -> Iterator[str]:
        for patch in self._under():
            yield f"It sits on the package of {patch}: bond it to the part beside, or move one of them."
        tuning = self._saved.tuning
        if tuning is None or not 1 <= tuning.mode <= len(self.mass_ratios):
            return
        ratio = self.mass_ratios[tuning.mode - 1]
        share = f"{words.mass(self.mass_kg)} is {words.percent(ratio)} of what mode {tuning.mode} moves there"
        if ratio < LEAST_RATIO:
            yield f"{share}: it sits where the mode hardly moves, or is too light to do anything."
        elif ratio > STEADY_RATIO:
            yield f"{share}: more a second body than an addition."
