"""The parts list of the candidate: what is bought, its rating at the worst load, a price to type, the total."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.fields import QuantityField, quantity_for
from app.fields.elided import Elided
from app.fields.link import Link
from app.fields.plain import PlainLabel
from app.panels import edits
from app.results.clipboard import copy_table
from app.shell.saved_text import ask_and_save
from app.theme import look
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.handover.parts_list import PartLine, PartsList
    from core.predict.prediction import Prediction

PRICE_WIDE = 62


class _Line(QWidget):
    """Name, value and what the part is on one line; its rating and the worst load under them; the price."""

    def __init__(self, line: PartLine, session: Session, parent: QWidget) -> None:
        super().__init__(parent)
        self.key = line.key
        self._session = session
        self.head = Elided(f"part {line.key}", self, ink="text", bold=True)
        self.about = Elided(f"part about {line.key}", self, size_px=11)
        self.price: QuantityField = quantity_for("build.prices", f"Price of {line.places or line.what}", optional=True, hint="price")
        self.price.setObjectName(f"price of {line.key}")
        self.price.setFixedWidth(PRICE_WIDE)
        self.price.committed.connect(self._on_price)
        self.price.cleared.connect(self._on_cleared)
        column = QGridLayout(self)
        column.setContentsMargins(0, 2, 0, 2)
        column.setHorizontalSpacing(8)
        column.setVerticalSpacing(0)
        column.addWidget(self.head, 0, 0)
        column.addWidget(self.about, 1, 0)
        column.addWidget(self.price, 0, 1, 2, 1, Qt.AlignmentFlag.AlignVCenter)
        column.setColumnStretch(0, 1)

    def show_line(self, line: PartLine, *, runs_away: bool) -> None:
        count = f"{line.quantity} × " if line.quantity > 1 else ""
        value = f"{line.value_told}, " if line.value_told else ""
        tolerance = "" if line.tolerance is None else f", ±{words.share(line.tolerance)}"
        self.head.setText(f"{line.places}  {count}{value}{line.what}")
        asked = f"{line.asked} at the worst load" if line.asked else ""
        rating = f"beyond usual parts: {line.rating}" if line.beyond else line.rating
        self.about.setVisible(bool(rating))
        self.about.set_ink("danger" if line.beyond and not runs_away else "faint")
        if runs_away and line.asked:
            self.about.setText("no rating while the circuit runs away")
            self._show_price(line)
            return
        self.about.setText(", ".join(part for part in (f"{rating}{tolerance}".removeprefix(", "), asked, line.cause) if part))
        self._show_price(line)

    def _show_price(self, line: PartLine) -> None:
        if self.price.value() != line.price:
            self.price.set_value(line.price)

    def _on_price(self, value: float) -> None:
        self._apply({**self._prices, self.key: value})

    def _on_cleared(self) -> None:
        self._apply({key: price for key, price in self._prices.items() if key != self.key})

    @property
    def _prices(self) -> dict[str, float]:
        return self._session.project.candidate().build.prices

    def _apply(self, prices: dict[str, float]) -> None:
        project = self._session.project
        path = f"candidates[{project.active}].build"
        build = replace(project.candidate().build, prices=prices)
        self._session.apply(f"Price of {self.key}", edits.replaced_at(project, path, build))


class PartsBlock(QWidget):
    """Told of the prediction at rest."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.listed: PartsList | None = None
        self._prediction: Prediction | None = None
        self.lines: list[_Line] = []
        self.title = PlainLabel("", self)
        self.title.setFont(look.font(13, bold=True))
        self.copy = Link("Copy", self, padding=(4, 3))
        self.copy.setObjectName("copyParts")
        self.copy.clicked.connect(self.copy_list)
        self.save = Link("Save as CSV", self, padding=(4, 3))
        self.save.setObjectName("saveParts")
        self.save.clicked.connect(self.save_list)
        self.total = PlainLabel("", self)
        self.total.setObjectName("partsTotal")
        self.total.setFont(look.font(12, bold=True))
        self.simulated = PlainLabel("", self)
        self.simulated.setObjectName("simulatedWords")
        self.simulated.setWordWrap(True)
        self.simulated.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        head = QHBoxLayout()
        head.addWidget(self.title, 1)
        head.addWidget(self.copy)
        head.addWidget(self.save)
        self._column = QVBoxLayout()
        self._column.setSpacing(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addLayout(head)
        layout.addLayout(self._column)
        layout.addWidget(self.total)
        layout.addWidget(self.simulated)

    def show_parts(self, prediction: Prediction) -> None:
        """The list of the candidate predicted."""
        from core.handover.parts_list import parts_list
        from core.handover.text.parts_page import simulated_words

        self._prediction = prediction
        self.listed = listed = parts_list(prediction)
        self.title.setText(f"Parts of {prediction.candidate}")
        for widget in (self.copy, self.save, self.total):
            widget.setVisible(bool(listed.lines))
        if [line.key for line in listed.lines] != [one.key for one in self.lines]:
            self._make_lines(listed)
        for shown, line in zip(self.lines, listed.lines, strict=True):
            shown.show_line(line, runs_away=bool(prediction.unstable))
        self.total.setText(listed.told)
        told = [simulated_words(one) for one in prediction.solved.board.simulated]
        self.simulated.setText("\n".join(told) if listed.lines else "This candidate has no part to buy.")
        self.simulated.setVisible(bool(told) or not listed.lines)

    def _make_lines(self, listed: PartsList) -> None:
        for old in self.lines:
            self._column.removeWidget(old)
            old.hide()
            old.deleteLater()
        self.lines = [_Line(line, self._session, self) for line in listed.lines]
        for made in self.lines:
            self._column.addWidget(made)

    def copy_list(self) -> None:
        if self._prediction is None:
            return
        import csv
        import io

        from core.handover.parts_list import parts_csv

        copy_table(list(csv.reader(io.StringIO(parts_csv(self._prediction)))))

    def save_list(self) -> None:
        if self._prediction is not None:
            from core.handover.parts_list import parts_csv

            name = f"parts {self._prediction.candidate}.csv"
            ask_and_save(self, "Save the parts list", name, "Table (*.csv)", partial(parts_csv, self._prediction))
