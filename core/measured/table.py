"""CSV, TSV and plain text: columns of numbers to channels over time or frequency.

Boxes and oscilloscopes write a header, names, perhaps a row of units, then numbers; the time may be a
column in s or ms, or only an interval in the header. What had to be guessed is said as guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from core.measured.axis import even_axis
from core.measured.numbers import DELIMITER_WORDS, Table, read_table
from core.measured.quantities import FileUnit, unit_in, unit_of
from core.measured.record import (
    Array,
    Block,
    Channel,
    MeasuredError,
    Recording,
    Source,
    Understood,
    with_roles,
)
from core.measured.spectra import spectral_block
from core.project.measurement import ChannelRole as Role
from core.project.measurement import Told
from core.units import words

_NUMBER = r"([-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?)"
_INTERVAL = re.compile(
    rf"(?:sampl\w*\s*(?:interval|period|time)|interval|increment|delta\s*t|\bd[tx]\b|\bx\s*inc\w*|time\s*step|abtastintervall)\W*?{_NUMBER}?\W{{0,3}}(s|ms|us|µs|μs|ns|sec)?\b",
    re.IGNORECASE,
)
_RATE = re.compile(
    rf"(?:sampl\w*\s*(?:rate|freq\w*)|\bf\s*s\b|\brate\b|abtastrate|frame\s*rate|fps)\W*?{_NUMBER}?\W{{0,3}}(hz|khz|mhz|1/s|s/s|sa/s|samples/s|fps)?\b",
    re.IGNORECASE,
)
_TIME_NAME = re.compile(r"^\W*(time|zeit|t|temps|tiempo|sekunden|seconds?)\b|\btime\b", re.IGNORECASE)
_FREQUENCY_NAME = re.compile(r"^\W*(freq\w*|f|frequenz)\b|\bfreq", re.IGNORECASE)
_FORCE_NAME = re.compile(r"force|hammer|impact|kraft|\bload\b", re.IGNORECASE)
_SECONDS = {"s": 1.0, "sec": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6, "ns": 1e-9}
_SHOWN_UNIT = {1.0: "s", 1e-3: "ms", 1e-6: "µs", 1e-9: "ns"}


@dataclass(frozen=True)
class Column:
    """A column of the file: its number from 1, name, unit and where the unit is from."""

    number: int
    name: str
    unit: FileUnit | None
    unit_source: Source
    values: Array


def read(path: Path, told: Told) -> Recording:
    """The channels of a table; MeasuredError in words where it cannot be read."""
    table = read_table(path, told)
    columns = _columns(table, told)
    understood = [
        Understood(
            "Columns",
            f"{len(columns)}, {DELIMITER_WORDS.get(table.delimiter, repr(table.delimiter))}, decimal "
            f"{'comma' if table.decimal_mark == ',' else 'point'}",
            "told" if told.delimiter or told.decimal_mark else "file",
        )
    ]
    remarks = [] if not table.skipped else [f"{table.skipped} lines that are no numbers were left out."]
    if _is_frequency(columns, told):
        block, more, notes = spectral_block([(c.name, c.unit, c.values) for c in columns])
        return Recording(path.name, "", "table", (block,), (*understood, *more), (*remarks, *notes), table.first)
    blocks = []
    for group in _side_by_side(columns, told):
        block, more, notes = _time_block(group, table, told)
        understood += more
        remarks += [n for n in notes if n not in remarks]
        blocks.append(block)
    return Recording(path.name, "", "table", tuple(blocks), tuple(understood), tuple(remarks), table.first)


# ---- columns -----------------------------------------------------------------------------------


def _columns(table: Table, told: Told) -> list[Column]:
    count = table.numbers.shape[1]
    names = [f"column {n + 1}" for n in range(count)]
    rows = [cells for line in reversed(table.header[-4:]) if len(cells := table.cells_of(line)) >= count]
    found_units: list[FileUnit | None] = [None] * count
    unit_source: Source = "guessed"
    for cells in rows:
        as_units = [unit_of(cell) for cell in cells[:count]]
        named = sum(u is not None for u in as_units)
        if unit_source == "guessed" and named and named >= sum(bool(c) for c in cells[:count]) / 2 and not _looks_like_names(cells):
            found_units, unit_source = as_units, "units row"
        elif any(re.search(r"[^\W\d]", c) for c in cells[:count]):
            names = [c or f"column {n + 1}" for n, c in enumerate(cells[:count])]
            break
    out = []
    for n in range(count):
        unit, where = found_units[n], unit_source
        if unit is None and (inside := unit_in(names[n])) is not None:
            unit, where = inside, "header"
        if n < len(told.units) and told.units[n]:
            unit, where = unit_of(told.units[n]), "told"
        out.append(Column(n + 1, names[n], unit, where if unit else "guessed", table.numbers[:, n]))
    return out


def _looks_like_names(cells: list[str]) -> bool:
    """Names such as "t", "F", "A" are units too; a row of them with a longer word in it holds names."""
    return any(len(c) > 3 and unit_of(c) is None and re.fullmatch(r"[A-Za-z ]+\d*", c) for c in cells)


def _is_frequency(columns: list[Column], told: Told) -> bool:
    first = columns[0]
    if told.time_column is not None or told.time_unit or told.interval_s:
        return False
    if first.unit is not None:
        return first.unit.si == "Hz"
    return bool(_FREQUENCY_NAME.search(first.name)) and len(columns) >= 2


def _rises(values: Array) -> bool:
    return len(values) > 2 and bool(np.all(np.diff(values) > 0.0))


def _side_by_side(columns: list[Column], told: Told) -> list[list[Column]]:
    """Blocks that stand beside each other: each starts with a time column like the first."""
    if told.time_column is not None or not _is_time(columns[0], len(columns)):
        return [columns]
    starts = [0]
    for n, column in enumerate(columns[1:], 1):
        if n - starts[-1] >= 2 and n < len(columns) - 1 and _is_time(column, len(columns)) and _rises(column.values) and (
            column.name == columns[0].name or bool(_TIME_NAME.search(column.name)) or np.array_equal(column.values, columns[0].values)
        ):
            starts.append(n)
    return [columns[a:b] for a, b in zip(starts, [*starts[1:], len(columns)], strict=True)]


def _is_time(column: Column, columns: int) -> bool:
    """Named or in seconds, or rising evenly beside other columns."""
    if column.unit is not None:
        return column.unit.si == "s"
    values = column.values
    if not _rises(values):
        return False
    if _TIME_NAME.search(column.name):
        return True
    steps = np.diff(values)
    return columns > 1 and bool(np.ptp(steps) < 0.2 * steps.mean() + 1e-12)


# ---- time --------------------------------------------------------------------------------------


def _time_block(columns: list[Column], table: Table, told: Told) -> tuple[Block, list[Understood], list[str]]:
    understood: list[Understood] = []
    remarks: list[str] = []
    time = _time_column(columns, told)
    start, step = 0.0, 0.0
    rest = columns if time is None else [c for c in columns if c is not time]
    if not rest:
        rest, time = columns, None
    values = [c.values for c in rest]
    if time is not None and not _counts(time, table):
        factor, source = _time_unit(time, told)
        axis = even_axis(time.values * factor, values)
        start, step, values = axis.start, axis.step, axis.values
        if axis.remark:
            remarks.append(axis.remark)
        unit = _SHOWN_UNIT.get(factor, "s")
        understood.append(Understood("Time", f"column {time.number} in {unit}, {_rate_text(step, len(values[0]))}", source))
    else:
        step, source = _interval(table, told)
        understood.append(Understood("Time", f"no column, {_rate_text(step, len(values[0]))}", source))
    channels = []
    for column, data in zip(rest, values, strict=True):
        channel, told_of = _channel(column, data)
        channels.append(channel)
        understood.append(told_of)
    block = Block("time", tuple(channels), start, step)
    if told.roles:
        block = with_roles(block, told.roles)
    return block, understood, remarks


def _rate_text(step: float, count: int) -> str:
    return f"{words.frequency(1.0 / step)}, {words.seconds(step * count)}"


def _time_column(columns: list[Column], told: Told) -> Column | None:
    if told.time_column is not None:
        return next((c for c in columns if c.number == told.time_column), None)
    if told.interval_s is not None and len(columns) == 1:
        return None
    return columns[0] if len(columns) > 1 and _is_time(columns[0], len(columns)) else None


def _counts(time: Column, table: Table) -> bool:
    """Whether a column only counts samples or frames: whole numbers one apart, in no unit."""
    return (
        time.unit is None
        and not _TIME_NAME.search(time.name)
        and bool(np.all(np.diff(time.values) == 1.0))
        and bool(np.all(time.values == np.round(time.values)))
    )


def _time_unit(time: Column, told: Told) -> tuple[float, Source]:
    if told.time_unit is not None:
        return _SECONDS[told.time_unit], "told"
    if time.unit is not None and time.unit.si == "s":
        return time.unit.factor, time.unit_source
    return 1.0, "guessed"


def _interval(table: Table, told: Told) -> tuple[float, Source]:
    if told.interval_s is not None:
        if not 0.0 < told.interval_s < 1e6:
            raise MeasuredError(f"The sample interval {told.interval_s:g} s is not above 0 s. Type the time between two samples.")
        return told.interval_s, "told"
    for line in table.header:
        found = _numbered(_INTERVAL, line, table)
        if found is not None:
            value, unit = found
            return value * _SECONDS.get((unit or "s").lower(), 1.0), "header"
        found = _numbered(_RATE, line, table)
        if found is not None:
            value, unit = found
            factor = {"khz": 1e3, "mhz": 1e6}.get((unit or "").lower(), 1.0)
            return 1.0 / (value * factor), "header"
    raise MeasuredError(
        "The table has no time column and its header no sample interval. Type the time between two samples, "
        "or the column that holds the time."
    )


def _numbered(pattern: re.Pattern[str], line: str, table: Table) -> tuple[float, str | None] | None:
    """The number and unit that go with a word of the header, also where a delimiter stands between them."""
    found = pattern.search(line)
    if found is None:
        return None
    number, unit = found.group(1), found.group(2)
    if number is None:
        rest = re.search(_NUMBER, line[found.start() :])
        if rest is None:
            return None
        number = rest.group(1)
        unit = unit or next((u.text for part in re.split(r"[\s,;:()\[\]]+", line) if (u := unit_of(part)) is not None and u.si in ("s", "Hz")), None)
    value = float(number.replace(",", "."))
    if value <= 0.0 or not np.isfinite(value):
        return None
    if unit is None:
        inside = unit_in(line)
        unit = inside.text if inside is not None and inside.si in ("s", "Hz") else None
    return value, unit


# ---- channels ----------------------------------------------------------------------------------


def _channel(column: Column, data: Array) -> tuple[Channel, Understood]:
    unit = column.unit
    what = f"Column {column.number}"
    finite = data[np.isfinite(data)]
    if len(finite) < len(data):
        data = _bridged(data)
    role: Role = "response"
    source: Source = column.unit_source if unit is not None else "guessed"
    if not len(finite) or not np.any(finite):
        why = "all zeros" if len(finite) else "empty"
        return Channel(column.name, data, "", "left out"), Understood(what, f"{column.name}: left out, {why}", "file")
    if (unit is not None and unit.si == "N") or _FORCE_NAME.search(column.name):
        role = "force"
    si, factor, shown = ("", 1.0, "no unit") if unit is None else (unit.si, unit.factor, unit.text)
    channel = Channel(column.name, data * factor if factor != 1.0 else data, si, role, "" if unit is None else unit.text)
    return channel, Understood(what, f"{column.name}, {shown}, {role}", source)


def _bridged(data: Array) -> Array:
    """Gaps filled straight, so that one lost sample does not cost the record."""
    good = np.isfinite(data)
    if not good.any():
        return np.zeros_like(data)
    at = np.arange(len(data))
    return np.interp(at, at[good], data[good])



