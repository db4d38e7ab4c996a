"""The temperature study as rows of three cells, for the panel, the clipboard and the comparison."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING

from core.study.temperature.temperature import constant_words
from core.units import words

if TYPE_CHECKING:
    from core.study.temperature.temperature import GroupAt, ModeAt, TemperatureStudy

LOST = 0.1
"""A tenth of the damping lost against the reference is marked."""
WORTH_TRIMMING = 0.02


@dataclass(frozen=True)
class TemperatureRow:
    """A quantity at cold, reference and hot. `mode` colours its name; `faint` is a detail of the row
    above; `marked` are the cells a reader must not miss."""

    name: str
    cells: tuple[str, ...]
    mode: int | None = None
    faint: bool = False
    marked: tuple[bool, ...] = (False, False, False)
    tip: str = ""

    def sentence(self) -> str:
        return f"{self.name}: {' / '.join(self.cells)}"


def heads(study: TemperatureStudy) -> tuple[str, ...]:
    """What stands over the columns."""
    return tuple(words.celsius(p.temperature_c) for p in study.points)


def brief(study: TemperatureStudy) -> str:
    """Damping of mode 1 cold, at the reference and hot, for one line."""
    values = [words.damping(p.modes[0].zeta) for p in study.points if p.modes]
    return f"mode 1: {words.three(*values)}" if len(values) == 3 else ""


def temperature_rows(study: TemperatureStudy) -> tuple[TemperatureRow, ...]:
    """Damping of every mode with its coupling and frequency, then what the circuits see."""
    rows: list[TemperatureRow] = []
    for index in range(len(study.points[0].modes)):
        rows += _of_mode([p.modes[index] for p in study.points])
    for index in range(len(study.points[0].groups)):
        rows += _of_group([p.groups[index] for p in study.points])
    count = len(study.constant)
    if count:
        name = "1 constant held" if count == 1 else f"{count} constants held"
        rows.append(TemperatureRow(name, ("", "", ""), faint=True, tip=constant_words(study)))
    return tuple(rows)


def _of_mode(at: list[ModeAt]) -> Iterator[TemperatureRow]:
    reference = at[1].zeta
    marked = tuple(isnan(m.zeta) or m.zeta < (1.0 - LOST) * reference for m in at)
    name = f"Mode {at[0].number}"
    yield TemperatureRow(
        name,
        tuple(words.damping(m.zeta) for m in at),
        at[0].number,
        marked=marked,
        tip=f"{name}: damping ratio with the circuit as tuned, held",
    )
    if any(_worth_trimming(m) for m in at):
        yield TemperatureRow(
            "re-trimmed",
            tuple(words.damping(m.zeta_retrimmed) for m in at),
            at[0].number,
            faint=True,
            tip="damping ratio if the circuit were tuned anew at that temperature",
        )
    yield TemperatureRow("K²", tuple(words.coupling(m.k2) for m in at), at[0].number, faint=True)
    yield TemperatureRow(
        "shorted at", tuple(words.frequency(m.f_short_hz) for m in at), at[0].number, faint=True
    )


def _worth_trimming(m: ModeAt) -> bool:
    return isnan(m.zeta) or m.zeta_retrimmed > (1.0 + WORTH_TRIMMING) * m.zeta


def _of_group(at: list[GroupAt]) -> Iterator[TemperatureRow]:
    first = at[0]
    yield TemperatureRow(
        f"{first.id} free C",
        tuple(words.capacitance(g.free_capacitance_f) for g in at),
        tip=f"static free capacitance of group {first.id}",
    )
    if first.detuning is None:
        return
    what = "electrical resonance over that" if first.resonant else "1/(R C ω) at the frequency"
    yield TemperatureRow(
        "off its tuning" if first.resonant else "R against its best",
        tuple(words.shift(g.detuning or 0.0) for g in at),
        faint=True,
        tip=f"{what} of mode {first.mode}, against the reference temperature",
    )


def temperature_table(study: TemperatureStudy) -> list[list[str]]:
    """Rows for a spreadsheet, a heading first."""
    table = [["Temperature", *(f"{p.name}, {words.celsius(p.temperature_c)}" for p in study.points)]]
    owner = ""
    for row in temperature_rows(study):
        owner = owner if row.faint else row.name
        name = f"{owner}, {row.name}" if row.faint else f"{row.name}, damping" if row.mode else row.name
        table.append([name, *row.cells])
    return table
