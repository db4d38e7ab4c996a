"""Poles of the coupled system as values to show, and sentences for what is unstable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, nan

import numpy as np

from core.circuit.spectrum import LEAST_MECHANICAL, Spectrum, is_active, spectra
from core.circuit.system import CoupledSystem
from core.predict.mode_result import Pole
from core.units import words


def mode_poles(spectrum: Spectrum, mode: int) -> tuple[Pole, ...]:
    """All oscillatory poles of a mode (from 0), lowest frequency first."""
    return tuple(_pole(spectrum, int(i), mode + 1) for i in spectrum.poles_of(mode))


def mode_damping(spectrum: Spectrum, mode: int) -> float:
    """Damping ratio of a mode (from 0), nan when one of its poles grows or none counts."""
    own = spectrum.poles_of(mode)
    if spectrum.grows(own).any():
        return float("nan")
    # what does not grow is not negative: below zero it is rounding
    return max(spectrum.damping_among(own), 0.0) if len(own) else float("nan")


def told_pole(poles: Sequence[Pole]) -> Pole:
    """The pole whose damping is told for a mode: the least damped of those mechanical enough to count."""
    counting = [pole for pole in poles if pole.mechanical_share >= LEAST_MECHANICAL]
    if not counting:
        return max(poles, key=lambda pole: pole.mechanical_share)
    return min(counting, key=lambda pole: pole.damping_ratio)


def mode_dampings(system: CoupledSystem, found: list[Spectrum]) -> list[float]:
    """Damping ratio of every mode, nan for all where anything grows: nothing is then left of a stable one."""
    return dampings_with(growths_of(system, found), found)


def dampings_with(growing: Sequence[Growth], found: list[Spectrum]) -> list[float]:
    """The same where it is known what grows."""
    if growing:
        return [nan] * len(found)
    return [mode_damping(spectrum, n) for n, spectrum in enumerate(found)]


OWN = 0.5
"""A pole with less of its energy mechanical is the circuit's own."""


def circuit_poles(spectra: list[Spectrum]) -> tuple[Pole, ...]:
    """The circuits' own poles, real ones too, each once, slowest first; the dielectric's loss is that of
    mode 1."""
    if not spectra:
        return ()
    first = spectra[0]
    own = np.flatnonzero(first.mechanical_share < OWN)
    poles = [_pole(first, int(i), int(first.dominant[i]) + 1 if first.oscillatory[i] else None) for i in own]
    return tuple(sorted(poles, key=lambda pole: abs(pole.value_rad_s)))


@dataclass(frozen=True)
class Growth:
    """An unstable pole: the mode (from 1) that grows at `frequency_hz`, both None for a real pole, which drifts; rate
    in 1/s."""

    mode: int | None
    frequency_hz: float | None
    rate_1_s: float

    @property
    def briefly(self) -> str:
        """"mode 2 grows, 283 Hz", "drifts"."""
        if self.mode is None or self.frequency_hz is None:
            return "drifts"
        return f"mode {self.mode} grows, {words.frequency(self.frequency_hz)}"

    @property
    def doubles(self) -> str:
        """How fast."""
        return f"doubles every {words.seconds(log(2.0) / self.rate_1_s)}"

    @property
    def sentence(self) -> str:
        """With what it is and how fast."""
        if self.mode is None or self.frequency_hz is None:
            return f"Unstable: the circuit drifts without oscillation, it {self.doubles}."
        return f"Unstable: mode {self.mode} grows at {words.frequency(self.frequency_hz)}, it {self.doubles}."


def growths(spectra: list[Spectrum]) -> tuple[Growth, ...]:
    """Every unstable pole, real ones too, each once, fastest first."""
    found: list[Growth] = []
    for mode, spectrum in enumerate(spectra):
        if spectrum.value_rad_s.real.max(initial=0.0) <= spectrum.tolerance:
            continue  # as nearly always
        for i in np.flatnonzero(spectrum.unstable):
            s = complex(spectrum.value_rad_s[i])
            if not spectrum.oscillatory[i]:
                if mode == 0:  # of another mode it is the same one with that mode's dielectric loss
                    found.append(Growth(None, None, s.real))
            elif spectrum.dominant[i] == mode:
                found.append(Growth(mode + 1, abs(s) / (2 * np.pi), s.real))
    return tuple(sorted(found, key=lambda one: -one.rate_1_s))


def growths_of(system: CoupledSystem, found: list[Spectrum]) -> tuple[Growth, ...]:
    """The same of a system whose first spectra were found: where something with a supply hangs on it, of every mode kept,
    for a loop that damps the modes shown may drive another."""
    if not is_active(system) or len(found) >= system.n_modes:
        return growths(found)
    return growths(spectra(system, system.n_modes))


def _pole(spectrum: Spectrum, i: int, number: int | None) -> Pole:
    s = complex(spectrum.value_rad_s[i])
    ratio = -s.real / abs(s) if s else 0.0
    if not spectrum.grows(np.array([i]))[0]:
        ratio = max(ratio, 0.0)
    return Pole(
        value_rad_s=s,
        frequency_hz=abs(s) / (2 * np.pi),
        damping_ratio=ratio,
        mechanical_share=float(spectrum.mechanical_share[i]),
        mode=number,
    )
