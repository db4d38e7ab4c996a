"""The left side of the import preview: unit, layers, half outline, error allowed, places of the lines."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget
from shapely.geometry import Polygon

from app.fields import ChoiceField, FormRow, QuantityField, SwitchField
from app.fields.discard import discard
from app.fields.plain import PlainLabel, plain
from app.outline.state import FACES, NOTHING, OUTLINE, Choices, ImportState
from core import units
from core.outline.drawing import UNITS
from core.project.ranges import Range

ROLE_WORDS = (
    (OUTLINE, "outline"),
    *zip(FACES, ("keep-out, top face", "keep-out, underside", "keep-out, both faces"), strict=True),
    (NOTHING, "leave out"),
)
SHARES = ((0.002, "0.2 % of the width"), (0.005, "0.5 % of the width"), (0.01, "1 % of the width"))
MOST_LAYERS = 40


class ImportForm(QWidget):
    """Fields bound to the choices; each signal names one change."""

    unit_chosen = Signal(object)
    role_chosen = Signal(object, object)
    join_changed = Signal(float)
    part_chosen = Signal(object)
    mirror_switched = Signal(bool)
    share_chosen = Signal(object)
    zones_only_switched = Signal(bool)
    clamp_typed = Signal(float)
    end_typed = Signal(object)
    distance_typed = Signal(float)
    length_typed = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("outline form")
        self._roles: dict[str, ChoiceField] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(5)
        self._column = column
        self._heading("Drawing")
        self.distance = QuantityField(Range("mm", 0.0, 100.0, above=True), "Known distance")
        self.distance.committed.connect(self.distance_typed)
        self.distance_row = self._row("Known distance", self.distance)
        self.length = QuantityField(Range("mm", 0.0, 100.0, above=True), "Length of the table")
        self.length.committed.connect(self.length_typed)
        self.length_row = self._row("Length", self.length)
        self.unit = ChoiceField("Unit of the drawing", [(k, words) for k, (_, words) in UNITS.items()])
        self.unit.chosen.connect(self.unit_chosen)
        self.unit_row = self._row("Unit", self.unit)
        self.size_told = self._words("outline size")
        self._layers = QWidget(self)
        self._grid = QGridLayout(self._layers)
        self._grid.setContentsMargins(0, 4, 0, 0)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 1)
        column.addWidget(self._layers)
        self._beam = QWidget(self)
        column.addWidget(self._beam)
        column = QVBoxLayout(self._beam)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(5)
        self._column = column
        self._heading("Outline")
        self.part = ChoiceField[int]("Which closed line")
        self.part.chosen.connect(self.part_chosen)
        self.part_row = self._row("Which line", self.part)
        self.mirror = SwitchField("Half outline", "mirror about the axis")
        self.mirror.switched.connect(self.mirror_switched)
        self._row("Half outline", self.mirror)
        self.join = QuantityField(Range("mm", 0.0, 0.1), "Join ends within")
        self.join.committed.connect(self.join_changed)
        self.join_row = self._row("Join ends within", self.join)
        self._heading("Beam")
        self.clamp = QuantityField(Range("mm", -100.0, 100.0), "Clamp line")
        self.clamp.committed.connect(self.clamp_typed)
        self._row("Clamp line at", self.clamp)
        self.end = QuantityField(Range("mm", -100.0, 100.0), "Tip of the span", optional=True, hint="end of part")
        self.end.committed.connect(self.end_typed.emit)
        self.end.cleared.connect(partial(self.end_typed.emit, None))
        self._row("Tip at", self.end)
        self.share = ChoiceField("Width error allowed", SHARES)
        self.share.chosen.connect(self.share_chosen)
        self._row("Width error", self.share)
        self.zones_only = SwitchField("Only keep-outs", "leave the outline as it is")
        self.zones_only.switched.connect(self.zones_only_switched)
        self.zones_only_row = self._row("Only keep-outs", self.zones_only)

    def _heading(self, text: str) -> None:
        label = QLabel(f"<b>{text}</b>", self)
        label.setContentsMargins(0, 6, 0, 0)
        self._column.addWidget(label)

    def _row(self, label: str, field: QWidget) -> FormRow:
        row = FormRow(label, field, parent=self)
        self._column.addWidget(row)
        return row

    def _words(self, name: str) -> QLabel:
        label = PlainLabel("", self)
        label.setObjectName(name)
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.PlainText)
        self._column.addWidget(label)
        return label

    # -- showing -----------------------------------------------------------------------------------

    def show_state(self, state: ImportState | None, kind: str) -> None:
        """Show the choices of `state`; None while a picture is not traced yet."""
        picture = kind == "picture"
        self.distance_row.setVisible(picture)
        self.unit_row.setVisible(not picture)
        self.join_row.setVisible(kind == "drawing")
        self._beam.setVisible(state is not None)
        self.part_row.setVisible(state is not None and len(state.areas) > 1)
        self._layers.setVisible(kind == "drawing")
        self.size_told.setVisible(state is not None)
        if state is None:
            return
        choices = state.choices
        self.unit.set_value(choices.unit)
        self.size_told.setText(self._size_words(state, picture=picture))
        self._show_layers(state)
        self.part.set_options([(i, _area_words(i, a)) for i, a in enumerate(state.areas[:30])])
        self.part.set_value(choices.part)
        self.mirror.set_value(choices.mirrored)
        self.join.set_value(choices.join_m)
        self.share.set_value(choices.share)
        self.zones_only.set_value(choices.zones_only)
        self.zones_only_row.setVisible(any(role in FACES for _, role in choices.roles))
        self._show_lines(choices)

    def _show_lines(self, choices: Choices) -> None:
        if choices.frame is not None:
            self.clamp.set_value(choices.frame.clamp_m)
            self.end.set_value(choices.frame.end_m)

    def _size_words(self, state: ImportState, *, picture: bool) -> str:
        areas = state.areas
        if not areas:
            return "" if picture else state.unit_note()
        low_x, low_y, high_x, high_y = areas[min(state.choices.part, len(areas) - 1)].bounds
        size = f"The part is {_mm(high_x - low_x)} × {_mm(high_y - low_y)} mm. "
        return size if picture else size + state.unit_note()

    def _show_layers(self, state: ImportState) -> None:
        names = [name for name, _ in state.choices.roles][:MOST_LAYERS]
        if list(self._roles) != names:
            self._make_layers(state, names)
        for name, role in state.choices.roles:
            if name in self._roles:
                self._roles[name].set_value(role)

    def _make_layers(self, state: ImportState, names: list[str]) -> None:
        while self._grid.count():
            discard(self._grid.takeAt(0))
        self._roles = {}
        infos = {info.name: info for info in state.drawing.layers}
        for row, name in enumerate(names):
            count = infos[name].count
            lines = f"{count} line{'s' if count > 1 else ''}"
            label = PlainLabel(f"{_short(name)}\n{lines}", self._layers)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setToolTip(plain(name))
            field = ChoiceField(f"Layer {name}", ROLE_WORDS, parent=self._layers)
            field.chosen.connect(partial(self.role_chosen.emit, name))
            label.setBuddy(field)
            self._grid.addWidget(label, row, 0)
            self._grid.addWidget(field, row, 1)
            self._roles[name] = field


class Scroller(QScrollArea):
    """A scroll area for a column of words and fields, without a frame."""

    def __init__(self, content: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWidget(content)


def _short(name: str) -> str:
    name = name or "(no layer)"
    return name if len(name) <= 18 else f"{name[:16]}…"


def _area_words(index: int, area: Polygon) -> str:
    low_x, low_y, high_x, high_y = area.bounds
    return f"{index + 1}: {_mm(high_x - low_x)} × {_mm(high_y - low_y)} mm"


def _mm(value_m: float) -> str:
    return units.show(value_m, "mm", 1)
