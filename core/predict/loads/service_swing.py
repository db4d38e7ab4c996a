"""Damping and peak where the part swings as in service, beside those of the small swing everything else is told for.

Inherent damping often grows with the swing (0.64 and 1.0 % in a laboratory test); what a circuit adds does
not. Both are kept, and both are told.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from core.circuit.spectrum import spectra
from core.predict.mode_result import AtService
from core.predict.poles import mode_dampings
from core.predict.solved import Solved
from core.units import words


def at_service(solved: Solved) -> tuple[AtService, ...]:
    """By mode, inherent damping, damping with the circuits in effect and what becomes of the peak; empty where nobody gave the first."""
    given = solved.project.structure.damping.service_ratios
    if not given or solved.project.structure.damping.from_loss_factors:
        return ()
    system = solved.side.system
    place = np.minimum(np.arange(system.n_modes), len(given) - 1)
    zeta = np.asarray(given, dtype=float)[place]
    there = dataclasses.replace(system, zeta=zeta)
    found = spectra(there, solved.modes)
    damping = mode_dampings(there, found)
    peaks = solved.peak_change_with(there) if np.isfinite(damping).all() else (None,) * len(found)
    return tuple(AtService(n + 1, float(zeta[n]), damping[n], peaks[n]) for n in range(len(found)))


def peak_told(one: AtService) -> str:
    """What becomes of the peak with the circuits at the swing of service: "peak -2.0 dB against small swing"."""
    return "no peak" if one.peak_change_db is None else f"peak {words.decibel(one.peak_change_db)} against small swing"
