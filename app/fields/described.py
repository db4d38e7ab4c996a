"""Number fields made from the description of their input: unit and range as everywhere else."""

from __future__ import annotations

from math import isfinite
from typing import Any

from app.fields.number_list import NumberListField
from app.fields.quantity import QuantityField
from core.project.fields import FIELDS


def quantity_for(key: str, label: str = "", **options: Any) -> QuantityField:
    """A field for the input `key` of `core.project.fields`; `label` where the row says it shorter."""
    return QuantityField(FIELDS[key].unit, label or FIELDS[key].label, **limits_of(key), **options)


def list_for(key: str, label: str = "", **options: Any) -> NumberListField:
    """The same for a list of numbers."""
    limits = {name: value for name, value in limits_of(key).items() if name != "above"}
    return NumberListField(FIELDS[key].unit, label or FIELDS[key].label, **limits, **options)


def limits_of(key: str) -> dict[str, float]:
    """Range of an input as a field takes it."""
    allowed = FIELDS[key].range
    limits: dict[str, float] = {}
    if isfinite(allowed.low):
        limits["above" if allowed.above else "low"] = allowed.low
    if isfinite(allowed.high):
        limits["high"] = allowed.high
    return limits
