"""A pasted block of text as a table of numbers: from a spreadsheet, a CSV file or a mail."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from itertools import pairwise

from core.units.number import decimal_text, tidy

_CELL = re.compile(r"([+-]?)\s*(\d[\d.,' ]*|[.,]\d+)([eE][+-]?\d+)?")
_PAIR = re.compile(r"([+-]?\d+),\d+")
_BLANKS = re.compile(r"[ \u00a0\u202f]+")


class PasteError(ValueError):
    """Text in which cells are no numbers; the message names the first of them."""


def parse_block(text: str) -> list[list[float | None]]:
    """Rows of numbers of a pasted text; None for an empty cell. Rows keep their own lengths.

    Cells are parted by tabs, else semicolons, else commas followed by a blank, else blanks, else
    by commas where the numbers have points, or where one comma a row parts whole numbers that
    run on as places do ("0,40", "100,44"). Any other comma within a cell is a decimal sign. Blank
    lines and a first row of headings are passed over. PasteError names a cell with words in it.
    """
    rows = split_block(text)[1]
    return [[_number(cell, r, c) for c, cell in enumerate(row)] for r, row in enumerate(rows, start=1)]


def split_block(text: str) -> tuple[list[str], list[list[str]]]:
    """Headings (none where the first row holds numbers) and the cells of the rows below, as text."""
    lines = [line.strip("\ufeff") for line in re.split(r"\r\n|\r|\n", text)]
    lines = [line for line in lines if line.strip()]
    split = _separator(lines)
    rows = [[cell.strip() for cell in split(line)] for line in lines]
    if len(rows) > 1 and _is_heading(rows[0]):
        return rows[0], rows[1:]
    return [], rows


def _separator(lines: list[str]) -> Callable[[str], list[str]]:
    body = lines[1:] or lines
    if any("\t" in line for line in lines):
        return lambda line: line.split("\t")
    if any(";" in line for line in lines):
        return lambda line: line.split(";")
    if any(", " in line for line in body):
        return lambda line: line.split(",")
    if any(_BLANKS.search(line.strip()) for line in body):
        return lambda line: _BLANKS.split(line.strip())
    if any(("." in line and "," in line) or line.count(",") > 1 for line in lines) or comma_parts(lines):
        return lambda line: line.split(",")
    return lambda line: [line]


def comma_parts(lines: list[str]) -> bool:
    """Whether the one comma of every row parts two columns and is no decimal sign.

    It does under two headings parted by a comma, and where the numbers before it run on as places along a
    part do: upwards, the last at least three times the first.
    """
    headed = len(lines) > 1 and _PAIR.fullmatch(lines[0].strip()) is None
    pairs = [_PAIR.fullmatch(line.strip()) for line in (lines[1:] if headed else lines)]
    if not pairs or not all(pairs):
        return False
    if headed:
        return lines[0].count(",") == 1
    places = [int(pair.group(1)) for pair in pairs if pair]
    rising = all(a < b for a, b in pairwise(places))
    return len(places) > 1 and rising and places[0] >= 0 and places[-1] >= 3 * places[0]


def _is_heading(row: list[str]) -> bool:
    return any(cell for cell in row) and all(_read(cell) is None for cell in row if cell)


def _read(cell: str) -> float | None:
    """The number of a cell. "12,000" is 12 here: a column with three decimals is common in tables."""
    match = _CELL.fullmatch(tidy(cell))
    plain = decimal_text(match.group(2)) if match else None
    if match is None or plain is None:
        return None
    try:
        value = float(f"{match.group(1)}{plain}{match.group(3) or ''}")
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _number(cell: str, row: int, column: int) -> float | None:
    if cell in ("", "-", "–"):
        return None
    value = _read(cell)
    if value is None:
        shown = cell if len(cell) <= 30 else cell[:27] + "..."
        raise PasteError(f'Row {row}, column {column + 1} of the pasted text is "{shown}", not a number.')
    return value
