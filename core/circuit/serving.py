"""Which mode a circuit serves: the one it is tuned on; with values typed by hand the one it damps most."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import CoupledSystem
from core.project.candidate import Tuning


def served_by(
    system: CoupledSystem, port: int, tuning: Tuning | None, modes: int, found: Sequence[Spectrum] | None = None
) -> int | None:
    """Index of the mode that the circuit on a group's leads serves in one layout; None where it has nothing to tune.

    By hand it is that of the first `modes` whose damping is lost most when this circuit alone is taken off, for another
    group's may damp more. found : spectra of these modes, where they are known already.
    """
    kind = system.connections[port].kind
    if kind.closed_form is None:
        return None
    if kind.worked_out:
        tuning = tuning or Tuning()
    if tuning is not None:
        return min(max(tuning.mode, 1), system.n_modes) - 1
    gain = _damping(spectra(system, modes) if found is None else found) - _damping(spectra(system.opened(port), modes))
    return int(np.nan_to_num(gain).argmax()) if len(gain) else 0


def _damping(found: Sequence[Spectrum]) -> NDArray[np.float64]:
    return np.array([spectrum.damping_of(mode) for mode, spectrum in enumerate(found)])
