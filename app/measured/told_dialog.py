"""What was understood of a file, to be confirmed or told otherwise: its first lines, its columns, its time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPlainTextEdit, QVBoxLayout, QWidget

from app.fields import ChoiceField, FormRow, TextField, quantity_for
from app.fields.plain import PlainLabel
from app.fields.scroll import scroll_of
from app.fields.within_screen import resize_within
from app.theme import look
from core.measured.quantities import unit_of

if TYPE_CHECKING:
    from core.measured.record import Recording
    from core.project.measurement import MeasuredFile

DELIMITERS = ((None, "as understood"), (";", "semicolon"), (",", "comma"), ("\t", "tab"), (" ", "blanks"))
MARKS = ((None, "as understood"), (".", "point"), (",", "comma"))
TIME_UNITS = ((None, "as understood"), ("s", "s"), ("ms", "ms"), ("us", "µs"))
ROLES = (("response", "response"), ("force", "force"), ("left out", "left out"))


class ToldDialog(QDialog):
    """`changed` is the file's record as told, once accepted."""

    def __init__(self, file: MeasuredFile, recording: Recording | None, trouble: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("told dialog")
        self.setWindowTitle(f"What was understood of {file.name}")
        self.changed = file
        self._file = file
        told = file.told
        page = QWidget(self)
        rows = QVBoxLayout(page)
        rows.setContentsMargins(0, 0, 0, 0)
        if trouble:
            label = PlainLabel(f"\N{WARNING SIGN} {trouble}", page)
            label.setWordWrap(True)
            rows.addWidget(label)
        if recording is not None:
            for one in recording.understood:
                mark = "  (guessed)" if one.guessed else ""
                label = PlainLabel(f"{one.what}: {one.value}{mark}", page)
                label.setWordWrap(True)
                rows.addWidget(label)
        preview = QPlainTextEdit("\n".join(line[:200] for line in recording.preview) if recording is not None else "", page)
        preview.setReadOnly(True)
        preview.setAccessibleName("First lines of the file")
        preview.setFixedHeight(110)
        preview.setFont(look.font(11))
        preview.setVisible(recording is not None and bool(recording.preview))
        rows.addWidget(preview)
        self.delimiter = self._choice(rows, "Columns parted by", DELIMITERS, told.delimiter)
        self.mark = self._choice(rows, "Decimal mark", MARKS, told.decimal_mark)
        self.time_unit = self._choice(rows, "Time in", TIME_UNITS, told.time_unit)
        self.interval = quantity_for("measurements.interval_s", "Time between samples", optional=True, hint="as understood")
        self.interval.set_value(told.interval_s)
        rows.addWidget(FormRow("Time between samples", self.interval))
        self.exponential = quantity_for("measurements.exponential_window_s", "Exponential window", optional=True, hint="none")
        self.exponential.setToolTip("Time constant of a window that the analyser laid over the record; its damping is taken off")
        self.exponential.set_value(file.exponential_window_s)
        rows.addWidget(FormRow("Exponential window", self.exponential))
        block = recording.block("time") if recording is not None else None
        self.roles: list[ChoiceField] = []
        self.units: list[TextField] = []
        self._first_unit = 0
        if block is not None:
            known = () if recording is None else recording.understood
            self._first_unit = 1 if any(u.what == "Time" and u.value.startswith("column") for u in known) else 0
            for n, channel in enumerate(block.channels):
                role = self._choice(rows, f"{channel.name[:24]} is", ROLES, channel.role)
                unit = TextField(f"Unit of {channel.name[:24]}")
                unit.setPlaceholderText("no unit")
                unit.set_value(channel.unit_in_file or "")
                unit.setObjectName(f"unit {n}")
                rows.addWidget(FormRow("in", unit))
                self.roles.append(role)
                self.units.append(unit)
        self.problem = PlainLabel("", page)
        self.problem.setWordWrap(True)
        rows.addWidget(self.problem)
        rows.addStretch(1)
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel, self)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(scroll_of(page, "toldScroll", self, sideways=False), 1)
        layout.addWidget(self.buttons)
        resize_within(self, 520, 620)

    def _choice(self, rows: QVBoxLayout, label: str, options: tuple[tuple[object, str], ...], value: object) -> ChoiceField:
        field = ChoiceField(label, options)
        field.set_value(value)
        rows.addWidget(FormRow(label, field))
        return field

    @Slot()
    def accept(self) -> None:
        """Take what is typed; a unit nobody knows keeps the window open."""
        for field in (self.interval, self.exponential):
            field.commit()
            if field.has_bad_text():
                self.problem.setText(field.error())
                return
        units = tuple(field.text().strip() for field in self.units)
        for unit in units:
            if unit and unit_of(unit) is None:
                self.problem.setText(f'"{unit}" is no unit that is known. Type one such as mm, m/s2, g, V or N, or leave it empty.')
                return
        told = self._file.told
        if self.roles:
            roles = tuple(field.value() for field in self.roles)
            told = replace(told, roles=roles, units=("",) * self._first_unit + units if any(units) else ())
        told = replace(
            told, delimiter=self.delimiter.value(), decimal_mark=self.mark.value(), time_unit=self.time_unit.value(),
            interval_s=self.interval.value(),
        )  # fmt: skip
        self.changed = replace(self._file, told=told, confirmed=True, exponential_window_s=self.exponential.value())
        super().accept()
