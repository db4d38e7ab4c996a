"""Every input with its tolerance, in the order of the work, and how the study samples them."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.fields import ChoiceField, FormRow, QuantityField
from app.fields.discard import discard
from app.fields.scroll import scroll_of
from app.studies.tolerance_row import FIELD_WIDTH, KNOW_WIDTH, ToleranceRow
from app.theme import look
from core.project.ranges import Range
from core.study.tolerance.tolerance import Spread
from core.study.tolerance.uncertain import Uncertain

SAMPLES = (300, 1000, 3000, 10_000)
SPREADS: tuple[tuple[Spread, str], ...] = (("limits", "any value within them"), ("two sigma", "mostly near the middle"))
WIDTH = 396


class ToleranceForm(QWidget):
    """`changed(path, Tolerance)` for an input; `asked` when the sampling is to be another."""

    changed = Signal(str, object)
    asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("toleranceForm")
        self.setFixedWidth(WIDTH)
        self.rows: dict[str, ToleranceRow] = {}
        self.samples = ChoiceField("Samples", [(n, f"{n:,}".replace(",", " ")) for n in SAMPLES], parent=self)
        self.samples.set_value(1000)
        self.spread = ChoiceField("A tolerance means", list(SPREADS), parent=self)
        self.spread.set_value("limits")
        self.seed = QuantityField(Range("1", 0.0, 1e9), "Seed", digits=0, parent=self)
        self.seed.set_value(1.0)
        self._list = QWidget(self)
        self._rows_layout = QVBoxLayout(self._list)
        self._rows_layout.setContentsMargins(0, 2, 8, 8)
        self._rows_layout.setSpacing(5)
        scroll = scroll_of(self._list, "toleranceScroll", self, sideways=False)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 10, 4, 6)
        layout.setSpacing(6)
        for label, field in (
            ("Samples", self.samples),
            ("A tolerance means", self.spread),
            ("Seed", self.seed),
        ):
            layout.addWidget(FormRow(label, field, parent=self))
        layout.addSpacing(4)
        layout.addLayout(self._heads())
        layout.addWidget(scroll, 1)
        self.samples.chosen.connect(self._on_asked)
        self.spread.chosen.connect(self._on_asked)
        self.seed.committed.connect(self._on_asked)

    def _heads(self) -> QHBoxLayout:
        heads = QHBoxLayout()
        heads.setSpacing(6)
        input_head, plus_minus, unknown = (QLabel(t, self) for t in ("Input", "off by ±", "not known"))
        for label in (input_head, plus_minus, unknown):
            label.setFont(look.font(11, bold=True))
        plus_minus.setFixedWidth(FIELD_WIDTH - 20)
        unknown.setMinimumWidth(KNOW_WIDTH)
        unknown.setContentsMargins(0, 0, 10, 0)
        heads.addWidget(input_head, 1)
        heads.addWidget(plus_minus)
        heads.addWidget(unknown)
        return heads

    def show_inputs(self, inputs: tuple[Uncertain, ...]) -> None:
        """One row an input; rows that stay keep what is being typed in them."""
        if [i.path for i in inputs] != list(self.rows):
            self._rebuild(inputs)
            return
        for item in inputs:
            self.rows[item.path].show_item(item)

    def _rebuild(self, inputs: tuple[Uncertain, ...]) -> None:
        while self._rows_layout.count():
            discard(self._rows_layout.takeAt(0))
        self.rows = {}
        for item in inputs:
            row = ToleranceRow(item, self._list)
            row.changed.connect(self.changed)
            self._rows_layout.addWidget(row)
            self.rows[item.path] = row
        self._rows_layout.addStretch(1)

    @Slot()
    def _on_asked(self) -> None:
        self.asked.emit()
