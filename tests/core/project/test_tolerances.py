"""Tolerances in a file: what is out of range is told with its path."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from core.project import library
from core.project.labels import label_of
from core.project.model import Tolerance
from core.project.problems import find_problems

E = "materials[Aluminium alloy].youngs_modulus_pa"


@pytest.mark.parametrize(
    ("path", "said", "where"),
    [
        (E, Tolerance(-0.1), ".plus_minus"),
        (E, Tolerance(1.2), ".plus_minus"),
        (E, Tolerance(math.nan), ".plus_minus"),
        (E, Tolerance(unknown=(7e10, 6e10)), ".unknown"),
        (E, Tolerance(unknown=(-1.0, 6e10)), ".unknown"),
        (E, Tolerance(unknown=(1.0, math.inf)), ".unknown"),
        ("candidates[A].patches[P1].x_start_m", Tolerance(2.0), ".plus_minus"),
    ],
)
def test_a_wrong_tolerance_is_told(path, said, where):
    project = replace(library.example("lab-beam"), tolerances={path: said})
    (problem,) = find_problems(project)
    assert problem.path == f"tolerances[{path}]{where}"
    assert label_of(path) in problem.message and problem.message.endswith(".")


def test_right_ones_are_not():
    d31 = "packages[Type II, 50 x 25 x 0.25].ceramic.d31_c_n"
    said = {E: Tolerance(0.05), d31: Tolerance(unknown=(-2e-10, -1e-10))}
    assert find_problems(replace(library.example("lab-beam"), tolerances=said)) == ()
