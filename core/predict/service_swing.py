"""Damping where the part swings as in service, beside that of the small swing everything else is told for.

Inherent damping often grows with the swing (0.64 and 1.0 % in a laboratory test); what a circuit adds does
not. Both are kept, and both are told.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from core.circuit.spectrum import spectra
from core.predict.poles import mode_damping
from core.predict.prediction import AtService
from core.predict.solved import Solved


def at_service(solved: Solved) -> tuple[AtService, ...]:
    """By mode, inherent damping and damping with the circuits in effect; empty where nobody gave the first."""
    given = solved.project.structure.damping.service_ratios
    if not given or solved.project.structure.damping.from_loss_factors:
        return ()
    system = solved.side.system
    place = np.minimum(np.arange(system.n_modes), len(given) - 1)
    zeta = np.asarray(given, dtype=float)[place]
    found = spectra(dataclasses.replace(system, zeta=zeta), solved.modes)
    return tuple(
        AtService(n + 1, float(zeta[n]), mode_damping(spectrum, n)) for n, spectrum in enumerate(found)
    )
