"""Small shared widgets that edit one value each."""

from __future__ import annotations

from app.fields.choice import ChoiceField
from app.fields.constant import ConstantField, ConstantHeading
from app.fields.described import column_for, list_for, quantity_for
from app.fields.number_list import NumberListField
from app.fields.origin import OriginMark
from app.fields.quantity import QuantityField
from app.fields.row import ErrorLabel, FormRow
from app.fields.switch import SwitchField
from app.fields.table import NumberTable
from app.fields.table_model import Column
from app.fields.text import NoteField, TextField
from app.fields.typed import TypedField

__all__ = [
    "ChoiceField",
    "Column",
    "ConstantField",
    "ConstantHeading",
    "ErrorLabel",
    "FormRow",
    "NoteField",
    "NumberListField",
    "NumberTable",
    "OriginMark",
    "QuantityField",
    "SwitchField",
    "TextField",
    "TypedField",
    "column_for",
    "list_for",
    "quantity_for",
]
