"""What was found in the records, or that nothing is there yet: verdict, traces, modes, comparison, response."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app.fields import ChoiceField
from app.fields.plain import PlainLabel
from app.measured.charts import CoherenceChart, EnvelopeChart, OverlayChart, RecordChart
from app.measured.modes_table import COLUMNS, mode_rows
from app.measured.ratio_rows import RatioRow, RatioRows
from app.measured.text_table import TextTable
from app.measured.verdict_box import SIGNS, VerdictBox
from app.measured.work import Outcome
from app.theme import look
from core.measured.kept import measurement_of
from core.measured.passband import pass_bands
from core.measured.report_text import kept_of, repeats_text
from core.measured.transfer import coherence_text, response_text, shaken_text
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.measured.runs import Run


class Findings(QWidget):
    """Shows an outcome; `head` is put under the verdict, `under` under everything."""

    keep_wanted = Signal()

    def __init__(self, session: Session, head: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.outcome: Outcome | None = None
        self._make()
        self._lay_out(head)
        self.run.chosen.connect(self._show_run)
        self.mode.chosen.connect(self._show_mode)
        look.look_changed.connect(self._restyle)
        self._restyle()
        self.show_outcome(None)

    # ---- building ------------------------------------------------------------------------

    def _make(self) -> None:
        self.verdict = VerdictBox(self)
        self.run: ChoiceField[str] = ChoiceField("Record shown")
        self.mode: ChoiceField[int] = ChoiceField("Mode shown")
        self.record = RecordChart(self)
        self.envelope = EnvelopeChart(self)
        self.envelope_text = PlainLabel("", self)
        self.envelope_text.setWordWrap(True)
        self.modes = TextTable("modesFound", "Modes found in the record shown", COLUMNS, self)
        self.repeats = PlainLabel("", self)
        self.repeats.setObjectName("measuredRepeats")
        self.repeats.setWordWrap(True)
        self.repeats.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.doubts = PlainLabel("", self)
        self.doubts.setObjectName("measuredDoubts")
        self.doubts.setWordWrap(True)
        self.doubts.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.ratios = RatioRows(self)
        self.ratios_about = PlainLabel("", self)
        self.keep = QPushButton("Keep for the record", self)
        self.keep.setObjectName("keepMeasured")
        self.keep.setToolTip("Verdict and comparison go into the decision record, measured frequencies onto the response")
        self.keep.clicked.connect(self.keep_wanted)
        self.overlay = OverlayChart(self)
        self.overlay_about = PlainLabel("", self)
        self.coherence = CoherenceChart(self)
        self.coherence_about = PlainLabel("", self)
        self.coherence_about.setObjectName("coherenceAbout")
        self.coherence_about.setWordWrap(True)

    def _lay_out(self, head: QWidget) -> None:
        shown = QHBoxLayout()
        self._traces_head = _heading("Traces", self)
        shown.addWidget(self._traces_head)
        shown.addWidget(self.run, 2)
        shown.addWidget(self.mode, 1)
        charts = QHBoxLayout()
        charts.addWidget(self.record, 3)
        charts.addWidget(self.envelope, 2)
        self._found_heads = [_heading(t, self) for t in ("Modes found", "Measured over predicted", "Response")]
        ratio_head, overlay_head = QHBoxLayout(), QHBoxLayout()
        for row, which, about in ((ratio_head, 1, self.ratios_about), (overlay_head, 2, self.overlay_about)):
            row.addWidget(self._found_heads[which])
            row.addWidget(about, 1, Qt.AlignmentFlag.AlignRight)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 10, 12, 12)
        layout.setSpacing(8)
        layout.addWidget(self.verdict)
        layout.addWidget(head)
        layout.addLayout(shown)
        layout.addLayout(charts)
        for widget in (self.envelope_text, self._found_heads[0], self.modes, self.repeats, self.doubts):
            layout.addWidget(widget)
        layout.addLayout(ratio_head)
        layout.addWidget(self.ratios)
        layout.addWidget(self.keep, 0, Qt.AlignmentFlag.AlignRight)
        layout.addLayout(overlay_head)
        for chart in (self.overlay, self.coherence, self.coherence_about):
            layout.addWidget(chart)
        self.under = QVBoxLayout()
        layout.addLayout(self.under)
        layout.addStretch(1)

    # ---- showing -------------------------------------------------------------------------

    def show_outcome(self, outcome: Outcome | None) -> None:
        """All of it; None where nothing was measured yet."""
        self.outcome = outcome
        found = None if outcome is None else outcome.evaluation
        verdict = None if found is None else found.verdict
        if verdict is not None:
            sign, tone = SIGNS[verdict.code]
            self.verdict.tell(sign, tone, verdict.title, verdict.text)
        elif found is not None and found.runs:
            self.verdict.tell("?", "faint", "Modes found; nothing to judge a bond by.", "A patch, and records with its leads shorted and open, make a verdict.")
        else:
            self.verdict.tell("", "faint", "What did the prototype do?", "Pluck the part with the leads shorted, then open, and drop both files on the window. Frequencies and damping are found, K² is held against the prediction, and one sentence says whether the bond is good.")
        runs = () if found is None else found.runs
        has_runs = bool(runs)
        for widget in (self._traces_head, self.run, self.mode, self.record, self.envelope, self.envelope_text, self.modes,
                       self._found_heads[0], self.repeats, self.doubts, self._found_heads[2], self.overlay, self.overlay_about, self.coherence,
                       self.coherence_about):  # fmt: skip
            widget.setVisible(has_runs)
        self.run.set_options(tuple((r.name, f"{r.name}: {_state(r)}") for r in runs))
        if has_runs and self.run.value() not in {r.name for r in runs}:
            self.run.set_value(runs[0].name)
        self._show_run()
        self.show_ratios()

    def run_shown(self) -> Run | None:
        """The record picked."""
        found = None if self.outcome is None else self.outcome.evaluation
        runs = () if found is None else found.runs
        return next((r for r in runs if r.name == self.run.value()), runs[0] if runs else None)

    @Slot()
    def _show_run(self) -> None:
        run, outcome = self.run_shown(), self.outcome
        if run is None or outcome is None or outcome.evaluation is None:
            return
        block = outcome.evaluation.blocks[run.name]
        is_time = block.kind == "time"
        self.record.setVisible(is_time)
        self.envelope.setVisible(is_time and not run.found.cut_into)
        self.record.show_record(block if is_time else None, run.found.channel, run.found.window_s)
        self.modes.show_rows(mode_rows(run))
        self.doubts.setText("\n".join(f"\N{WHITE UP-POINTING TRIANGLE} {d.text}" for d in run.doubts))
        self.doubts.setVisible(bool(run.doubts))
        self.mode.set_options(tuple((m.number, f"mode {m.number}") for m in run.found.modes))
        if self.mode.value() is None and run.found.modes:
            self.mode.set_value(run.found.modes[0].number)
        repeats = repeats_text(outcome.evaluation)
        self.repeats.setText("\n".join(f"Mean and spread over {line}" for line in repeats))
        self.repeats.setVisible(bool(repeats))
        self._show_mode()
        overlay = outcome.overlays.get(run.name)
        self.overlay.show_overlay(overlay)
        self.overlay.setVisible(overlay is not None)
        self._found_heads[2].setVisible(overlay is not None)
        transfer = outcome.evaluation.transfers.get(run.name)
        coherence = None if transfer is None else transfer.coherence
        self.coherence.show_coherence(coherence, overlay)
        self.coherence.setVisible(coherence is not None and overlay is not None)
        self.coherence_about.setText("" if transfer is None else "\n".join(filter(None, (coherence_text(run, transfer), response_text(transfer)))))
        self.coherence_about.setVisible(bool(self.coherence_about.text()))
        scaled = " scaled to its peak" if overlay is not None and overlay.scaled else ""
        self.overlay_about.setText("" if overlay is None else f"solid line measured{scaled}, dashed predicted, {_state(run)}")

    @Slot()
    def _show_mode(self) -> None:
        run = self.run_shown()
        mode = None if run is None else run.found.mode(self.mode.value() or 1)
        self.envelope.show_mode(mode, None if run is None else run.found.channel)
        line = None if mode is None else mode.line
        if mode is None or line is None:
            self.envelope_text.setText("" if run is None else shaken_text(run))
            return
        told = f"Line through the envelope of mode {mode.number}: {words.damping(line.zeta)} of critical"
        if line.zeta_large is not None and line.zeta_small is not None and line.bend_time_s is not None:
            told += f"; it bends at {words.seconds(line.bend_time_s)}: {words.damping(line.zeta_large)} at large swing, {words.damping(line.zeta_small)} at small"
        self.envelope_text.setText(told)

    @Slot()
    def show_ratios(self) -> None:
        """Measured over predicted, with the bands of the tolerance study."""
        found = None if self.outcome is None else self.outcome.evaluation
        compared = () if found is None else found.compared
        bands = pass_bands(self._session.project, self._session.tolerance, compared) if compared else {}
        self.ratios.show_rows(tuple(RatioRow(c, bands.get(c)) for c in compared))
        self.ratios.setVisible(bool(compared))
        kept = measurement_of(self._session.project).kept
        fresh = found is None or kept == kept_of(found)
        self.keep.setVisible(bool(compared))
        self.keep.setEnabled(not fresh)
        self.keep.setText("Kept in the record" if fresh else "Keep for the record" if kept is None else "Keep anew for the record")
        self._found_heads[1].setVisible(bool(compared))
        self.ratios_about.setVisible(bool(compared))
        self.ratios_about.setText("shaded: eight in ten good parts, from the tolerance study" if bands else "run the tolerance study to see how good parts scatter")

    @Slot()
    def _restyle(self) -> None:
        palette = self.doubts.palette()
        palette.setColor(self.doubts.foregroundRole(), look.current().caution)
        self.doubts.setPalette(palette)


def _state(run: Run) -> str:
    return words.part(run.resistance_ohm, "ohm") if run.resistance_ohm else f"leads {run.leads}"


def _heading(text: str, parent: QWidget) -> PlainLabel:
    label = PlainLabel(text, parent)
    label.setFont(look.font(13, bold=True))
    return label
