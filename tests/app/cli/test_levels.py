"""Four levels of the mechanics by name: in the command, in the window's list and in the help's one table."""

from __future__ import annotations

import json
from pathlib import Path
from typing import get_args

import pytest

from app.cli.predict_command import LEVELS
from app.main import main
from app.panels import words
from core.predict.predict import predict
from core.project import library, store
from core.project.edit import with_structure
from core.project.structure import Level

NAMES = get_args(Level)


@pytest.fixture(scope="module")
def board(tmp_path_factory):
    file = tmp_path_factory.mktemp("levels") / "board.quietspan"
    store.save(library.example("half-board"), file)
    return file


@pytest.mark.parametrize("level", NAMES)
def test_the_command_takes_a_level_by_name(board, capsys, level):
    assert main(["predict", str(board), "--json", "--level", level]) == 0
    told = json.loads(capsys.readouterr().out)
    expected = predict(with_structure(library.example("half-board"), level=level))
    assert [m["f_short_hz"] for m in told["modes"]] == [m.f_short_hz for m in expected.modes]
    assert [m["name"] for m in told["modes"]] == [m.name for m in expected.modes]
    named = [(t["name"], t["k2"], t["k2_note"]) for t in told["torsion"]]
    missed = "cannot be reached by a centred patch"
    assert named == ([("T1", None, missed), ("T2", None, missed), ("T3", None, missed)] if level == "across" else [])


def test_the_window_and_the_help_know_the_same_levels():
    assert sorted(value for value, _ in words.LEVELS) == sorted(NAMES) == sorted(LEVELS)
    page = Path("resources/help/model.md").read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| `")]
    assert [row.split("`")[1] for row in rows] == list(NAMES)
    assert all(len([cell for cell in row.split("|") if cell.strip()]) == 3 for row in rows)


def test_modes_are_told_by_what_they_do_on_the_terminal(board, capsys):
    assert main(["predict", str(board), "--level", "across"]) == 0
    told = capsys.readouterr().out
    assert "cannot be reached by a centred patch" in told
    assert all(f" {name} " in told for name in ("B1", "B2", "C1", "T1"))
