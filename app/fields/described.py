"""Number fields made from the description of their input: unit and range as everywhere else."""

from __future__ import annotations

from math import isfinite
from typing import Any, TypedDict

from app.fields.number_list import NumberListField
from app.fields.quantity import QuantityField
from app.fields.table_model import Column
from core.project.fields import FIELDS


class Limits(TypedDict, total=False):
    """Bounds in SI as a number field takes them; one that is missing does not bound."""

    low: float
    high: float
    above: float


def quantity_for(key: str, label: str = "", **options: Any) -> QuantityField:
    """A field for the input `key` of `core.project.fields`; `label` where the row says it shorter."""
    return QuantityField(FIELDS[key].unit, label or FIELDS[key].label, **limits_of(key), **options)


def list_for(key: str, label: str = "", **options: Any) -> NumberListField:
    """The same for a list of numbers."""
    return NumberListField(FIELDS[key].unit, label or FIELDS[key].label, **limits_of(key), **options)


def column_for(key: str, title: str = "", name: str = "", **options: Any) -> Column:
    """A table's column for the input `key`; `name` where its cells have another than the input's own."""
    field = FIELDS[key]
    return Column(
        name or key.rpartition(".")[2], title or field.label, unit=field.unit, **limits_of(key), **options
    )


def limits_of(key: str) -> Limits:
    """Range of an input as a field takes it."""
    allowed = FIELDS[key].range
    limits: Limits = {}
    if isfinite(allowed.low) and allowed.above:
        limits["above"] = allowed.low
    elif isfinite(allowed.low):
        limits["low"] = allowed.low
    if isfinite(allowed.high):
        limits["high"] = allowed.high
    return limits
