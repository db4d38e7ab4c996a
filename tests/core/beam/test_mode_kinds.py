"""Modes named by what they do."""

from __future__ import annotations

import re

import numpy as np
import pytest
from msgspec.structs import replace

from core.beam.mode_kinds import mode_names
from core.predict.mode_result import names_told
from core.predict.predict import predict
from core.predict.report.report import prediction_json, prediction_text
from core.project import library


def at_level(key, level, modes):
    project = library.example(key)
    view = replace(project.view, modes_shown=modes)
    return replace(project, structure=replace(project.structure, level=level), view=view)


def test_names_count_each_kind():
    assert mode_names(np.array([1.0, 0.9, 0.3, 0.66, 0.2])) == ("B1", "B2", "C1", "B3", "C2")


def test_the_half_board_has_a_mode_across_below_its_third_bending_mode():
    """A laminated plate has B1, B2, a chordwise mode at 291 Hz and B3 above it."""
    project = at_level("half-board", "across", 5)
    found = predict(project)
    assert [mode.name for mode in found.modes] == ["B1", "B2", "C1", "B3", "C2"]
    assert names_told(found.modes) == ("B1", "B2", "C1", "B3", "C2")
    assert found.modes[2].f_short_hz == pytest.approx(291.0, rel=0.03)
    assert re.search(r"^ +3 C1 +29\d\.\d ", prediction_text(project, found), re.MULTILINE)
    assert prediction_json(project, found)["modes"][2]["name"] == "C1"


@pytest.mark.parametrize(("key", "level"), [("half-board", "section"), ("lab-beam", "across"), ("gantry-bracket", "across")])
def test_where_all_bend_the_rank_is_enough(key, level):
    """The bracket's second mode turns the mass at its tip: it bends all the same."""
    found = predict(at_level(key, level, 5))
    assert [mode.name for mode in found.modes] == ["B1", "B2", "B3", "B4", "B5"]
    assert set(names_told(found.modes)) == {""}
