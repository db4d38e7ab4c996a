"""What may stand behind an option: one line that names the option, the text, what is allowed and an example."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import NoReturn

from app.cli.words import plain

WRONG_USE = 2
"""Exit code where the command line itself cannot be made sense of, whatever the files hold."""


class WrongUse(ValueError):
    """Options that do not go together, or a text that no option takes; one sentence, exit code 2."""


class Parser(argparse.ArgumentParser):
    """A parser that tells what is wrong in one line, and where every option is told."""

    def error(self, message: str) -> NoReturn:
        told = plain(message.removeprefix("argument ")).rstrip(".")
        self.exit(WRONG_USE, f"{self.prog}: {told}. '{self.prog} --help' tells every option.\n")


def whole(low: int, high: int) -> Callable[[str], int]:
    """Reads a whole number of that range."""

    def read(text: str) -> int:
        digits = text.strip()
        # the text's length first: thousands of digits take long to read
        value = int(digits) if len(digits) <= 40 and digits.removeprefix("-").isdecimal() else None
        if value is None or not low <= value <= high:
            raise argparse.ArgumentTypeError(f'"{text}" is no whole number from {low} to {high}')
        return value

    return read


def quantity(key: str, unit: str = "") -> Callable[[str], float]:
    """Reads the input `key` of a project in SI, within its range; a plain number counts in `unit`, or in its own."""

    def read(text: str) -> float:
        from core.project.fields import FIELDS

        field = FIELDS[key]
        value = number(text, unit or field.range.unit)
        trouble = field.range.trouble(field.label, value)
        if trouble:
            raise argparse.ArgumentTypeError(trouble)
        return value

    return read


def number(text: str, unit: str) -> float:
    """A typed quantity in SI, a plain number in `unit`."""
    from core import units

    try:
        return units.parse(text, unit)
    except units.QuantityError as fault:
        raise argparse.ArgumentTypeError(str(fault)) from None


def least(unit: str, low: float = 0.0, *, above: bool = True) -> Callable[[str], float]:
    """Reads a quantity above `low`, or from there on."""

    def read(text: str) -> float:
        from core.project.ranges import Range

        value, allowed = number(text, unit), Range(unit, low, above=above)
        if not allowed.holds(value):
            raise argparse.ArgumentTypeError(f'"{text}" must be {allowed.words()}')
        return value

    return read


def two_lengths(text: str) -> tuple[float, float]:
    """Reads FROM,TO in metres; plain numbers are millimetres."""
    ends = text.split(",")
    if len(ends) != 2:
        raise argparse.ArgumentTypeError(f'"{text}": write two lengths, for example 20,60 or 2cm,6cm')
    low, high = (number(end, "mm") for end in ends)
    if not 0.0 <= low < high:
        raise argparse.ArgumentTypeError(f'"{text}": from 0 on, and the first must be the smaller one')
    return low, high
