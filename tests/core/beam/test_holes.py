"""Round holes under sections that warp and curve: what a hole takes is a matter of its shape, not of the elements' parameter.

Functions of x are polynomials over elements whose parameter runs with x; an element whose parameter runs with the angle of
a chord would bend them for nothing (a hole of 2 mm once took 5 % of a strip's first frequency).
"""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.piezo.layout import solve
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_structure
from core.project.structure import CutOut

AT = 0.05


def frequencies(cut_outs: tuple[CutOut, ...], level: str, finer: int = 0) -> np.ndarray:
    lab = with_structure(library.example("lab-beam"), level=level)
    project = replace(lab, structure=replace(lab.structure, cut_outs=cut_outs))
    bare = replace(project.candidate(), patches=(), groups=())
    return solve(project, bare, finer=finer).omega_rad_s[:5] / (2.0 * np.pi)


def hole(diameter_m: float, y_m: float = 0.0) -> tuple[CutOut, ...]:
    return (CutOut("hole", AT, y_m, diameter_m=diameter_m),)


def slices(diameter_m: float, count: int = 40) -> tuple[CutOut, ...]:
    """The hole as slots whose areas are those of its slices."""
    edges = np.linspace(-0.5, 0.5, count + 1) * diameter_m
    radius = 0.5 * diameter_m
    area = edges * np.sqrt(radius**2 - edges**2) + radius**2 * np.arcsin(np.clip(edges / radius, -1.0, 1.0))
    widths, length = np.diff(area) / np.diff(edges), diameter_m / count
    middles = AT + 0.5 * (edges[1:] + edges[:-1])
    return tuple(CutOut("slot", float(x), length_m=length, width_m=float(w)) for x, w in zip(middles, widths, strict=True))


@pytest.mark.parametrize("diameter_m", [0.002, 0.0055, 0.012])
def test_a_hole_takes_of_a_shear_flexible_strip_what_it_takes_of_a_stiff_one(diameter_m):
    falls = [frequencies(hole(diameter_m), level) / frequencies((), level) for level in ("section", "shear")]
    assert falls[0][0] < 1.0 - 1e-4
    assert falls[1] == pytest.approx(falls[0], abs=5e-5)


@pytest.mark.parametrize("level", ["section", "shear", "across"])
def test_a_round_hole_is_the_limit_of_slots_cut_slice_by_slice(level):
    fall = frequencies(hole(0.012), level) / frequencies((), level)
    cut = frequencies(slices(0.012), level) / frequencies((), level)
    assert fall[0] < 0.99
    assert fall == pytest.approx(cut, abs=5e-4)


@pytest.mark.parametrize("level", ["shear", "across"])
def test_frequencies_with_a_hole_are_settled(level):
    assert frequencies(hole(0.012), level) == pytest.approx(frequencies(hole(0.012), level, finer=2), rel=1.5e-5)


def test_torsion_with_a_hole_is_that_with_its_slices():
    lab = library.example("lab-beam")
    found = []
    for cut_outs in ((), hole(0.012), slices(0.012)):
        project = replace(lab, structure=replace(lab.structure, cut_outs=cut_outs))
        found.append(np.array(predict(project, "A").torsion_hz))
    assert found[1][0] < found[0][0]
    assert found[1] / found[0] == pytest.approx(found[2] / found[0], abs=1e-3)
