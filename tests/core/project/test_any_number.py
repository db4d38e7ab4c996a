"""No number anywhere in a project makes the checks stumble; a number that is not finite is always told."""

from __future__ import annotations

import math

import msgspec
import pytest

from core.predict.remarks.problems import find_problems
from core.project import library
from core.project.candidate import Instrument
from core.project.model import Project
from core.project.structure import CutOut, GroundSpring, KeepOut

replace = msgspec.structs.replace


def crowded() -> Project:
    """An example that uses every kind of saved value."""
    project = library.example("touring-ski")
    structure = replace(
        project.structure,
        cut_outs=(
            CutOut("hole", 0.6, 0.01, diameter_m=0.01),
            CutOut("slot", 0.7, length_m=0.02, width_m=0.01),
        ),
        springs=(GroundSpring("s", 0.5, 10.0, 1.0),),
        masses=library.example("gantry-bracket").structure.masses,
        keep_outs=(
            *project.structure.keep_outs,
            KeepOut("p", "top", 0.6, 0.7, ((0.6, 0.0), (0.7, 0.0), (0.7, 0.01))),
        ),
        weighed_mass_kg=0.5,
        dead_weight_stiffness_n_m=400.0,
    )
    candidate = project.candidates[0]
    group = replace(candidate.groups[0], instrument=Instrument())
    return replace(project, structure=structure, candidates=(replace(candidate, groups=(group,)),))


def leaves(value, path=()):
    if isinstance(value, float):
        yield path
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from leaves(item, (*path, index))
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            yield from leaves(getattr(value, name), (*path, name))


def put(value, path, new):
    if not path:
        return new
    head, rest = path[0], path[1:]
    if isinstance(value, dict):
        return {**value, head: put(value[head], rest, new)}
    if isinstance(value, tuple):
        return (*value[:head], put(value[head], rest, new), *value[head + 1 :])
    return replace(value, **{head: put(getattr(value, head), rest, new)})


CROWDED = crowded()
LEAVES = [path for path in leaves(CROWDED) if path[0] != "origins"]


def test_the_crowded_project_is_fine_and_large():
    assert find_problems(CROWDED) == ()
    assert len(LEAVES) > 150


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_always_told(bad):
    silent = [path for path in LEAVES if not find_problems(put(CROWDED, path, bad))]
    assert silent == []


@pytest.mark.parametrize("odd", [0.0, -1.0, 1e-300, -1e300, 1e300])
def test_an_odd_number_makes_nothing_stumble(odd):
    for path in LEAVES:
        project = put(CROWDED, path, odd)
        told = find_problems(project)
        assert all(problem.message.endswith(".") and len(problem.message) < 330 for problem in told)
