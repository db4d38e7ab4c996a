"""Inputs take unit and range from their description, so that field, table and problem list agree."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from app.fields import column_for, quantity_for
from core.project.fields import FIELDS

PANELS = Path(__file__).parents[3] / "app" / "panels"
NOT_SAVED = {"root_dialog.py"}
"""Asks for what was measured, which finds an input and is none."""


def test_no_panel_states_a_limit_of_its_own():
    own = [
        f"{file.name}:{call.lineno} {word.arg}"
        for file in sorted(PANELS.glob("*.py"))
        if file.name not in NOT_SAVED
        for call in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(call, ast.Call)
        for word in call.keywords
        if word.arg in ("low", "high", "above")
    ]
    assert own == []


@pytest.mark.parametrize("key", ["structure.span_m", "loads.band_hz", "pieces.count", "datums.diameter_m"])
def test_field_and_column_refuse_what_the_problem_list_refuses(qtbot, key):
    allowed = FIELDS[key].range
    field, column = quantity_for(key), column_for(key)
    qtbot.addWidget(field)
    for value in (allowed.low, allowed.high, 0.5 * allowed.low, 2.0 * allowed.high, 0.5 * (allowed.low + allowed.high)):
        field.set_value(None)
        text = column.to_text(value)
        field.setText(text)
        field.setModified(True)
        field.commit()
        try:
            column.to_value(text)
            taken = True
        except ValueError:
            taken = False
        assert (field.error() == "") == taken == allowed.holds(value), value
