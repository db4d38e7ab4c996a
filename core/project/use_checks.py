"""Everything wrong with what a group is driven or read with."""

from __future__ import annotations

from math import isfinite

from core.project.checking import Found, number, tell
from core.project.fields import FIELDS
from core.project.loop import LoopDesign
from core.project.use import Drive, Sense


def use_problems(found: Found, sense: Sense, drive: Drive) -> None:
    for record, path in ((sense, "sense"), (drive, "drive")):
        for name in record.__struct_fields__:
            value = getattr(record, name)
            if isinstance(value, float):
                field = FIELDS[f"{path}.{name}"]
                number(found, f"{path}.{name}", field.label, value, field.range)
    if drive.waveform == "table":
        _table(found, drive.table_s_v)


def loop_problems(found: Found, loop: LoopDesign) -> None:
    """Everything wrong with the values of an active loop."""
    for name in loop.__struct_fields__:
        value = getattr(loop, name)
        if isinstance(value, float):
            number(found, f"loop.{name}", FIELDS[f"loop.{name}"].label, value, FIELDS[f"loop.{name}"].range)
    for i, one in enumerate(loop.filters):
        for name in one.__struct_fields__:
            field = FIELDS[f"loop.filters.{name}"]
            number(found, f"loop.filters[{i}].{name}", field.label, getattr(one, name), field.range)
    for name in ("numerator", "denominator"):
        values = getattr(loop, name)
        if not values or not all(map(isfinite, values)) or not any(values):
            label = FIELDS[f"loop.{name}"].label
            tell(found, f"loop.{name}", f"{label} needs at least one coefficient that is not zero. Type them, highest power first.")
    if len(loop.numerator) > len(loop.denominator) + 1:
        tell(found, "loop.numerator", "The numerator's degree is more than one above the denominator's. Add poles.")


def _table(found: Found, table: tuple[tuple[float, float], ...]) -> None:
    times = [t for t, _ in table]
    if len(table) < 2:
        tell(found, "drive.table_s_v", f"A waveform from a file needs two points or more and has {len(table)}. Read a file.")
    elif times != sorted(times) or times[0] == times[-1]:
        tell(found, "drive.table_s_v", "The times of the waveform do not grow. Read a file whose first column is time.")
