"""Where a boundary that goes with the patch all but meets one of the part, nothing happens."""

from __future__ import annotations

import numpy as np
import pytest

from core.beam.ritz import PROMISED
from core.piezo.layout import solve
from core.project import library
from core.study.layouts import placed

MEETS_M = 0.09782445333
"""Start at which a layer beside the gantry's patch ends where an element of the bare part does."""


@pytest.mark.parametrize("finer", [0, 1])
@pytest.mark.parametrize("aside", [-9e-5, -5e-5, 5e-5, 9e-5])
def test_a_sliver_between_two_elements_changes_no_coupling(finer, aside):
    project = library.example("gantry-bracket")
    candidate = project.candidate()
    at = MEETS_M + project.structure.span_m * np.array([-4e-4, -3e-4, -2e-4, 2e-4, 3e-4, 4e-4, aside])
    layouts = solve(project, candidate, 8, variation=placed(candidate, candidate.patches[0].id, at), accuracy=PROMISED, finer=finer)
    *around, found = layouts.k2[:, :5]
    x = (at - MEETS_M) / project.structure.span_m
    told = np.array([np.polyval(np.polyfit(x[:-1], np.array(around)[:, m], 2), x[-1]) for m in range(5)])
    assert np.abs(found - told).max() <= 1e-3 * np.max(around)
