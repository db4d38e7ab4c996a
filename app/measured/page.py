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

from app.fields.plain import PlainLabel
from app.fields.scroll import scroll_of
from app.measured.correct_panel import CorrectPanel
from app.measured.files_panel import FilesPanel
from app.measured.findings import Findings
from app.measured.told_dialog import ToldDialog
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
from core.measured.readers import READERS
from core.measured.record import MeasuredError
from core.measured.report_text import compared_label, compared_value, kept_of
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session
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
        self.findings = Findings(session, self._make_head(), self)
        self._make_layout()
        self._connect()
        self.refresh()

    # ---- building ------------------------------------------------------------------------

    def _make_head(self) -> QWidget:
        """How far the work is, and what is wrong with the files."""
        self._head = head = QWidget(self)
        self.bar = QProgressBar(head)
        self.bar.setTextVisible(True)
        self.bar.setObjectName("measuredProgress")
        self.stop = QPushButton("Stop", head)
        self.stop.setObjectName("measuredStop")
        self.stop.clicked.connect(self._stop)
        self.troubles = PlainLabel("", head)
        self.troubles.setObjectName("measuredTroubles")
        self.troubles.setWordWrap(True)
        self.troubles.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        progress = QHBoxLayout()
        progress.addWidget(self.bar, 1)
        progress.addWidget(self.stop)
        layout = QVBoxLayout(head)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addLayout(progress)
        layout.addWidget(self.troubles)
        return head

    def _make_layout(self) -> None:
        left = scroll_of(self.files, "measuredFilesScroll", self, sideways=False)
        left.setMinimumWidth(290)
        left.setMaximumWidth(360)
        middle = scroll_of(self.findings, "measuredScroll", self, sideways=False)
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
        self.findings.record.window_wanted.connect(self._look_at)
        self.findings.keep_wanted.connect(self._keep)
        session.project_changed.connect(self._on_project)
        session.tolerance_changed.connect(self.findings.show_ratios)
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
        shown = self.findings.run_shown()
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
            self.findings.show_ratios()
            return
        self._asked_for = wanted
        self.correction.wait()
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
        self._show_head()

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
        self.findings.show_outcome(outcome)
        self.correction.show_outcome(outcome)

    def _show_head(self) -> None:
        self._head.setVisible(not (self.bar.isHidden() and self.troubles.isHidden()))

    def _tell_trouble(self, troubles: tuple[str, ...]) -> None:
        self.troubles.setText("\n".join(f"\N{WARNING SIGN} {t}" for t in troubles))
        self.troubles.setVisible(bool(troubles))
        self._show_head()
        self._restyle()

    @Slot()
    def _restyle(self) -> None:
        palette = self.troubles.palette()
        palette.setColor(self.troubles.foregroundRole(), look.current().danger)
        self.troubles.setPalette(palette)

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
            (self._beside if beside else self.findings.under).addWidget(self.correction)
            self._right_scroll.setVisible(beside)

    def minimumSizeHint(self) -> QSize:
        return QSize(640, 300)


def _line(parent: QWidget) -> QFrame:
    line = QFrame(parent)
    line.setFrameShape(QFrame.Shape.VLine)
    line.setForegroundRole(parent.palette().ColorRole.Mid)
    line.setFrameShadow(QFrame.Shadow.Plain)
    return line
