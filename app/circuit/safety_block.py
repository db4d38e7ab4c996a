"""What the leads of a group can do to a person: volts, charge, energy, bleed resistor, the verdict on touching."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.measured.text_table import Cell, Column, Row, TextTable, Tone
from app.theme import look
from core.units import words

if TYPE_CHECKING:
    from core.predict.electrics.leads import Leads
    from core.predict.group_result import GroupResult
    from core.predict.use.driven import DrivenLeads

COLUMNS = (Column("", 1.2, right=False), Column("", 1.1), Column("", 3.0, right=False))


class SafetyBlock(QWidget):
    """Told of the prediction at rest."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        title = PlainLabel("Safety", self)
        title.setFont(look.font(13, bold=True))
        self.rows = TextTable("safetyTable", "Safety of the leads", COLUMNS, self, badges=False)
        self.touch = PlainLabel("", self)
        self.touch.setObjectName("touchVerdict")
        self.bleed = PlainLabel("", self)
        self.bleed.setObjectName("bleedWords")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(5)
        layout.addWidget(title)
        layout.addWidget(self.rows)
        for label in (self.touch, self.bleed):
            label.setWordWrap(True)
            layout.addWidget(label)

    def show_group(self, leads: Leads | None, result: GroupResult, driven: Sequence[DrivenLeads] = ()) -> None:
        """`leads` : every voltage at leads that is known; `driven` : the leads that amplifiers drive."""
        from core.predict.electrics.leads import volts_up_to
        from core.predict.electrics.safety import DEFERS

        safety = result.safety
        own = None if leads is None else leads.of(f"group {result.id}")
        rows = []
        if safety.largest is not None and own is not None:
            rows.append(_row("Leads open", volts_up_to(safety.volts), safety.largest.cause, "bold" if own.is_safe else "danger"))
        if own is not None and own.with_circuit is not None:
            rows.append(_row("Connected", volts_up_to(own.with_circuit.volts), own.with_circuit.cause))
        if safety.volts:
            charge, _, about = safety.stored.partition(", ")
            rows.append(_row("Stored", charge, about))
        of_it = [one for one in driven if one.group == result.id]
        rows += [_row("Driven", words.voltage(one.peak_v), one.by, "bold" if one.leads.is_safe else "danger") for one in of_it]
        self.rows.show_rows(tuple(rows))
        cautions = " ".join(text for one in of_it for text in one.cautions)
        self.touch.setText(f"{cautions} {safety.touch} {DEFERS}".strip())
        self.bleed.setText(safety.bleed.sentence)


def _row(name: str, value: str, about: str, tone: Tone = "bold") -> Row:
    return Row((Cell(name), Cell(value, tone), Cell(about, "faint")), tip=f"{name}: {value}, {about}")
