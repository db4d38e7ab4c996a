"""Files: what is saved is what is loaded, to the last digit; what is no project is refused in words."""

from __future__ import annotations

import json
import math
import os
import stat
import sys
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.project import library, store
from core.project.model import FORMAT_VERSION, Project, Release, Service
from core.project.schema import SCHEMA_FILE, flush_descriptions, project_schema
from core.project.store import ProjectFileError
from core.project.upgrade import step, upgrade

replace = msgspec.structs.replace
EXAMPLE = library.example("lab-beam")
RESOURCES = Path(library.__file__).parents[2] / "resources"
finite = st.floats(allow_nan=False, allow_infinity=False)


def raw(**changes):
    return json.dumps({**json.loads(store.dumps(EXAMPLE)), **changes}).encode()


def words_of(data: bytes) -> str:
    with pytest.raises(ProjectFileError) as caught:
        store.loads(data)
    return str(caught.value)


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_saving_and_loading_an_example_changes_nothing(key, tmp_path):
    project = library.example(key)
    file = tmp_path / "copy.quietspan"
    store.save(project, file)
    again = store.load(file)
    assert again == project
    assert store.dumps(again) == file.read_bytes()
    assert file.read_bytes() == (RESOURCES / "examples" / f"{key}.quietspan").read_bytes()


@given(st.lists(finite, min_size=2, max_size=9), finite, finite, st.text(max_size=40))
@settings(max_examples=60, derandomize=True, deadline=None)
def test_any_number_and_text_survives(profile, deflection, offset, notes):
    structure = replace(EXAMPLE.structure, width_m=tuple(profile), stations_m=tuple(profile))
    candidate = replace(
        EXAMPLE.candidates[0], patches=(replace(EXAMPLE.candidates[0].patches[0], y_m=offset),)
    )
    project = replace(
        EXAMPLE,
        structure=structure,
        candidates=(candidate,),
        service=Service((Release("r", deflection, (1.0, 2.0)),)),
        notes=notes,
    )
    data = store.dumps(project)
    assert store.loads(data) == project
    assert store.dumps(store.loads(data)) == data


def test_the_text_reads_well():
    text = store.dumps(EXAMPLE).decode()
    assert '"stations_m": [0.0, 0.3]' in text
    assert "gₙ" not in text and "\\u" not in text
    assert max(map(len, text.splitlines())) < 400


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_not_saved(bad, tmp_path):
    project = replace(EXAMPLE, structure=replace(EXAMPLE.structure, width_m=(0.03, bad)))
    file = tmp_path / "kept.quietspan"
    store.save(EXAMPLE, file)
    with pytest.raises(ProjectFileError, match=r"structure\.width_m\[1\]"):
        store.save(project, file)
    assert store.load(file) == EXAMPLE


# ---- refusals ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b" \n ", "is empty"),
        (b"hello", "not JSON"),
        (b"\xff\xfe\x00", "not JSON"),
        (b"[" * 100_000, "not"),
        (b"[1, 2]", 'no "format_version"'),
        (b"{}", 'no "format_version"'),
        (b'"text"', 'no "format_version"'),
        (store.dumps(EXAMPLE)[:-300], "cut off"),
        (b'{"format_version": 999}', "newer Quietspan"),
        (b'{"format_version": "one"}', "whole number"),
        (b'{"format_version": true}', "whole number"),
        (b'{"format_version": 0}', "whole number"),
        (raw(name=1e400), "not"),
    ],
    ids=["empty", "blank", "text", "bytes", "deep", "list", "bare", "string", "cut", "newer", "word", "bool",
         "zero", "huge"],
)  # fmt: skip
def test_what_is_no_project_is_refused_in_words(data, words):
    assert words in words_of(data)


def test_every_fault_is_told_by_its_path():
    content = json.loads(store.dumps(EXAMPLE))
    del content["structure"]["stations_m"]
    content["structure"]["layers"][0]["pieces"][0]["count"] = "two"
    content["structure"]["width_m"] = [0.03, "wide"]
    content["structure"]["root"] = 7
    content["candidates"][0]["patches"][0]["face"] = "left"
    content["candidates"][1]["groups"][0]["circuit"]["values"]["resistance_ohm"] = None
    content["service"]["loads"][0]["type"] = "earthquake"
    content["service"]["loads"][1]["band_hz"] = [1.0]
    content["origins"]["structure.width_m"]["status"] = "guessed"
    content["colour"] = "red"
    with pytest.raises(ProjectFileError) as caught:
        store.loads(json.dumps(content).encode())
    paths = sorted(fault.split(":")[0] for fault in caught.value.faults)
    assert paths == sorted(
        [
            "colour",
            "structure.stations_m",
            "structure.layers[0].pieces[0].count",
            "structure.width_m[1]",
            "structure.root",
            "candidates[0].patches[0].face",
            "candidates[1].groups[0].circuit.values.resistance_ohm",
            "service.loads[0].type",
            "service.loads[1].band_hz",
            "origins.structure.width_m.status",
        ]
    )
    for path in paths:
        assert path in str(caught.value)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"active": "Q"}, 'active: names "Q"'),
        ({"candidates": []}, "candidates: must hold"),
        ({"name": 3}, "name: expected `str`"),
    ],
)
def test_a_project_that_does_not_hold_together_is_refused(changes, words):
    assert words in words_of(raw(**changes))


def test_a_layout_with_problems_still_loads():
    patch = replace(EXAMPLE.candidates[0].patches[0], x_start_m=9.0, package="gone")
    project = replace(EXAMPLE, candidates=(replace(EXAMPLE.candidates[0], patches=(patch,)),))
    assert store.loads(store.dumps(project)) == project


def test_large_noise_is_refused_by_its_size(tmp_path):
    file = tmp_path / "noise.quietspan"
    with file.open("wb") as out:
        out.truncate(200_000_000)
    with pytest.raises(ProjectFileError, match="200 MB"):
        store.load(file)
    with pytest.raises(ProjectFileError, match="larger than 50 MB"):
        store.loads(bytes(50_000_001))


def test_a_folder_and_a_missing_file_are_refused(tmp_path):
    with pytest.raises(ProjectFileError, match="is a folder"):
        store.load(tmp_path)
    with pytest.raises(ProjectFileError, match="is not there"):
        store.load(tmp_path / "none.quietspan")
    with pytest.raises(ProjectFileError, match="is a folder"):
        store.save(EXAMPLE, tmp_path)
    with pytest.raises(ProjectFileError, match="is not there"):
        store.save(EXAMPLE, tmp_path / "no" / "where.quietspan")


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no named pipes in folders")
def test_a_pipe_is_refused_without_waiting(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(ProjectFileError, match="not an ordinary file"):
        store.load(tmp_path / "pipe")


# ---- writing -----------------------------------------------------------------------------


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch):
    file = tmp_path / "part.quietspan"
    store.save(EXAMPLE, file)
    before = file.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(ProjectFileError, match="no space left"):
        store.save(replace(EXAMPLE, name="other"), file)
    assert file.read_bytes() == before
    assert [f.name for f in tmp_path.iterdir()] == ["part.quietspan"]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows keeps no such permissions")
def test_permissions_and_links_survive(tmp_path):
    file, link = tmp_path / "real.quietspan", tmp_path / "link.quietspan"
    store.save(EXAMPLE, file)
    file.chmod(0o640)
    link.symlink_to(file)
    store.save(replace(EXAMPLE, name="other"), link)
    assert link.is_symlink() and store.load(file).name == "other"
    assert stat.S_IMODE(file.stat().st_mode) == 0o640


# ---- older files -------------------------------------------------------------------------


LATER = {
    *("outline", "tolerances", "releases", "output_patch", "underside_note", "tolerance_source"),
    *("connector_place", "parts", "alternates", "question", "choice"),
}
"""Fields that the first files of format 1 had not; each has a default."""


def without_later_fields(value):
    if isinstance(value, list):
        return [without_later_fields(item) for item in value]
    if isinstance(value, dict):
        return {key: without_later_fields(item) for key, item in value.items() if key not in LATER}
    return value


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_a_file_without_the_fields_that_came_later_still_loads(key):
    project = library.example(key)
    old = without_later_fields(json.loads(store.dumps(project)))
    assert not LATER & {*old, *old["structure"], *old["view"], *old["sheet"]}
    loaded = store.loads(json.dumps(old).encode())
    assert loaded.candidates == project.candidates
    assert loaded.structure == replace(project.structure, outline=None)


def test_steps_bring_an_older_file_up_to_date():
    registry = {}

    @step(registry, from_version=1)
    def _first(content):
        content["title"] = content.pop("name")

    @step(registry, from_version=2)
    def _second(content):
        content["title"] += "!"

    old = {"format_version": 1, "name": "beam"}
    assert upgrade(old, 3, registry) == {"format_version": 3, "title": "beam!"}
    assert old == {"format_version": 1, "name": "beam"}
    with pytest.raises(ValueError, match="two upgrade steps"):
        step(registry, from_version=1)(_first)


def test_an_older_file_goes_through_its_step(monkeypatch):
    monkeypatch.setattr(store, "FORMAT_VERSION", FORMAT_VERSION + 1)
    monkeypatch.setattr(
        store, "UPGRADES", {FORMAT_VERSION: lambda content: content.update(notes="brought up")}
    )
    assert store.loads(store.dumps(EXAMPLE)).notes == "brought up"
    monkeypatch.setattr(store, "UPGRADES", {})
    assert "older Quietspan" in words_of(store.dumps(EXAMPLE))


# ---- schema ------------------------------------------------------------------------------


def test_the_shipped_schema_is_current():
    assert (RESOURCES / SCHEMA_FILE).read_bytes() == project_schema()


def test_the_schema_does_not_depend_on_how_a_docstring_is_handed_on():
    indented = {"anyOf": [{"description": "A beam.\n\n    Straight and layered.\n    "}], "default": []}
    flush = {"anyOf": [{"description": "A beam.\n\nStraight and layered."}], "default": []}
    assert flush_descriptions(indented) == flush_descriptions(flush) == flush


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_examples_fit_the_schema(key):
    jsonschema = pytest.importorskip("jsonschema")
    validator = jsonschema.Draft202012Validator(json.loads(project_schema()))
    content = json.loads(store.dumps(library.example(key)))
    assert list(validator.iter_errors(content)) == []
    content["structure"]["layers"] = "none"
    assert list(validator.iter_errors(content))


def test_loading_gives_a_project():
    assert isinstance(store.loads(store.dumps(EXAMPLE)), Project)
