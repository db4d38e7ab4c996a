"""Everything wrong with what a group is driven or read with."""

from __future__ import annotations

from core.project.checking import Found, number, tell
from core.project.fields import FIELDS
from core.project.use import Drive, Sense


def use_problems(found: Found, sense: Sense, drive: Drive) -> None:
    """Everything wrong with the inputs of sense and drive, into `found`."""
    for record, path in ((sense, "sense"), (drive, "drive")):
        for name in record.__struct_fields__:
            value = getattr(record, name)
            if isinstance(value, float):
                field = FIELDS[f"{path}.{name}"]
                number(found, f"{path}.{name}", field.label, value, field.range)
    if drive.waveform == "table":
        _table(found, drive.table_s_v)


def _table(found: Found, table: tuple[tuple[float, float], ...]) -> None:
    times = [t for t, _ in table]
    if len(table) < 2:
        tell(found, "drive.table_s_v", f"A waveform from a file needs two points or more and has {len(table)}. Read a file.")
    elif times != sorted(times) or times[0] == times[-1]:
        tell(found, "drive.table_s_v", "The times of the waveform do not grow. Read a file whose first column is time.")
