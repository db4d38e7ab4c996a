"""The bonding record as a table of text, and read back: nothing is lost, and what is wrong is told by line.

Columns carry their unit. With a decimal comma cells are parted by semicolons. K² and the verdict are written
for the reader's eye; K² is also read, in place of an open frequency that is not given.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from core.measured.bonded import PRESS_WORDS, judge_part
from core.measured.numbers import utf8_of
from core.project.bonded import BondedMode, BondedPart, Press, open_hz
from core.project.ceilings import MOST_BONDED
from core.project.fields import FIELDS
from core.project.files import shortened
from core.project.ranges import Range
from core.study.tolerance.pass_bands import PassBands
from core.units import show_with_unit, symbol, words
from core.units.number import decimal_text, tidy

MOST_TOLD = 8
"""Faults of one file that are told."""
MOST_BYTES = 4_000_000
LARGEST_MODE = 40
K2_AGREES = 2e-4
"""A K² in a file and that of its two frequencies may differ by so much: it is rounded where it was written."""

_POWERS = {"pf": -12, "nf": -9, "uf": -6, "mf": -3, "f": 0, "ohm": 0, "kohm": 3, "mohm": 6, "gohm": 9, "tohm": 12,
           "hz": 0, "khz": 3, "%": -2, "1": 0}  # fmt: skip
"""Powers of ten of the units a column may have; "mohm" is the megohm of insulation testers."""
_NAMES = {
    "serial number": "serial", "serial": "serial", "serial no": "serial", "sn": "serial", "part": "serial", "group": "group",
    "c before": "before_f", "capacitance before": "before_f", "capacitance before bonding": "before_f",
    "c after": "after_f", "capacitance after": "after_f", "capacitance after bonding": "after_f",
    "insulation": "insulation_ohm", "press test": "press", "press": "press", "note": "note", "verdict": "verdict",
}  # fmt: skip
_MODE = re.compile(r"f\s*(\d{1,2})\s+(shorted|short|open)|(?:k2|k²)\s*(?:of)?\s*(?:mode)?\s*(\d{1,2})")
_HEAD = re.compile(r"^(.*?)\s*(?:[\[(]\s*([^\])]*)\s*[\])])?\s*$")
_NUMBER = re.compile(r"([+-]?)\s*(\d[\d.,' ]*|[.,]\d+)(?:[eE]([+-]?\d+))?\s*(.*)")
_PRESS: dict[str, Press] = {
    "right": "right", "+": "right", "ok": "right", "yes": "right", "wrong": "wrong", "wrong sign": "wrong", "-": "wrong",
    "none": "none", "no voltage": "none", "0": "none",
}  # fmt: skip
_FIELD_OF = {"before_f": "bonded.before_f", "after_f": "bonded.after_f", "insulation_ohm": "bonded.insulation_ohm",
             "f_short_hz": "modes.f_short_hz", "f_open_hz": "modes.f_open_hz"}  # fmt: skip
_K2 = Range("%", 0.0, 1.0, below=True)


class BondedError(ValueError):
    """A record that cannot be read; `faults` are sentences that name line, column, value, range and cure."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        more = len(faults) - MOST_TOLD
        super().__init__("\n".join([*faults[:MOST_TOLD], *([f"And {more} more."] if more > 0 else [])]))


@dataclass(frozen=True)
class _Column:
    key: str
    """Name of the reading, "k2", or "" for one to be passed over."""
    title: str
    mode: int = 0
    unit: str = ""


# ---- writing -------------------------------------------------------------------------------------


def bonded_csv(
    parts: Sequence[BondedPart], modes: Sequence[int], bands: PassBands | None = None, *, decimal_comma: bool = False
) -> str:
    """The record as text, a line a part; exactly these numbers come back."""
    modes = sorted({*modes, *(m.number for part in parts for m in part.modes)})
    heads = ["serial number", "group", "C before [nF]", "C after [nF]", "insulation [Mohm]", "press test"]
    for n in modes:
        heads += [f"f{n} shorted [Hz]", f"f{n} open [Hz]", f"K2 of mode {n} [%]"]
    rows = [[*heads, "note", "verdict"]]

    def cell(value: float | None, unit: str, digits: int | None = None) -> str:
        if value is None:
            return ""
        shown = Decimal(repr(value)).scaleb(-_POWERS[unit.lower()])
        text = f"{shown:.{digits}f}" if digits is not None else f"{shown.normalize():f}"
        return text.replace(".", ",") if decimal_comma else text

    for part in parts:
        row = [part.serial, part.group, cell(part.before_f, "nF"), cell(part.after_f, "nF"), cell(part.insulation_ohm, "Mohm")]
        row.append("" if part.press is None else PRESS_WORDS[part.press])
        for n in modes:
            mode = part.mode(n)
            row += [cell(mode.f_short_hz, "Hz"), cell(mode.f_open_hz, "Hz"), cell(mode.k2, "%", 4)]
        rows.append([*row, part.note, judge_part(part, bands).text])
    out = io.StringIO()
    csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\r\n").writerows(rows)
    return out.getvalue()


# ---- reading -------------------------------------------------------------------------------------


def read_bonded(raw: bytes, candidate_id: str, groups: Sequence[str]) -> tuple[BondedPart, ...]:
    """The parts of a file, or of a block from a spreadsheet, built as a candidate whose groups are `groups`.

    BondedError with every fault; nothing is taken of a file that holds one.
    """
    if len(raw) > MOST_BYTES:
        raise BondedError([f"The file holds {len(raw) / 1e6:.1f} MB; a bonding record has at most {MOST_BYTES / 1e6:.0f} MB. Cut it."])
    text = utf8_of(raw).decode("utf-8", errors="replace").replace("\x00", "")
    delimiter = _delimiter(text)
    lines = _lines(text, delimiter)
    start = next((i for i, (_, cells) in enumerate(lines) if any(_column(c).key == "serial" for c in cells)), None)
    if start is None:
        raise BondedError(['There is no column "serial number". Name the columns in the first line, as "serial number", "C before [nF]".'])
    faults: list[str] = []
    columns = _columns(lines[start], faults)
    rows = lines[start + 1 :]
    if len(rows) > MOST_BONDED:
        raise BondedError([f"The file holds {len(rows)} parts; a record has at most {MOST_BONDED}. Split it."])
    parts: list[BondedPart] = []
    where: dict[tuple[str, str, str], int] = {}
    for line, cells in rows:
        part = _Row(line, cells, columns, delimiter, faults).part(candidate_id, groups)
        if part is None:
            continue
        if part.key in where:
            faults.append(f'Line {line}: serial number "{_short(part.serial)}" stands in line {where[part.key]} already. Take one of them away.')
        where.setdefault(part.key, line)
        parts.append(part)
    if not parts and not faults:
        faults.append("There is no part in it. Write one line a part under the names of the columns.")
    if faults:
        raise BondedError(faults)
    return tuple(parts)


def _delimiter(text: str) -> str:
    """What parts the cells of the line with the names; a comma there may be part of none of ours."""
    first = next((line for line in text.split("\n") if re.search(r"serial|\bsn\b|\bpart\b", line, re.IGNORECASE)), text[:400])
    return max("\t;,", key=first.count)


def _lines(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """(line number from 1, cells) of every line that holds anything."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    found: list[tuple[int, list[str]]] = []
    while True:
        line = reader.line_num + 1
        try:
            cells = [cell.strip() for cell in next(reader)]
        except StopIteration:
            return found
        except csv.Error:
            raise BondedError([f"Line {line} cannot be parted into cells: a quotation mark is not closed or stands within a cell, or the cell is too long. Mend it."]) from None
        if any(cells):
            found.append((line, cells))


def _columns(head: tuple[int, list[str]], faults: list[str]) -> list[_Column]:
    line, cells = head
    columns = [_column(cell) for cell in cells]
    seen: dict[tuple[str, int], str] = {}
    for column in columns:
        if column.key == "?":
            faults.append(
                f'Line {line}: there is no reading called "{_short(column.title)}". Known are serial number, group, C before, C after, '
                "insulation, press test, f1 shorted, f1 open, K2 of mode 1, note. Rename the column, or take it out."
            )
        elif column.key and (column.key, column.mode) in seen:
            faults.append(f'Line {line}: column "{_short(column.title)}" stands twice. Take one of them out.')
        elif column.mode > LARGEST_MODE:
            faults.append(f'Line {line}: column "{_short(column.title)}": modes go up to {LARGEST_MODE}. Correct the number.')
        elif column.unit and _power(column.unit, column.key) is None:
            faults.append(f'Line {line}: column "{_short(column.title)}" has the unit "{_short(column.unit)}". Write it in {_unit_words(column.key)}.')
        seen[(column.key, column.mode)] = column.title
    return columns


def _column(cell: str) -> _Column:
    found = _HEAD.match(" ".join(cell.split()))
    name, unit = (found[1], found[2] or "") if found else (cell, "")
    plain = name.casefold().rstrip(".:").strip()
    if not plain:
        return _Column("", cell)
    if plain in _NAMES:
        key = _NAMES[plain]
        return _Column("" if key == "verdict" else key, cell, 0, unit)
    mode = _MODE.fullmatch(plain)
    if mode is None:
        return _Column("?", cell)
    if mode[3]:
        return _Column("k2", cell, int(mode[3]), unit)
    return _Column("f_open_hz" if mode[2] == "open" else "f_short_hz", cell, int(mode[1]), unit)


def _unit_of(key: str) -> str:
    return "%" if key == "k2" else FIELDS[_FIELD_OF[key]].unit


def _unit_words(key: str) -> str:
    return symbol(_unit_of(key)) if key in _FIELD_OF or key == "k2" else "words, without a unit"


def _power(unit: str, key: str) -> int | None:
    """Power of ten of a unit of that reading; None for a unit of something else."""
    if key not in _FIELD_OF and key != "k2":
        return None
    bare = unit.replace("Ω", "ohm").replace("\N{OHM SIGN}", "ohm").replace("µ", "u").replace("μ", "u").replace(" ", "").casefold()
    kind = {"before_f": "f", "after_f": "f", "insulation_ohm": "ohm", "k2": "%1"}.get(key, "hz")
    fits = bare in ("%", "1") if kind == "%1" else bare.endswith(kind)
    return _POWERS.get(bare) if fits else None


@dataclass
class _Row:
    line: int
    cells: list[str]
    columns: list[_Column]
    delimiter: str
    faults: list[str]

    def part(self, candidate_id: str, groups: Sequence[str]) -> BondedPart | None:
        """The part of the line; None, with a fault, where it has no serial number or too many cells."""
        if any(self.cells[len(self.columns) :]):
            comma = " A decimal comma needs cells parted by semicolons or tabs." if self.delimiter == "," else ""
            self.faults.append(f"Line {self.line} has {len(self.cells)} cells under {len(self.columns)} columns.{comma}")
            return None
        serial = self._text("serial")
        if not serial:
            self._tell("serial", "is empty. Type the serial number of the part.")
            return None
        return BondedPart(
            serial, candidate_id, self._group(groups), self._value("before_f"), self._value("after_f"),
            self._value("insulation_ohm"), self._press(), tuple(self._modes()), self._text("note"),
        )  # fmt: skip

    def _group(self, groups: Sequence[str]) -> str:
        text = self._text("group")
        if text in groups:
            return text
        if not text and len(groups) == 1:
            return groups[0]
        known = ", ".join(groups) or "none"
        self._tell("group", f"is empty. Write one of: {known}." if not text else f'is "{_short(text)}"; there is no such group. Write one of: {known}.')
        return text

    def _press(self) -> Press | None:
        text = self._text("press")
        found = _PRESS.get(text.casefold().replace("\N{MINUS SIGN}", "-"))
        if text and found is None:
            self._tell("press", f'is "{_short(text)}". Write {", ".join(PRESS_WORDS.values())}, or leave it empty.')
        return found

    def _modes(self) -> Iterator[BondedMode]:
        for n in sorted({c.mode for c in self.columns if c.mode}):
            short, opened, k2 = (self._value(key, n) for key in ("f_short_hz", "f_open_hz", "k2"))
            if k2 is not None and short is None:
                self._tell("k2", f"needs f{n} shorted beside it. Write it too, or leave K² empty.", n)
            elif k2 is not None and opened is None and short is not None:
                opened = open_hz(short, k2)
            mode = BondedMode(n, short, opened)
            if k2 is not None and mode.k2 is not None and abs(k2 - mode.k2) > K2_AGREES:
                self._tell("k2", f"is {words.percent(k2, 3)}, while f{n} shorted and open give {words.percent(mode.k2, 3)}. Correct one of the three.", n)
            elif mode.k2 is not None and mode.k2 < 0.0:
                self._tell("f_open_hz", f"is below f{n} shorted. Look whether they were exchanged, and at the temperature.", n)
            if not mode.empty:
                yield mode

    def _value(self, key: str, mode: int = 0) -> float | None:
        text = self._text(key, mode)
        if text in ("", "-", "\N{EN DASH}"):
            return None
        at = self._at(key, mode)
        allowed = _K2 if key == "k2" else FIELDS[_FIELD_OF[key]].range
        value = _read(text, (self.columns[at].unit if at is not None else "") or _unit_of(key), key)
        if value is None:
            self._tell(key, f'is "{_short(text)}", not a number in {_unit_words(key)}. Write one, or leave it empty.', mode)
        elif not allowed.holds(value):
            self._tell(key, f"is {show_with_unit(value, allowed.unit)}; it must be {allowed.words()}. Look at its unit.", mode)
        else:
            return value
        return None

    def _at(self, key: str, mode: int) -> int | None:
        return next((i for i, c in enumerate(self.columns) if (c.key, c.mode) == (key, mode)), None)

    def _text(self, key: str, mode: int = 0) -> str:
        at = self._at(key, mode)
        return self.cells[at] if at is not None and at < len(self.cells) else ""

    def _tell(self, key: str, words: str, mode: int = 0) -> None:
        at = self._at(key, mode)
        title = self.columns[at].title if at is not None else key
        serial = self._text("serial")
        whose = f" of {_short(serial)}" if serial else ""
        self.faults.append(f'Line {self.line}, column "{_short(title)}"{whose} {words}')


def _read(text: str, unit: str, key: str) -> float | None:
    """A number, decimal comma or point, with a unit of its own or that of its column; exact in the last digit."""
    found = _NUMBER.fullmatch(tidy(text))
    plain = decimal_text(found[2].strip()) if found else None
    if found is None or plain is None:
        return None
    power = _power(found[4] or unit, key)
    try:
        value = None if power is None else float(Decimal(f"{found[1]}{plain}E{int(found[3] or 0)}").scaleb(power))
    except (ArithmeticError, ValueError):
        return None
    return value if value is not None and abs(value) < float("inf") else None


def _short(text: str) -> str:
    return shortened(text, 40)


