"""Fields of what is asked for: a list of modes, and changes of a peak in per cent or in dB."""

from __future__ import annotations

import re

from PySide6.QtWidgets import QWidget

from app.fields import NumberListField
from core import units
from core.project.ranges import Range

_DECIBEL = re.compile(r"\s*db\s*$", re.IGNORECASE)
_BETWEEN = re.compile(r"\s*(?:[,;]|\band\b|\s)\s*")


def _cure(part: str) -> str:
    """What to type for a name that is no number: modes are asked for by the number in their circle."""
    if re.fullmatch(r"[Tt]\d+", part):
        return "A mode that twists has no number: its K² and damping are told, but nothing is asked of it nor tuned to it."
    return "Type the numbers in the circles, for example 1, 2."


class ModeListField(NumberListField):
    """Modes by their numbers: "1, 2" or "1 and 2"; empty asks for nothing."""

    def __init__(self, label: str, *, parent: QWidget | None = None) -> None:
        super().__init__(Range("1"), label, parent=parent)
        self.setPlaceholderText("none")

    def _read(self) -> tuple[int, ...]:
        parts = [part for part in _BETWEEN.split(self.text().strip()) if part]
        for part in parts:
            if not (part.isascii() and part.isdigit()):
                raise ValueError(f'"{part}" is not a mode. {_cure(part)}')
        return tuple(sorted({int(part) for part in parts}))

    def _write_value(self) -> None:
        self.setText(", ".join(str(round(mode)) for mode in self._value or ()))
        self.setModified(False)
        self.setCursorPosition(0)


class PeakChangeField(NumberListField):
    """Changes of a peak as shares of what it was, shown in per cent: "-40", "40 % less", "-4.4 dB".

    A peak is asked to become lower, so a number without a sign is taken as so much less.
    """

    def __init__(self, label: str, *, parent: QWidget | None = None) -> None:
        super().__init__(Range("%"), label, parent=parent)

    def _read(self) -> tuple[float, ...]:
        texts = [text for text in re.split(r"\s*;\s*|\s+(?=[-+\N{MINUS SIGN}]?\d)", self.text().strip()) if text]
        if not texts:
            raise ValueError(f"{self.label} is empty. Type how much lower, for example -40 % or -4.4 dB.")
        return tuple(_change(text) for text in texts)


def _change(text: str) -> float:
    """The change one text means, as a share; ValueError in words."""
    text = re.sub(r"\s*less\s*$", "", text)
    if _DECIBEL.search(text):
        level = units.parse(_DECIBEL.sub("", text), "1")
        return 10.0 ** (-abs(level) / 20.0) - 1.0
    return -abs(units.parse(text, "%"))
