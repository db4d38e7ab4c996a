"""The patch as a pick-up: what each mode gives, what an oscilloscope draws, how low it reaches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from PySide6.QtCore import Slot

from app.fields import ChoiceField, quantity_for
from app.panels.bound import BoundRow
from app.results.section import About, Sentences
from app.results.use_charts import MarkedChart, ScreenChart
from app.results.use_panel import UsePanel
from app.results.use_table import UseTable
from app.theme import look
from core.predict.forcing import place
from core.predict.use.text import (
    SENSE_HEADS,
    also_sensed,
    blind_told,
    corner_told,
    input_told,
    load_cell_told,
    reciprocity_told,
    screen_told,
    sense_rows,
    sign_told,
)
from core.project.served import served_mode
from core.units import words

if TYPE_CHECKING:
    from core.predict.group_result import GroupResult
    from core.predict.use.scope import Shown
    from core.predict.use.sense import Sensing
    from core.project.use import Use

READS = (("voltage", "a voltage input"), ("charge", "a charge amplifier"))
SHOWN: tuple[tuple[Shown, str], ...] = (("active load", "the active load"), ("pluck", "a pluck"), ("impact", "a knock"))


class SensePanel(UsePanel):
    """Follows the session while the use is Sense."""

    use: ClassVar[Use] = "sense"

    def build(self) -> None:
        body = self.body
        self.modes = UseTable("senseTable", "What each mode gives", (0.7, 1.1, 1.1, 1.2, 1.1, 1.4), body)
        self.also = About(body, wrapped=True)
        self.noise = self._row("Noise, rms", quantity_for("sense.noise_v"), "noise_v")
        self.reads = self._row("Read by", ChoiceField("Read by", READS), "reads")
        self.feedback_f = self._row("Feedback capacitor", quantity_for("sense.feedback_f"), "feedback_f")
        self.feedback_ohm = self._row("Feedback resistor", quantity_for("sense.feedback_ohm"), "feedback_ohm")
        self._what_modes = self.section(
            "What each mode gives", self.modes, self.also, self.reads, self.feedback_f, self.feedback_ohm, self.noise
        )
        self.choice = ChoiceField("Screen shows", SHOWN, parent=body)
        self.choice.set_value("active load")
        self.choice.chosen.connect(self._on_chosen)
        self.oscilloscope = ScreenChart(body)
        self._what_screen = self.section("What an oscilloscope draws", self.choice, self.oscilloscope)
        self.response = MarkedChart("senseResponse", "Volts per newton", log=True, least=150, parent=body)
        self._what_response = self.section("Response", self.response)
        self.facts = Sentences("senseFacts", "How it is read", body)
        self.section("How it is read", self.facts)
        self.cell = Sentences("loadCellFacts", "Squeezed through its thickness", body)
        self._what_cell = self.section("Squeezed through its thickness", self.cell)

    def _row(self, label: str, field: Any, name: str) -> BoundRow:
        return self.bind(BoundRow(self.session, label, field, f"sense.{name}", parent=self.body))

    @Slot()
    def _on_chosen(self) -> None:
        self.refresh()

    def show_group(self, group: GroupResult, *, faded: bool) -> None:
        sensing = group.sensing
        for row in (self.feedback_f, self.feedback_ohm):
            row.setVisible(sensing.reads_charge)
        if self.tells():
            self._say(sensing)
        project = self.session.predicted_for or self.session.shown
        mode = served_mode(project, project.candidate(), self.session.selected_patch)
        self.modes.show_rows(
            SENSE_HEADS,
            sense_rows(sensing),
            weak=frozenset(str(m.number) for m in sensing.modes if m.blind),
            asked=frozenset({str(mode)}),
            faded=faded,
        )
        self.also.show_text(also_sensed(sensing, mode))
        at = place(sensing.point_m, sensing.solved.beam.spec.span_m)
        self._what_modes.set_about(f"group {group.id}, motion of {at}, on {input_told(sensing)}")
        self._show_screen(sensing, faded)
        self._show_response(sensing, at, faded)

    def _say(self, sensing: Sensing) -> None:
        """What is told in sentences."""
        blind = blind_told(sensing)
        self.alarm.show_lines([("caution", blind)] if blind else [])
        self.alarm.setVisible(bool(blind))
        told = [sign_told(sensing), corner_told(sensing), reciprocity_told(sensing)]
        if sensing.input_is_assumed:
            told.append("Enter the input under Circuit, Instrument.")
        self.facts.show_lines([("plain", text) for text in told])
        squeezed = load_cell_told(sensing)
        self.cell.show_lines([("plain", text) for text in squeezed])
        self._what_cell.setVisible(bool(squeezed))
        self._what_cell.set_about("a patch alone between stiff faces, as a thin load cell")

    def _show_screen(self, sensing: Sensing, faded: bool) -> None:
        if self.waits(self.oscilloscope):
            return
        from core.predict.use.scope import trace  # not before this use is looked at

        shown = trace(sensing, self.choice.key())
        self.oscilloscope.show_trace(shown.time_s, shown.volts, shown.s_per_division, shown.v_per_division, faded=faded)
        self._what_screen.set_about(f"{shown.told}: {screen_told(shown)}")

    def _show_response(self, sensing: Sensing, at: str, faded: bool) -> None:
        if self.waits(self.response):
            return
        frequency, volts = sensing.response
        self.response.set_units("Hz", "V")
        colour = look.faded(look.current().after, 0.45 if faded else 1.0)
        self.response.set_curve("per N", frequency, np.abs(volts), colour, width=2.0)
        self.response.set_marks(((sensing.corner_hz, f"{words.engineering(sensing.corner_hz, 'Hz', 2)} corner"),))
        if not self.session.previewing:
            self.response.fit()
        self._what_response.set_about(f"volts per newton at {at}")

    def table(self, group: GroupResult) -> list[tuple[str, ...]]:
        sensing = group.sensing
        facts = (sign_told(sensing), corner_told(sensing), input_told(sensing), *load_cell_told(sensing))
        return [SENSE_HEADS, *sense_rows(sensing), *((fact, *[""] * 5) for fact in facts)]
