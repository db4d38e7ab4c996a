"""A material constant with its standing: value, tolerance, temperature coefficient, status, source."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from app.fields.choice import ChoiceField
from app.fields.quantity import QuantityField
from app.fields.text import TextField
from core.project.ranges import Range
from core.project.record import Constant, Status

STATUSES: tuple[tuple[Status, str], ...] = (
    ("measured", "measured"),
    ("data sheet", "data sheet"),
    ("assumed", "assumed"),
)
TOLERANCE, COEFFICIENT = Range("%", 0.0, 10.0), Range("%/K", -0.1, 0.1)
WIDTHS = (17, 10, 12, 13)
"""Widths of value, tolerance, coefficient and status in digits; the source takes the rest."""


def _lay_out(parent: QWidget, widgets: Sequence[QWidget]) -> None:
    line = QHBoxLayout(parent)
    line.setContentsMargins(0, 0, 0, 0)
    line.setSpacing(6)
    digit = parent.fontMetrics().horizontalAdvance("0")
    for widget, width in zip(widgets, (*WIDTHS, 0), strict=False):
        if width:
            widget.setFixedWidth(width * digit)
        line.addWidget(widget, 0 if width else 1)


class ConstantHeading(QWidget):
    """The words over the columns of `ConstantField`s."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        texts = ("Value", "Tolerance \N{PLUS-MINUS SIGN}", "Per kelvin", "Status", "Source")
        labels = [QLabel(text, self) for text in texts]
        for label in labels:
            label.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom)
        _lay_out(self, labels)


class ConstantField(QWidget):
    """Emits `changed` with the new `Constant`. Limits have no temperature coefficient (`varies` False)."""

    changed = Signal(object)
    error_changed = Signal(str)

    def __init__(
        self,
        allowed: Range,
        label: str,
        *,
        varies: bool = True,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.label = label
        self._constant = Constant(0.0)
        self._told = ""
        self.setObjectName(f"constant {label}")
        self.value_field = QuantityField(allowed, label, parent=self)
        self.tolerance = QuantityField(TOLERANCE, f"{label}, tolerance", optional=True, hint="none",
                                       parent=self)
        self.coefficient = QuantityField(COEFFICIENT, f"{label}, per kelvin", parent=self)
        self.coefficient.setEnabled(varies)
        self.status = ChoiceField(f"{label}, status", STATUSES, parent=self)
        self.source = TextField(f"{label}, source", hint="where it is from", parent=self)
        _lay_out(self, (self.value_field, self.tolerance, self.coefficient, self.status, self.source))
        self.setFocusProxy(self.value_field)
        self.value_field.committed.connect(self._take_value)
        self.tolerance.committed.connect(self._take_tolerance)
        self.tolerance.cleared.connect(self._take_no_tolerance)
        self.coefficient.committed.connect(self._take_coefficient)
        self.status.chosen.connect(self._take_status)
        self.source.committed.connect(self._take_source)
        for field in (self.value_field, self.tolerance, self.coefficient):
            field.error_changed.connect(self._tell)

    def value(self) -> Constant:
        return self._constant

    def set_value(self, constant: Constant) -> None:
        """Show a constant from outside."""
        self._constant = constant
        self.value_field.set_value(constant.value)
        self.tolerance.set_value(constant.tolerance)
        self.coefficient.set_value(constant.per_kelvin)
        self.status.set_value(constant.status)
        self.source.set_value(constant.source)

    def error(self) -> str:
        fields = (self.value_field, self.tolerance, self.coefficient)
        return next((field.error() for field in fields if field.error()), "")

    def show_error(self, text: str) -> None:
        """Tell a problem found with the constant ('' for none)."""
        self.value_field.show_error(text)

    @Slot(str)
    def _tell(self, _text: str) -> None:
        now = self.error()
        if now != self._told:
            self._told = now
            self.error_changed.emit(now)

    def _change(self, **parts: object) -> None:
        self._constant = msgspec.structs.replace(self._constant, **parts)
        self.changed.emit(self._constant)

    @Slot(float)
    def _take_value(self, value: float) -> None:
        self._change(value=value)

    @Slot(float)
    def _take_tolerance(self, value: float) -> None:
        self._change(tolerance=value)

    @Slot()
    def _take_no_tolerance(self) -> None:
        self._change(tolerance=None)

    @Slot(float)
    def _take_coefficient(self, value: float) -> None:
        self._change(per_kelvin=value)

    @Slot(object)
    def _take_status(self, status: object) -> None:
        self._change(status=status)

    @Slot(str)
    def _take_source(self, source: str) -> None:
        self._change(source=source)
