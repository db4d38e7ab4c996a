"""An outline from a column of widths: x and width per row, or widths at equal steps.

One column: widths, equally spaced over a length that is asked for. Two: x and width. Three: x
and the two edges, right and left of the axis.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from core.outline.drawing import UNITS, Array, OutlineDrawing, OutlineError, Trace, guessed_unit
from core.project.paste import PasteError, parse_block


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
    try:
        rows = parse_block(text)
    except PasteError as error:
        raise OutlineError(f"{error} Give numbers only: x and width per row.") from None
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
    return OutlineDrawing(
        name, (Trace(ring, True, "widths"),), guess, "file" if unit else "guess", remarks, kind="widths"
    )


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
