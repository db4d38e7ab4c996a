"""Datums at the ends follow the ends, whoever changes the span."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from shapely.geometry import box

from app.panels.stations_edits import station_rows, with_station_rows
from core.handover.sheet.datums import choose_datums
from core.outline.apply import with_outline
from core.outline.frame import Frame
from core.outline.shape import make_shape
from core.project import edit, library
from core.project.structure import DatumFeature

BLANK = library.blank_project()


def by_field(project, span_m):
    return edit.with_span(project, span_m)


def by_table(project, span_m):
    rows = station_rows(project.structure)
    rows[-1] = {**rows[-1], "x": span_m}
    return edit.with_structure(project, with_station_rows(project.structure, rows))


def by_drawing(project, span_m):
    return with_outline(project, make_shape(box(0.0, -0.015, span_m, 0.015), Frame((0.0, 0.0), (span_m, 0.0)), 0.005), "part.dxf")


@pytest.mark.parametrize("change", [by_field, by_table, by_drawing])
@pytest.mark.parametrize("span_m", [0.62, 0.1])
def test_datums_at_the_ends_follow_the_ends(change, span_m):
    structure = BLANK.structure
    inner = replace(structure, datums=(*structure.datums, DatumFeature("shoulder", 0.05)))
    after = change(edit.with_structure(BLANK, inner), span_m)
    assert {d.name: d.x_m for d in after.structure.datums} == {
        "clamp line": 0.0, "free end": pytest.approx(span_m, abs=1e-9), "shoulder": 0.05
    }  # fmt: skip
    assert choose_datums(edit.add_patch(after, "A")).a_mm == pytest.approx(1e3 * span_m, abs=1e-6)
