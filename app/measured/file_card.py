"""A measured file in the list: its name, what hung on the leads, what was understood, and what was guessed."""

from __future__ import annotations

from msgspec.structs import replace
from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QGridLayout, QPushButton, QSizePolicy, QToolButton, QWidget

from app.fields import ChoiceField, quantity_for
from app.fields.plain import PlainLabel, plain
from app.theme import look
from core.measured.record import Recording
from core.project.measurement import MeasuredFile

STATES = ((None, "not said"), ("shorted", "leads shorted"), ("open", "leads open"), ("resistor", "resistor on the leads"))


class FileCard(QFrame):
    """Emits the record as a person changed it; `removed` and `asked` (to say otherwise) with its name."""

    changed = Signal(object)
    removed = Signal(str)
    asked = Signal(str)

    def __init__(self, file: MeasuredFile, recording: Recording | None, trouble: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(f"file {file.name}")
        self._file = file
        grid = QGridLayout(self)
        grid.setContentsMargins(8, 6, 6, 6)
        grid.setVerticalSpacing(3)
        name = PlainLabel(file.name, self)
        name.setFont(look.font(12, bold=True))
        name.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        name.setToolTip(plain(f"{file.name}\n{'inside the project' if file.data else file.path}"))
        away = QToolButton(self)
        away.setObjectName(f"remove {file.name}")
        away.setText("✕")
        away.setAutoRaise(True)
        away.setToolTip("Take this file away from the project")
        away.setAccessibleName(f"Take {file.name} away")
        away.clicked.connect(self._remove)
        grid.addWidget(name, 0, 0)
        grid.addWidget(away, 0, 1)
        impedance = recording is not None and recording.block("impedance") is not None
        if impedance:
            grid.addWidget(_faint("impedance sweep", self), 1, 0, 1, 2)
        else:
            self.leads = ChoiceField("On the leads", STATES)
            self.leads.setObjectName(f"leads of {file.name}")
            self.leads.set_value(file.leads)
            self.leads.chosen.connect(self._on_leads)
            grid.addWidget(self.leads, 1, 0, 1, 2)
            if file.leads == "resistor":
                self.ohm = quantity_for("measurements.resistance_ohm", "Resistance on the leads", optional=True, hint="its value")
                self.ohm.set_value(file.resistance_ohm)
                self.ohm.committed.connect(self._on_ohm)
                grid.addWidget(self.ohm, 2, 0, 1, 2)
        row = 3
        if trouble:
            label = PlainLabel(f"\N{WARNING SIGN} {trouble}", self)
            palette = label.palette()
            palette.setColor(label.foregroundRole(), look.current().danger)
            label.setPalette(palette)
            label.setWordWrap(True)
            grid.addWidget(label, row, 0, 1, 2)
            row += 1
        if recording is not None:
            grid.addWidget(_faint(_summary(recording), self), row, 0, 1, 2)
            row += 1
            guesses = () if file.confirmed else recording.guesses
            for guess in guesses:
                label = PlainLabel(f"? {guess.what}: {guess.value}, guessed", self)
                label.setWordWrap(True)
                palette = label.palette()
                palette.setColor(label.foregroundRole(), look.current().caution)
                label.setPalette(palette)
                grid.addWidget(label, row, 0, 1, 2)
                row += 1
            if guesses:
                right = QPushButton("Right as guessed", self)
                right.setObjectName(f"right {file.name}")
                right.clicked.connect(self._confirm)
                grid.addWidget(right, row, 0, Qt.AlignmentFlag.AlignLeft)
                row += 1
        other = QPushButton("Say otherwise ...", self, flat=True)
        other.setObjectName(f"otherwise {file.name}")
        other.clicked.connect(self._ask)
        grid.addWidget(other, row, 0, Qt.AlignmentFlag.AlignLeft)
        grid.setColumnStretch(0, 1)
        now = look.current()
        self.setStyleSheet(f"FileCard {{ background: {now.panel.name()}; border: 1px solid {now.line.name()}; border-radius: 3px; }}")

    def sizeHint(self) -> QSize:
        return QSize(280, super().sizeHint().height())

    @Slot()
    def _remove(self) -> None:
        self.removed.emit(self._file.name)

    @Slot()
    def _ask(self) -> None:
        self.asked.emit(self._file.name)

    @Slot()
    def _confirm(self) -> None:
        self.changed.emit(replace(self._file, confirmed=True))

    @Slot(object)
    def _on_leads(self, leads: object) -> None:
        self.changed.emit(replace(self._file, leads=leads))

    @Slot(float)
    def _on_ohm(self, ohm: float) -> None:
        self.changed.emit(replace(self._file, resistance_ohm=ohm))


def _faint(text: str, parent: QWidget) -> PlainLabel:
    label = PlainLabel(text, parent)
    label.setWordWrap(True)
    palette = label.palette()
    palette.setColor(label.foregroundRole(), look.current().faint_text)
    label.setPalette(palette)
    return label


def _summary(recording: Recording) -> str:
    """What was understood without guessing, in a line."""
    told = [u.value for u in recording.understood if not u.guessed and u.what in ("Time", "Frequency", "Channels")]
    channels = sum(len(b.channels) for b in recording.blocks)
    return "; ".join([*told, f"{channels} channel{'s' if channels != 1 else ''}"])
