"""What is read off the motion in every ceramic and group, as rows on modes, load and group voltages.

    value = modal . q + load F + voltage . V

with the static answer of the truncated modes to the load and to the voltages in it. Strain is that of the ceramic on the section
free across, along and across: of bending, and of what the patches' own voltages put into the section.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.piezo.package import CeramicPlate
from core.predict.fields import SAMPLES, Fields
from core.predict.forcing import Forcing

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_BOOLE = np.array([7.0, 32.0, 12.0, 32.0, 7.0]) / 90
assert len(_BOOLE) == len(SAMPLES)


@dataclass(frozen=True)
class Readings:
    """R rows in one table (R, N + 1 + P): on N modes, the load, P voltages."""

    table: Array
    modes: int

    @property
    def modal(self) -> Array:
        """(R, N)"""
        return self.table[:, : self.modes]

    @property
    def load(self) -> Array:
        """(R,)"""
        return self.table[:, self.modes]

    @property
    def voltage(self) -> Array:
        """(R, P)"""
        return self.table[:, self.modes + 1 :]

    def __len__(self) -> int:
        return len(self.table)

    def __getitem__(self, rows: slice | NDArray[np.intp]) -> Readings:
        return Readings(self.table[rows], self.modes)

    def of(self, q: ComplexArray, load: ComplexArray | Array, voltage: ComplexArray) -> ComplexArray:
        """(R, k) values of columns q (N, k), load (k,), voltage (P, k)."""
        return self.table @ np.concatenate([q, load[None], voltage])

    def weighed(self, weights: Array) -> Readings:
        """Rows (S, R) of sums of these."""
        return Readings(weights @ self.table, self.modes)

    def scaled(self, factor: Array) -> Readings:
        """Each row times a number of its own, (R,)."""
        return Readings(self.table * factor[:, None], self.modes)

    def plus(self, other: Readings) -> Readings:
        return Readings(self.table + other.table, self.modes)

    @staticmethod
    def made(modal: Array, load: Array, voltage: Array) -> Readings:
        """From the columns of each kind: (R, N), (R,), (R, P)."""
        return Readings(np.concatenate([modal, load[:, None], voltage], axis=1), modal.shape[1])

    @staticmethod
    def stacked(parts: Sequence[Readings]) -> Readings:
        return Readings(np.concatenate([p.table for p in parts]), parts[0].modes)


@dataclass(frozen=True)
class PlateReadings:
    """Of one ceramic: strain at its two sides, along and where told across (2 P or 4 P rows, P places x_m), shear stress of the bond at its
    ends (at most 2 rows, at shear_x_m), voltage (1 row), mean strain of its mid-plane (1 row)."""

    strain: Readings
    x_m: Array
    shear: Readings
    shear_x_m: Array
    voltage: Readings
    mean_strain: Readings


def plate_readings(over_x: Fields, item: Forcing) -> tuple[PlateReadings, ...]:
    """Readings of every ceramic under a load."""
    rest, curvature = _rest(over_x, item)
    voltages = _voltages(over_x, rest)
    return tuple(_plate(over_x, j, curvature, voltages) for j in range(len(over_x.beam.plates)))


def group_voltages(groups: int, modes: int) -> Readings:
    """The voltage across the leads of every group; the force at every place."""
    return Readings.made(np.zeros((groups, modes)), np.zeros(groups), np.eye(groups))


def _rest(over_x: Fields, item: Forcing) -> tuple[Array, Readings]:
    """Static answer of the truncated modes to the load and to the voltage of each port (1 + P, n), and the
    curvature everywhere, (e s) rows."""
    beam = over_x.beam
    rows = np.vstack([item.load_row[None], -beam.port_rows])
    rest = rows - (rows @ beam.units.T) @ beam.units
    static = over_x.curvature_of(rest).reshape(len(rest), -1)
    modal = over_x.mode_curvature.reshape(len(over_x.mode_curvature), -1)
    return rest, Readings(np.concatenate([modal, static]).T, len(modal))


def _voltages(over_x: Fields, rest: Array) -> Readings:
    """(J rows) voltage across each ceramic: its share of its group's, and what floats in a series."""
    beam = over_x.beam
    terminals = beam.terminals
    out = Readings.made(
        np.zeros((len(beam.plates), len(beam.omega_rad_s))),
        np.zeros(len(beam.plates)),
        np.concatenate([terminals.combine, np.zeros((len(beam.plates), len(beam.place_rows)))], axis=1),
    )
    half = terminals.stiffeners
    if half.shape[1] == 0:
        return out
    charge = rest @ beam.theta_rows.T
    moved = Readings.made(beam.theta.T, charge[0], charge[1:].T)
    return out.plus(moved.weighed(half @ half.T))


def _plate(over_x: Fields, j: int, curvature: Readings, voltages: Readings) -> PlateReadings:
    plate, strains = over_x.beam.plates[j], over_x.strains[j]
    elements = over_x.under(plate)
    samples = over_x.x_m.shape[1]
    at = (elements[:, None] * samples + np.arange(samples)).ravel()
    own, bent = voltages[j : j + 1], curvature[at]
    rows = len(strains.bend)
    bend, volt = strains.bend[:, elements].reshape(rows, len(at)), strains.volt[:, :, elements].reshape(len(strains.volt), rows, len(at))
    sides = [bent.scaled(bend[i]).plus(voltages.weighed(volt[:, i].T)) for i in range(rows)]
    middle = sides[0].scaled(np.full(len(at), 0.5)).plus(sides[1].scaled(np.full(len(at), 0.5)))
    shear, shear_x = _shear(plate, middle, own, over_x.x_m[elements].ravel())
    length = np.diff(over_x.x_m[elements][:, [0, -1]], axis=1)
    weights = (length * _BOOLE).reshape(1, -1)
    total = float(weights.sum())
    return PlateReadings(
        strain=Readings.stacked(sides),
        x_m=np.tile(over_x.x_m[elements].ravel(), rows),
        shear=shear,
        shear_x_m=shear_x,
        voltage=own,
        mean_strain=middle.weighed(weights / total if total > 0 else weights),
    )


def _shear(plate: CeramicPlate, middle: Readings, own: Readings, x: Array) -> tuple[Readings, Array]:
    """E_p t_p Gamma (strain - free strain) at the ends that can slide (the ceramic's force builds up as
    1 - exp(-Gamma x), Crawley & de Luis 1987)."""
    c = plate.coefficients
    ends = [(lag, i) for lag, i in zip(plate.shear_lag_m, (0, -1), strict=True) if lag > 0 and len(x)]
    weights = np.zeros((len(ends), len(x)))
    stiffness = np.array([c.modulus_pa * plate.thickness_m / lag for lag, _ in ends])
    for row, (_, i) in enumerate(ends):
        weights[row, i] = stiffness[row]
    free = c.d31_c_n / plate.thickness_m
    return (
        middle.weighed(weights).plus(own.weighed(-free * stiffness[:, None])),
        x[[i for _, i in ends]] if ends else np.zeros(0),
    )
