"""What the prototype did: files dropped, what was understood, verdict, modes, comparison, correction."""

from __future__ import annotations

import threading
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtGui import QPixmap, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.fields import ChoiceField
from app.fields.plain import PlainLabel
from app.fields.scroll import scroll_of
from app.measured.charts import CoherenceChart, EnvelopeChart, OverlayChart, RecordChart
from app.measured.correct_panel import CorrectPanel
from app.measured.files_panel import FilesPanel
from app.measured.modes_table import COLUMNS, mode_rows
from app.measured.ratio_rows import RatioRow, RatioRows
from app.measured.text_table import TextTable
from app.measured.told_dialog import ToldDialog
from app.measured.verdict_box import SIGNS, VerdictBox
from app.measured.work import Outcome, Reader
from app.results.clipboard import copy_table
from app.shell.away_page import AwayPage
from app.shell.jobs import NewestJob
from app.theme import look
from core.measured.kept import (
    carried,
    measurement_of,
    outside,
    with_file,
    with_files,
    with_measurement,
    without_file,
)
from core.measured.passband import pass_bands
from core.measured.readers import READERS
from core.measured.record import MeasuredError
from core.measured.report_text import compared_label, compared_value, kept_of, repeats_text
from core.measured.transfer import coherence_text, response_text, shaken_text
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.measured.runs import Run
    from core.project.measurement import MeasuredFile, Measurement
    from core.project.model import Project

SIDE_BY_SIDE = 1300
"""From this width on the correction stands beside the findings, else under them."""
FILTER = f"Measurements (*{' *'.join(s for r in READERS for s in r.suffixes)});;Any file (*)"


class MeasuredPage(AwayPage):
    """Follows the session; reads and identifies off the window's thread."""

    said = Signal(str)
    _progress = Signal(int, int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("measuredPage")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._session = session
        self._reader = Reader()
        self._asked_for: tuple[object, ...] = ()
        self.outcome: Outcome | None = None
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_done)
        self._job.failed.connect(self._on_failed)
        self._progress.connect(self._on_progress)
        self.files = FilesPanel(session, self)
        self.correction = CorrectPanel(session, self)
        self._make_middle()
        self._make_layout()
        self._connect()
        self.refresh()

    # ---- building ------------------------------------------------------------------------

    def _make_middle(self) -> None:
        self._middle = QWidget(self)
        self.verdict = VerdictBox(self._middle)
        self.bar = QProgressBar(self._middle)
        self.bar.setTextVisible(True)
        self.bar.setObjectName("measuredProgress")
        self.stop = QPushButton("Stop", self._middle)
        self.stop.setObjectName("measuredStop")
        self.stop.clicked.connect(self._stop)
        self.troubles = PlainLabel("", self._middle)
        self.troubles.setObjectName("measuredTroubles")
        self.troubles.setWordWrap(True)
        self.troubles.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.run: ChoiceField[str] = ChoiceField("Record shown")
        self.mode: ChoiceField[int] = ChoiceField("Mode shown")
        self.record = RecordChart(self._middle)
        self.envelope = EnvelopeChart(self._middle)
        self.envelope_text = PlainLabel("", self._middle)
        self.envelope_text.setWordWrap(True)
        self.modes = TextTable("modesFound", "Modes found in the record shown", COLUMNS, self._middle)
        self.repeats = PlainLabel("", self._middle)
        self.repeats.setObjectName("measuredRepeats")
        self.repeats.setWordWrap(True)
        self.repeats.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.doubts = PlainLabel("", self._middle)
        self.doubts.setObjectName("measuredDoubts")
        self.doubts.setWordWrap(True)
        self.doubts.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.ratios = RatioRows(self._middle)
        self.ratios_about = PlainLabel("", self._middle)
        self.keep = QPushButton("Keep for the record", self._middle)
        self.keep.setObjectName("keepMeasured")
        self.keep.setToolTip("Verdict and comparison go into the decision record, measured frequencies onto the response")
        self.keep.clicked.connect(self._keep)
        self.overlay = OverlayChart(self._middle)
        self.overlay_about = PlainLabel("", self._middle)
        self.coherence = CoherenceChart(self._middle)
        self.coherence_about = PlainLabel("", self._middle)
        self.coherence_about.setObjectName("coherenceAbout")
        self.coherence_about.setWordWrap(True)

    def _make_layout(self) -> None:
        progress = QHBoxLayout()
        progress.addWidget(self.bar, 1)
        progress.addWidget(self.stop)
        shown = QHBoxLayout()
        self._traces_head = _heading("Traces", self._middle)
        shown.addWidget(self._traces_head)
        shown.addWidget(self.run, 2)
        shown.addWidget(self.mode, 1)
        charts = QHBoxLayout()
        charts.addWidget(self.record, 3)
        charts.addWidget(self.envelope, 2)
        self._found_heads = [_heading(t, self._middle) for t in ("Modes found", "Measured over predicted", "Response")]
        ratio_head, overlay_head = QHBoxLayout(), QHBoxLayout()
        for row, head, about in ((ratio_head, 1, self.ratios_about), (overlay_head, 2, self.overlay_about)):
            row.addWidget(self._found_heads[head])
            row.addWidget(about, 1, Qt.AlignmentFlag.AlignRight)
        layout = QVBoxLayout(self._middle)
        layout.setContentsMargins(12, 10, 12, 12)
        layout.setSpacing(8)
        layout.addWidget(self.verdict)
        layout.addLayout(progress)
        layout.addWidget(self.troubles)
        layout.addLayout(shown)
        layout.addLayout(charts)
        layout.addWidget(self.envelope_text)
        layout.addWidget(self._found_heads[0])
        layout.addWidget(self.modes)
        layout.addWidget(self.repeats)
        layout.addWidget(self.doubts)
        layout.addLayout(ratio_head)
        layout.addWidget(self.ratios)
        layout.addWidget(self.keep, 0, Qt.AlignmentFlag.AlignRight)
        layout.addLayout(overlay_head)
        layout.addWidget(self.overlay)
        layout.addWidget(self.coherence)
        layout.addWidget(self.coherence_about)
        self._under = QVBoxLayout()
        layout.addLayout(self._under)
        layout.addStretch(1)
        left = scroll_of(self.files, "measuredFilesScroll", self, sideways=False)
        left.setMinimumWidth(290)
        left.setMaximumWidth(360)
        middle = scroll_of(self._middle, "measuredScroll", self, sideways=False)
        self._right = QFrame(self)
        self._right.setMaximumWidth(400)
        self._right.setMinimumWidth(320)
        self._beside = QVBoxLayout(self._right)
        self._beside.setContentsMargins(0, 0, 0, 0)
        self._right_scroll = scroll_of(self._right, "measuredCorrectScroll", self, sideways=False)
        self._right_scroll.setMinimumWidth(330)
        self._right_scroll.setMaximumWidth(410)
        self._beside.addWidget(self.correction)
        self._is_beside = True
        page = QHBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        page.addWidget(left, 1)
        page.addWidget(_line(self))
        page.addWidget(middle, 3)
        page.addWidget(self._right_scroll, 2)

    def _connect(self) -> None:
        files, session = self.files, self._session
        files.file_changed.connect(self._change_file)
        files.file_removed.connect(self._remove_file)
        files.file_asked.connect(self.say_otherwise)
        files.add_wanted.connect(self._choose_files)
        files.inside_wanted.connect(self._carry)
        files.measurement_changed.connect(self._change_measurement)
        self.run.chosen.connect(self._show_run)
        self.mode.chosen.connect(self._show_mode)
        self.record.window_wanted.connect(self._look_at)
        session.project_changed.connect(self._on_project)
        session.tolerance_changed.connect(self._show_ratios)
        session.closing.connect(self.close_jobs)
        look.look_changed.connect(self._restyle)

    # ---- what a person does --------------------------------------------------------------

    def add_files(self, paths: tuple[Path, ...]) -> None:
        """Take these files as measured on the active candidate, as one undo step."""
        try:
            project = with_files(self._session.project, paths)
        except MeasuredError as error:
            self.said.emit(str(error))
            self._tell_trouble((str(error),))
            return
        names = paths[0].name if len(paths) == 1 else f"{len(paths)} files"
        self._session.apply(f"Add measured {names}", project)

    @Slot()
    def _choose_files(self) -> None:
        chosen, _ = QFileDialog.getOpenFileNames(self, "Measured files", "", FILTER)
        if chosen:
            self.add_files(tuple(map(Path, chosen)))

    @Slot(object)
    def _change_file(self, changed: MeasuredFile) -> None:
        self._session.apply(f"Change {changed.name}", with_file(self._session.project, changed))

    @Slot(str)
    def _remove_file(self, name: str) -> None:
        self._session.apply(f"Take {name} away", without_file(self._session.project, name))

    @Slot(str)
    def say_otherwise(self, name: str) -> ToldDialog | None:
        """The window on what was understood of a file."""
        file = next((f for f in measurement_of(self._session.project).files if f.name == name), None)
        if file is None:
            return None
        outcome = self.outcome
        recording = None if outcome is None else outcome.recordings.get(name)
        trouble = "" if outcome is None else next((t for t in outcome.troubles if t.startswith(name)), "")
        dialog = ToldDialog(file, recording, trouble, self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(partial(self._take_told, dialog))
        dialog.open()
        return dialog

    def _take_told(self, dialog: ToldDialog) -> None:
        self._change_file(dialog.changed)

    @Slot(bool)
    def _carry(self, inside: bool) -> None:
        try:
            project = (carried if inside else outside)(self._session.project)
        except (MeasuredError, OSError) as error:
            self._tell_trouble((str(error),))
            self.files.refresh(self.outcome)
            return
        self._session.apply("Carry files inside" if inside else "Leave files outside", project)

    @Slot(str, object)
    def _change_measurement(self, title: str, measurement: Measurement) -> None:
        self._session.apply(title, with_measurement(self._session.project, measurement))

    @Slot(float, float)
    def _look_at(self, low_s: float, high_s: float) -> None:
        """Another part of the record shown is looked at."""
        shown = self._run_shown()
        if shown is None:
            return
        file = next((f for f in measurement_of(self._session.project).files if f.name == shown.name), None)
        if file is not None:
            window = (round(low_s, 6), round(high_s, 6))
            self._session.apply(f"Look at another part of {file.name}", with_file(self._session.project, replace(file, window_s=window)))

    @Slot()
    def _keep(self) -> None:
        """What was found goes into the papers and onto the drawing."""
        if self.outcome is not None and self.outcome.evaluation is not None:
            measurement = measurement_of(self._session.project)
            kept = replace(measurement, kept=kept_of(self.outcome.evaluation))
            self._change_measurement("Keep what was measured", kept)

    # ---- work ----------------------------------------------------------------------------

    @Slot()
    def _on_project(self) -> None:
        if self.isVisible():
            self.refresh()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.refresh()

    def refresh(self) -> None:
        """Show the session's measurement; work out anew what it or the model changed."""
        project = self._session.project
        measurement = measurement_of(project)
        wanted = (replace(measurement, kept=None), project.structure, project.materials, project.packages, project.candidate(), project.service, project.view,
                  project.bonded)  # fmt: skip
        self.files.refresh(self.outcome)
        if self._asked_for and all(a is b or a == b for a, b in zip(wanted, self._asked_for, strict=True)):
            self._show_ratios()
            return
        self._asked_for = wanted
        if not measurement.files:
            self._job.cancel()
            self.outcome = None
            self._busy(False)
            self._show_all()
            return
        self._busy(True)
        self._job.request(partial(self._work, project, measurement.candidate))

    def _work(self, project: Project, candidate_id: str, stop: threading.Event) -> Outcome | None:
        return self._reader.work_out(project, candidate_id, stop, self._progress.emit)

    @Slot(int, int)
    def _on_progress(self, done: int, total: int) -> None:
        self.bar.setRange(0, total + 1)
        self.bar.setValue(done)
        self.bar.setFormat(f"reading file {done + 1} of {total}" if done < total else "identifying")

    @Slot()
    def _stop(self) -> None:
        self._job.cancel()
        self._asked_for = ()
        self._busy(False)
        self._tell_trouble(("Stopped. Change a file, or come back to this page, to go on.",))

    def _busy(self, busy: bool) -> None:
        self.bar.setVisible(busy)
        self.stop.setVisible(busy)

    @Slot(int, object)
    def _on_done(self, _revision: int, outcome: Outcome | None) -> None:
        self._busy(False)
        if outcome is None:
            return
        self.outcome = outcome
        self._show_all()
        self.said.emit(f"Read and identified in {words.seconds(outcome.seconds)}")

    @Slot(int, object)
    def _on_failed(self, _revision: int, _error: Exception) -> None:
        self._busy(False)
        self._tell_trouble(("Something in these files could not be worked out. Take the file added last away.",))

    @Slot()
    def close_jobs(self) -> None:
        """End background work."""
        self._job.close()
        self.correction.close_jobs()

    # ---- showing -------------------------------------------------------------------------

    def _show_all(self) -> None:
        outcome = self.outcome
        self.files.refresh(outcome)
        self._tell_trouble(() if outcome is None else outcome.troubles)
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
        self._show_ratios()
        self.correction.show_outcome(outcome)

    def _run_shown(self) -> Run | None:
        found = None if self.outcome is None else self.outcome.evaluation
        runs = () if found is None else found.runs
        return next((r for r in runs if r.name == self.run.value()), runs[0] if runs else None)

    @Slot()
    def _show_run(self) -> None:
        run, outcome = self._run_shown(), self.outcome
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
        run = self._run_shown()
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
    def _show_ratios(self) -> None:
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

    def _tell_trouble(self, troubles: tuple[str, ...]) -> None:
        self.troubles.setText("\n".join(f"\N{WARNING SIGN} {t}" for t in troubles))
        self.troubles.setVisible(bool(troubles))
        self._restyle()

    @Slot()
    def _restyle(self) -> None:
        for label, color in ((self.troubles, look.current().danger), (self.doubts, look.current().caution)):
            palette = label.palette()
            palette.setColor(label.foregroundRole(), color)
            label.setPalette(palette)

    # ---- for the window ------------------------------------------------------------------

    def picture(self) -> QPixmap:
        """What is shown, for the clipboard."""
        return self.grab()

    def copy_table(self) -> None:
        """Measured over predicted, on the clipboard."""
        found = None if self.outcome is None else self.outcome.evaluation
        rows = [["", "predicted", "measured", "ratio"]]
        for c in () if found is None else found.compared:
            rows.append([compared_label(c), compared_value(c, c.predicted), compared_value(c, c.measured), words.fixed(c.ratio, 3)])
        copy_table(rows)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        beside = self.width() >= SIDE_BY_SIDE
        if beside != self._is_beside:
            self._is_beside = beside
            (self._beside if beside else self._under).addWidget(self.correction)
            self._right_scroll.setVisible(beside)

    def minimumSizeHint(self) -> QSize:
        return QSize(640, 300)


def _state(run: Run) -> str:
    return words.part(run.resistance_ohm, "ohm") if run.resistance_ohm else f"leads {run.leads}"


def _heading(text: str, parent: QWidget) -> PlainLabel:
    label = PlainLabel(text, parent)
    label.setFont(look.font(13, bold=True))
    return label


def _line(parent: QWidget) -> QFrame:
    line = QFrame(parent)
    line.setFrameShape(QFrame.Shape.VLine)
    line.setForegroundRole(parent.palette().ColorRole.Mid)
    line.setFrameShadow(QFrame.Shadow.Plain)
    return line
