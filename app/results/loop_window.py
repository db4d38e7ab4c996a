"""The window of an active loop: who listens, who drives, the law between, and how far it is from growing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray
from PySide6.QtCore import QTimer, Slot
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QBoxLayout, QDialog, QFileDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from app.fields import ChoiceField, quantity_for
from app.fields.described import list_for
from app.fields.scroll import scroll_of
from app.fields.within_screen import resize_within
from app.panels.bound import BoundRow, Writer
from app.panels.paths import replaced_at
from app.results.chart import Chart
from app.results.loop_slider import GainSlider
from app.results.loop_work import LoopWork
from app.results.plane_chart import PlaneChart
from app.results.row_list import Level
from app.results.section import ResultSection, Sentences
from app.results.stop_block import KEY, StopBlock
from app.results.use_table import UseTable
from app.theme import look
from core.circuit.loop.clip import Clipping, clipping
from core.circuit.loop.digital import CAUTION, as_c, as_csv, digital
from core.predict.electrics.safety import DEFERS
from core.predict.loop.design import HEADS, TWO_GROUPS, LoopView, loop_view, tuned
from core.predict.loop.stop import LoopStop, loop_stop, stopped
from core.project.loop import LoopDesign, LoopFilter
from core.project.loop_edits import close_loop, open_loop, with_loop
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.project.candidate import Candidate
    from core.project.model import Project

Array = NDArray[np.float64]

LAWS = (("velocity", "velocity feedback"), ("position", "position feedback"), ("typed", "transfer function"))
CLOSED = "Closed: all that is predicted of candidate {} is predicted with the loop."
OPEN = "Open: candidate {} is predicted without the loop. What stands here is what closing it would do."
CLOSED_TIP = "The driven group's leads go to the amplifier; those of the group that listens to an input alone."
OPENED_TIP = "The driven group's leads are shorted; the design of the loop stays."
INPUTS, ROOMY = 330, 1080
"""Width of the inputs; from which width of the window curves stand beside the words."""
LOWEST_DB = -100.0
"""Down to which the loop gain is drawn."""
FARTHEST = 4.0
"""From the origin, up to which the loop gain is drawn."""
NEW_FILTER = LoopFilter(20.0, 0.15, 0.1)


class LoopWindow(QDialog):
    """Follows the session while it is open; every value typed is a step that can be undone."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("loopWindow")
        self.setWindowTitle("Active loop")
        self.session = session
        self.view: LoopView | None = None
        self._rows: list[BoundRow] = []
        self._stopped: tuple[LoopDesign, LoopStop] | None = None
        self._rests = False
        self._beyond: tuple[object, tuple[Level, str]] | None = None
        self._clips = LoopWork("clippingProgress", "Following the motion ...", self)
        self._tunes = LoopWork("tuningProgress", "Tuning ...", self)
        body = QWidget(self)
        results = QVBoxLayout(body)
        results.setContentsMargins(8, 4, 8, 8)
        results.setSpacing(4)
        self.stop = Sentences("loopStop", "Whether the loop holds", body)
        self.sign = StopBlock(session, body)
        results.addWidget(self.stop)
        results.addWidget(self.sign)
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._columns.setSpacing(14)
        results.addLayout(self._columns, 1)
        self._build_results(body)
        inputs = QWidget(self)
        self._inputs = QVBoxLayout(inputs)
        self._inputs.setSpacing(4)
        self._build_inputs(inputs)
        self._inputs.addStretch(1)
        left, right = scroll_of(inputs, "loopInputs", self, sideways=False), scroll_of(body, "loopResults", self, sideways=False)
        for button in self.findChildren(QPushButton):
            button.setAutoDefault(False)  # Enter belongs to the field it is pressed in
        layout = QHBoxLayout(self)
        left.setFixedWidth(INPUTS)
        layout.addWidget(left)
        layout.addWidget(right, 1)
        resize_within(self, 1240, 860)
        session.prediction_changed.connect(self.refresh)  # the last of what a session tells of any change
        session.hand_rests.connect(self._catch_up)
        self._clips.found.connect(self._tell_clipping)
        self._tunes.found.connect(self._take_tuned)
        QShortcut(QKeySequence(KEY), self, self.sign.go_back)
        look.look_changed.connect(self.refresh)
        self.refresh()

    # -- building ------------------------------------------------------------------------------

    def _row(self, label: str, field: Any, name: str, **options: Any) -> BoundRow:
        row = BoundRow(self.session, label, field, f"candidates[{{candidate}}].loop.{name}", parent=self, **options)
        self._rows.append(row)
        self._inputs.addWidget(row)
        return row

    def _build_inputs(self, parent: QWidget) -> None:
        self.state = Sentences("loopState", "Whether the candidate is predicted with the loop", parent)
        self.closing = QPushButton("&Close the loop", parent)
        self.closing.setObjectName("closeLoop")
        self.closing.clicked.connect(self._close_or_open)
        self._inputs.addWidget(self.state)
        self._inputs.addWidget(self.closing)
        self.driven = self._row("Driven group", ChoiceField[str]("Driven group"), "driven", read=_read_driven, write=_write_driven)
        self.sensing = self._row("Sensing group", ChoiceField[str]("Sensing group"), "sensing", write=_write_sensing)
        self.law = self._row("Law", ChoiceField("Law", LAWS), "law")
        self.modes = self._row("Modes it damps", list_for("loop.modes", "Modes it damps"), "modes", write=_write_modes)
        self.velocity = self._row(
            "Gain, V per V/s", quantity_for("loop.velocity_gain_s"), "velocity_gain_s", write=self._holding(replaced_at)
        )
        self.filters = [
            self._row(
                label, list_for(f"loop.filters.{name}", label), f"filters.{name}", read=_read_filters,
                write=self._holding(_write_filters) if name == "gain" else _write_filters,
            )
            for label, name in (("Filters, frequency", "frequency_hz"), ("Filters, damping", "damping_ratio"), ("Filters, gain", "gain"))
        ]
        self.typed = [
            self._row(label, list_for(f"loop.{name}", label), name)
            for label, name in (("Numerator, s high first", "numerator"), ("Denominator", "denominator"))
        ]
        self.tune, self.optimise = QPushButton("Closed form", parent), QPushButton("Tune to the optimum", parent)
        for button, slot in ((self.tune, self._closed_form), (self.optimise, self._optimum)):
            button.clicked.connect(slot)
            self._inputs.addWidget(button)
        self._inputs.addWidget(self._tunes.line)
        for label, name in (
            ("Amplifier, gain", "amplifier_gain"), ("Bandwidth", "bandwidth_hz"), ("Output resistance", "output_ohm"),
            ("Largest voltage", "amplifier_v"), ("Largest current", "amplifier_a"), ("Delay", "delay_s"), ("Sampling", "sampling_hz"),
        ):  # fmt: skip
            held = {"write": self._holding(replaced_at)} if name == "amplifier_gain" else {}
            self._row(label, quantity_for(f"loop.{name}"), name, **held)
        self.csv, self.c_code = QPushButton("Coefficients, CSV ...", parent), QPushButton("Coefficients, C array ...", parent)
        self.csv.clicked.connect(self._save_csv)
        self.c_code.clicked.connect(self._save_c)
        self._inputs.addWidget(self.csv)
        self._inputs.addWidget(self.c_code)

    def _holding(self, write: Writer) -> Writer:
        """Writes a gain that is typed or stepped, and stops where the loop would grow."""

        def written(project: Project, path: str, value: Any) -> Project:
            made = write(project, path, value)
            self._stopped = None if self.view is None else stopped(self.view.at(project.candidate().loop), made.candidate().loop)
            if self._stopped is None:
                return made
            QTimer.singleShot(0, self.refresh)  # where it stopped at what there was, nothing else says so
            return with_loop(project, self._stopped[0])

        return written

    def _section(self, title: str, *content: QWidget, column: QVBoxLayout) -> ResultSection:
        box = QWidget(self)
        inner = QVBoxLayout(box)
        inner.setContentsMargins(0, 0, 0, 0)
        for widget in content:
            inner.addWidget(widget)
        made = ResultSection(title, box, self, stacked=True)
        column.addWidget(made)
        return made

    def _column(self) -> QVBoxLayout:
        made = QVBoxLayout()
        made.setSpacing(4)
        self._columns.addLayout(made, 1)
        return made

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Curves stand beside the words where there is room for both, else under them."""
        super().resizeEvent(event)
        way = QBoxLayout.Direction
        self._columns.setDirection(way.LeftToRight if event.size().width() >= ROOMY else way.TopToBottom)

    def _build_results(self, body: QWidget) -> None:
        self.gain = GainSlider(body)
        self.gain.moved.connect(self._preview_gain)
        self.gain.chosen.connect(self._set_gain)
        self.table = UseTable("loopTable", "Damping of each mode, loop off and on", (0.6, 1.0, 1.5, 1.0, 1.2), body)
        self.lines = Sentences("loopMargins", "Margins", body)
        self.bode = Chart("loopBode", "Loop gain over frequency", log_x=True, log_y=False, parent=body)
        self.bode.setMinimumHeight(130)
        self.phase = Chart("loopPhase", "Phase of the loop gain", log_x=True, log_y=False, parent=body)
        self.phase.setMinimumHeight(90)
        for chart, tall in ((self.bode, 160), (self.phase, 110)):
            chart.setMaximumHeight(tall)
        self.nyquist = PlaneChart("loopNyquist", "Nyquist", (-1.0, 0.0), body)
        self.locus = PlaneChart("loopLocus", "Root locus over gain", None, body)
        self.clip = QPushButton("Work out what clipping leaves", body)
        self.clip.clicked.connect(self._work_out_clipping)
        self.clipping = Sentences("loopClipping", "When the amplifier clips", body)
        self.cautions = Sentences("loopCautions", "Cautions", body)
        self.cautions.show_lines([("caution", CAUTION.partition(".")[0] + "."), ("caution", DEFERS)])
        told, drawn = self._column(), self._column()
        self._sections = [
            self._section("Gain", self.gain, column=told),
            self._section("Damping on each mode", self.table, column=told),
            self._section("Margins", self.lines, column=told),
            self._section("Loop gain, opened at the amplifier", self.bode, self.phase, column=drawn),
            self._section("Nyquist", self.nyquist, column=drawn),
            self._section("Root locus over gain", self.locus, column=drawn),
            self._section("When the amplifier clips", self.clip, self._clips.line, self.clipping, column=told),
            self._section("Cautions", self.cautions, column=told),
        ]
        told.addStretch(1)
        drawn.addStretch(1)
        self._sections[1].set_about("loop off → on, for the controlled modes and all others up to twice their band")
        self._sections[3].set_about("in dB, dashed: 1; below it the phase in degrees")
        self._sections[4].set_about("the cross is −1")
        self._sections[5].set_about("squares: the present gain; left of the line decays; Hz up")

    # -- showing -------------------------------------------------------------------------------

    @Slot()
    def refresh(self) -> None:
        """Show the session's project and prediction."""
        project, prediction = self.session.shown, self.session.prediction
        design, groups = project.candidate().loop, project.candidate().groups
        names = [("", "as they come")] + [(g.id, f"{g.id} {' '.join(m.patch for m in g.members)}") for g in groups]
        self.driven.field.set_options(names)
        self.sensing.field.set_options(names)
        for row in self._rows:
            row.refresh(project, {"candidate": project.active})
        self.velocity.setVisible(design.law == "velocity")
        for row in self.filters:
            row.setVisible(design.law == "position")
        for row in self.typed:
            row.setVisible(design.law == "typed")
        for button in (self.tune, self.optimise):
            button.setVisible(design.law != "typed")
        self._show_state(project.candidate())
        found = None
        if prediction is not None and prediction.groups and not self.session.stale:
            found = loop_view(prediction.groups[0].sensing.solved)
        self.view = found
        for section in self._sections:
            section.setVisible(found is not None)
        for button in (self.tune, self.optimise, self.csv, self.c_code):
            button.setEnabled(found is not None)
        self.clipping.show_lines([])
        for work in (self._clips, self._tunes):
            work.forget()
        self.stop.setVisible(found is None or found.is_stable)
        if found is None:
            self.stop.show_lines([("plain", TWO_GROUPS)])
            self.sign.show_sign(None)
            return
        self._show(found)

    def _show_state(self, candidate: Candidate) -> None:
        closed = candidate.loop_is_closed
        self.state.show_lines([("plain", (CLOSED if closed else OPEN).format(candidate.id))])
        self.closing.setText("&Open the loop" if closed else "&Close the loop")
        self.closing.setEnabled(closed or candidate.loop_ends is not None)
        self.closing.setToolTip(OPENED_TIP if closed else CLOSED_TIP)

    def _show(self, view: LoopView) -> None:
        stop = not view.is_stable
        if self._stopped is not None and self._stopped[0] != view.design:
            self._stopped = None
        self.stop.show_lines([("plain", "The loop holds.")])
        self.sign.show_sign(loop_stop(view) if stop else None if self._stopped is None else self._stopped[1])
        limit = view.limit
        self.gain.show_gain(view.design.times, None if limit is None else limit.times, view.limit_told)
        lost = frozenset(str(c.number) for c in view.changes if c.loses)
        asked = frozenset(str(c.number) for c in view.changes if c.controlled)
        self.table.show_rows(HEADS, view.rows if not stop else (), bad=lost, asked=asked)
        told: list[tuple[Level, str]] = [("plain", text) for text in (view.margin_lines if not stop else view.margin_lines[-1:])]
        if not stop:
            told.append(self._told_beyond(view))
        self.lines.show_lines(told)
        self._show_curves(view)

    def _told_beyond(self, view: LoopView) -> tuple[Level, str]:
        """Of the modes that nothing else counts; while a patch is moved, as it was."""
        beam, kept = view.solved.beam, self._beyond
        if kept is not None and kept[0] is not beam and self.session.previewing and not self._rests:
            return kept[1]
        from core.predict.loop.beyond import beyond  # not before such a window is looked at

        found = beyond(view)
        told: tuple[Level, str] = ("plain" if found.holds else "caution", found.told)
        self._beyond = (beam, told)
        return told

    @Slot()
    def _catch_up(self) -> None:
        """What a moving hand left out."""
        self._rests = True
        self.refresh()
        self._rests = False

    def _waits(self, chart: QWidget) -> bool:
        """What nobody sees waits until the hand rests."""
        return self.session.previewing and not self._rests and chart.visibleRegion().isEmpty()

    def _show_curves(self, view: LoopView) -> None:
        now = look.current()
        frequency, gain = view.gain
        if not self._waits(self.bode):
            level = np.maximum(20.0 * np.log10(np.maximum(np.abs(gain), 1e-300)), LOWEST_DB)
            self.bode.set_units("Hz", "")
            self.bode.set_curve("gain", frequency, level, now.after, width=1.0)
            self.bode.set_curve("one", frequency[[0, -1]], np.zeros(2), now.before, dash=(4.0, 3.0))
            self.bode.fit()
        if not self._waits(self.phase):
            self.phase.set_units("Hz", "")
            self.phase.set_curve("phase", frequency, np.rad2deg(np.angle(gain)), now.after, width=1.0)
            self.phase.fit()
        if not self._waits(self.nyquist):
            far = np.minimum(1.0, FARTHEST / np.maximum(np.abs(gain), 1e-12))
            self.nyquist.show_path((gain * far).real, (gain * far).imag, (-1.6, 1.0, -1.2, 1.2))
        if not self._waits(self.locus):
            self._show_locus(view)

    def _show_locus(self, view: LoopView) -> None:
        poles = view.locus()[1]
        top = 1.3 * max(c.frequency_hz for c in view.changes) * 2 * np.pi
        kept = np.where((np.abs(poles) < top) & (poles.imag >= 0.0), poles, np.nan)
        flat = kept[np.isfinite(kept)]
        left = float(min(flat.real.min(initial=-1.0), -1.0))
        self.locus.show_path(flat.real, flat.imag / (2 * np.pi), (left, -0.25 * left, 0.0, top / (2 * np.pi)))
        present = view.loop.spectra[0].value_rad_s
        shown = present[(np.abs(present) < top) & (present.imag >= 0.0)]
        self.locus.show_points(tuple((float(p.real), float(p.imag) / (2 * np.pi), bool(p.real > 0)) for p in shown))

    # -- hands ---------------------------------------------------------------------------------

    @Slot()
    def _close_or_open(self) -> None:
        project = self.session.project
        if project.candidate().loop_is_closed:
            self.session.apply("Open the loop", open_loop(project))
        elif project.candidate().loop_ends is not None:
            self.session.apply("Close the loop", close_loop(project))

    def _apply(self, title: str, design: LoopDesign) -> None:
        self.session.apply(title, with_loop(self.session.project, design))

    @Slot(float)
    def _preview_gain(self, times: float) -> None:
        self.session.preview(with_loop(self.session.project, times=times))

    @Slot(float)
    def _set_gain(self, times: float) -> None:
        self.session.cancel_preview()
        self.session.apply("Change the gain of the loop", with_loop(self.session.project, times=times))

    @Slot()
    def _closed_form(self) -> None:
        if self.view is not None:
            self._apply("Tune the loop by the closed form", tuned(self.view, "closed form"))

    @Slot()
    def _optimum(self) -> None:
        view = self.view
        if view is not None:
            self._tunes.request(lambda goes_on: tuned(view, "optimum", goes_on))

    @Slot(object)
    def _take_tuned(self, design: LoopDesign | None) -> None:
        if design is not None:
            self._apply("Tune the loop to the optimum", design)

    @Slot()
    def _work_out_clipping(self) -> None:
        view = self.view
        if view is None or not view.is_stable:
            return
        self.clipping.show_lines([])
        mode = self._clipped_mode(view)
        self._clips.request(lambda goes_on: clipping(view.loop, mode, goes_on=goes_on))

    @staticmethod
    def _clipped_mode(view: LoopView) -> int:
        return view.design.modes[0] if view.design.modes else 1

    @Slot(object)
    def _tell_clipping(self, found: Clipping | None) -> None:
        view = self.view
        if view is None:
            return
        if found is None:
            self.clipping.show_lines([("plain", "The amplifier has no limit: enter its largest voltage or current.")])
            return
        mode = self._clipped_mode(view)
        tip = abs(view.solved.side.forcing.aim.output.modal[mode - 1] / view.solved.beam.omega_rad_s[mode - 1])
        at = words.engineering(found.coordinate * float(tip), "m")
        self.clipping.show_lines(
            [("plain", f"Mode {mode} clips from {at} at the output point; at twice that "
                       f"{words.damping(found.damping_at_twice)} of {words.damping(found.damping)} is left.")]
        )  # fmt: skip

    def done(self, result: int) -> None:
        for work in (self._clips, self._tunes):
            work.forget()
        super().done(result)

    @Slot()
    def _save_csv(self) -> None:
        self._save("csv", as_csv)

    @Slot()
    def _save_c(self) -> None:
        self._save("c", as_c)

    def _save(self, ending: str, write: Any) -> None:
        if self.view is None:
            return
        path, _ = QFileDialog.getSaveFileName(self, "Coefficients of the loop", f"loop.{ending}", f"*.{ending}")
        if path:
            self.write(Path(path), write)

    def write(self, path: Path, write: Any) -> None:
        """Coefficients into a file; trouble is told where the loop's state stands."""
        assert self.view is not None
        try:
            path.write_text(write(digital(self.view.loop.control)), encoding="utf-8")
        except (OSError, ValueError) as error:
            told = str(error) if isinstance(error, ValueError) else f"{path.name}: {error.strerror}"
            self.stop.show_lines([("danger", told)])
            self.stop.setVisible(True)


def _read_driven(project: Project, path: str) -> str:
    """The group that is driven, where the loop is closed; else the one named."""
    candidate = project.candidate()
    ends = candidate.loop_ends
    return candidate.groups[ends[1]].id if candidate.loop_is_closed and ends is not None else candidate.loop.driven


def _write_driven(project: Project, path: str, group: str) -> Project:
    return with_loop(project, driven=group)


def _write_sensing(project: Project, path: str, group: str) -> Project:
    return with_loop(project, sensing=group)


def _write_modes(project: Project, path: str, values: Any) -> Project:
    modes = tuple(sorted({int(v) for v in values})) or (1,)
    return with_loop(project, modes=modes)


def _read_filters(project: Project, path: str) -> tuple[float, ...]:
    return tuple(getattr(one, path.rpartition(".")[2]) for one in project.candidate().loop.filters)


def _write_filters(project: Project, path: str, values: Any) -> Project:
    """Another list of one value per filter; a longer list adds filters, a shorter one takes some away."""
    old = project.candidate().loop.filters
    made = tuple(
        replace(old[i] if i < len(old) else (old[-1] if old else NEW_FILTER), **{path.rpartition(".")[2]: value})
        for i, value in enumerate(values)
    )
    return with_loop(project, filters=made)

