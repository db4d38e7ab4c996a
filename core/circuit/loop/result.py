"""What a closed loop does to every mode: the controlled ones, and the others up to twice their band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.circuit.loop.loop import Loop

BEYOND_BAND = 2.0
"""Spillover is told for modes up to so many times the highest controlled frequency."""
LOST = 1e-5
"""A change of the damping ratio below this is none."""


@dataclass(frozen=True)
class ModeChange:
    """Mode `number` (from 1): frequency in Hz and damping ratio with the loop off and on (nan where it grows), and
    whether it is one of the controlled ones; another that loses damping is spillover."""

    number: int
    frequency_hz: float
    off: float
    on: float
    controlled: bool

    @property
    def change(self) -> float:
        return self.on - self.off

    @property
    def loses(self) -> bool:
        """Also where it grows."""
        return not self.change > -LOST


def changes(loop: Loop, controlled: tuple[int, ...]) -> tuple[ModeChange, ...]:
    """Of the controlled modes (from 1) and all others up to twice the band of the controlled ones."""
    omega = loop.system.omega_rad_s
    top = BEYOND_BAND * max((float(omega[n - 1]) for n in controlled if n <= len(omega)), default=float(omega[0]))
    shown = [n for n in range(len(omega)) if omega[n] <= top * (1 + 1e-9)]
    out = []
    for n in shown:
        off, on = loop.plant.spectra_off[n], loop.spectra[n]
        own = on.poles_of(n)
        grows = bool(on.grows(own).any()) if len(own) else False
        out.append(
            ModeChange(
                number=n + 1,
                frequency_hz=float(omega[n]) / (2 * np.pi),
                off=off.damping_among(off.poles_of(n)),
                on=float("nan") if grows or not len(own) else on.damping_among(own),
                controlled=n + 1 in controlled,
            )
        )
    return tuple(out)
