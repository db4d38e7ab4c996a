"""One input of the tolerance form: its nominal value, plus or minus, or a range nobody knows better."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QCheckBox, QGridLayout, QSizePolicy, QWidget

from app.fields import QuantityField
from app.fields.elided import Elided
from app.fields.plain import PlainLabel, plain
from app.theme import look
from core import units
from core.project.model import Tolerance
from core.project.ranges import Range
from core.study.tolerance.uncertain import RIGID, Uncertain, tolerance_of

FIELD_WIDTH, KNOW_WIDTH = 86, 22
WIDEST = 0.95
"""Largest relative tolerance: beyond it the value may come out as nothing."""
_FIRST_RANGE = 0.3


class ToleranceRow(QWidget):
    """Emits `changed(path, Tolerance)` when a person says something else of the input."""

    changed = Signal(str, object)

    def __init__(self, item: Uncertain, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(f"toleranceRow {item.path}")
        self._item = item
        self.label = Elided(f"input {item.path}", self, ink="text")
        self.value = PlainLabel("", self)
        self.value.setFont(look.font(11))
        self.value.setEnabled(False)
        self.value.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.plus_minus = self._plus_minus_field(item)
        self.unknown = QCheckBox(self)
        self.unknown.setObjectName(f"unknown {item.path}")
        self.unknown.setAccessibleName(f"I do not know: {item.label}")
        self.unknown.setToolTip("I do not know: any value in a range is as likely as any other")
        self.low, self.high = self._range_field("from", item), self._range_field("to", item)
        if item.kind == "clamp":
            self.high.setPlaceholderText("rigid")
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(1)
        grid.setColumnStretch(0, 1)
        grid.addWidget(self.label, 0, 0)
        grid.addWidget(self.value, 1, 0)
        grid.addWidget(self.plus_minus, 0, 2, 2, 1)
        grid.addWidget(self.low, 0, 1, 2, 1)
        grid.addWidget(self.high, 0, 2, 2, 1)
        grid.addWidget(self.unknown, 0, 3, 2, 1, Qt.AlignmentFlag.AlignCenter)
        for field in (self.plus_minus, self.low, self.high):
            field.setFixedWidth(FIELD_WIDTH)
        self.unknown.setFixedWidth(KNOW_WIDTH)
        self.plus_minus.committed.connect(self._on_plus_minus)
        self.low.committed.connect(self._on_range)
        self.high.committed.connect(self._on_range)
        self.high.cleared.connect(self._on_range)
        self.unknown.toggled.connect(self._on_unknown)
        for field in (self.plus_minus, self.low, self.high):
            field.error_changed.connect(self._on_error)
        self.show_item(item)

    def _plus_minus_field(self, item: Uncertain) -> QuantityField:
        if item.absolute:
            return QuantityField(Range(item.unit, 0.0, 1.0), f"± {item.label}", parent=self)
        return QuantityField(Range("%", 0.0, WIDEST), f"± {item.label}", parent=self)

    def _range_field(self, word: str, item: Uncertain) -> QuantityField:
        unit = "%" if item.kind == "factor" else item.unit or "1"
        optional = item.kind == "clamp" and word == "to"
        return QuantityField(Range(unit), f"{item.label} {word}", optional=optional, parent=self)

    def show_item(self, item: Uncertain) -> None:
        """Show the input as the project has it now."""
        self._item = item
        self.label.setText(item.label)
        self.label.setToolTip(plain(f"{item.label}\n{item.status}{': ' + item.source if item.source else ''}"))
        self.value.setText(_nominal(item))
        self.unknown.blockSignals(True)
        self.unknown.setChecked(not item.known)
        self.unknown.blockSignals(False)
        self.plus_minus.setVisible(item.known and item.kind != "clamp")
        self.low.setVisible(not item.known)
        self.high.setVisible(not item.known)
        if item.known:
            self.plus_minus.set_value(item.plus_minus if item.kind != "clamp" else 0.0)
            return
        low, high = tolerance_of(item).unknown or (item.low, item.high)
        self.low.set_value(low)
        self.high.set_value(None if item.kind == "clamp" and high >= RIGID else high)

    @Slot()
    def _on_plus_minus(self) -> None:
        value = self.plus_minus.value()
        if value is not None:
            self.changed.emit(self._item.path, Tolerance(value))

    @Slot()
    def _on_range(self) -> None:
        low, high = self.low.value(), self.high.value()
        if high is None and self._item.kind == "clamp":
            high = RIGID
        if low is None or high is None:
            return
        above_nothing = self._item.kind == "value" and self._item.nominal < 0.0
        wrong = "" if low < high else "'from' must be less than 'to'."
        if not above_nothing and low <= 0.0:
            wrong = "It must be more than 0."
        self.low.show_error(wrong)
        if not wrong:
            self.changed.emit(self._item.path, Tolerance(unknown=(low, high)))

    @Slot(bool)
    def _on_unknown(self, unknown: bool) -> None:
        self.changed.emit(self._item.path, Tolerance(unknown=_first_range(self._item)) if unknown else _known(self._item))

    @Slot(str)
    def _on_error(self, text: str) -> None:
        self.value.setText(text or _nominal(self._item))
        self.value.setEnabled(bool(text))
        self.value.setStyleSheet(f"color: {look.current().danger.name()}" if text else "")


def _nominal(item: Uncertain) -> str:
    if item.kind == "clamp":
        return "taken as rigid" if item.known else "stiffness k_r L/EI"
    if item.kind == "factor":
        return "the whole profile" if "thickness" in item.path else "of all modes"
    return units.show_with_unit(item.nominal, item.unit or "1", significant=4)


def _first_range(item: Uncertain) -> tuple[float, float]:
    """A range to start from: a firm clamp to a rigid one, else a third to either side."""
    if item.kind == "clamp":
        return 50.0, RIGID
    half = max(item.plus_minus if not item.absolute else 0.0, _FIRST_RANGE) * abs(item.nominal)
    if item.absolute:
        half = max(item.plus_minus, 1e-3)
    return item.nominal - half, item.nominal + half


def _known(item: Uncertain) -> Tolerance:
    """Back from a range: half of it as the tolerance about the nominal value."""
    if item.kind == "clamp":
        return Tolerance(0.0)
    return Tolerance(min(item.plus_minus, WIDEST))
