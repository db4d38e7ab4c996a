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
from core.circuit.loop.law import Control, States, control_states
from core.circuit.loop.plant import Plant, plant_of
from core.circuit.loop_amplifier import OUTPUT
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import Connection, CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

GAIN = "gain"


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
        return 2.0 * float(self.system.omega_rad_s.max())

    @cached_property
    def states(self) -> States:
        """Of the control. Far above the modes the fraction for the delay turns less than the delay itself, which does
        no harm as long as the loop gain is below 1 there; margins count the delay exactly everywhere."""
        return control_states(self.control, self.highest_rad_s)

    def closed(self, gain: float | Array = 1.0) -> CoupledSystem:
        """The system with the loop, the control's gain so many times as large (0: amplifier on, nothing driven);
        an array makes a leading axis of layouts."""
        own = self.system.connections[self.driven]
        ohm = own.values.get(OUTPUT, self.control.amplifier.output_ohm)
        values = {GAIN: gain, OUTPUT: ohm}
        connection = Connection(
            loop_kind(self.control, self.states), values, own.instrument_s, leads=(self.driven, self.sensing)
        )
        return self.system.with_connection(self.driven, connection)

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



def loop_kind(control: Control, states: States) -> CircuitKind:
    """A connection on the driven group's leads (first) that reads the sensing group's (second), `states` those of the
    control. It draws nothing from what it reads; its immittance has the delay exactly. Inside stands the amplifier's
    voltage behind its output resistance, in which its heat is."""

    def port(values: Values) -> Port:
        gain, g = np.asarray(values[GAIN], dtype=float), 1.0 / np.asarray(values[OUTPUT], dtype=float)
        fed, n = gain * g, len(states.a)
        lead = fed.shape
        conductance = np.zeros((*lead, 2, 2))
        conductance[..., 0, 0] = g
        conductance[..., 0, 1] = -states.d * fed
        coupling = np.zeros((*lead, n, 2))
        coupling[..., 1] = states.b
        back = np.zeros((*lead, 2, n))
        back[..., 0, :] = -fed[..., None] * states.c
        damping = np.broadcast_to(-states.a, (*lead, n, n))
        asked = np.zeros((*lead, 2 + n))
        asked[..., 1], asked[..., 2:] = states.d * gain, gain[..., None] * states.c
        through = -asked
        through[..., 0] += 1.0
        heating = (np.sqrt(g)[..., None] * through)[..., None, :]
        return Port(conductance, coupling, back, damping, np.zeros((*lead, n)), travel=asked, heating=heating)

    def immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        driven = values[GAIN] * control.transfer(np.asarray(s, dtype=complex))
        shape = np.broadcast_shapes(np.shape(driven), np.shape(values[OUTPUT]))
        a = np.zeros((*shape, 2, 2), dtype=complex)
        b = np.zeros_like(a)
        a[..., 0, 0], a[..., 1, 1] = values[OUTPUT], 1.0
        b[..., 0, 0], b[..., 0, 1] = 1.0, -driven
        return a, b

    return CircuitKind("loop", "Active loop", (), immittance, port, active=True)
