"""What a driven group of patches does to the point looked at, and what stops its volts.

The group is driven by a voltage, so its leads count as shorted; other groups are shorted. Statically the point
follows w = d V - a F (`core.predict.use.transducer`): from the free stroke d V to the blocked force d V/a.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.predict.forcing import Forcing, forcing
from core.predict.grid import response_grid
from core.predict.loads.readings import Readings, plate_readings
from core.predict.solved import Solved
from core.predict.use.transducer import Transducer
from core.project.model import View
from core.project.service import TipForce
from core.project.use import Drive

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Stops = Literal["field", "strain", "current", "rate"]

LOWEST_HZ, HIGHEST_HZ = 0.1, 100e3
AIR_W_M2_K = 10.0
"""Heat into still air per face and kelvin, free convection with radiation; round value, from memory."""


@dataclass(frozen=True)
class DrivenMode:
    """At a mode's frequency with the leads shorted: motion of the point per volt, the same and the current at the
    volts asked for, the largest volts to either side and what they stop at."""

    number: int
    frequency_hz: float
    m_per_v: float
    stroke_m: float
    current_a: float
    allowed_v: float
    stops: Stops


@dataclass(frozen=True)
class LoadLine:
    """The point against what it pushes on, slow: free stroke, blocked force, and where both meet.

    `against_n_m` is the spring, `against_n` the force of the pressure; `arrives_s` a quarter of mode 1's period,
    after which a step reaches its stroke for the first time.
    """

    free_m: float
    blocked_n: float
    against_n_m: float
    against_n: float
    stroke_m: float
    force_n: float
    arrives_s: float


@dataclass(frozen=True)
class Allowed:
    """Volts to either side over frequency (F,) by what stops them, and the least of all."""

    frequency_hz: Array
    field_v: float
    strain_v: Array
    current_v: Array
    rate_v: Array

    @property
    def least_v(self) -> Array:
        return np.minimum(np.minimum(self.strain_v, self.current_v), np.minimum(self.rate_v, self.field_v))


@dataclass(frozen=True)
class Heat:
    """Of a steady sine at the volts and frequency asked for: power lost in the dielectric, and by how much it warms
    the ceramic at most: through its own face into still air, nothing into the part."""

    power_w: float
    rise_k: float


@dataclass(frozen=True, eq=False)
class Driving:
    """Group `index` (from 0) of a solved layout as a shaker."""

    solved: Solved
    index: int

    @property
    def drive(self) -> Drive:
        return self.solved.project.drive

    @property
    def point_m(self) -> float:
        return self.solved.side.forcing.output_x_m

    @cached_property
    def transducer(self) -> Transducer:
        return Transducer(self.solved.beam, self.index, self.point_m)

    @property
    def slow_m_per_v(self) -> float:
        """Static motion of the point per volt, which is coulombs per newton of the same group as a pick-up."""
        return float(self.transducer.static_m_per_v)

    @cached_property
    def load_line(self) -> LoadLine | None:
        """None where the point cannot move or nothing holds the part."""
        solved, drive, t = self.solved, self.drive, self.transducer
        if solved.beam.n_rigid or solved.side.forcing.output_held:
            return None
        a, free = float(t.static_m_per_n), abs(self.slow_m_per_v) * drive.amplitude_v
        pressed = drive.pressure_pa * drive.area_m2
        stroke = (free - a * pressed) / (1.0 + a * drive.load_n_m)
        return LoadLine(
            free_m=free,
            blocked_n=free / a,
            against_n_m=drive.load_n_m,
            against_n=pressed,
            stroke_m=max(stroke, 0.0),
            force_n=(free - max(stroke, 0.0)) / a,
            arrives_s=0.5 * np.pi / float(solved.beam.omega_rad_s[0]),
        )

    @cached_property
    def n_per_v(self) -> Array:
        """(modes + 1,) force per volt that holds the point still: slow, then at each mode's frequency."""
        t, omega = self.transducer, self.solved.beam.omega_rad_s[: self.solved.modes]
        slow = abs(self.slow_m_per_v) / max(float(t.static_m_per_n), 1e-300)
        return np.concatenate([[slow], np.abs(t.m_per_v(omega) / t.m_per_n(omega))])

    # -- volts ---------------------------------------------------------------------------------

    @cached_property
    def _force(self) -> Forcing:
        band = self.solved.side.forcing.load.band_hz
        return forcing(self.solved.beam, TipForce("", 0.0, band, self.point_m), View(output_x_m=self.point_m))

    @cached_property
    def field_limits_v(self) -> tuple[float, float]:
        """(lowest, highest) voltage across the leads that keeps every ceramic of the group within its field, along
        and against its poling."""
        low, high = -np.inf, np.inf
        share = self.solved.beam.terminals.combine[:, self.index]
        for plate, k in zip(self.solved.beam.plates, share.tolist(), strict=True):
            if k == 0.0:
                continue
            limits = plate.package.limits
            along = limits.field_along_v_m.value * plate.thickness_m / abs(k)
            against = limits.field_against_v_m.value * plate.thickness_m / abs(k)
            low = max(low, -against if k > 0 else -along)
            high = min(high, along if k > 0 else against)
        return float(low), float(high)

    @property
    def field_v(self) -> float:
        """Largest swing to either side of the bias; 0 where the bias alone is too much."""
        low, high = self.field_limits_v
        bias = self.drive.bias_v
        return max(min(high - bias, bias - low), 0.0)

    @cached_property
    def _strained(self) -> tuple[Readings, Array, Array]:
        """Strain rows of every ceramic of the part, what each may be pulled and pushed to."""
        plates = plate_readings(self.solved.over_x, self._force)
        rows = [plate.strain for plate in plates]
        limits = [plate.package.limits for plate in self.solved.beam.plates]
        count = [len(r) for r in rows]
        pull = np.repeat([item.tensile_strain.value for item in limits], count)
        push = np.repeat([item.compressive_strain.value for item in limits], count)
        return Readings.stacked(rows), pull, push

    def strain_v(self, omega_rad_s: Array) -> Array:
        """(F,) swing to either side at which a ceramic reaches its allowable strain, the bias counted; inf without."""
        t = self.transducer
        rows, pull, push = self._strained
        if not len(rows):
            return np.full(omega_rad_s.shape, np.inf)
        q = -(t.flexibility(omega_rad_s) * t.theta).T
        volts = np.zeros((self.solved.beam.port_rows.shape[0], len(omega_rad_s)))
        volts[self.index] = 1.0
        swing = np.abs(rows.of(q, np.zeros(len(omega_rad_s)), volts.astype(complex)))
        still = self.drive.bias_v * rows.of(
            -(t.theta / t.omega_rad_s**2)[:, None].astype(complex), np.zeros(1), volts[:, :1].astype(complex)
        ).real
        room = np.maximum(np.minimum(pull[:, None] - still, push[:, None] + still), 0.0)
        with np.errstate(divide="ignore"):
            return np.asarray((room / swing).min(axis=0))

    def allowed(self, frequency_hz: Array) -> Allowed:
        """What stops the volts of a steady sine at each frequency."""
        omega, drive = 2 * np.pi * frequency_hz, self.drive
        return Allowed(
            frequency_hz=frequency_hz,
            field_v=self.field_v,
            strain_v=self.strain_v(omega),
            current_v=drive.amplifier_a / np.maximum(np.abs(self.transducer.siemens(omega)), 1e-300),
            rate_v=drive.amplifier_v_s / omega,
        )

    @cached_property
    def limits(self) -> Allowed:
        """From 0.1 Hz to 100 kHz, dense about the modes."""
        beam = self.solved.beam
        omega = beam.omega_rad_s
        band = (2 * np.pi * LOWEST_HZ, 2 * np.pi * HIGHEST_HZ)
        return self.allowed(response_grid(band, omega, beam.zeta0 * omega, self.solved.points) / (2 * np.pi))

    @property
    def model_ends_hz(self) -> float:
        """Highest mode that counts; above it only the static answer of the rest is left."""
        return float(self.solved.beam.omega_rad_s[-1]) / (2 * np.pi)

    @cached_property
    def modes(self) -> tuple[DrivenMode, ...]:
        solved, drive, t = self.solved, self.drive, self.transducer
        omega = solved.beam.omega_rad_s[: solved.modes]
        moved, flow = np.abs(t.m_per_v(omega)), np.abs(t.siemens(omega))
        allowed = self.allowed(omega / (2 * np.pi))
        each: dict[Stops, Array] = {"field": np.full(len(omega), allowed.field_v), "strain": allowed.strain_v,
                "current": allowed.current_v, "rate": allowed.rate_v}  # fmt: skip
        out = []
        for n in range(solved.modes):
            stops = min(each, key=lambda name: float(each[name][n]))
            out.append(
                DrivenMode(
                    number=n + 1,
                    frequency_hz=float(omega[n]) / (2 * np.pi),
                    m_per_v=float(moved[n]),
                    stroke_m=float(moved[n]) * drive.amplitude_v,
                    current_a=float(flow[n]) * drive.amplitude_v,
                    allowed_v=float(each[stops][n]),
                    stops=stops,
                )
            )
        return tuple(out)

    # -- heat ----------------------------------------------------------------------------------

    @cached_property
    def heat(self) -> Heat:
        """P = omega C V_rms^2 tan delta with the large-signal loss, shared evenly by the group's ceramics."""
        solved, drive = self.solved, self.drive
        loss = float(solved.beam.group_loss_f()[self.index, self.index]) * drive.large_signal
        power = 2 * np.pi * drive.frequency_hz * loss * 0.5 * drive.amplitude_v**2
        share = solved.beam.terminals.combine[:, self.index]
        area = sum(
            (plate.x_b_m - plate.x_a_m) * plate.width_m
            for plate, k in zip(solved.beam.plates, share.tolist(), strict=True)
            if k != 0.0
        )
        return Heat(power, power / (AIR_W_M2_K * area) if area > 0.0 else 0.0)
