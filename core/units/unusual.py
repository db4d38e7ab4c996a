"""Units beyond the table, through pint; loaded only when such a unit is typed."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

_LONGEST = 40
_TOKEN = re.compile(
    r"\s*(?:(?P<name>[^\W\d_]+|[°%])|(?P<number>\d{1,3})(?!\d)|(?P<times>[*·⋅./])|(?P<open>\()|(?P<close>\)))"
)
_POWER = re.compile(r"(?:\s*(?:\^|\*\*)\s*)?([+-]?\d)(?!\d)")
"""A power of one digit: m^2, m**-1, ft2."""
_STARTS = frozenset(("name", "number", "open"))
_AFTER = {"times": _STARTS, "open": _STARTS} | dict.fromkeys(
    ("name", "number", "close"), _STARTS | {"times", "close"}
)
"""What may follow what in a unit."""
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


def spell(unit_text: str) -> str:
    """The unit in pint's spelling: names, products, quotients, brackets, and powers of one digit.

    pint evaluates whatever expression it is given, and a tower of powers (m^9^9^9) for ever; only what a
    unit can be made of reaches it. UnusualUnitError for anything else.
    """
    text = unit_text.strip()
    if len(text) > _LONGEST:
        raise UnusualUnitError
    spelled: list[str] = []
    before, at, depth = "times", 0, 0
    while at < len(text):
        token = _TOKEN.match(text, at)
        if token is None or token.lastgroup not in _AFTER[before]:
            raise UnusualUnitError
        at, kind = token.end(), str(token.lastgroup)
        depth += (kind == "open") - (kind == "close")
        if depth < 0:
            raise UnusualUnitError
        if kind in _STARTS and before not in ("times", "open"):
            spelled.append("*")
        spelled.append({"·": "*", "⋅": "*", ".": "*"}.get(token[kind], token[kind]))
        before = kind
        power = _POWER.match(text, at) if kind in ("name", "close") else None
        if power is not None:
            spelled.append(f"**{int(power[1])}")
            at = power.end()
    if depth or before in ("times", "open"):
        raise UnusualUnitError
    return "".join(spelled)


def convert(value: float, unit_text: str, wanted: str) -> float:
    """`value` of `unit_text` in the SI unit `wanted` (pint's spelling); UnusualUnitError otherwise."""
    spelled = spell(unit_text)
    import tokenize

    import pint

    registry = _registry()
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
