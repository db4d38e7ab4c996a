"""Tables of widths: commas, headings, units, and an axis along x however wide the part is."""

from __future__ import annotations

import numpy as np
import pytest

from core.outline import widths
from core.outline.drawing import OutlineError


def table_of(text: str) -> list[tuple[float, float]]:
    """(x, width) of the rows as they were read."""
    points = widths.from_text(text).traces[0].points
    low = points[: len(points) // 2]
    return [(x, -2 * y) for x, y in low.tolist()]


@pytest.mark.parametrize(
    "text",
    [
        "0,40\n100,44\n200,36",
        "0;40\n100;44\n200;36",
        "0 mm,40 mm\n100 mm,44 mm\n200 mm,36 mm",
        "x,width\n0,40\n100,44\n200,36",
        "width;x\n40;0\n44;100\n36;200",
        "Width (mm)\tStation (mm)\n40\t0\n44\t100\n36\t200",
    ],
)
def test_these_are_the_same_table(text):
    assert table_of(text) == [(0, 40), (100, 44), (200, 36)]


def test_a_comma_that_could_be_a_decimal_one_is_said():
    (remark,) = widths.from_text("0,40\n100,44").remarks
    assert "Read as x and width, parted by commas" in remark
    assert widths.from_text("0,40.5\n100,44.5").remarks == ()


@pytest.mark.parametrize(
    ("text", "unit"),
    [("0 cm;4 cm\n10 cm;4.4 cm", "cm"), ("x [in];b [in]\n0;4\n10;4", "in"), ("x/m;w/m\n0;1\n1;1", "m")],
)
def test_the_unit_of_cells_or_headings_is_taken(text, unit):
    drawing = widths.from_text(text)
    assert (drawing.unit, drawing.unit_from) == (unit, "file")


def test_two_units_are_refused():
    with pytest.raises(OutlineError, match="mixes in and mm"):
        widths.from_text("0 mm;4 in\n10 mm;4 in")


def test_the_axis_runs_along_x_though_the_part_is_wider_than_long():
    drawing = widths.from_text("0;100\n40;120")
    assert drawing.axis is not None and np.allclose(drawing.axis, [(0, 0), (40, 0)])
