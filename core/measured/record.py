"""What a measured file holds: blocks of channels over time or frequency, and what was understood to read them.

Values are as in the file, scaled to SI where the unit is known. What was guessed is listed, so that a
person can confirm it or say otherwise (`Told`); reading again with what was told is the same pure function.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.project.measurement import ChannelRole as Role

Array = NDArray[np.float64]
Values = NDArray[np.float64] | NDArray[np.complex128]
Kind = Literal["time", "response function", "coherence", "impedance"]
Source = Literal["file", "header", "units row", "guessed", "told"]


class MeasuredError(ValueError):
    """A file that cannot be read or a question it cannot answer; the text says what, why and what to do."""


@dataclass(frozen=True)
class Understood:
    """One thing understood about a file, and where that is from."""

    what: str
    value: str
    source: Source

    @property
    def guessed(self) -> bool:
        return self.source == "guessed"


@dataclass(frozen=True, eq=False)
class Channel:
    """One measured quantity. `values` (n,) is in SI of `unit`, real, or complex for a response function
    or an admittance; `unit` is "" where it is unknown, `unit_in_file` what the file said."""

    name: str
    values: Values
    unit: str = ""
    role: Role = "response"
    unit_in_file: str = ""
    full_scale: float | None = None
    """Largest value the digits of the file can hold, as `values`; None where nothing says so."""


@dataclass(frozen=True, eq=False)
class Block:
    """Channels over one axis: seconds or hertz. An even axis is `start + step * (0 ... count - 1)`."""

    kind: Kind
    channels: tuple[Channel, ...]
    start: float = 0.0
    step: float = 0.0
    uneven: Array | None = None
    """(n,) the axis where its steps differ."""
    label: str = ""

    @property
    def count(self) -> int:
        return len(self.channels[0].values) if self.channels else 0

    @cached_property
    def axis(self) -> Array:
        """(n,) seconds or hertz."""
        if self.uneven is not None:
            return self.uneven
        return np.asarray(self.start + self.step * np.arange(self.count), dtype=float)

    @property
    def rate_hz(self) -> float:
        return 1.0 / self.step

    @property
    def length_s(self) -> float:
        return self.step * self.count

    @property
    def responses(self) -> tuple[Channel, ...]:
        return tuple(c for c in self.channels if c.role == "response")

    @property
    def force(self) -> Channel | None:
        return next((c for c in self.channels if c.role == "force"), None)


@dataclass(frozen=True, eq=False)
class Recording:
    """A file read: its blocks, what was understood, and what a person must know of it."""

    name: str
    sha256: str
    reader: str
    blocks: tuple[Block, ...]
    understood: tuple[Understood, ...] = ()
    remarks: tuple[str, ...] = ()
    preview: tuple[str, ...] = field(default=(), repr=False)
    """The first lines as they stand in the file, where it is text."""

    @property
    def guesses(self) -> tuple[Understood, ...]:
        return tuple(u for u in self.understood if u.guessed)

    def block(self, kind: Kind) -> Block | None:
        """The longest block of that kind."""
        return max((b for b in self.blocks if b.kind == kind), key=lambda b: b.count, default=None)


def with_roles(block: Block, roles: tuple[Role, ...]) -> Block:
    """The block with its first channels' roles as told."""
    told = (*roles, *(c.role for c in block.channels[len(roles) :]))
    channels = tuple(replace(c, role=r) for c, r in zip(block.channels, told, strict=False))
    return replace(block, channels=channels)
