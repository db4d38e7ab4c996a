"""What leaves the page: the netlist, on the clipboard or as a file, and the papers of the circuit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.fields.buttons import push_button
from app.fields.plain import PlainLabel
from app.shell.saved_text import ask_and_save
from app.theme import look

if TYPE_CHECKING:
    from core.predict.prediction import Prediction

ABOUT = (
    "The netlist runs an AC and a transient analysis as it is: modes as series branches, the circuit with the parts of the "
    "list. What it leaves out stands in its head."
)


class TakeAlong(QWidget):
    """`paper_wanted` with the key of a document."""

    paper_wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._prediction: Prediction | None = None
        title = PlainLabel("Take it along", self)
        title.setFont(look.font(13, bold=True))
        self.copy = push_button(self, "Copy netlist", "copyNetlist")
        self.save = push_button(self, "Netlist for SPICE …", "saveNetlist")
        self.card = push_button(self, "Card …", "circuitCard")
        self.copy.clicked.connect(self.copy_netlist)
        self.save.clicked.connect(self.save_netlist)
        self.card.clicked.connect(self._want_card)
        self.about = PlainLabel(ABOUT, self)
        self.about.setObjectName("netlistWords")
        self.about.setWordWrap(True)
        row = QHBoxLayout()
        row.setSpacing(8)
        for widget in (self.save, self.copy, self.card):
            row.addWidget(widget)
        row.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(5)
        layout.addWidget(title)
        layout.addLayout(row)
        layout.addWidget(self.about)

    def show_prediction(self, prediction: Prediction) -> None:
        """What the netlist is made of."""
        self._prediction = prediction
        self.about.setText(ABOUT)

    def netlist(self) -> str:
        """SheetError where it cannot be written."""
        from core.handover.netlist import netlist

        assert self._prediction is not None
        return netlist(self._prediction)

    @Slot()
    def copy_netlist(self) -> None:
        text = self._written()
        if text:
            QGuiApplication.clipboard().setText(text)
            self.about.setText(f"Copied: {len(text.splitlines())} lines.")

    @Slot()
    def save_netlist(self) -> None:
        text = self._written()
        if text and self._prediction is not None:
            ask_and_save(self, "Save the netlist", f"circuit {self._prediction.candidate}.cir", "Netlist (*.cir)", lambda: text)

    def _written(self) -> str:
        """The netlist; where there is none, why, said here."""
        from core.handover.drawing.items import SheetError

        if self._prediction is None:
            return ""
        try:
            return self.netlist()
        except SheetError as error:
            self.about.setText(str(error))
            return ""

    @Slot()
    def _want_card(self) -> None:
        self.paper_wanted.emit("circuit")
