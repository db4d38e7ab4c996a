"""Poles of the coupled system as values to show, and sentences for what is unstable."""

from __future__ import annotations

import numpy as np

from core.circuit.spectrum import Spectrum
from core.predict.prediction import Pole
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


def unstable_sentences(spectra: list[Spectrum]) -> tuple[str, ...]:
    """A sentence per unstable pole, real ones too, each named once."""
    found: dict[str, None] = {}
    for mode, spectrum in enumerate(spectra):
        for i in np.flatnonzero(spectrum.unstable):
            if spectrum.oscillatory[i] and spectrum.dominant[i] != mode:
                continue
            if not spectrum.oscillatory[i] and mode:
                continue  # the same one with the dielectric's loss of another mode
            found[_sentence(spectrum, int(i))] = None
    return tuple(found)


def _sentence(spectrum: Spectrum, i: int) -> str:
    s = complex(spectrum.value_rad_s[i])
    if spectrum.oscillatory[i]:
        return (
            f"Unstable: mode {int(spectrum.dominant[i]) + 1} grows at {words.frequency(abs(s) / (2 * np.pi))}, "
            f"by a factor e every {words.seconds(1 / s.real)}."
        )
    return f"Unstable: the circuit drifts without oscillation, by a factor e every {words.seconds(1 / s.real)}."


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
