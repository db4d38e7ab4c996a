"""Above the preview: which document, its pages, and for a template what the printed bars measure."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.fields import ChoiceField, QuantityField
from app.fields.buttons import push_button
from core.handover.documents import KINDS, Kind, kind
from core.project.ranges import Range


class DocumentBar(QWidget):
    """Emits `chosen` when another document or another bar length is wanted, `turned` for a page."""

    chosen = Signal()
    turned = Signal(int)
    """+1 forward, -1 back."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("documentBar")
        self.document = ChoiceField(
            "Document", tuple((k.key, f"{k.label}, for {k.receiver}") for k in KINDS), parent=self
        )
        self.document.set_value(KINDS[0].key)
        self.document.chosen.connect(self._told)
        label = QLabel("&Document", self)
        label.setBuddy(self.document)
        self._where = QLabel("", self)
        self._where.setObjectName("pageNumber")
        self._back = push_button(self, "&Back", "previousSheet")
        self._next = push_button(self, "&Next page", "nextSheet")
        self._back.clicked.connect(self._turn_back)
        self._next.clicked.connect(self._turn_on)
        above = QHBoxLayout()
        above.setContentsMargins(0, 0, 0, 0)
        above.addWidget(label)
        above.addWidget(self.document, 1)
        above.addWidget(self._where)
        above.addWidget(self._back)
        above.addWidget(self._next)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addLayout(above)
        layout.addWidget(self._add_bars())
        self.show_pages(0, 0)

    def kind(self) -> Kind:
        return kind(str(self.document.value()))

    def bar_mm(self, way: str) -> float | None:
        """What a person says the printed bar measures; None where nothing is said."""
        value = self._bars[way].value()
        return None if value is None else 1e3 * value

    def has_errors(self) -> bool:
        return self._correction.isVisibleTo(self) and any(field.error() for field in self._bars.values())

    def show_pages(self, page: int, count: int) -> None:
        """Which of how many pages is shown, from 0."""
        for widget in (self._where, self._back, self._next):
            widget.setVisible(count > 1)
        self._where.setText(f"page {page + 1} of {count}")

    # ---- building ------------------------------------------------------------------------

    def _add_bars(self) -> QWidget:
        self._correction = QWidget(self)
        row = QHBoxLayout(self._correction)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(QLabel("Printed bars measure:", self._correction))
        self._bars = {}
        for way in ("along", "across"):
            field = QuantityField(
                Range("mm", 0.0, above=True), f"Printed bar {way}", optional=True, hint="as drawn", parent=self._correction
            )
            field.setAccessibleName(f"What the printed bar {way} measures")
            for signal in (field.committed, field.cleared):
                signal.connect(self._told)
            label = QLabel(f"{way}", self._correction)
            label.setBuddy(field)
            row.addWidget(label)
            row.addWidget(field)
            self._bars[way] = field
        row.addWidget(QLabel("for a corrected reprint on the same printer", self._correction), 1)
        self._correction.setVisible(False)
        return self._correction

    @Slot()
    def _told(self) -> None:
        self._correction.setVisible(self.kind().key.endswith("template"))
        self.chosen.emit()

    @Slot()
    def _turn_back(self) -> None:
        self.turned.emit(-1)

    @Slot()
    def _turn_on(self) -> None:
        self.turned.emit(1)
