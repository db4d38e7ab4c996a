"""What the bench read of each bonded part: capacitance before and after, insulation, press test, frequencies."""

from __future__ import annotations

import math
from typing import Literal

from core.project.record import Record

Press = Literal["right", "wrong", "none"]
"""Sign of the press test as the placement diagram has it, the other one, or no voltage at all."""


class BondedMode(Record, frozen=True):
    """Frequencies of a mode with the leads shorted and open; None where nobody measured it."""

    number: int
    f_short_hz: float | None = None
    f_open_hz: float | None = None

    @property
    def k2(self) -> float | None:
        """(f_oc^2 - f_sc^2)/f_sc^2; None where one of them is missing."""
        if self.f_short_hz is None or self.f_open_hz is None or not self.f_short_hz > 0.0:
            return None
        return (self.f_open_hz**2 - self.f_short_hz**2) / self.f_short_hz**2

    @property
    def empty(self) -> bool:
        return self.f_short_hz is None and self.f_open_hz is None


class BondedPart(Record, frozen=True):
    """The readings of one part at the leads of one group, built as a candidate; None: not read.

    Capacitances are at a meter's frequency, before bonding of the group's loose packages as they are wired.
    """

    serial: str
    candidate: str
    group: str
    before_f: float | None = None
    after_f: float | None = None
    insulation_ohm: float | None = None
    press: Press | None = None
    modes: tuple[BondedMode, ...] = ()
    note: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells it from others."""
        return self.candidate, self.serial, self.group

    def mode(self, number: int) -> BondedMode:
        """The readings of a mode, empty where there are none."""
        return next((m for m in self.modes if m.number == number), BondedMode(number))


def open_hz(f_short_hz: float, k2: float) -> float:
    """The open frequency of a shorted one and K^2."""
    return f_short_hz * math.sqrt(1.0 + k2)


def read_of(parts: tuple[BondedPart, ...], candidate_id: str) -> tuple[BondedPart, ...]:
    """The parts built as a candidate, in their order."""
    return tuple(part for part in parts if part.candidate == candidate_id)


def with_read(parts: tuple[BondedPart, ...], candidate_id: str, read: tuple[BondedPart, ...]) -> tuple[BondedPart, ...]:
    """All parts with those of one candidate replaced; the same tuple where they are the same."""
    if read_of(parts, candidate_id) == read:
        return parts
    return (*(part for part in parts if part.candidate != candidate_id), *read)


def merged(old: tuple[BondedPart, ...], new: tuple[BondedPart, ...]) -> tuple[BondedPart, ...]:
    """`old` with what `new` reads: a part that is there already takes the new readings and keeps the
    others; parts that are not there follow in their order."""
    by_key = {part.key: part for part in old}
    for part in new:
        by_key[part.key] = _joined(by_key[part.key], part) if part.key in by_key else part
    return tuple(by_key.values())


def _joined(old: BondedPart, new: BondedPart) -> BondedPart:
    numbers = sorted({m.number for m in (*old.modes, *new.modes)})
    modes = []
    for n in numbers:
        was, now = old.mode(n), new.mode(n)
        short = was.f_short_hz if now.f_short_hz is None else now.f_short_hz
        modes.append(BondedMode(n, short, was.f_open_hz if now.f_open_hz is None else now.f_open_hz))
    return BondedPart(
        new.serial, new.candidate, new.group,
        old.before_f if new.before_f is None else new.before_f,
        old.after_f if new.after_f is None else new.after_f,
        old.insulation_ohm if new.insulation_ohm is None else new.insulation_ohm,
        new.press or old.press, tuple(modes), new.note or old.note,
    )  # fmt: skip
