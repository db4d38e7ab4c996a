"""Units beyond the table, through pint; loaded only when such a unit is typed."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

_ALLOWED = re.compile(r"[A-Za-zµμ°ΩΩ%/*^()\s·⋅.\d-]{1,40}")
_LONG_NUMBER = re.compile(r"\d{3}")
_WORDS = {
    "[length]": "a length", "[mass]": "a mass", "[time]": "a time", "[current]": "a current",
    "[temperature]": "a temperature",
}  # fmt: skip


class UnusualUnitError(ValueError):
    """No such unit, or one of another dimension; `words` then says what it measures."""

    def __init__(self, words: str = "") -> None:
        super().__init__(words)
        self.words = words


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def convert(value: float, unit_text: str, wanted: str) -> float:
    """`value` of `unit_text` in the SI unit `wanted` (pint's spelling); UnusualUnitError otherwise."""
    if not _ALLOWED.fullmatch(unit_text) or _LONG_NUMBER.search(unit_text):
        raise UnusualUnitError
    import tokenize

    import pint

    registry = _registry()
    spelled = unit_text.replace("·", "*").replace("⋅", "*").replace("^", "**")
    try:
        given = registry.parse_units(spelled)
        target = registry.parse_units(wanted)
    except (pint.errors.PintError, tokenize.TokenError, SyntaxError, ValueError, TypeError, AttributeError,
            KeyError, AssertionError, ZeroDivisionError, RecursionError):  # fmt: skip
        raise UnusualUnitError from None
    if given.dimensionality != target.dimensionality:
        raise UnusualUnitError(_WORDS.get(str(given.dimensionality), f"in {unit_text}"))
    try:
        return float(registry.Quantity(value, given).to(target).magnitude)
    except (pint.errors.PintError, OverflowError):
        raise UnusualUnitError from None
