"""The part within the frame of its sheet, and plates that are no sheets."""

from __future__ import annotations

import numpy as np
import pytest

from core.outline.shape import possible_parts
from core.outline.sheet import likely_part
from tests.core.outline.test_broken_files import joined, lines

PART = ((100, 150), (220, 150), (250, 155), (250, 175), (220, 180), (100, 180))


def rectangle(x, y, long, high):
    return lines((x, y), (x + long, y), (x + long, y + high), (x, y + high), closed=True)


def circle(x, y, radius):
    turn = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    return lines(*((x + radius * np.cos(a), y + radius * np.sin(a)) for a in turn), closed=True)


def taken(*traces):
    """Bounds of the part, mm."""
    parts = joined(*traces)
    return (1e3 * np.array(possible_parts(parts)[likely_part(parts)].bounds)).round(3).tolist()


SHEET, BORDER, TITLE = rectangle(0, 0, 420, 297), rectangle(10, 10, 400, 277), rectangle(230, 10, 180, 60)


@pytest.mark.parametrize("part", [PART, tuple((100 + 0.2 * (x - 100), 150 + 0.2 * (y - 150)) for x, y in PART)])
@pytest.mark.parametrize("around", [(SHEET,), (BORDER,), (SHEET, BORDER), (SHEET, BORDER, TITLE), (BORDER, TITLE)])
def test_the_part_within_a_frame_is_taken_however_small(around, part):
    low, high = np.min(part, axis=0), np.max(part, axis=0)
    assert taken(*around, lines(*part, closed=True)) == pytest.approx([*low, *high], abs=1e-3)


def test_a_rectangular_part_within_a_frame_is_taken_where_the_frame_shows_itself_as_one():
    strip = rectangle(100, 150, 120, 8)
    for around in ((SHEET,), (SHEET, BORDER), (BORDER, TITLE), (SHEET, BORDER, TITLE)):
        assert taken(*around, strip) == [100, 150, 220, 158]


def test_of_several_things_on_a_sheet_the_largest_that_is_no_table_is_taken():
    table, logo = rectangle(30, 220, 200, 40), circle(350, 240, 12)
    assert taken(SHEET, BORDER, TITLE, table, logo, lines(*PART, closed=True)) == [100, 150, 250, 180]


@pytest.mark.parametrize(
    "traces",
    [
        (rectangle(0, 0, 300, 60), rectangle(100, 10, 150, 40)),  # a long plate with a window
        (rectangle(0, 0, 150, 100), circle(40, 50, 10), rectangle(80, 20, 40, 60)),  # a broad one with a bore and a slot
        (lines(*PART, closed=True), circle(120, 165, 5)),
        (rectangle(0, 0, 420, 297), rectangle(10, 10, 400, 277)),  # nothing but the frame
    ],
)
def test_a_plate_with_openings_is_no_sheet(traces):
    parts = joined(*traces)
    assert likely_part(parts) == 0
