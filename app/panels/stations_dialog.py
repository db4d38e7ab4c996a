"""The lay-up editor: stations with widths and thicknesses, layers and their pieces, EI and m beside."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.fields import FormRow, NumberTable, TextField
from app.fields.buttons import push_button
from app.fields.plain import plain
from app.fields.within_screen import resize_within
from app.panels import stations_edits as edits
from app.panels.draft import DraftDialog
from app.panels.library_edits import material_options, with_material_at_hand
from app.panels.paths import steps
from app.panels.section_view import SectionView
from core.project.structure import Layer, Structure

if TYPE_CHECKING:
    from app.shell.session import Session


class StationsDialog(DraftDialog):
    """Everything about the section, on a draft with live curves."""

    title = "Change stations and lay-up"
    places = ("structure.stations_m", "structure.width_m", "structure.layers", "structure.weighed_mass_kg",
              "structure.dead_weight_stiffness_n_m")

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setObjectName("stations editor")
        self.setWindowTitle("Stations and lay-up")
        resize_within(self, 1180, 700)
        self._build_stations()
        self._build_layers()
        left = QSplitter(Qt.Orientation.Vertical, self.page)
        left.addWidget(self._stations_side)
        left.addWidget(self._layers_side)
        left.setChildrenCollapsible(False)
        self.view = SectionView(self.draft, self.page)
        both = QSplitter(Qt.Orientation.Horizontal, self.page)
        both.addWidget(left)
        both.addWidget(self.view)
        both.setStretchFactor(0, 3)
        both.setStretchFactor(1, 2)
        both.setChildrenCollapsible(False)
        both.setSizes([790, 390])
        line = QHBoxLayout(self.page)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(both)
        self.refresh_all()
        self.choose(0)
        self.stations.select_row(0)
        self.stations.view.setFocus()

    # -- building ----------------------------------------------------------------------------------

    def _build_stations(self) -> None:
        self._stations_side = QWidget()
        self.stations = NumberTable("Stations", edits.station_columns(self.structure), row_word="station",
                                    least=2, parent=self._stations_side)
        self.stations.edited.connect(self._take_stations)
        column = QVBoxLayout(self._stations_side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(QLabel("<b>Stations</b> &nbsp; measured from the root; linear in between; layers "
                                "numbered from the underside up", self._stations_side))
        column.addWidget(self.stations, 1)

    def _build_layers(self) -> None:
        self._layers_side = QWidget()
        self.layers = QListWidget(self._layers_side)
        self.layers.setObjectName("list of layers")
        self.layers.setAccessibleName("Layers as they lie, the top one first")
        self.layers.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.layers.currentRowChanged.connect(self._show_layer)
        self.name = TextField("Layer name")
        self.name.committed.connect(self._take_name)
        self.name_row = FormRow("Layer name", self.name, parent=self._layers_side)
        self.pieces = NumberTable("Pieces", edits.piece_columns([]), row_word="piece", movable=True,
                                  parent=self._layers_side)
        self.pieces.hide_hint()
        self.pieces.edited.connect(self._take_pieces)
        left = QVBoxLayout()
        left.addWidget(QLabel("<b>Layers</b> &nbsp; as they lie, 1 at the underside", self._layers_side))
        left.addWidget(self.layers, 1)
        left.addLayout(self._layer_buttons())
        right = QVBoxLayout()
        right.addWidget(self.name_row)
        right.addWidget(QLabel("<b>Pieces side by side</b> &nbsp; an empty width takes what is left",
                               self._layers_side))
        right.addWidget(self.pieces, 1)
        line = QHBoxLayout(self._layers_side)
        line.setContentsMargins(0, 6, 0, 0)
        line.addLayout(left, 2)
        line.addLayout(right, 3)

    def _layer_buttons(self) -> QVBoxLayout:
        both = QVBoxLayout()
        for pair in (
            (("Add layer", self.add_layer), ("Remove layer", self.remove_layer)),
            (("Move up", self.move_up), ("Move down", self.move_down)),
        ):
            line = QHBoxLayout()
            for text, slot in pair:
                line.addWidget(push_button(self._layers_side, text, f"{text} of lay-up", slot))
            both.addLayout(line)
        return both

    # -- showing -----------------------------------------------------------------------------------

    @property
    def structure(self) -> Structure:
        return self.draft.project.structure

    def current(self) -> int:
        """The chosen layer's place from below, -1 for none."""
        row = self.layers.currentRow()
        count = len(self.structure.layers)
        return count - 1 - row if 0 <= row < count else -1

    def choose(self, at: int) -> None:
        """Choose the layer at a place from below."""
        self.layers.setCurrentRow(len(self.structure.layers) - 1 - at)

    def refresh(self) -> None:
        structure = self.structure
        if not self.stations.errors():
            self.stations.set_rows(edits.station_rows(structure), edits.station_columns(structure))
        texts = [f"{n + 1}  {edits.layer_text(layer)}" for n, layer in enumerate(structure.layers)][::-1]
        if [self.layers.item(i).text() for i in range(self.layers.count())] != texts:
            row = min(self.layers.currentRow(), len(texts) - 1)
            self.layers.blockSignals(True)
            self.layers.clear()
            for text in texts:
                item = QListWidgetItem(text, self.layers)
                item.setToolTip(plain(text))
            self.layers.setCurrentRow(row)
            self.layers.blockSignals(False)
        self._show_layer()

    @Slot()
    def _show_layer(self) -> None:
        at = self.current()
        self.name_row.setEnabled(at >= 0)
        self.pieces.setEnabled(at >= 0)
        if at < 0:
            self.name.set_value("")
            self.pieces.set_rows([])
            return
        layer = self.structure.layers[at]
        self.name.set_value(layer.name)
        if not self.pieces.errors() or self.pieces.property("layer") != layer.name:
            columns = edits.piece_columns(material_options(self.draft.project))
            self.pieces.setProperty("layer", layer.name)
            self.pieces.set_rows(edits.piece_rows(layer), columns)

    def cells_of(self, path: str) -> tuple[NumberTable, int, str] | None:
        """Cells of stations, widths, thicknesses; of pieces for the layer shown."""
        parts = [text for text, _ in steps(path)]
        if parts[:1] != ["structure"] or len(parts) < 3:
            return None
        if parts[1] in ("stations_m", "width_m"):
            return self._station_cell(parts[2], "x" if parts[1] == "stations_m" else "w")
        if parts[1] != "layers" or len(parts) < 4:
            return None
        names = [layer.name for layer in self.structure.layers]
        at = names.index(parts[2]) if parts[2] in names else int(parts[2])
        if parts[3] == "thickness_m":
            return self._station_cell(parts[4] if len(parts) > 4 else "0", f"t{at}")
        if parts[3] == "pieces" and len(parts) > 5 and at == self.current():
            row = int(parts[4])
            return (self.pieces, row, parts[5]) if row < self.pieces.model.rowCount() else None
        return None

    def _station_cell(self, row: str, key: str) -> tuple[NumberTable, int, str] | None:
        return (self.stations, int(row), key) if int(row) < self.stations.model.rowCount() else None

    # -- changes -------------------------------------------------------------------------------------

    def _put(self, structure: Structure) -> None:
        self.draft.apply("", msgspec.structs.replace(self.draft.project, structure=structure))

    def _put_layer(self, layer: Layer) -> None:
        self._put(edits.with_layer(self.structure, self.current(), layer))

    @Slot()
    def _take_stations(self) -> None:
        if self.stations.errors():
            self.tell_problems()
        else:
            self._put(edits.with_station_rows(self.structure, self.stations.rows()))

    @Slot()
    def _take_pieces(self) -> None:
        if self.pieces.errors() or self.current() < 0:
            self.tell_problems()
        else:
            layer = edits.with_piece_rows(self.structure.layers[self.current()], self.pieces.rows())
            project = self.draft.project
            for piece in layer.pieces:
                project = with_material_at_hand(project, piece.material)
            structure = edits.with_layer(self.structure, self.current(), layer)
            self.draft.apply("", msgspec.structs.replace(project, structure=structure))

    @Slot(str)
    def _take_name(self, name: str) -> None:
        at = self.current()
        taken = {layer.name for n, layer in enumerate(self.structure.layers) if n != at}
        if not name or name in taken:
            self.name.show_error(f'A layer is already called "{name}".' if name else "A layer needs a name.")
            return
        self.name.show_error("")
        self._put_layer(msgspec.structs.replace(self.structure.layers[at], name=name))

    @Slot()
    def add_layer(self) -> None:
        """A new layer above the chosen one."""
        materials = self.draft.project.materials
        at = self.current() + 1
        if self.stations.errors() or not materials:
            return
        self._put(edits.with_layer_added(self.structure, at, materials[0].name))
        self.choose(at)

    @Slot()
    def remove_layer(self) -> None:
        """The chosen layer away; without any, the ceramics alone must hold the part together."""
        if self.current() >= 0 and not self.stations.errors():
            self._put(edits.with_layer_removed(self.structure, self.current()))

    @Slot()
    def move_up(self) -> None:
        self._move(1)

    @Slot()
    def move_down(self) -> None:
        self._move(-1)

    def _move(self, by: int) -> None:
        at = self.current()
        if at >= 0 and 0 <= at + by < len(self.structure.layers) and not self.stations.errors():
            self._put(edits.with_layer_moved(self.structure, at, at + by))
            self.choose(at + by)
