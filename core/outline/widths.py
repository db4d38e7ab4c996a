"""An outline from a column of widths: x and width per row, or widths at equal steps.

One column: widths, equally spaced over a length that is asked for. Two: x and width. Three: x
and the two edges, right and left of the axis. Headings may name the columns in another order, and
headings or cells may give the unit. The axis of the beam is that of x.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

import numpy as np

from core.outline.drawing import UNITS, Array, OutlineDrawing, OutlineError, Trace, guessed_unit
from core.project.paste import PasteError, comma_parts, parse_block, split_block

MOST_CHARACTERS = 200_000


def read(path: Path) -> OutlineDrawing:
    """The outline of a table in a file."""
    from core.outline.readers import read_text

    return from_text(read_text(path), path.name)


def from_text(
    text: str, name: str = "the pasted widths", unit: str | None = None, length_m: float | None = None
) -> OutlineDrawing:
    """A closed outline of a pasted table; OutlineError names the row that is wrong.

    `length_m` is the span of a single column of widths (None: the widths are taken 10 units apart).
    """
    if len(text) > MOST_CHARACTERS:
        raise OutlineError(
            f"{name} holds more than {MOST_CHARACTERS // 1000} kB; a table of widths is short."
        )
    text, told = _without_units(text, name)
    unit = unit or told
    try:
        rows = parse_block(text)
    except PasteError as error:
        raise OutlineError(f"{error} Give numbers only: x and width per row.") from None
    heading = split_block(text)[0]
    rows = [row for row in rows if any(v is not None for v in row)]
    columns = max((len(row) for row in rows), default=0)
    if len(rows) < 2 or columns == 0:
        raise OutlineError(f"{name} has {len(rows)} rows of numbers; at least two are needed.")
    for number, row in enumerate(rows, start=1):
        if len(row) != columns or any(v is None for v in row):
            raise OutlineError(
                f"Row {number} of {name} has an empty cell. Every row needs {columns} numbers."
            )
    if columns > 3:
        raise OutlineError(
            f"{name} has {columns} columns. Give x and width, or x and both edges, or widths alone."
        )
    table = np.array(rows, dtype=float)
    remarks: tuple[str, ...] = ()
    if columns == 2 and comma_parts([line for line in text.splitlines() if line.strip()]):
        remarks = ("Read as x and width, parted by commas. Part by semicolons what has decimal commas.",)
    if _is_place_last(heading, columns):
        table = table[:, ::-1]
    if columns == 1:
        guess = unit or guessed_unit(float(table.max()))
        step = 10.0 if length_m is None else length_m / UNITS[guess][0] / (len(table) - 1)
        table = np.column_stack([step * np.arange(len(table)), table])
        if length_m is None:
            remarks = ("One column only: the widths are taken 10 apart. Type the length to change that.",)
    x = table[:, 0]
    _check_order(x, name)
    low, high = (-table[:, 1] / 2, table[:, 1] / 2) if table.shape[1] == 2 else (table[:, 1], table[:, 2])
    if np.all(high <= low):
        low, high = high, low
    _check_widths(high - low, name)
    ring = _ring(x, low, high)
    guess = unit or guessed_unit(float(np.ptp(x)))
    axis = ((float(x[0]), 0.0), (float(x[-1]), 0.0))
    source: Literal["file", "guess"] = "file" if unit else "guess"
    return OutlineDrawing(name, (Trace(ring, True, "widths"),), guess, source, remarks, "widths", axis, columns == 1 and length_m is None)


_CELL_UNIT = re.compile(
    r"(?<=[\d.])[ \u00a0]*(mm|cm|m|in|inch|inches|ft|\")(?=\s|[,;]|$)(\s*,)?", re.MULTILINE
)
_HEAD_UNIT = re.compile(r"[\[(/]\s*(mm|cm|m|in|inch|inches|ft)\s*[\])]?(?=\W|$)")
_SAME = {"inch": "in", "inches": "in", '"': "in"}
_PLACE = re.compile(r"(x|station|place|position|distance|span|along)\b", re.IGNORECASE)


def _without_units(text: str, name: str) -> tuple[str, str | None]:
    """The table without units behind its numbers, and the one unit that its cells or headings give."""
    cells = {_SAME.get(m.group(1), m.group(1)) for m in _CELL_UNIT.finditer(text)}
    head = text.strip().split("\n", 1)[0]
    found = cells or {_SAME.get(m.group(1), m.group(1)) for m in _HEAD_UNIT.finditer(head)}
    if len(found) > 1:
        raise OutlineError(f"{name} mixes {' and '.join(sorted(found))}. Give every number in one unit.")
    # A comma behind a unit parts columns.
    plain = _CELL_UNIT.sub(lambda m: ";" if m.group(2) else "", text)
    return plain, next(iter(found), None)


def _is_place_last(heading: list[str], columns: int) -> bool:
    """Whether the headings name the second of two columns as the place along the part."""
    if columns != 2 or len(heading) != 2:
        return False
    first, second = (bool(_PLACE.match(cell.strip())) for cell in heading)
    return second and not first


def _check_order(x: Array, name: str) -> None:
    back = np.flatnonzero(np.diff(x) <= 0)
    if len(back):
        row = int(back[0]) + 2
        raise OutlineError(
            f"Row {row} of {name}: x = {x[row - 1]:g} does not lie beyond {x[row - 2]:g} of the row above. "
            "Put the rows in order of x."
        )


def _check_widths(width: Array, name: str) -> None:
    bad = np.flatnonzero(width < 0)
    if len(bad):
        raise OutlineError(
            f"Row {int(bad[0]) + 1} of {name} has the width {width[bad[0]]:g}; it must be above 0."
        )
    if not np.any(width > 0):
        raise OutlineError(f"Every width of {name} is 0. Give the plan widths.")


def _ring(x: Array, low: Array, high: Array) -> Array:
    points = np.concatenate([np.column_stack([x, low]), np.column_stack([x, high])[::-1]])
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.any(np.diff(points, axis=0) != 0, axis=1)
    return points[keep]
