"""What cannot be predicted is refused in words before anything is solved; what is not refused is predicted."""

from __future__ import annotations

import json
import math
import time
import typing

import msgspec
import numpy as np
import pytest

from core.circuit.registry import CIRCUITS
from core.predict.predict import predict
from core.predict.remarks.problems import find_problems
from core.project import library, store
from core.project.candidate import CircuitName
from core.project.ceilings import MOST_GROUPS, MOST_MODES, MOST_PATCHES, MOST_STATIONS
from core.project.model import Project
from core.project.store import ProjectFileError
from core.project.structure import Support

replace = msgspec.structs.replace
BASE = library.example("lab-beam")
PATCH, GROUP = BASE.candidates[0].patches[0], BASE.candidates[0].groups[0]


def with_stations(project: Project, count: int) -> Project:
    structure = project.structure
    x = np.linspace(0.0, structure.span_m, count)

    def spread(profile):
        return (
            tuple(np.interp(x, structure.stations_m, profile).tolist())
            if isinstance(profile, tuple)
            else profile
        )

    layers = tuple(replace(layer, thickness_m=spread(layer.thickness_m)) for layer in structure.layers)
    taken = replace(structure, stations_m=tuple(x.tolist()), width_m=spread(structure.width_m), layers=layers)
    return replace(project, structure=taken)


def with_patches(count: int, groups: int) -> Project:
    """Small patches side by side, dealt to the groups."""
    pitch = BASE.structure.span_m / (count + 1)
    package = replace(BASE.package(PATCH.package), margin_m=0.0, length_m=pitch / 2)
    patches = tuple(
        replace(PATCH, id=f"P{i + 1}", x_start_m=(i + 0.5) * pitch, length_m=pitch / 2) for i in range(count)
    )
    dealt = tuple(
        replace(
            GROUP,
            id=f"G{j + 1}",
            members=tuple(replace(GROUP.members[0], patch=p.id) for p in patches[j::groups]),
        )
        for j in range(groups)
    )
    candidate = replace(BASE.candidates[0], patches=patches, groups=dealt)
    return replace(
        BASE,
        packages=(package, *(p for p in BASE.packages if p.name != package.name)),
        candidates=(candidate,),
    )


def with_circuit(kind: str, values: dict[str, float]) -> Project:
    circuit = replace(GROUP.circuit, kind=kind, values=values, tuning=None)
    candidate = replace(BASE.candidates[0], groups=(replace(GROUP, circuit=circuit),))
    return replace(BASE, candidates=(candidate,))


def words(project: Project) -> str:
    return "\n".join(problem.message for problem in find_problems(project))


# ---- ceilings ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "project",
    [
        with_stations(BASE, MOST_STATIONS),
        with_patches(MOST_PATCHES, MOST_GROUPS),
        replace(BASE, view=replace(BASE.view, modes_shown=MOST_MODES)),
    ],
    ids=["stations", "patches and groups", "modes"],
)
def test_as_much_as_the_ceilings_allow_is_predicted(project):
    assert words(project) == ""
    assert len(predict(project).modes) == project.view.modes_shown


@pytest.mark.parametrize(
    ("project", "told"),
    [
        (with_stations(BASE, 1500), "The part has 1500 stations; at most 400"),
        (with_patches(MOST_PATCHES + 1, 1), "Candidate A has 25 patches; at most 24"),
        (with_patches(9, 9), "Candidate A has 9 groups; at most 8"),
        (replace(BASE, service=replace(BASE.service, loads=BASE.service.loads * 100)), "loads; at most 200"),
    ],
    ids=["stations", "patches", "groups", "loads"],
)
def test_more_than_the_ceilings_allow_is_refused_in_words_and_at_load(project, told):
    started = time.process_time()  # of this process: what else the machine does must not count
    assert told in words(project)
    with pytest.raises(ProjectFileError, match=told.split(";")[0]):
        store.loads(store.dumps(project))
    assert time.process_time() - started < 2.0


# ---- circuits ------------------------------------------------------------------------------


def test_the_files_circuits_are_those_of_the_registry():
    assert set(typing.get_args(CircuitName)) == set(CIRCUITS)


def test_an_unknown_circuit_in_a_file_is_answered_with_those_there_are():
    content = json.loads(store.dumps(BASE))
    content["candidates"][0]["groups"][0]["circuit"]["kind"] = "gyrator"
    with pytest.raises(ProjectFileError, match=r"circuit\.kind: must be one of 'shorted', .* not 'gyrator'"):
        store.loads(json.dumps(content).encode())


def test_an_unknown_name_of_a_value_is_told_and_no_default_taken_silently():
    told = words(with_circuit("resistor", {"resistance": 1e4}))
    assert 'a value "resistance", which' in told and "resistance_ohm" in told


@pytest.mark.parametrize("kind", CIRCUITS)
def test_the_largest_and_least_values_of_a_circuit_are_predicted_and_larger_ones_told(kind):
    for parameter in CIRCUITS[kind].parameters:
        for value in (parameter.high, 1e-15):
            project = with_circuit(kind, {parameter.name: value})
            assert words(project) == ""
            found = predict(project)
            for mode in found.modes:
                assert math.isfinite(mode.f_short_hz)
                # what may feed says so instead of a number, and a switch says nothing of modes it does not serve
                served = not CIRCUITS[kind].worked_out or mode.number == 1
                assert (mode.peak_change_db is None) == (bool(found.unstable) or not served)
                assert mode.peak_change_db is None or math.isfinite(mode.peak_change_db)
            assert CIRCUITS[kind].active or not found.unstable
        assert "it must be" in words(with_circuit(kind, {parameter.name: 1e300}))


# ---- constants ------------------------------------------------------------------------------


def with_modulus(**changes) -> Project:
    first = BASE.materials[0]
    modulus = replace(first.youngs_modulus_pa, **changes)
    return replace(BASE, materials=(replace(first, youngs_modulus_pa=modulus), *BASE.materials[1:]))


def test_a_modulus_that_the_cold_makes_negative_is_told_before_anything_is_solved():
    cold = replace(BASE, service=replace(BASE.service, cold_c=-40.0))
    told = words(replace(with_modulus(per_kelvin=0.05), service=cold.service))
    assert "at −40 °C" in told and "5 %/K" in told and "it must be from" in told


def test_a_modulus_or_a_stiffness_of_next_to_nothing_is_told():
    assert "it must be from" in words(with_modulus(value=5e-324))
    root = replace(BASE.structure, root=Support("elastic", 1e6, 5e-324))
    assert "or 0 for none" in words(replace(BASE, structure=root))


@pytest.mark.parametrize("span_m", [1e-7, 1e-6, 9e-4, 101.0])
def test_a_span_that_is_a_slip_of_the_unit_is_told(span_m):
    structure = replace(BASE.structure, stations_m=(0.0, span_m))
    assert "it must be" in words(replace(BASE, structure=structure))


def test_a_message_stays_short_whatever_the_names_are():
    patch = replace(PATCH, package="x" * 1_000_000)
    project = replace(BASE, candidates=(replace(BASE.candidates[0], patches=(patch,)),))
    assert all(len(problem.message) < 400 for problem in find_problems(project))
