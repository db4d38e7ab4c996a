"""Text of a table of numbers to an array: delimiter and decimal mark found, headers set apart, read in bulk."""

from __future__ import annotations

import re
import warnings
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import msgspec
import numpy as np

from core.measured.record import Array, MeasuredError
from core.project import ceilings
from core.project.measurement import Told

MOST_HEADER_LINES = 400
LOOKED_AT = 60
"""Lines of numbers that delimiter and decimal mark are judged by."""
AT_ONCE = 4_000_000
"""Bytes parsed in one go."""
DELIMITERS = ("\t", ";", ", ", ",", " ")
DELIMITER_WORDS = {"\t": "tab", ";": "semicolon", ", ": "comma and blank", ",": "comma", " ": "blanks"}
_NUMBER = re.compile(r"[+-]?(\d+[.,]?\d*|[.,]\d+)([eEdD][+-]?\d+)?$")
_COMMA_NUMBER = re.compile(r"[+-]?\d*,\d+([eEdD][+-]?\d+)?$")
_NOTHING = ("", "nan", "NaN", "NAN", "-", "inf", "-inf", "Inf", "-Inf")


@dataclass(frozen=True)
class Table:
    """Numbers (rows, columns) with the header lines over them and how they are parted."""

    numbers: Array
    header: tuple[str, ...]
    delimiter: str
    decimal_mark: str
    first: tuple[str, ...]
    """The first lines of the file, for a preview."""
    skipped: int = 0
    """Lines among the numbers that were no numbers."""

    def cells_of(self, line: str) -> list[str]:
        """A header line in cells, parted as the numbers are (a header may have no blank after its comma)."""
        mark = "," if self.delimiter == ", " else self.delimiter
        return [cell.strip().strip('"') for cell in (line.split() if mark == " " else line.split(mark))]


def read_table(path: Path, told: Told) -> Table:
    """The table in a text file; MeasuredError in words where there is none."""
    raw = path.read_bytes()
    raw = utf8_of(raw)
    head = raw[:200_000].decode("utf-8", errors="replace").splitlines()
    if len(raw) > 200_000:
        head = head[:-1]  # the last one may be cut
    start, delimiter, mark, columns = _layout(head, told, path.name)
    body = _body(raw, start)
    numbers, skipped = _numbers(body, delimiter, mark, columns, path.name)
    return Table(numbers, tuple(head[:start]), delimiter, mark, tuple(head[: start + 6]), skipped)


def utf8_of(raw: bytes) -> bytes:
    """UTF-8 of whatever the box wrote, with line feeds only."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raw = raw.decode("utf-16", errors="replace").encode()
    elif raw[:3] == b"\xef\xbb\xbf":
        raw = raw[3:]
    head = raw[:200_000]
    try:
        head[: head.rfind(b"\n") + 1].decode("utf-8")
    except UnicodeDecodeError:
        raw = raw.decode("cp1252", errors="replace").encode()
    if b"\r" in raw[:200_000]:
        raw = raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return raw


def _split(line: str, delimiter: str) -> list[str]:
    """Cells of a line, without the empty ones that a trailing separator leaves."""
    cells = line.split() if delimiter == " " else [c.strip().strip('"') for c in line.split(delimiter)]
    while cells and cells[-1] == "":
        cells.pop()
    return cells


def _is_number(cell: str) -> bool:
    return bool(_NUMBER.match(cell)) or cell in _NOTHING


def _numeric(line: str, delimiter: str) -> int:
    """How many numbers a line holds; 0 where a cell is none, or where none is there."""
    cells = _split(line, delimiter)
    if not cells or not all(map(_is_number, cells)) or not any(map(_NUMBER.match, cells)):
        return 0
    return len(cells)


def _layout(lines: list[str], told: Told, name: str) -> tuple[int, str, str, int]:
    """First line of numbers, delimiter, decimal mark and columns, by what fits most lines."""
    best: tuple[float, int, str, int] | None = None
    for delimiter in (told.delimiter,) if told.delimiter else DELIMITERS:
        counts = [_numeric(line, delimiter) for line in lines[: MOST_HEADER_LINES + LOOKED_AT]]
        start = _start(counts)
        if start is None:
            continue
        shown = [c for c, line in zip(counts[start:], lines[start:], strict=False) if line.strip()][:LOOKED_AT]
        columns, agree = Counter(c for c in shown if c).most_common(1)[0]
        score = agree / len(shown)
        if score < 0.5:
            continue
        # several columns say more than one; an equal fit goes to the rarer delimiter, which stands first
        rank = (score if columns > 1 else 0.4 * score) - 1e-3 * DELIMITERS.index(delimiter) if delimiter in DELIMITERS else score
        if delimiter == "," and _commas_are_decimal(lines[start : start + LOOKED_AT], told):
            continue
        if best is None or rank > best[0] + 1e-9:
            best = (rank, start, delimiter, columns)
    if best is None:
        raise MeasuredError(
            f"{name} holds no table of numbers: no lines with the same count of numbers follow each other. "
            "Export the record as text with one line per sample, and one column per channel."
        )
    _, start, delimiter, columns = best
    mark = told.decimal_mark or _mark(lines[start : start + LOOKED_AT], delimiter)
    return start, delimiter, mark, columns


def _start(counts: list[int]) -> int | None:
    """The first of three lines with as many numbers each (of fewer, where the file ends)."""
    for i, count in enumerate(counts):
        if count and all(c == count for c in counts[i : i + 3]):
            return i
    return None


def _commas_are_decimal(lines: list[str], told: Told) -> bool:
    """Whether "0,0012" on every line is one number with a decimal comma: the digits after it are as many
    each time, three at least, and start with a zero somewhere."""
    if told.decimal_mark == ",":
        return True
    after = [line.strip().partition(",")[2] for line in lines if line.strip()]
    if not after or any("," in a or not a.isdigit() for a in after):
        return False
    return len({len(a) for a in after}) == 1 and len(after[0]) >= 3 and any(a.startswith("0") for a in after)


def _mark(lines: list[str], delimiter: str) -> str:
    if delimiter == ",":
        return "."
    cells = [cell for line in lines for cell in _split(line, delimiter)]
    return "," if any(map(_COMMA_NUMBER.match, cells)) and not any("." in c for c in cells) else "."


def _body(raw: bytes, start: int) -> bytes:
    at = 0
    for _ in range(start):
        at = raw.index(b"\n", at) + 1
    return raw[at:]


def _numbers(body: bytes, delimiter: str, mark: str, columns: int, name: str) -> tuple[Array, int]:
    """(rows, columns) numbers, and how many lines were skipped because they are none."""
    text = body.replace(b", ", b";") if delimiter == ", " else body
    parts = b";\t\n\"" + (b"" if mark == "," else b",") + (b" " if delimiter == " " else b"")
    text = text.translate(bytes.maketrans(parts + b",.", b"," * len(parts) + (b".." if mark == "," else b",.")))
    flat = _as_json(text)
    if flat is None:
        flat = _as_text(text.replace(b",", b" "))
    lines = body.count(b"\n") + (0 if body.endswith(b"\n") or not body else 1)
    if flat is not None and len(flat) and len(flat) % columns == 0 and len(flat) // columns >= lines - _blank(body):
        _refuse_too_many(len(flat), name)
        return flat.reshape(-1, columns), 0
    return _line_by_line(body, delimiter, mark, columns, name)


def _as_json(text: bytes) -> Array | None:
    """Numbers parted by commas, by a parser of JSON: twice as fast as numpy's; None where they are not
    written as JSON wants them (".5", "+1", blanks for nothing)."""
    decoder, found, at, end = msgspec.json.Decoder(list[float]), [], 0, len(text.rstrip(b", "))
    try:
        while at < end:
            cut = text.rfind(b",", at, at + AT_ONCE) if at + AT_ONCE < end else end
            found.append(np.array(decoder.decode(b"[" + text[at : cut if cut > at else end] + b"]")))
            at = (cut if cut > at else end) + 1
    except msgspec.DecodeError:
        return None
    return np.concatenate(found) if found else None


def _as_text(text: bytes) -> Array | None:
    """Numbers parted by blanks; None where something else stands between them."""
    if b"D" in text[:4000] or b"d" in text[:4000]:
        text = text.replace(b"D", b"e").replace(b"d", b"e")
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text, sep=" ")
        except (DeprecationWarning, ValueError):
            return None


def _blank(body: bytes) -> int:
    """Empty lines at the end and between, where counting them is cheap."""
    return body.count(b"\n\n") + 1


def _line_by_line(body: bytes, delimiter: str, mark: str, columns: int, name: str) -> tuple[Array, int]:
    """The same where some lines are no numbers: cells that are missing become nan, other lines are left out."""
    found: list[list[float]] = []
    skipped = 0
    for line in body.decode("utf-8", errors="replace").splitlines():
        cells = _split(line, delimiter)
        if not cells:
            continue
        try:
            row = [_value(cell, mark) for cell in cells]
        except ValueError:
            skipped += 1
            continue
        if len(row) > columns or len(row) < max(columns - 1, 1) or all(v != v for v in row):
            skipped += 1
            continue
        found.append(row + [float("nan")] * (columns - len(row)))
        _refuse_too_many(len(found) * columns, name)
    if len(found) < 2:
        raise MeasuredError(f"{name} holds fewer than two lines of numbers. Export the whole record.")
    return np.array(found), skipped


def _value(cell: str, mark: str) -> float:
    if cell in _NOTHING:
        return float("nan")
    return float((cell.replace(",", ".") if mark == "," else cell).replace("D", "e").replace("d", "e"))


def _refuse_too_many(numbers: int, name: str) -> None:
    if numbers > ceilings.MOST_SAMPLES:
        raise MeasuredError(
            f"{name} holds more than {ceilings.MOST_SAMPLES / 1e6:.0f} million numbers. Cut the record, or export fewer channels."
        )
