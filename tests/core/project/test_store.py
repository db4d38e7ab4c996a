"""Files: what is saved is what is loaded, to the last digit; what is no project is refused in words."""

from __future__ import annotations

import gc
import json
import math
import os
import stat
import sys
import time
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.project import files, library, store
from core.project.model import FORMAT_VERSION, Project
from core.project.schema import SCHEMA_FILE, flush_descriptions, project_schema
from core.project.service import Release, Service
from core.project.store import ProjectFileError
from core.project.upgrade import UPGRADES, step, upgrade

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
        (raw(name=1e400), "line 1, column 10: invalid character"),
        (b'{"format_version": 1, "name": 1e999}', "too large"),
        (b'{"format_version": 1, "name":' + b"[" * 100_000, "nested too deep"),
        ('{"format_version": 1}'.encode("utf-16"), "Save it as UTF-8"),
    ],
    ids=["empty", "blank", "text", "bytes", "deep", "list", "bare", "string", "cut", "newer", "word", "bool",
         "zero", "infinity", "huge", "nested", "utf-16"],
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


def test_a_byte_order_mark_of_an_editor_is_no_fault():
    assert store.loads(b"\xef\xbb\xbf" + store.dumps(EXAMPLE)) == EXAMPLE


@pytest.mark.parametrize(
    ("right", "wrong", "words"),
    [
        (
            '"stations_m": [0.0, 0.3]',
            '"stations_m": [0.0, 0.3,]',
            "line 5, column 29: trailing comma in array",
        ),
        ('"stations_m": [0.0, 0.3]', '"stations_m": [0.0 0.3]', "line 5, column 24: expected ',' or ']'"),
        ('"stations_m": [0.0, 0.3]', '"stations_m" [0.0, 0.3]', "line 5, column 18: expected ':'"),
    ],
)
def test_a_slip_in_hand_edited_text_is_told_with_its_place(right, wrong, words):
    text = store.dumps(EXAMPLE).decode()
    assert text.splitlines()[4].strip().startswith(right)
    assert words in words_of(text.replace(right, wrong).encode())


def test_a_byte_that_is_no_text_is_told_with_its_place():
    assert "line 2, column 12: a byte that is not UTF-8" in words_of(
        store.dumps(EXAMPLE).replace(b'"name": "', b'"name": "\xff', 1)
    )


@pytest.mark.parametrize("given", [["force"], {"a": 1}, None, 3, "earthquake"], ids=str)
def test_any_type_of_a_load_is_answered_with_those_there_are(given):
    content = json.loads(store.dumps(EXAMPLE))
    content["service"]["loads"][0]["type"] = given
    words = words_of(json.dumps(content).encode())
    assert "service.loads[0].type: must be one of 'force', " in words
    assert "'root acceleration'" in words


@pytest.mark.parametrize(
    "spoil",
    [
        lambda c: c["structure"].update(stations_m=["x"] * 3_900_000),
        lambda c: c["structure"].update(stations_m=[1.5] * 800_000 + ["x"]),
        lambda c: c.update(candidates=[{}] * 4_900_000),
        lambda c: c.update({f"k{i}": 3 for i in range(260_000)}),
        lambda c: c["structure"].update(layers=[[]] * 240_000),
        lambda c: c.update({"x" * 1_000_000: 1}),
        lambda c: c["view"].update(output="x" * 1_000_000),
        lambda c: c.update(active="x" * 1_000_000),
        lambda c: c.update(format_version="x" * 1_000_000),
    ],
    ids=["texts", "last", "objects", "keys", "lists", "key", "word", "id", "version"],
)
def test_a_large_file_of_the_wrong_kind_is_refused_at_once_and_in_few_words(spoil):
    content = json.loads(store.dumps(EXAMPLE))
    spoil(content)
    data = json.dumps(content).encode()
    started = time.process_time()  # of this process: what else the machine does must not count
    gc.disable()  # nor what tests before left to collect
    try:
        told = words_of(data)
    finally:
        gc.enable()
    assert time.process_time() - started < 2.0  # a guard against hangs, no measurement
    assert len(told) < 1500


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"active": "Q"}, 'active: names "Q"'),
        ({"candidates": []}, "candidates: must hold"),
        ({"name": 3}, "name: expected a text, got a whole number"),
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
    with pytest.raises(ProjectFileError, match="larger than 20 MB"):
        store.loads(bytes(20_000_001))


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


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no named pipes in folders")
@pytest.mark.parametrize("name", ["pipe", "link"])
def test_what_is_no_ordinary_file_is_never_replaced(tmp_path, name):
    """As somebody with all rights, a prediction to /dev/null took the device's place for everybody."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    (tmp_path / "link").symlink_to(pipe)
    with pytest.raises(ProjectFileError, match=r"not an ordinary file but a device or a pipe\. Choose"):
        store.save(EXAMPLE, tmp_path / name)
    assert pipe.is_fifo() and sorted(f.name for f in tmp_path.iterdir()) == ["link", "pipe"]


def test_a_missing_folder_is_told_apart_from_one_that_takes_no_file(tmp_path):
    with pytest.raises(ProjectFileError, match=r'The folder ".*none" is not there. Make it'):
        store.save(EXAMPLE, tmp_path / "none" / "part.quietspan")
    (tmp_path / "file").write_text("")
    with pytest.raises(ProjectFileError, match=r'The folder ".*file" is not there. Make it'):
        store.save(EXAMPLE, tmp_path / "file" / "part.quietspan")


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


@pytest.mark.parametrize("letter", ["a", "ä", "木", "🪵"])
def test_a_name_as_long_as_the_file_system_takes_is_written(tmp_path, letter):
    end = ".quietspan"
    file = tmp_path / (letter * ((files.LONGEST_NAME_BYTES - len(end)) // len(letter.encode())) + end)
    store.save(EXAMPLE, file)
    assert store.load(file) == EXAMPLE
    assert [f.name for f in tmp_path.iterdir()] == [file.name]


def test_a_name_too_long_is_refused_in_words(tmp_path):
    with pytest.raises(ProjectFileError, match=r"could not be written: file name too long.*up to 255 bytes"):
        store.save(EXAMPLE, tmp_path / ("a" * 300))


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights on Windows")
def test_a_loop_of_links_is_refused_in_words(tmp_path):
    one, two = tmp_path / "one.quietspan", tmp_path / "two.quietspan"
    one.symlink_to(two)
    two.symlink_to(one)
    with pytest.raises(ProjectFileError, match="links"):
        store.load(one)
    with pytest.raises(ProjectFileError, match="leads back to itself"):
        store.save(EXAMPLE, one)
    assert one.is_symlink() and two.is_symlink()


def test_a_write_protected_file_is_left_alone(tmp_path):
    file = tmp_path / "kept.quietspan"
    store.save(EXAMPLE, file)
    file.chmod(0o444)
    with pytest.raises(ProjectFileError, match="write-protected"):
        store.save(replace(EXAMPLE, name="other"), file)
    assert store.load(file) == EXAMPLE


def test_what_a_killed_save_left_is_taken_away_after_an_hour(tmp_path):
    now = time.time()
    for name, age_s in (
        (".part.quietspan.abcd1234.part", 7200),
        (".part.quietspan.abcd1234.quietspan.part", 7200),
        (".part.quietspan.efgh5678.quietspan.part", 60),
        (".mine.part", 7200),
        ("part.quietspan.part", 7200),
    ):
        (tmp_path / name).write_bytes(b"half a file")
        os.utime(tmp_path / name, (now - age_s, now - age_s))
    store.save(EXAMPLE, tmp_path / "part.quietspan")
    assert sorted(f.name for f in tmp_path.iterdir()) == [
        ".mine.part",
        ".part.quietspan.efgh5678.quietspan.part",
        "part.quietspan",
        "part.quietspan.part",
    ]


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


def test_a_project_of_0_1_says_that_its_numbers_have_changed():
    """It names no level: it opens at the usual one, with a remark among its notes; what was released stays as it was."""
    old = {"format_version": 1, "name": "beam", "structure": {}, "notes": "Mine.", "releases": [{"structure": {}}]}
    new = upgrade(old, 2, UPGRADES)
    assert new["notes"].startswith("Mine.\n\nThis project was made when every layer") and "level" not in new["structure"]
    assert new["releases"][0]["structure"]["level"] == "plain"
    wide = upgrade({**old, "structure": {"wide_strip": True}}, 2, UPGRADES)
    assert "had 'Wide strip' switched on" in wide["notes"] and wide["structure"] == {}


def test_a_loop_of_the_whole_project_goes_to_every_candidate_open():
    """So that copies may differ; a file in which nobody has designed one is told nothing."""
    design = {"law": "velocity", "filters": [], "times": 2.0}
    old = {"format_version": 2, "candidates": [{"id": "A"}, {"id": "B"}], "notes": "Mine.", "loop": design}
    new = upgrade(old, 3, UPGRADES)
    assert "loop" not in new and [c["loop"] for c in new["candidates"]] == [design, design]
    assert new["notes"].startswith("Mine.\n\nThe active loop of this project is now part of each candidate")
    untouched = upgrade({**old, "loop": {"law": "position", "filters": []}}, 3, UPGRADES)
    assert untouched["notes"] == "Mine." and untouched["candidates"][0] == {"id": "A"}


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


def test_half_of_a_character_is_told_with_its_place():
    """As a paste may bring; UTF-8 cannot hold it, and the project must not be lost by it."""
    project = msgspec.structs.replace(library.example("lab-beam"), name="a\ud800b")
    with pytest.raises(ProjectFileError, match=r'half of a character[\s\S]*name: "a\?b"'):
        store.dumps(project)
