"""What a loop closes over: the way from the amplifier to the sensing leads, through structure and dielectric.

It does not know the control. A hand that moves a gain, a filter or a delay meets the same plant, whose frequency
response is then there already (`plant_of`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.circuit import loop_amplifier
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.states import live_ports
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import LEAST_ZETA

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

PER_DECADE, NEAR = 260, 61
REMEMBERED = 4


@dataclass(frozen=True, eq=False)
class Plant:
    """Groups (from 0) of a system whose sensing group hangs on its input alone; the driven one hangs on the amplifier,
    behind its output resistance. Every other connection is as it is."""

    system: CoupledSystem
    sensing: int
    driven: int
    output_ohm: float

    @cached_property
    def grid_rad_s(self) -> Array:
        """(F,) from far below the modes to far above, dense about every mode, shorted and open."""
        system = self.system
        omega = system.omega_rad_s
        low, high = 1e-4 * float(omega[0]), 30.0 * float(omega[-1])
        even = np.geomspace(low, high, int(PER_DECADE * np.log10(high / low)))
        width = np.maximum(system.zeta, 1e-4) * omega
        bend = np.sinh(np.linspace(-6.0, 6.0, NEAR)) / 4.0
        near = (omega[:, None] + width[:, None] * bend).ravel()
        stored = omega**2 * system.capacitance_f[self.sensing, self.sensing]
        opened = omega * np.sqrt(1.0 + system.theta[:, self.sensing] ** 2 / stored)
        near = np.concatenate([near, (opened[:, None] + width[:, None] * bend).ravel()])
        return np.sort(np.concatenate([even, near[(near > low) & (near < high)]]))

    @cached_property
    def ports(self) -> list[int]:
        """Those that are not shorted, in their order."""
        return sorted({*live_ports(self.system), self.sensing, self.driven})

    @cached_property
    def _products(self) -> Array:
        """(N, P P) of the modes' shares at every two ports."""
        theta = self.system.theta[:, self.ports]
        return np.asarray((theta[:, :, None] * theta[:, None, :]).reshape(len(theta), -1))

    def _charges(self, omega_rad_s: Array) -> ComplexArray:
        """(F, P, P) charge per volt of structure and dielectric, what the latter conducts left out."""
        system, ports = self.system, self.ports
        own, zeta = system.omega_rad_s, np.maximum(system.zeta, LEAST_ZETA)
        flexibility = 1.0 / (own**2 - omega_rad_s[:, None] ** 2 + (2j * zeta * own) * omega_rad_s[:, None])
        moved = (flexibility @ self._products).reshape(-1, len(ports), len(ports))
        return np.asarray(moved + system.capacitance_f[np.ix_(ports, ports)])

    @cached_property
    def _charges_on_grid(self) -> ComplexArray:
        return self._charges(self.grid_rad_s)

    @cached_property
    def on_grid(self) -> ComplexArray:
        """`response` at the grid."""
        return self._sensed(self.grid_rad_s, self._charges_on_grid, None)

    @cached_property
    def on_grid_as_poles(self) -> ComplexArray:
        """`response` at the grid with the dielectric as poles take it: conducting as at mode 1."""
        return self._sensed(self.grid_rad_s, self._charges_on_grid, self.at_mode_rad_s)

    @property
    def at_mode_rad_s(self) -> float:
        return float(self.system.omega_rad_s[0])

    def response(self, omega_rad_s: Array, loss_rad_s: float | None = None) -> ComplexArray:
        """(F,) volts across the sensing leads per volt of the amplifier. The dielectric conducts as at each frequency,
        or as at the one given, as it does in poles."""
        return self._sensed(omega_rad_s, self._charges(omega_rad_s), loss_rad_s)

    def _sensed(self, w: Array, charges: ComplexArray, loss_rad_s: float | None) -> ComplexArray:
        system, ports = self.system, self.ports
        leak = (w if loss_rad_s is None else np.full(w.shape, loss_rad_s))[:, None, None] * system.loss_f[np.ix_(ports, ports)]
        s = np.asarray(1j * w, dtype=complex)
        y = s[:, None, None] * charges + leak
        for k, port in enumerate(ports):
            if port == self.driven:
                y[:, k, k] += 1.0 / self.output_ohm + system.connections[port].instrument_s
                continue
            connection = system.connections[port]
            y[:, k, k] += connection.kind.admittance(connection.numbers, s) + connection.instrument_s
        g, d = ports.index(self.sensing), ports.index(self.driven)
        if len(ports) == 2:
            # Cramer's rule: a solver of small systems costs ten times as much
            return np.asarray(-y[:, g, d] / self.output_ohm / (y[:, g, g] * y[:, d, d] - y[:, g, d] * y[:, d, g]))
        right = np.zeros((len(w), len(ports), 1), dtype=complex)
        right[:, d] = 1.0 / self.output_ohm
        return np.asarray(np.linalg.solve(y, right)[:, g, 0])

    @cached_property
    def spectra_off(self) -> list[Spectrum]:
        """Of every kept mode with the amplifier on and nothing driven: the driven leads on its output resistance."""
        beside = self.system.connections[self.driven].instrument_s
        still = Connection(loop_amplifier.KIND, {loop_amplifier.OUTPUT: self.output_ohm}, beside)
        return spectra(self.system.with_connection(self.driven, still), self.system.n_modes)

    def is_of(self, system: CoupledSystem, sensing: int, driven: int, output_ohm: float) -> bool:
        """Whether these values make the same plant."""
        own = self.system
        if (self.sensing, self.driven, self.output_ohm) != (sensing, driven, output_ohm):
            return False
        if own is system:
            return True
        others = [
            (a, b) for i, (a, b) in enumerate(zip(own.connections, system.connections, strict=False)) if i != driven
        ]
        arrays = ("omega_rad_s", "zeta", "theta", "capacitance_f", "loss_f")
        return (
            len(own.connections) == len(system.connections)
            and own.connections[driven].instrument_s == system.connections[driven].instrument_s
            and all(a == b for a, b in others)
            and all(np.array_equal(getattr(own, name), getattr(system, name)) for name in arrays)
        )


_plants: tuple[Plant, ...] = ()


def plant_of(system: CoupledSystem, sensing: int, driven: int, output_ohm: float) -> Plant:
    """The plant of these values; the last few are remembered with what was worked out of them."""
    global _plants
    for plant in _plants:
        if plant.is_of(system, sensing, driven, output_ohm):
            return plant
    made = Plant(system, sensing, driven, output_ohm)
    _plants = (made, *_plants[: REMEMBERED - 1])
    return made
