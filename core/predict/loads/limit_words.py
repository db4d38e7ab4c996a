"""A limit in words: its value against what is allowed, and how far it is from it."""

from __future__ import annotations

from math import inf, isfinite

from core.predict.prediction import Limit
from core.units import words

KELVIN = "degC"
STROKE = "Stroke against the part"
"""Name of the limit of a tuned mass."""


def value_words(limit: Limit) -> str:
    """"38.0 of 500 µε"; an end of the service range "0 °C, −40 °C allowed"."""
    if limit.unit == KELVIN:
        return f"{words.celsius(limit.value)}, {words.celsius(limit.allowable)} allowed"
    return words.value_of(limit.value, limit.allowable, limit.unit)


def margin_words(limit: Limit) -> str:
    """How far from the limit, for a place that does not say "margin": "margin 1.40", "8.0 × the limit"."""
    text = margin_cell(limit)
    return f"margin {text}" if limit.margin >= 1.0 and isfinite(limit.margin) and limit.unit != KELVIN else text


def margin_cell(limit: Limit) -> str:
    """The same under a heading "margin": "1.40", "8.0 × the limit", "40 K to spare", "not loaded"."""
    if limit.unit == KELVIN:
        return _kelvin(limit)
    if limit.margin >= 1.0:
        return words.times(limit.margin)
    if limit.margin <= 0.0 or not isfinite(limit.value):
        return "beyond the limit"
    return f"{words.significant(1.0 / limit.margin, 3 if limit.margin > 0.5 else 2)} × the limit"


def share_words(limit: Limit) -> str:
    """How much of the allowable is used: "187 %"."""
    if not isfinite(limit.margin):
        return words.NOT_LOADED
    if not isfinite(limit.value):
        return "without bound"
    used = inf if limit.margin <= 0.0 else 1.0 / limit.margin
    return words.percent(used, 0) if used < 100.0 else "over 10 000 %"


def _kelvin(limit: Limit) -> str:
    """Kelvins between an end of the service range and what the package stands."""
    spare = abs(limit.allowable - limit.value)
    return f"{words.significant(spare, 2)} K {'to spare' if limit.margin >= 1.0 else 'beyond the limit'}"
