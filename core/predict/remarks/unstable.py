"""What is left of a prediction when a pole grows: nothing settles, every amplitude is unbounded.

A number there would be read as an effect of the circuit, so curves are nan and sizes are inf.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from core.predict.fields import Fields
from core.predict.loads.loading import PlateState, Vibration, load_sentence
from core.predict.prediction import Response
from core.predict.response import Side


def curves(response: Response) -> Response:
    """Without a curve after."""
    return replace(
        response,
        after=np.full_like(response.after, np.nan),
        peak_after=np.inf,
        mean_square_change_db=np.inf,
    )


def vibration(over_x: Fields, side: Side) -> Vibration:
    """Unbounded strain, voltage, shear and power in every ceramic and group."""
    groups = np.full(len(side.system.connections), np.inf)
    both = (-np.inf, np.inf)
    state = PlateState(both, (None, None), both, np.inf, None)
    words = load_sentence(side.forcing, over_x.beam.spec.span_m)
    return Vibration((state,) * len(over_x.beam.plates), groups, groups, groups, groups, groups, words)
