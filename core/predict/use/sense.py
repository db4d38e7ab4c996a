"""What a group of patches gives as a pick-up: volts and charge per motion of the point looked at, how low it
reaches, and the smallest motion above the noise.

The leads are open behind the input of the group's instrument, or on a charge amplifier; every other group is shorted. Volts are counted
in the poling direction of a patch wired plus, motion up.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.circuit import instrument
from core.circuit.connect import coupled_system, hold
from core.circuit.system import CoupledSystem
from core.circuit.transfer import forced
from core.predict.forcing import Forcing, forcing
from core.predict.grid import response_grid
from core.predict.loads.readings import plate_readings
from core.predict.solved import Solved
from core.predict.use.load_cell import LoadCell, load_cell
from core.predict.use.transducer import Transducer
from core.project.candidate import USUAL_INPUT, Candidate, Circuit, Instrument
from core.project.model import View
from core.project.service import TipForce
from core.units.constants import STANDARD_GRAVITY_M_S2

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

OPEN_LOOP = 1e6
"""Gain of a charge amplifier without its feedback: what an ordinary operational amplifier has, from memory. Its input
then is its feedback capacitor so many times, and its cable's does not count beside it."""
SLOWEST_OF_CORNER = 0.05
"""The response is drawn from so far below the corner."""
BLIND = 0.02
"""Electrode use below which a mode is called blind: its strain cancels itself under the patch."""


@dataclass(frozen=True)
class SensedMode:
    """One mode, its motion that of the point looked at.

    Volts across the input and the charge out of shorted leads per metre, volts per g of that point's
    acceleration, per newton at that point at resonance, per mean strain of the group's first ceramic; the
    smallest amplitude that stands out of the noise. None where the point or the ceramic stands still.
    """

    number: int
    frequency_hz: float
    v_per_m: float | None
    c_per_m: float | None
    v_per_g: float | None
    v_per_n: float
    v_per_strain: float | None
    smallest_m: float | None
    blind: bool


@dataclass(frozen=True, eq=False)
class Sensing:
    """Group `index` (from 0) of a solved layout as a pick-up."""

    solved: Solved
    index: int
    leads_only: bool = False
    """What stands across the leads by themselves, whatever is said to read them."""

    @property
    def _entered(self) -> Instrument | None:
        return self.solved.candidate.groups[self.index].instrument

    @property
    def reads_charge(self) -> bool:
        return self.solved.project.sense.reads == "charge" and not self.leads_only

    @property
    def input(self) -> Instrument:
        """What the leads see. A charge amplifier is its feedback many times as large, with the cable beside it."""
        own = self._entered or USUAL_INPUT
        if not self.reads_charge:
            return own
        sense = self.solved.project.sense
        more = 1.0 + OPEN_LOOP
        return Instrument("charge amplifier", sense.feedback_ohm / more, sense.feedback_f * more + own.capacitance_f)

    @property
    def gain(self) -> float:
        """Volts read per volt across the leads; a charge amplifier inverts."""
        return -OPEN_LOOP if self.reads_charge else 1.0

    @property
    def input_is_assumed(self) -> bool:
        return self._entered is None and not self.reads_charge

    @cached_property
    def _transducer(self) -> Transducer:
        return Transducer(self.solved.beam, self.index, self.point_m)

    @property
    def point_m(self) -> float:
        """Where motion is counted and a force acts: the output point."""
        return self.solved.side.forcing.output_x_m

    @property
    def omega_rad_s(self) -> Array:
        """(N,) with the leads open; a charge amplifier shorts them."""
        return self._transducer.omega_rad_s if self.reads_charge else self._transducer.open_omega_rad_s

    @property
    def load_cell(self) -> LoadCell | None:
        """The group's first patch squeezed between stiff faces instead; None without one."""
        members = self.solved.candidate.groups[self.index].members
        if not members:
            return None
        patch = self.solved.candidate.patch(members[0].patch)
        return load_cell(patch, self.solved.project.package(patch.package), self.input, self.gain)

    @property
    def stored_f(self) -> float:
        """Free capacitance of the group with what the leads see."""
        return float(self._transducer.free_f) + self.input.capacitance_f

    @property
    def fade_s(self) -> float:
        """In which the voltage of a push that lasts falls to 37 %."""
        return self.input.resistance_ohm * self.stored_f

    @property
    def corner_hz(self) -> float:
        """Below which slow motion fades: 1/(2 pi R C)."""
        return 1.0 / (2.0 * np.pi * self.fade_s) if self.fade_s > 0.0 else float("inf")

    @cached_property
    def slow_v_per_n(self) -> float:
        """Volts per newton up at the point, slow against the modes and fast against the corner."""
        return self.gain * self._slow_across_per_n

    @property
    def _slow_across_per_n(self) -> float:
        return float(-self._transducer.static_m_per_v / max(self.stored_f, 1e-300))

    @cached_property
    def slow_v_per_m(self) -> float | None:
        """Volts per metre up of the point under such a force; None where it cannot move or nothing holds the part."""
        t = self._transducer
        if self.solved.beam.n_rigid or self.solved.side.forcing.output_held:
            return None
        moved = float(t.static_m_per_n) + float(t.static_m_per_v) * self._slow_across_per_n
        return self.slow_v_per_n / moved

    @property
    def slow_c_per_m(self) -> float | None:
        """Charge per metre up of the point under such a force."""
        return None if self.slow_v_per_m is None else self.slow_v_per_m / self.gain * self.stored_f

    @property
    def slow_c_per_n(self) -> float:
        """Coulombs per newton into shorted leads: the metres per volt of the driven group."""
        return float(self._transducer.static_m_per_v)

    @property
    def slow_smallest_m(self) -> float | None:
        volts = self.slow_v_per_m
        return self._smallest(volts)

    def _smallest(self, v_per_m: float | None) -> float | None:
        return None if not v_per_m else self.solved.project.sense.noise_v / abs(v_per_m)

    @cached_property
    def system(self) -> CoupledSystem:
        """The layout with the leads on the input alone, other groups shorted, tuned masses as they are."""
        solved = self.solved
        candidate = listening(hold(solved.candidate, solved.system), self.index, self.input)
        return coupled_system(solved.beam, candidate)

    @cached_property
    def _force(self) -> Forcing:
        """A unit force at the point."""
        band = self.solved.side.forcing.load.band_hz
        return forcing(self.solved.beam, TipForce("", 1.0, band, self.point_m), View(output_x_m=self.point_m))

    @cached_property
    def modes(self) -> tuple[SensedMode, ...]:
        solved, t = self.solved, self._transducer
        conductance, added = instrument.conductance_s(self.input), self.input.capacitance_f
        volts = abs(self.gain) * np.abs(t.mode_v_per_m(conductance, added))
        charge, omega = t.mode_c_per_m(), self.omega_rad_s
        peak = np.abs(self.volts_per_newton(omega[: solved.modes]))
        strain = self._v_per_strain(conductance, added)
        use = solved.beam.group_k2[:, self.index] / np.maximum(solved.beam.use_ceiling(self._own_plates), 1e-300)
        out = []
        for n in range(solved.modes):
            still = bool(np.abs(t.phi[n]) < 1e-9 * np.abs(t.phi).max(initial=1e-300))
            per_m = None if still else float(volts[n])
            per_g = None if per_m is None else per_m * STANDARD_GRAVITY_M_S2 / float(omega[n]) ** 2
            out.append(
                SensedMode(
                    number=n + 1,
                    frequency_hz=float(omega[n]) / (2 * np.pi),
                    v_per_m=per_m,
                    c_per_m=None if still else float(abs(charge[n])),
                    v_per_g=per_g,
                    v_per_n=float(peak[n]),
                    v_per_strain=strain[n],
                    smallest_m=self._smallest(per_m),
                    blind=bool(use[n] < BLIND),
                )
            )
        return tuple(out)

    @property
    def _own_plates(self) -> NDArray[np.bool_]:
        members = {m.patch for m in self.solved.candidate.groups[self.index].members}
        return np.array([plate.patch in members for plate in self.solved.beam.plates], dtype=bool)

    def _v_per_strain(self, conductance: float, added: float) -> list[float | None]:
        """Volts over the mean strain of the group's first ceramic in each mode."""
        t, solved = self._transducer, self.solved
        own = np.flatnonzero(self._own_plates)
        if not len(own):
            return [None] * solved.modes
        mean = plate_readings(solved.over_x, self._force)[int(own[0])].mean_strain
        volts = t.mode_v(conductance, added)
        strain = mean.modal[0] + mean.voltage[0, self.index] * volts
        return [float(abs(self.gain * v / e)) if abs(e) > 0.0 else None for v, e in zip(volts[: solved.modes], strain, strict=False)]

    def volts_per_newton(self, omega_rad_s: Array) -> ComplexArray:
        """(F,) volts across the input per newton at the point."""
        return np.asarray(self.gain * forced(self.system, self._force.aim.load, omega_rad_s).voltage[:, self.index])

    @cached_property
    def response(self) -> tuple[Array, ComplexArray]:
        """Frequencies in Hz, from below the corner to the highest mode shown and beyond, and `volts_per_newton` there."""
        omega = self.omega_rad_s
        high = 1.3 * float(omega[min(self.solved.modes, len(omega)) - 1])
        low = 2 * np.pi * min(SLOWEST_OF_CORNER * self.corner_hz, 0.1 * float(omega[0]) / (2 * np.pi))
        grid = response_grid((max(low, 1e-6 * high), high), omega, self.solved.beam.zeta0 * omega, self.solved.points)
        return grid / (2 * np.pi), self.volts_per_newton(grid)


def listening(candidate: Candidate, index: int, input_: Instrument) -> Candidate:
    """The candidate with the leads of one group on an input alone, and those of the others shorted."""
    groups = tuple(
        replace(
            group,
            circuit=Circuit("open" if g == index else "shorted"),
            instrument=input_ if g == index else None,
        )
        for g, group in enumerate(candidate.groups)
    )
    return replace(candidate, groups=groups)
