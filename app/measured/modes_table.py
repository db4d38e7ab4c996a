"""Rows of the table of modes found in one record: three ways side by side, the odd one crossed."""

from __future__ import annotations

from app.measured.text_table import Cell, Column, Row
from core.measured.modes import ModeFound, Way
from core.measured.runs import Run
from core.units import words

LEAST_HZ = 1e-3
"""No bench holds its temperature to what would move a frequency by less."""
COLUMNS = (
    Column("frequency", 1.7), Column("± Hz", 0.8), Column("decrement", 1.2), Column("half-power", 1.2), Column("fit, all modes", 1.4),
    Column("what to know", 3.2, right=False),
)  # fmt: skip


def mode_rows(run: Run) -> tuple[Row, ...]:
    """A row a mode."""
    return tuple(_row(mode, run) for mode in run.found.modes)


def _row(mode: ModeFound, run: Run) -> Row:
    told = [d.text.partition(": ")[2] or d.text for d in run.doubts if d.mode == mode.number]
    agree = "all agree" if not mode.odd_ways and mode.decrement and mode.fit else ""
    return Row(
        (
            Cell(words.fine_frequency(mode.f_hz), "bold"),
            Cell(words.significant(max(mode.best.u_f_hz, LEAST_HZ), 1), "faint"),
            _way("decrement", mode.decrement, mode),
            _way("half-power", mode.half_power, mode),
            _way("fit", mode.fit, mode),
            Cell(told[0] if told else agree, "caution" if told else "faint"),
        ),
        mode.number,
        "\n".join(told),
    )


def _way(name: str, way: Way | None, mode: ModeFound) -> Cell:
    if way is None:
        return Cell("–", "faint")
    text = words.damping(way.zeta)
    if name in mode.odd_ways:
        return Cell(f"✘ {text}", "danger")
    return Cell(text, "bold" if way is mode.best else "plain")
