"""Strips along the edges of the outline, in the plan."""

import numpy as np
import pytest
from msgspec.structs import replace

from app.drawing.structure_view import structure_view
from core.project import library
from core.project.edge_strips import edge_strips


def test_the_plan_has_their_inner_sides():
    structure = library.example("half-board").structure
    (line,) = structure_view(structure).edge_strips_m
    assert line == pytest.approx(np.array(edge_strips(structure)[0].inner_m))
    assert structure_view(library.example("lab-beam").structure).edge_strips_m == ()


def test_none_while_a_table_is_half_typed():
    structure = library.example("half-board").structure
    assert structure_view(replace(structure, width_m=(0.252, 0.262))).edge_strips_m == ()
