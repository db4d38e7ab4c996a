"""Reading and replacing values by path."""

from __future__ import annotations

import pytest

from app.panels.paths import lies_in, replaced_at, value_at
from tests.levels import beam_example


@pytest.fixture(scope="module")
def project():
    return beam_example("lab-beam")


def test_ids_names_numbers_and_dictionaries(project):
    patch = project.candidate("A").patches[0]
    assert value_at(project, f"candidates[A].patches[{patch.id}].bond.thickness_m") == patch.bond.thickness_m
    assert value_at(project, f"materials[{project.materials[1].name}]") is project.materials[1]
    assert value_at(project, "materials[1]") is project.materials[1]
    assert value_at(project, "structure.stations_m[-1]") == project.structure.span_m


def test_replacing_leaves_the_rest_the_same_objects(project):
    changed = replaced_at(project, "candidates[A].patches[P1].length_m", 0.04)
    assert value_at(changed, "candidates[A].patches[P1].length_m") == 0.04
    assert changed.structure is project.structure
    assert replaced_at(changed, "candidates[A].patches[P1].length_m", 0.05) == project


def test_a_circuit_value_that_was_not_there(project):
    group = project.candidate("A").groups[0].id
    path = f"candidates[A].groups[{group}].circuit.values.resistance_ohm"
    assert value_at(replaced_at(project, path, 1e4), path) == 1e4


@pytest.mark.parametrize("path", ["candidates[Q].name", "structure.colour", "materials[99]"])
def test_no_such_place(project, path):
    with pytest.raises(LookupError):
        value_at(project, path)


def test_lies_in():
    assert lies_in("structure.width_m[3]", "structure.width_m")
    assert not lies_in("structure.width_max", "structure.width_m")
    assert not lies_in("structure", "")
