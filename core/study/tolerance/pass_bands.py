"""What good parts measure: the tolerance study's bands of all that a bench can read, from its own samples.

A band is P10 to P90: eight good parts of ten lie within it, value by value. What lies outside of every
sample is more than the tolerances explain.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.study.tolerance.tolerance import Band, ToleranceResult, band_of

Array = NDArray[np.float64]
Measured = Literal["f_short_hz", "f_open_hz", "k2", "zeta_short", "zeta", "unbonded_f", "bonded_f", "bonding"]
"""f_open_hz and k2 are of one group open, the others shorted; zeta_short with every group shorted, zeta with
the circuits; unbonded_f and bonded_f the capacitance of a group before and after bonding, bonding the second
over the first."""

WITHIN = 0.8
"""Share of good parts within P10 to P90."""


@dataclass(frozen=True)
class Reading:
    """What is read: a quantity, of a mode (from 1) and of a group where it has them."""

    quantity: Measured
    mode: int = 0
    group: str = ""


@dataclass(frozen=True)
class PassBand:
    """P10, P50 and P90 of a reading over good parts, and the least and most of any."""

    reading: Reading
    band: Band
    least: float
    most: float

    def holds(self, value: float) -> bool:
        """Whether a value lies between P10 and P90."""
        return self.band.p10 <= value <= self.band.p90

    def explains(self, value: float) -> bool:
        """Whether any good part came to such a value."""
        return self.least <= value <= self.most


@dataclass(frozen=True, eq=False)
class PassBands:
    """The bands of a tolerance study."""

    study: ToleranceResult

    def values(self, reading: Reading) -> Array:
        """(S,) the reading of every sample; KeyError for a mode or a group that was not studied."""
        samples, quantity = self.study.samples, reading.quantity
        if quantity in ("f_short_hz", "zeta_short", "zeta"):
            return np.asarray(getattr(samples, quantity)[:, self._mode(reading)])
        group = self._group(reading)
        if quantity == "bonding":
            return np.asarray(samples.bonded_f[:, group] / samples.unbonded_f[:, group])
        if quantity in ("unbonded_f", "bonded_f"):
            return np.asarray(getattr(samples, quantity)[:, group])
        mode = self._mode(reading)
        k2 = samples.group_k2[:, mode, group]
        return np.asarray(k2 if quantity == "k2" else samples.f_short_hz[:, mode] * np.sqrt(1.0 + k2))

    def of(self, reading: Reading) -> PassBand | None:
        """The band of a reading; None where no sample has it, or where it was not studied."""
        if reading not in self._known:
            self._known[reading] = self._made(reading)
        return self._known[reading]

    def share_within(self, readings: Iterable[Reading]) -> float:
        """Share of good parts that lie within the bands of all these readings."""
        inside = np.ones(len(self.study.samples.values), dtype=bool)
        for reading in readings:
            band, values = self.of(reading), self.values(reading)
            if band is not None:
                inside &= (values >= band.band.p10) & (values <= band.band.p90)
        return float(inside.mean())

    def _made(self, reading: Reading) -> PassBand | None:
        try:
            values = self.values(reading)
        except KeyError:
            return None
        band = band_of(values)
        return None if band is None else PassBand(reading, band, float(np.nanmin(values)), float(np.nanmax(values)))

    @cached_property
    def _known(self) -> dict[Reading, PassBand | None]:
        return {}

    def _mode(self, reading: Reading) -> int:
        if not 1 <= reading.mode <= len(self.study.modes):
            raise KeyError(reading.mode)
        return reading.mode - 1

    def _group(self, reading: Reading) -> int:
        if reading.group not in self.study.groups:
            raise KeyError(reading.group)
        return self.study.groups.index(reading.group)
