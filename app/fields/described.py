"""Number fields made from the description of their input: unit and range as everywhere else."""

from __future__ import annotations

from typing import Any

from app.fields.number_list import NumberListField
from app.fields.quantity import QuantityField
from app.fields.table_model import Column
from core.project.fields import FIELDS


def quantity_for(key: str, label: str = "", **options: Any) -> QuantityField:
    """A field for the input `key` of `core.project.fields`; `label` where the row says it shorter."""
    return QuantityField(FIELDS[key].range, label or FIELDS[key].label, **options)


def list_for(key: str, label: str = "", **options: Any) -> NumberListField:
    """The same for a list of numbers."""
    return NumberListField(FIELDS[key].range, label or FIELDS[key].label, **options)


def column_for(key: str, title: str = "", name: str = "", **options: Any) -> Column:
    """A table's column for the input `key`; `name` where its cells have another than the input's own."""
    field = FIELDS[key]
    return Column(name or key.rpartition(".")[2], title or field.label, range=field.range, **options)
