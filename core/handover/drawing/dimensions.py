"""Dimensions with their text placed, on levels that do not overlap; labels spread along a row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from core.handover.drawing.items import Dimension, Point
from core.handover.drawing.lettering import text_width_mm
from core.handover.drawing.strokes import ARROW_MM, OUTSIDE_ARROW_MM

TEXT_LIFT_MM = 1.1
LEVEL_GAP_MM = 1.5
LABEL_GAP_MM = 3.5
"""Between two labels of a row: about a word space and a half more than within one."""


def number(value_mm: float) -> str:
    """A length for the sheet: one decimal, a second where the first would be off by more than 0.005."""
    text = f"{value_mm:.1f}"
    if abs(float(text) - value_mm) > 0.005:
        text = f"{value_mm:.2f}"
    return text.removeprefix("-") if float(text) == 0 else text


def matched(value: float, tolerance: str) -> str:
    """A toleranced value with the decimals its tolerance is written with."""
    return with_decimals(value, max((len(digits) for digits in re.findall(r"\.(\d+)", tolerance)), default=0))


def with_decimals(value_mm: float, digits: int) -> str:
    """A length with so many decimals, without a negative zero."""
    text = f"{value_mm:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def plus_minus(tolerance: float, digits: int = 1) -> str:
    """ "± 1.0", with a second decimal where needed."""
    text = f"{tolerance:.{digits}f}"
    if abs(float(text) - tolerance) > 0.5 * 10.0 ** -(digits + 1):
        text = f"{tolerance:.{digits + 1}f}"
    return f"± {text}"


@dataclass(frozen=True)
class Wanted:
    """A dimension along x before it has a level: paper points, model value, words."""

    start: Point
    end: Point
    value_mm: float
    text: str
    scale: float
    size_mm: float
    tolerance: str = ""
    reference: bool = False

    @property
    def label(self) -> str:
        return self.text if self.reference else f"{self.text} {self.tolerance}".strip()


def along_x(wanted: Wanted, low: float, high: float) -> tuple[Dimension, tuple[float, float]]:
    """The dimension at line_at = 0 and the interval of paper x it occupies.

    Text that does not fit between the arrows goes beside them, to the side with room in
    [low, high].
    """
    a, b = sorted((wanted.start[0], wanted.end[0]))
    width = text_width_mm(wanted.label, wanted.size_mm)
    outside = b - a < 2.6 * ARROW_MM
    reach = (ARROW_MM + OUTSIDE_ARROW_MM) if outside else 0.0
    anchor: Literal["start", "middle", "end"]
    if width + 1.0 <= b - a:
        x, anchor, span = (a + b) / 2, "middle", (a, b)
    elif b + reach + 1.0 + width <= high:
        x, anchor, span = b + reach + 1.0, "start", (a - reach, b + reach + 1.0 + width)
    elif a - reach - 1.0 - width >= low:
        x, anchor, span = a - reach - 1.0, "end", (a - reach - 1.0 - width, b + reach)
    else:
        x = min(max((a + b) / 2, low + width / 2), high - width / 2)
        anchor, span = "middle", (min(a - reach, x - width / 2), max(b + reach, x + width / 2))
    beside = anchor != "middle"
    lift = -0.36 * wanted.size_mm if beside else TEXT_LIFT_MM
    dimension = Dimension(
        wanted.start, wanted.end, "x", 0.0, wanted.value_mm, wanted.text, wanted.scale,
        (x, -lift), anchor, wanted.size_mm, wanted.tolerance, wanted.reference, outside,
    )  # fmt: skip
    return dimension, span


def at_level(dimension: Dimension, line_at: float) -> Dimension:
    """A dimension with its line moved to a place on the paper, its text with it."""
    return replace(dimension, line_at=line_at, text_at=(dimension.text_at[0], dimension.text_at[1] + line_at))


def on_levels(
    groups: Sequence[Sequence[Wanted]], low: float, high: float
) -> tuple[tuple[Dimension, int], ...]:
    """Dimensions with a level each, 0 nearest the part; later groups lie further out."""
    placed: list[tuple[Dimension, int]] = []
    first = 0
    for group in groups:
        levels: list[list[tuple[float, float]]] = []
        for wanted in sorted(group, key=lambda w: abs(w.end[0] - w.start[0])):
            dimension, (a, b) = along_x(wanted, low, high)
            level = 0
            while level < len(levels) and any(
                a < d + LEVEL_GAP_MM and c < b + LEVEL_GAP_MM for c, d in levels[level]
            ):
                level += 1
            if level == len(levels):
                levels.append([])
            levels[level].append((a, b))
            placed.append((dimension, first + level))
        first += len(levels)
    return tuple(placed)


def crossings(placed: Sequence[tuple[Dimension, int]]) -> int:
    """How many extension lines run through the text of a dimension nearer to the part."""
    count = 0
    for dimension, level in placed:
        a, b = _text_span(dimension)
        for other, further in placed:
            if further > level:
                count += sum(a - 0.3 < x < b + 0.3 for x in (other.start[0], other.end[0]))
    return count


def _text_span(dimension: Dimension) -> tuple[float, float]:
    width = text_width_mm(dimension.label, dimension.size_mm)
    a = dimension.text_at[0] - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[dimension.anchor]
    return a, a + width


@dataclass
class Row:
    """A strip of paper along x in which labels avoid each other and thin lines crossing it."""

    low: float
    high: float
    lines: list[float] = field(default_factory=list)
    taken: list[tuple[float, float]] = field(default_factory=list)

    def reserve(self, a: float, b: float) -> None:
        self.taken.append((min(a, b), max(a, b)))

    def place(self, width: float, wanted: float) -> float | None:
        """Centre for a label of that width nearest to `wanted`; None where the row is full.

        Crossing a thin line is accepted only when no other place is left.
        """
        for lines in (self.lines, []):
            centre = self._search(width, wanted, self.high - self.low, lines)
            if centre is not None:
                self.reserve(centre - width / 2, centre + width / 2)
                return centre
        return None

    def has_room(self, width: float, wanted: float, reach: float) -> bool:
        """Whether a label fits within `reach` of `wanted` without crossing anything."""
        return self._search(width, wanted, reach, self.lines) is not None

    def _search(self, width: float, wanted: float, reach: float, lines: list[float]) -> float | None:
        for step in range(int(2 * reach) + 2):
            for centre in (wanted - step / 2, wanted + step / 2):
                if self._free(centre - width / 2, centre + width / 2, lines):
                    return centre
        return None

    def _free(self, a: float, b: float, lines: list[float]) -> bool:
        return (
            a >= self.low
            and b <= self.high
            and not any(a < d + LABEL_GAP_MM and c < b + LABEL_GAP_MM for c, d in self.taken)
            and not any(a - 0.6 < line < b + 0.6 for line in lines)
        )
