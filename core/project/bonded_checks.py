"""Readings of bonded parts that cannot be, told in words; they keep nothing from being predicted."""

from __future__ import annotations

from core.project.bonded import BondedPart
from core.project.checking import Found, number, tell
from core.project.fields import FIELDS

READINGS = ("before_f", "after_f", "insulation_ohm")


def bonded_problems(found: Found, parts: tuple[BondedPart, ...]) -> None:
    """Every value that is out of its range, and serial numbers that are missing or told twice."""
    seen: dict[tuple[str, str, str], int] = {}
    for i, part in enumerate(parts):
        path = f"bonded[{i}]"
        if not part.serial.strip():
            tell(found, f"{path}.serial", f"Bonded part {i + 1} has no serial number. Type one: it is what the part is found by.")
        elif part.key in seen:
            tell(found, f"{path}.serial", f'Serial number "{part.serial}" stands twice. Take one of them away, or give it another.')
        seen.setdefault(part.key, i)
        whose = f' of "{part.serial}"'
        for name in READINGS:
            _optional(found, f"{path}.{name}", f"bonded.{name}", whose, getattr(part, name))
        for j, mode in enumerate(part.modes):
            for name in ("f_short_hz", "f_open_hz"):
                _optional(found, f"{path}.modes[{j}].{name}", f"modes.{name}", f" {mode.number}{whose}", getattr(mode, name))
            if mode.k2 is not None and mode.k2 < 0.0:
                tell(
                    found, f"{path}.modes[{j}].f_open_hz",
                    f"Mode {mode.number}{whose}: open is below shorted. Look whether they were exchanged, and at the temperature.",
                )  # fmt: skip


def _optional(found: Found, path: str, key: str, whose: str, value: float | None) -> None:
    if value is not None:
        number(found, path, FIELDS[key].label + whose, value, FIELDS[key].range)
