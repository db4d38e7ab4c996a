"""The left column of the page: files of the candidate, what stood on the bench, what a meter read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec.structs import replace
from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app.fields import FormRow, QuantityField, SwitchField, TextField, quantity_for
from app.fields.plain import PlainLabel
from app.measured.file_card import FileCard
from app.theme import look
from core.measured.kept import measurement_of, read_capacitances
from core.project.candidate import Instrument
from core.project.measurement import Measurement
from core.units import words

if TYPE_CHECKING:
    from app.measured.work import Outcome
    from app.shell.session import Session

FIRST_RESISTANCE_OHM = 1e6


class FilesPanel(QWidget):
    """Shows the session's measurement; what a person changes goes out through the signals."""

    file_changed = Signal(object)
    file_removed = Signal(str)
    file_asked = Signal(str)
    add_wanted = Signal()
    inside_wanted = Signal(bool)
    measurement_changed = Signal(str, object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._shown: tuple[Any, ...] = ()
        self.setObjectName("filesPanel")
        self.heading = PlainLabel("", self)
        self.heading.setFont(look.font(13, bold=True))
        self._cards = QVBoxLayout()
        self._cards.setSpacing(6)
        self.cards: list[FileCard] = []
        self.add = QPushButton("Add files ...", self)
        self.add.setObjectName("addMeasured")
        self.add.clicked.connect(self.add_wanted)
        hint = PlainLabel("Drop files anywhere on the window, several at once: CSV or text, WAV, universal file 58, impedance sweep.", self)
        hint.setWordWrap(True)
        self.inside = SwitchField("Files inside the project", "carry the files inside the project")
        self.inside.switched.connect(self.inside_wanted)
        bench = PlainLabel("On the bench", self)
        bench.setFont(look.font(13, bold=True))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 10, 10, 12)
        layout.setSpacing(6)
        layout.addWidget(self.heading)
        layout.addLayout(self._cards)
        layout.addWidget(self.add)
        layout.addWidget(hint)
        layout.addWidget(self.inside)
        layout.addSpacing(8)
        layout.addWidget(bench)
        self.fields: dict[str, QuantityField] = {}
        for key, label, hint_text in (
            ("temperature_c", "Temperature", "reference"), ("sensor_kg", "Sensor's mass", ""), ("sensor_x_m", "Sensor at", "the tip"),
            ("resistance_ohm", "Input on the leads", "none"), ("cable_f", "Its cable", "none"),
            ("capacitance_before_f", "Capacitance before bonding", "not measured"), ("capacitance_f", "Capacitance after bonding", "not measured"),
        ):  # fmt: skip
            name = {"resistance_ohm": "instrument.resistance_ohm", "cable_f": "instrument.capacitance_f"}.get(key, f"measurements.{key}")
            field = quantity_for(name, label, optional=key != "sensor_kg", hint=hint_text)
            field.setObjectName(f"bench {key}")
            self.fields[key] = field
            layout.addWidget(FormRow(label, field))
            field.committed.connect(self._take)
            field.cleared.connect(self._take)
        self.serial = TextField("Serial number")
        self.serial.committed.connect(self._take)
        layout.addWidget(FormRow("Serial number", self.serial))
        layout.addStretch(1)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        look.look_changed.connect(self._restyle)

    # ---- showing -------------------------------------------------------------------------

    def refresh(self, outcome: Outcome | None) -> None:
        """Show the session's measurement and what is known of its files."""
        project = self._session.project
        measurement = measurement_of(project)
        count = len(measurement.files)
        self.heading.setText(f"Files of candidate {project.active}" if count else "Nothing measured yet")
        recordings = {} if outcome is None else outcome.recordings
        troubles = () if outcome is None else outcome.troubles
        known = tuple((f, recordings.get(f.name), _trouble_of(f.name, troubles)) for f in measurement.files)
        if known != self._shown:
            self._shown = known
            self._make_cards(known)
        self.inside.set_value(count > 0 and all(f.data for f in measurement.files))
        self.inside.setEnabled(count > 0)
        bench, hung = measurement.bench, measurement.bench.instrument
        values = {
            "temperature_c": bench.temperature_c, "sensor_kg": bench.sensor_kg, "sensor_x_m": bench.sensor_x_m,
            "resistance_ohm": None if hung is None else hung.resistance_ohm,
            "cable_f": None if hung is None else hung.capacitance_f,
            "capacitance_f": measurement.capacitance_f, "capacitance_before_f": measurement.capacitance_before_f,
        }  # fmt: skip
        for key, value in values.items():
            self.fields[key].set_value(value)
        self.serial.set_value(measurement.serial)
        recorded = dict(zip(("capacitance_before_f", "capacitance_f"), read_capacitances(project), strict=True))
        for key, value in recorded.items():
            from_record = values[key] is None and value is not None
            self.fields[key].setPlaceholderText("from the record" if from_record else "not measured")
            tip = f"{words.capacitance(value)} in the bonding record of this serial number; type a value to use another." if value is not None else ""
            self.fields[key].setToolTip(tip if from_record else "")

    def _make_cards(self, known: tuple[Any, ...]) -> None:
        for card in self.cards:
            self._cards.removeWidget(card)
            card.hide()
            card.deleteLater()
        self.cards = []
        for file, recording, trouble in known:
            card = FileCard(file, recording, trouble, self)
            card.changed.connect(self.file_changed)
            card.removed.connect(self.file_removed)
            card.asked.connect(self.file_asked)
            self._cards.addWidget(card)
            self.cards.append(card)

    @Slot()
    def _restyle(self) -> None:
        """Cards have the colours they were made with."""
        self._make_cards(self._shown)

    # ---- taking --------------------------------------------------------------------------

    @Slot()
    def _take(self) -> None:
        """The bench and what the meter read, as the fields have them."""
        measurement = measurement_of(self._session.project)
        value = {key: field.value() for key, field in self.fields.items()}
        hung = None
        if value["resistance_ohm"] is not None or value["cable_f"]:
            hung = Instrument(
                resistance_ohm=value["resistance_ohm"] or FIRST_RESISTANCE_OHM, capacitance_f=value["cable_f"] or 0.0
            )
        bench = replace(
            measurement.bench, temperature_c=value["temperature_c"], sensor_kg=value["sensor_kg"] or 0.0,
            sensor_x_m=value["sensor_x_m"], instrument=hung,
        )  # fmt: skip
        changed: Measurement = replace(
            measurement, bench=bench, capacitance_f=value["capacitance_f"],
            capacitance_before_f=value["capacitance_before_f"], serial=self.serial.text().strip(),
        )  # fmt: skip
        if changed != measurement:
            self.measurement_changed.emit("Change what stood on the bench", changed)


def _trouble_of(name: str, troubles: tuple[str, ...]) -> str:
    return next((t for t in troubles if t.startswith(name)), "")
