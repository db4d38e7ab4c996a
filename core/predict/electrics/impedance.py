"""A group over frequency: what a meter and what its circuit meet at the leads, and the voltage there.

The admittance is that of the patches on the part with every other circuit in place and what hangs beside the
patches (cable, input), the group's own circuit and its capacitor off. As capacitance it is the parallel equivalent Im Y/omega.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.source import Source
from core.circuit.transfer import LEAST_ZETA, forced
from core.predict.forcing import amplitude
from core.predict.solved import Solved
from core.units import words

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

HEADS = (
    "Hz", "patches, real ohm", "patches, imaginary ohm", "capacitance F", "loss", "circuit, real ohm", "circuit, imaginary ohm",
    "voltage V",
)  # fmt: skip

FIGURES = 6


@dataclass(frozen=True)
class OverFrequency:
    """Of one group, each (F,): frequency_hz; patches_ohm : what stands on the leads without the circuit; capacitance_f
    : parallel equivalent, negative just above a mode of strong coupling; loss : Re Y over |Im Y|; circuit_ohm : the circuit,
    its own capacitor included, infinite for open leads; voltage_v : amplitude across the leads with the circuit, per
    N or m/s^2 times the active load's level (1 of what is no steady sine)."""

    frequency_hz: Array
    patches_ohm: ComplexArray
    capacitance_f: Array
    loss: Array
    circuit_ohm: ComplexArray
    voltage_v: Array

    def table(self) -> list[list[str]]:
        """A head line and a row per frequency, for a table program."""
        columns = (
            self.frequency_hz, self.patches_ohm.real, self.patches_ohm.imag, self.capacitance_f, self.loss, self.circuit_ohm.real,
            self.circuit_ohm.imag, self.voltage_v,
        )  # fmt: skip
        rows = zip(*columns, strict=True)
        return [list(HEADS), *([words.significant(float(v), FIGURES) for v in row] for row in rows)]


def over_frequency(solved: Solved, index: int, frequency_hz: Array) -> OverFrequency:
    """A group (from 0) of a solved layout at frequencies (F,) above zero."""
    f = np.asarray(frequency_hz, dtype=float)
    if not (f > 0.0).all():
        raise ValueError("Impedance is asked for at frequencies above 0 Hz.")
    system, omega = solved.system, 2.0 * np.pi * f
    connection = system.connections[index]
    s: ComplexArray = (1j * omega).astype(complex)
    own = s * float(connection.kind.across(connection.numbers))
    # an undamped mode stays finite where a frequency falls on it
    damped = replace(system, zeta=np.maximum(system.zeta, LEAST_ZETA))
    y = Source(damped, index)(s, omega)[0] - own
    a, b = connection.immittance(s)
    if len(connection.leads) > 1:  # at its first lead, the others without voltage
        a, b = np.ones_like(s), np.linalg.solve(a, b)[:, 0, 0].astype(complex)
    circuit = _over(a, b + a * own)
    load = solved.side.forcing
    volts = forced(system, load.aim.load, omega).voltage[..., index] * amplitude(load.load)
    return OverFrequency(
        frequency_hz=f, patches_ohm=_over(np.ones_like(y), y), capacitance_f=y.imag / omega, loss=y.real / np.maximum(np.abs(y.imag), 1e-300),
        circuit_ohm=circuit, voltage_v=np.abs(volts),
    )  # fmt: skip


def _over(a: ComplexArray, b: ComplexArray) -> ComplexArray:
    """a/b; infinite where b is nothing, as of open leads and of a group without a patch."""
    nothing = b == 0.0
    return np.where(nothing, complex(np.inf), a / np.where(nothing, 1.0, b)).astype(complex)
