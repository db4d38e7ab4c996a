"""What stands on the leads over frequency: impedance of patches and circuit, capacitance, voltage; read at any frequency."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from app.fields import ChoiceField, QuantityField
from app.fields.elided import Elided
from app.fields.link import Link
from app.fields.plain import PlainLabel
from app.results.chart import Chart
from app.results.clipboard import copy_table
from app.theme import look
from core.project.ranges import Range
from core.units import words

if TYPE_CHECKING:
    from core.predict.electrics.impedance import OverFrequency
    from core.predict.group_result import GroupResult
    from core.predict.prediction import Prediction

    Array = NDArray[np.float64]

What = Literal["impedance", "capacitance", "voltage"]
SHOWN: tuple[tuple[What, str], ...] = (
    ("impedance", "impedance"), ("capacitance", "capacitance of the patches"), ("voltage", "voltage on the leads"),
)  # fmt: skip
UNITS: dict[What, str] = {"impedance": "ohm", "capacitance": "F", "voltage": "V"}
PATCHES, CIRCUIT = "patches", "circuit"
POINTS = 400
TALL = 190
HIGHEST_HZ = 1e6


class _Chart(Chart):
    """One of the quantities; its reading names both curves."""

    def __init__(self, what: What, parent: QWidget) -> None:
        about = dict(SHOWN)[what]
        super().__init__(f"{what}Chart", f"{about[:1].upper()}{about[1:]} over frequency", log_x=True, log_y=what != "capacitance", parent=parent)
        self._what = what
        self.setFixedHeight(TALL)
        self.set_units("Hz", {"ohm": "Ω"}.get(UNITS[what], UNITS[what]))

    def show_curves(self, found: OverFrequency) -> None:
        now, f = look.current(), found.frequency_hz
        first = {"impedance": np.abs(found.patches_ohm), "capacitance": found.capacitance_f, "voltage": found.voltage_v}[self._what]
        self.set_curve(PATCHES, f, first, now.accent, width=2.0, z=1)
        keys = [PATCHES]
        size = np.abs(found.circuit_ohm)
        if self._what == "impedance" and np.isfinite(size).any() and (size > 0.0).any():
            self.set_curve(CIRCUIT, f, size, now.after, dash=(4.0, 3.0))
            keys.append(CIRCUIT)
        self.keep_only(keys)
        self.fit()

    def reading_at(self, x: float) -> str:
        unit, told = UNITS[self._what], []
        for key, name in ((PATCHES, ""), (CIRCUIT, "circuit ")):
            value = self.values_at(key, x) if key in self._curves else None
            if value is not None:
                told.append(f"{name}{words.engineering(value, unit)}")
        return f"{words.frequency(10.0**x)}: {', '.join(told)}" if told else ""


class OverFrequencyBlock(QWidget):
    """Told of the prediction at rest."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._result: GroupResult | None = None
        self.found: OverFrequency | None = None
        title = PlainLabel("Over frequency", self)
        title.setFont(look.font(13, bold=True))
        self.what: ChoiceField[What] = ChoiceField("Quantity over frequency", SHOWN, parent=self)
        self.what.set_value("impedance")
        self.what.chosen.connect(self._show_chart)
        self.legend = Elided("frequencyLegend", self)
        self.copy = Link("Copy", self, padding=(4, 3))
        self.copy.setObjectName("copyOverFrequency")
        self.copy.clicked.connect(self.copy_values)
        self.charts: dict[What, _Chart] = {what: _Chart(what, self) for what, _ in SHOWN}
        self._stack = QStackedWidget(self)
        for chart in self.charts.values():
            self._stack.addWidget(chart)
            chart.hovered.connect(self._on_hover)
        self.at = QuantityField(Range("Hz", 1e-3, HIGHEST_HZ), "Read at")
        self.at.setFixedWidth(110)
        self.at.committed.connect(self._on_read)
        self.reading = Elided("frequencyReading", self, ink="text")
        head = QHBoxLayout()
        head.setSpacing(8)
        head.addWidget(title)
        head.addWidget(self.what)
        head.addWidget(self.legend, 1)
        head.addWidget(self.copy)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addWidget(PlainLabel("Read at", self))
        foot.addWidget(self.at)
        foot.addWidget(self.reading, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addLayout(head)
        layout.addWidget(self._stack)
        layout.addLayout(foot)

    def show_group(self, prediction: Prediction, result: GroupResult) -> None:
        """Curves over the band of the response shown."""
        band = prediction.response.frequency_hz
        f = np.geomspace(float(band[0]), float(band[-1]), POINTS)
        near = np.asarray(band)[:: max(len(band) // POINTS, 1)]
        self._result = result
        self.found = result.over_frequency(np.unique(np.concatenate([f, near])))
        for chart in self.charts.values():
            chart.show_curves(self.found)
        if self.at.value() is None and prediction.modes:
            self.at.set_value(float(f"{prediction.modes[0].f_short_hz:.4g}"))
        self._show_legend()
        self._on_read(0.0)

    def told_at(self, frequency_hz: float) -> str:
        """Every quantity at a frequency, worked out there."""
        if self._result is None:
            return ""
        one = self._result.over_frequency(np.array([frequency_hz]))
        circuit = float(np.abs(one.circuit_ohm[0]))
        parts = [
            f"patches {words.engineering(float(np.abs(one.patches_ohm[0])), 'ohm')}, {words.capacitance(float(one.capacitance_f[0]))}, "
            f"loss {words.percent(float(one.loss[0]))}",
            "circuit open" if not np.isfinite(circuit) else f"circuit {words.engineering(circuit, 'ohm')}",
            words.voltage(float(one.voltage_v[0])),
        ]
        return f"{words.frequency(frequency_hz)}: {'; '.join(parts)}"

    @Slot()
    def copy_values(self) -> None:
        """Every quantity over frequency, as a table."""
        if self.found is not None:
            copy_table(self.found.table())

    @Slot(object)
    def _show_chart(self, what: object) -> None:
        self._stack.setCurrentWidget(self.charts[self.what.key()])
        self._show_legend()

    def _show_legend(self) -> None:
        told = {
            "impedance": "line: patches on the part, without their circuit; dashed: the circuit",
            "capacitance": "parallel equivalent, without the circuit",
            "voltage": "under the load shown, with the circuit",
        }
        self.legend.setText(told[self.what.key()])

    @Slot(float)
    def _on_read(self, _value: float) -> None:
        at = self.at.value()
        self.reading.setText("" if at is None else self.told_at(at))

    @Slot(str)
    def _on_hover(self, told: str) -> None:
        """What lies under the pointer; what was typed when it leaves."""
        if told:
            self.reading.setText(told)
        else:
            self._on_read(0.0)
