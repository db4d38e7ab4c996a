"""An active loop between two groups as one connection of the coupled system, and what closing it does.

The sensing group's leads are open behind their input; the driven group's hang on the amplifier, u behind its output
resistance: I = (V - u)/R. Off means u = 0: the driven group is then all but shorted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import CircuitKind, Port, Values
from core.circuit.loop_law import Control, States, control_states
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import Connection, CoupledSystem, live_ports
from core.circuit.transfer import LEAST_ZETA

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

TO_TWICE = 2.0
"""Spillover is looked for up to so many times the highest controlled frequency."""


@dataclass(frozen=True)
class Loop:
    """A control between two groups (from 0) of a system whose sensing group hangs on its input alone.

    `system` has every other connection as it is; the driven group's own is replaced.
    """

    system: CoupledSystem
    sensing: int
    driven: int
    control: Control

    @cached_property
    def highest_rad_s(self) -> float:
        """Up to where the states hold: twice the highest mode kept."""
        return 2.0 * float(self.system.omega_rad_s[-1])

    @cached_property
    def states(self) -> States:
        """Of the control. Far above the modes the fraction for the delay turns less than the delay itself, which does
        no harm as long as the loop gain is below 1 there; margins count the delay exactly everywhere."""
        return control_states(self.control, self.highest_rad_s)

    def closed(self, gain: float | Array = 1.0) -> CoupledSystem:
        """The system with the loop, the control's gain so many times as large (0: amplifier on, nothing driven);
        an array makes a leading axis of layouts."""
        connection = Connection(
            loop_kind(self.states, self.control.amplifier.output_ohm), {"gain": gain}, leads=(self.sensing, self.driven)
        )
        kept = self.system.connections[self.sensing]
        made = self.system.with_connection(self.driven, connection)
        return made.with_connection(self.sensing, kept)

    @cached_property
    def off(self) -> CoupledSystem:
        return self.closed(0.0)

    def with_control(self, control: Control) -> Loop:
        return replace(self, control=control)

    # -- the plant and the loop gain -----------------------------------------------------------

    def sensed_per_driven(self, omega_rad_s: Array, loss_rad_s: float | None = None) -> ComplexArray:
        """(F,) volts across the sensing leads per volt of the amplifier, through structure and dielectric, without
        the control; exact in what hangs on the other groups. The dielectric conducts as at each frequency, or as at
        the one given, as it does in poles."""
        system, w = self.system, np.asarray(omega_rad_s, dtype=float)
        ports = sorted({*live_ports(system), self.sensing, self.driven})
        own, zeta = system.omega_rad_s, np.maximum(system.zeta, LEAST_ZETA)
        flexibility = 1.0 / (own**2 - w[:, None] ** 2 + 2j * zeta * own * w[:, None])
        theta = system.theta[:, ports]
        at = np.ix_(ports, ports)
        leak = (w if loss_rad_s is None else np.full(w.shape, loss_rad_s))[:, None, None] * system.loss_f[at]
        y = np.einsum("fn,np,nq->fpq", flexibility, theta, theta) + system.capacitance_f[at]
        y = 1j * w[:, None, None] * y + leak
        for k, port in enumerate(ports):
            if port == self.driven:
                y[:, k, k] += 1.0 / self.control.amplifier.output_ohm
                continue
            connection = system.connections[port]
            y[:, k, k] += connection.kind.admittance(connection.numbers, 1j * w) + connection.instrument_s
        right = np.zeros((len(w), len(ports), 1), dtype=complex)
        right[:, ports.index(self.driven)] = 1.0 / self.control.amplifier.output_ohm
        return np.asarray(np.linalg.solve(y, right)[:, ports.index(self.sensing), 0])

    def gain(self, omega_rad_s: Array, loss_rad_s: float | None = None) -> ComplexArray:
        """(F,) loop gain L, opened at the amplifier; the loop is closed by 1 + L, so that -1 is the point to keep
        away from. The delay counts exactly."""
        w = np.asarray(omega_rad_s, dtype=float)
        return np.asarray(-self.sensed_per_driven(w, loss_rad_s) * self.control.transfer(1j * w))

    # -- poles ---------------------------------------------------------------------------------

    @cached_property
    def spectra(self) -> list[Spectrum]:
        """Of every kept mode with the loop on."""
        return spectra(self.closed(), self.system.n_modes)

    @cached_property
    def spectra_off(self) -> list[Spectrum]:
        return spectra(self.off, self.system.n_modes)


def loop_kind(states: States, output_ohm: float) -> CircuitKind:
    """A connection from the first lead (sensing) to the second (driven) with the control's states."""

    def port(values: Values) -> Port:
        gain = np.asarray(values["gain"], dtype=float)
        n = len(states.a)
        g = 1.0 / output_ohm
        lead = gain.shape
        conductance = np.zeros((*lead, 2, 2))
        conductance[..., 1, 1] = g
        conductance[..., 1, 0] = -g * states.d * gain
        coupling = np.zeros((*lead, n, 2))
        coupling[..., 0] = states.b
        back = np.zeros((*lead, 2, n))
        back[..., 1, :] = -g * gain[..., None] * states.c
        damping = np.broadcast_to(-states.a, (*lead, n, n))
        return Port(conductance, coupling, back, damping, np.zeros((*lead, n)))

    def immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        flat = np.asarray(s, dtype=complex).ravel()
        transfer = (np.asarray(values["gain"]) * states.response(flat)).reshape(np.shape(s))
        a = np.zeros((*np.shape(s), 2, 2), dtype=complex)
        b = np.zeros_like(a)
        a[..., 0, 0], a[..., 1, 1] = 1.0, output_ohm
        b[..., 1, 1] = 1.0
        b[..., 1, 0] = -transfer
        return a, b

    return CircuitKind("loop", "Loop", (), immittance, port, active=True)
