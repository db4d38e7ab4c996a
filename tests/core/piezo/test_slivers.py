"""Where a boundary that goes with the patch all but meets one of the part, nothing happens."""

from __future__ import annotations

import numpy as np
import pytest

from core.beam.mesh import one_of_several
from core.beam.ritz import PROMISED
from core.piezo.layout import solve
from core.project import library
from core.project.edit import with_structure
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


AROUND = np.array([-16e-4, -12e-4, -8e-4, 8e-4, 12e-4, 16e-4])
GAPS = np.array([-5e-4, -2e-4, -1.1e-4, -9e-5, -5e-5, -4e-5, 4e-5, 5e-5, 9e-5, 1.1e-4, 2e-4, 5e-4])
"""Of the span, between a boundary that goes with the patch and one that stays."""


def _meets(project, candidate) -> list[float]:
    """Starts at which a boundary of the patch comes to lie on one of the part."""
    span, patch = project.structure.span_m, candidate.patches[0]
    x = 0.5 * (span - patch.length_m)
    at = np.array([x, x + 1.7e-3 * span])
    bounds = [solve(project, candidate, 8, variation=placed(candidate, patch.id, at[i : i + 1])).mesh.bounds_m[0] for i in (0, 1)]
    step = at[1] - at[0]
    moving = [b - x for b in bounds[0] if np.abs(bounds[1] - b - step).min() < 1e-9 * span]
    still = [b for b in bounds[0] if np.abs(bounds[1] - b).min() < 1e-9 * span]
    every = {round(s - m, 9) for s in still for m in moving}
    return sorted(x for x in every if 0.01 * span < x < 0.99 * span - patch.length_m)


@pytest.mark.parametrize("level", ["shear", "across"])
@pytest.mark.parametrize("key", ["louvre-blade", "half-board"])
def test_whatever_meets_moves_no_coupling(key, level):
    """Divisions and marks give way to what they all but meet; the ends of a ceramic beside a station stay, and a short element
    between them holds nothing."""
    project = with_structure(library.example(key), level=level)
    candidate = project.candidate()
    span, patch = project.structure.span_m, candidate.patches[0]
    meets = _meets(project, candidate)
    assert len(meets) > 15
    for x in meets[::3]:
        at = x + span * np.concatenate([AROUND, GAPS])
        found = solve(project, candidate, 8, variation=placed(candidate, patch.id, at), accuracy=PROMISED).k2[:, :5]
        told = np.stack([np.polyval(np.polyfit(AROUND, found[:6, m], 2), GAPS) for m in range(5)], axis=-1)
        off = np.abs(found[6:] - told).max(axis=0)
        assert (off <= np.maximum(4e-3 * found.max(axis=0), 1e-6)).all(), (x, off / found.max(axis=0))


def test_marks_near_each_other_are_one():
    """Three in a row, each near the next: no sliver is left between the second and the third."""
    found = one_of_several(np.array([[0.5, 0.1, 0.10025, 0.1005], [0.2, 0.3, 0.30025, 0.4]]), 3e-4)
    assert found.tolist() == [[0.1, 0.1, 0.1, 0.5], [0.2, 0.3, 0.3, 0.4]]
