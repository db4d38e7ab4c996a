"""A soft sheet of the part under a ceramic is part of its bond, whatever lies far beside."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.project import edit, library

PLACES_M = np.arange(0.03, 0.2, 0.005)
"""Along the half board, which grows from 252 to 276 mm of width there."""


def moved(project, x_m):
    candidate = project.candidate("A")
    patch = replace(candidate.patches[0], x_start_m=float(x_m))
    return replace(candidate, patches=(patch, *candidate.patches[1:]))


def test_build_up_of_strain_changes_along_a_part_as_little_as_the_part():
    board = library.example("half-board")
    lags = np.array([solve(board, moved(board, x)).ceramics.shear_lag_m[0] for x in PLACES_M])
    assert lags[:, 0].min() > 3e-3  # a top sheet of ABS lies under it; the bond alone would come to 1.4 mm
    assert np.abs(np.diff(lags, axis=0)).max() < 0.01 * lags.mean()


def test_coupling_over_the_place_is_a_smooth_curve():
    board = library.example("half-board")
    k2 = np.array([solve(board, moved(board, x)).group_k2[0, 0] for x in np.arange(0.13, 0.2, 0.005)])
    assert (np.diff(k2) < 0.0).all()
    assert np.abs(np.diff(k2, 3)).max() < 0.005 * k2.max()


@pytest.mark.parametrize("times", [1.0, 3.0, 9.0])
def test_a_wider_part_makes_no_sheet_stiff(times):
    """Told as stiff, its 0.5 mm of polymer would leave a third of the length."""
    ski = edit.with_structure(library.example("touring-ski"), level="shear")
    widths = ski.structure.width_m
    wide = edit.with_structure(ski, width_m=tuple(times * w for w in widths))
    lag, as_wide = (solve(p, p.candidate("A")).ceramics.shear_lag_m for p in (ski, wide))
    assert as_wide == pytest.approx(lag, rel=0.25)
