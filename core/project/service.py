"""What the part meets: loads, service forces and temperatures, and what is asked of its vibration."""

from __future__ import annotations

from typing import Literal

from core.project.record import Record


class TipForce(Record, frozen=True, tag="force"):
    """A harmonic point force of amplitude `force_n` at `x_m` (None: tip) over `band_hz`."""

    name: str
    force_n: float
    band_hz: tuple[float, float]
    x_m: float | None = None


class RootAcceleration(Record, frozen=True, tag="root acceleration"):
    """Base motion: `level_m_s2` is the amplitude of a sine swept over the band, or with
    `random` the root-mean-square of a flat spectrum over the band."""

    name: str
    level_m_s2: float
    band_hz: tuple[float, float]
    random: bool = False


class Release(Record, frozen=True, tag="release"):
    """Let go from the static bend that a force at `x_m` (None: tip) makes, sized to give
    `deflection_m` there."""

    name: str
    deflection_m: float
    band_hz: tuple[float, float]
    x_m: float | None = None


class Impact(Record, frozen=True, tag="impact"):
    """A half-sine force of impulse `impulse_n_s` and `duration_s` at `x_m` (None: tip)."""

    name: str
    impulse_n_s: float
    duration_s: float
    band_hz: tuple[float, float]
    x_m: float | None = None


class BaseShock(Record, frozen=True, tag="base shock"):
    """A half-sine of base acceleration, `peak_m_s2` high (up positive) and `duration_s` long."""

    name: str
    peak_m_s2: float
    duration_s: float
    band_hz: tuple[float, float]


class RandomBase(Record, frozen=True, tag="random base"):
    """Random base acceleration by its spectral density: `spectrum_hz_m2_s3` lists frequency in Hz and
    density in (m/s2)^2/Hz, between which it runs straight in the logarithms of both; nothing outside."""

    name: str
    spectrum_hz_m2_s3: tuple[tuple[float, float], ...]

    @property
    def band_hz(self) -> tuple[float, float]:
        """From the first to the last frequency of the table."""
        return self.spectrum_hz_m2_s3[0][0], self.spectrum_hz_m2_s3[-1][0]


class BaseStep(Record, frozen=True, tag="base step"):
    """Base acceleration that jumps to `level_m_s2` (up positive) and stays, as a machine that starts to
    brake; when it stops again the part swings out as after the jump."""

    name: str
    level_m_s2: float
    band_hz: tuple[float, float]


BaseLoad = RootAcceleration | BaseShock | RandomBase | BaseStep
"""Loads that move the supports; they have no place on the span."""
PointLoad = TipForce | Release | Impact
"""Loads at a point of the span, `x_m` (None: the tip)."""
Load = PointLoad | BaseLoad


class StaticForce(Record, frozen=True):
    """A static service force, up positive, at `x_m` (None: tip): the bend the ceramic must survive."""

    name: str
    force_n: float
    x_m: float | None = None


class Asked(Record, frozen=True):
    """What the customer wants of the vibration of some modes (from 1); without a mode nothing is asked.

    `values` holds one value per mode, the last one serves the rest. What they are goes with
    `quantity`: "peak", change of the highest response near the mode as a share of what it was (-0.4
    is 40 % less); "damping", the least damping ratio; "settling", the longest time in s until the
    ring-down stays within `Service.settle_to` (the first value; the modes only say what it is about).
    """

    modes: tuple[int, ...] = ()
    quantity: Literal["peak", "damping", "settling"] = "peak"
    values: tuple[float, ...] = (-0.4,)
    temperature_c: float | None = None
    """At which it is wanted; None: the reference temperature."""
    load: int | None = None
    """Number of the load (from 0) under which it is wanted; None: the active one."""

    def value(self, mode: int) -> float:
        """What is wanted of a mode that is asked for."""
        return self.values[min(self.modes.index(mode), len(self.values) - 1)]


class Service(Record, frozen=True):
    """Loads, temperatures, what to look at and what is asked for."""

    loads: tuple[Load, ...]
    active_load: int = 0
    static_forces: tuple[StaticForce, ...] = ()
    cold_c: float = 0.0
    reference_c: float = 20.0
    hot_c: float = 40.0
    settle_to: float = 0.05
    ramp_span_k: float | None = None
    """By how much the temperature of the part changes in one go, either way; None: from the cold to the hot end."""
    ramp_rate_k_s: float | None = None
    """How fast it does; None: at once, so that nothing has the time to leak away."""
    asked: Asked = Asked()
