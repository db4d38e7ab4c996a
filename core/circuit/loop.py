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
from core.circuit.loop_plant import Plant, plant_of
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import Connection, CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


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

    def with_control(self, control: Control) -> Loop:
        return replace(self, control=control)

    # -- the plant and the loop gain -----------------------------------------------------------

    @cached_property
    def plant(self) -> Plant:
        """What it closes over."""
        return plant_of(self.system, self.sensing, self.driven, self.control.amplifier.output_ohm)

    def gain(self, omega_rad_s: Array, loss_rad_s: float | None = None) -> ComplexArray:
        """(F,) loop gain L, opened at the amplifier; the loop is closed by 1 + L, so that -1 is the point to keep
        away from. The delay counts exactly."""
        w = np.asarray(omega_rad_s, dtype=float)
        return np.asarray(-self.plant.response(w, loss_rad_s) * self.control.at(w))

    @cached_property
    def gain_on_grid(self) -> ComplexArray:
        """The same at the plant's grid."""
        plant = self.plant
        return np.asarray(-plant.on_grid * self.control.at(plant.grid_rad_s))

    # -- poles ---------------------------------------------------------------------------------

    @cached_property
    def spectra(self) -> list[Spectrum]:
        """Of every kept mode with the loop on."""
        return spectra(self.closed(), self.system.n_modes)



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
