"""Blocks of cells as text, as spreadsheets put them on the clipboard."""

from __future__ import annotations

import re

_SPACES = re.compile(r"\s{2,}|\s+(?=[-+]?\d)")


def read_block(text: str) -> list[list[str]]:
    """Rows of cells of a pasted text: cells parted by tabs, else semicolons, else spaces.

    Commas are decimal signs and never part cells. Empty rows at the end are dropped, rows are
    filled up with empty cells to one length.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    while lines and not lines[-1].strip():
        lines.pop()
    if "\t" in text:
        rows = [line.split("\t") for line in lines]
    elif ";" in text:
        rows = [line.split(";") for line in lines]
    else:
        rows = [_SPACES.split(line.strip()) if _is_numbers(line) else [line] for line in lines]
    width = max((len(row) for row in rows), default=0)
    return [[cell.strip() for cell in row] + [""] * (width - len(row)) for row in rows]


def write_block(rows: list[list[str]]) -> str:
    """The cells as tab-parted text with one line per row."""
    return "\n".join("\t".join(row) for row in rows)


def _is_numbers(line: str) -> bool:
    """True for a line of nothing but numbers, where a space must be a gap between cells."""
    cells = line.split()
    return len(cells) > 1 and all(re.fullmatch(r"[-+]?\d[\d.,]*([eE][-+]?\d+)?", cell) for cell in cells)
