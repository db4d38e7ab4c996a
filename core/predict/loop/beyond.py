"""Whether a loop holds above the modes that its poles and margins count: the loop gain at further modes of the layout.

Poles are those of the modes kept; above them the margins see the static answer of the rest alone. A further mode lifts
the loop gain about its own frequency, so the layout is solved with more modes, and the loop gain read off at each. Where
it stays below 1 no phase can make a mode grow (small gain).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from core.circuit.connect import coupled_system, hold
from core.predict.loop.design import LoopView
from core.predict.predict import layout
from core.project.loop_edits import as_closed
from core.units import words

MORE = 3
"""Times as many modes as are kept."""
LEAST = 1e-3
"""A loop gain below this is told as that."""


@dataclass(frozen=True)
class Beyond:
    """Of the modes above `kept` up to `counted` (from 1): the largest |L|, of which mode, and where in Hz; up to `top_hz`
    the modes are followed."""

    kept: int
    counted: int
    gain: float
    mode: int
    frequency_hz: float
    top_hz: float

    @property
    def holds(self) -> bool:
        return self.gain < 1.0

    @property
    def told(self) -> str:
        which = f"Above the {self.kept} modes counted, to mode {self.counted} at {words.engineering(self.top_hz, 'Hz', 2)}"
        most = f"the loop gain stays below {words.significant(max(self.gain, LEAST), 2 if self.gain > LEAST else 1)}"
        if self.holds:
            return f"{which}: {most}, so none of them grows"
        at = f"mode {self.mode}, {words.engineering(self.frequency_hz, 'Hz')}"
        return f"{which}: the loop gain reaches {words.significant(max(self.gain, LEAST), 2 if self.gain > LEAST else 1)} at {at}. It may grow: lower the bandwidth"


def beyond(view: LoopView) -> Beyond:
    """Of the loop as it is, the other circuits held at their values."""
    solved, kept = view.solved, view.solved.beam.n_kept
    closed = as_closed(hold(solved.candidate, solved.system))
    assert closed is not None  # there is a loop to look at
    more = layout(solved.project, closed, MORE * kept)
    loop = replace(view.loop, system=coupled_system(more, closed))
    w, omega = loop.plant.grid_rad_s, loop.system.omega_rad_s
    above = w > np.sqrt(omega[kept - 1] * omega[kept])
    gain = np.abs(loop.gain_on_grid[above])
    at = int(gain.argmax())
    mode = int(np.abs(np.log(omega[kept:] / w[above][at])).argmin()) + kept + 1
    return Beyond(kept, len(omega), float(gain[at]), mode, float(w[above][at]) / (2 * np.pi), float(omega[-1]) / (2 * np.pi))
