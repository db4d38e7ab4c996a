"""The modes of a prediction, column by column: what is dear is worked out for all modes when one is asked."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from core.beam.mode_kinds import bending_share, mode_names
from core.predict.fields import strain_nodes
from core.predict.mode_result import Pole
from core.predict.poles import dampings_with, mode_poles
from core.predict.solved import Solved


@dataclass(frozen=True, eq=False)
class Columns:
    """What the modes of one solved layout share."""

    solved: Solved

    @cached_property
    def names(self) -> tuple[str, ...]:
        beam = self.solved.beam.beam
        return mode_names(bending_share(beam.bending, beam.unit[: self.solved.modes]))

    @cached_property
    def strain_nodes_m(self) -> tuple[tuple[float, ...], ...]:
        return strain_nodes(self.solved.shapes, self.solved.over_x)

    @cached_property
    def layer_shares(self) -> list[tuple[str, list[float]]]:
        return [(name, share.tolist()) for name, share in self.solved.beam.layer_share.items()]

    @cached_property
    def electric_share(self) -> list[float]:
        """What the floating nodes of series groups hold: (theta b . q)^2/2 of U = omega^2 q^2/2."""
        beam = self.solved.beam
        held = ((beam.theta @ beam.terminals.stiffeners) ** 2).sum(axis=-1) / beam.omega_rad_s**2
        return list(held.tolist())


@dataclass(frozen=True, eq=False)
class Mode:
    """One mode; `index` from 0."""

    index: int
    f_short_hz: float
    k2: float
    zeta: float
    columns: Columns

    @property
    def _solved(self) -> Solved:
        return self.columns.solved

    @property
    def number(self) -> int:
        return self.index + 1

    @property
    def name(self) -> str:
        return self.columns.names[self.index]

    @property
    def f_open_hz(self) -> float:
        return self.f_short_hz * float((1 + self.k2) ** 0.5)

    @property
    def k_eff2(self) -> float:
        return self.k2 / (1 + self.k2)

    @property
    def group_k2(self) -> tuple[float, ...]:
        return tuple(self._solved.beam.group_k2[self.index].tolist())

    @property
    def ceramic_share(self) -> float:
        return float(self._solved.beam.ceramic_share[self.index])

    @property
    def package_share(self) -> float:
        return float(self._solved.beam.package_share[self.index])

    @property
    def electrode_use(self) -> float | None:
        use = float(self._solved.beam.electrode_use[self.index])
        return use if np.isfinite(use) else None

    @property
    def zeta_inherent(self) -> float:
        return float(self._solved.beam.zeta0[self.index])

    @property
    def zeta_before(self) -> float:
        before = (self._solved.before or self._solved.side).system.zeta
        return float(before[min(self.index, len(before) - 1)])

    @cached_property
    def poles(self) -> tuple[Pole, ...]:
        return mode_poles(self._solved.spectra[self.index], self.index)

    @property
    def peak_change_db(self) -> float | None:
        if self._solved.system.absent_for(self.index):
            return None  # what stands for a switch in another mode shapes the curve here as no switch does
        return self._solved.peak_change_db[self.index]

    @property
    def layer_shares(self) -> tuple[tuple[str, float], ...]:
        return tuple((name, share[self.index]) for name, share in self.columns.layer_shares)

    @property
    def strain_nodes_m(self) -> tuple[float, ...]:
        return self.columns.strain_nodes_m[self.index]

    @property
    def electric_share(self) -> float:
        return self.columns.electric_share[self.index]


def modes_of(solved: Solved) -> tuple[Mode, ...]:
    """The modes shown."""
    columns, beam = Columns(solved), solved.beam
    zeta = dampings_with(solved.growths, solved.spectra)
    hertz, k2 = (beam.omega_rad_s / (2 * np.pi)).tolist(), beam.k2.tolist()
    return tuple(
        Mode(n, hertz[n], k2[n], zeta[n], columns)
        for n in range(solved.modes)
    )
