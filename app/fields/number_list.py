"""A line edit for several numbers of one unit, parted by semicolons."""

from __future__ import annotations

import re

from app.fields.typed import TypedField
from core import units


class NumberListField(TypedField[tuple[float, ...]]):
    """Shows "0.3; 0.35"; emits `committed` with a tuple of SI values.

    Numbers are parted by semicolons or blanks; a comma is a decimal sign. They have no common step.
    """

    def _read(self) -> tuple[float, ...]:
        texts = [text for text in re.split(r"\s*;\s*|\s+(?=[-+]?\d)", self.text().strip()) if text]
        if not texts:
            raise ValueError(f"{self.label} is empty. Type a number{self._in_unit()}, or several with ;")
        values = tuple(units.parse(text, self.unit) for text in texts)
        for value in values:
            trouble = self._out_of_range(value)
            if trouble:
                raise ValueError(trouble)
        return values

    def _write_value(self) -> None:
        shown = self._value or ()
        self.setText("; ".join(units.show(value, self.unit, self._digits) for value in shown))
        self.setModified(False)
        self.setCursorPosition(0)
