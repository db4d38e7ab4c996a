"""A line edit for a number with a unit, which the arrow keys step."""

from __future__ import annotations

import math

from PySide6.QtCore import Signal

from app.fields.typed import TypedField
from core import units


class QuantityField(TypedField[float]):
    """Shows a number; emits `committed` with the SI value on Enter or focus-out."""

    committed = Signal(float)
    previewed = Signal(float)

    def step_by(self, steps: float) -> None:
        """Change the number by `steps` steps, previewed now and committed once it settles."""
        try:
            start = self._read() if self.isModified() else self._value
        except ValueError:
            return
        if start is None:
            return
        shown = units.to_display(start, self.unit)
        size = self._step if self._step is not None else _natural_step(shown)
        target = _tidy(shown + steps * size)
        value = units.to_si(target, self.unit)
        if self._out_of_range(value):
            return
        self._stepped = value
        self.setText(f"{target:.10g}")
        self.setModified(True)
        self._set_text_error("")
        self._settle.start()
        self.previewed.emit(value)

    def _read(self) -> float:
        """The SI value of the text; ValueError in words when it is none or out of range."""
        text = self.text().strip()
        if not text:
            raise ValueError(f"{self.label} is empty. Type a number{self._in_unit()}.")
        value = units.parse(text, self.unit)
        if not math.isfinite(value):
            raise ValueError(f"{self.label} must be a finite number{self._in_unit()}.")
        trouble = self._out_of_range(value)
        if trouble:
            raise ValueError(trouble)
        return value

    def _write_value(self) -> None:
        text = "" if self._value is None else units.show(self._value, self.unit, self._digits)
        if text != self.text():
            self.setText(text)
            self.setCursorPosition(0)
        self.setModified(False)


def _natural_step(shown: float) -> float:
    """A step of one unit in the second figure of the number shown (37.5 -> 1, 0.30 -> 0.01)."""
    if shown == 0.0:
        return 1.0
    return 10.0 ** (math.floor(math.log10(abs(shown))) - 1)


def _tidy(number: float) -> float:
    """The number without the dust of binary fractions (0.30000000000000004 -> 0.3)."""
    return float(f"{number:.10g}")
