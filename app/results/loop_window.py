"""The window of an active loop: who listens, who drives, the law between, and how far it is from growing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut, QShowEvent
from PySide6.QtWidgets import QBoxLayout, QDialog, QHBoxLayout, QVBoxLayout, QWidget

from app.fields.buttons import push_button
from app.fields.scroll import scroll_of
from app.fields.within_screen import resize_within
from app.results.loop_curves import LoopCurves
from app.results.loop_inputs import LoopInputs
from app.results.loop_slider import GainSlider
from app.results.loop_work import LoopWork
from app.results.pace import Pace
from app.results.row_list import Level
from app.results.section import ResultSection, Sentences
from app.results.stop_block import KEY, StopBlock
from app.results.use_table import UseTable
from app.theme import look
from core.circuit.loop.clip import Clipping, clipping
from core.circuit.loop.digital import CAUTION
from core.predict.electrics.safety import DEFERS
from core.predict.loop.design import HEADS, TWO_GROUPS, LoopView, loop_view
from core.predict.loop.stop import loop_stop
from core.project.loop_edits import with_loop
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session

INPUTS, ROOMY = 330, 1080
"""Width of the inputs; from which width of the window curves stand beside the words."""


class LoopWindow(QDialog):
    """Follows the session while it is open."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("loopWindow")
        self.setWindowTitle("Active loop")
        self.session = session
        self.view: LoopView | None = None
        self._rests = False
        self._pace = Pace()
        self._beyond: tuple[object, tuple[Level, str]] | None = None
        self._clips = LoopWork("clippingProgress", "Following the motion ...", session, self)
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
        self.inputs = LoopInputs(session, self)
        left, right = scroll_of(self.inputs, "loopInputs", self, sideways=False), scroll_of(body, "loopResults", self, sideways=False)
        layout = QHBoxLayout(self)
        left.setFixedWidth(INPUTS)
        layout.addWidget(left)
        layout.addWidget(right, 1)
        resize_within(self, 1240, 860)
        session.prediction_changed.connect(self._follow)  # the last of what a session tells of any change
        session.hand_rests.connect(self._catch_up)
        self.inputs.gain_stopped.connect(self.refresh)
        self._clips.found.connect(self._tell_clipping)
        QShortcut(QKeySequence(KEY), self, self.sign.go_back)
        look.look_changed.connect(self._follow)

    # -- building ------------------------------------------------------------------------------

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
        self.gain.dropped.connect(self.session.cancel_preview)
        self.table = UseTable("loopTable", "Damping of each mode, loop off and on", (0.6, 1.0, 1.5, 1.0, 1.2), body)
        self.lines = Sentences("loopMargins", "Margins", body)
        self.curves = LoopCurves(body)
        self.clip = push_button(body, "Work out what clipping leaves", "workOutClipping", self._work_out_clipping)
        self.clipping = Sentences("loopClipping", "When the amplifier clips", body)
        self.cautions = Sentences("loopCautions", "Cautions", body)
        self.cautions.show_lines([("caution", CAUTION.partition(".")[0] + "."), ("caution", DEFERS)])
        told, drawn = self._column(), self._column()
        self._sections = [
            self._section("Gain", self.gain, column=told),
            self._section("Damping on each mode", self.table, column=told),
            self._section("Margins", self.lines, column=told),
            self._section("Loop gain, opened at the amplifier", self.curves.bode, self.curves.phase, column=drawn),
            self._section("Nyquist", self.curves.nyquist, column=drawn),
            self._section("Root locus over gain", self.curves.locus, column=drawn),
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
    def _follow(self) -> None:
        """Nobody pays for a window that is closed."""
        if self.isVisible():
            self.refresh()

    def showEvent(self, event: QShowEvent) -> None:
        self.refresh()
        super().showEvent(event)

    @Slot()
    def refresh(self) -> None:
        """Show the session's project and prediction."""
        prediction, found = self.session.prediction, None
        if prediction is not None and prediction.groups and not self.session.stale:
            found = loop_view(prediction.groups[0].sensing.solved)
        self.view = found
        self.inputs.show_project(self.session.shown, found)
        for section in self._sections:
            section.setVisible(found is not None)
        self.clipping.show_lines([])
        self._clips.forget()
        self.stop.setVisible(found is None or found.is_stable)
        if found is None:
            self.stop.show_lines([("plain", TWO_GROUPS)])
            self.sign.show_sign(None)
            return
        self._show(found)

    def _show(self, view: LoopView) -> None:
        stop = not view.is_stable
        self.stop.show_lines([("plain", "The loop holds.")])
        self.sign.show_sign(loop_stop(view) if stop else self.inputs.stopped)
        limit = view.limit
        self.gain.show_gain(view.design.times, None if limit is None else limit.times, view.limit_told)
        lost = frozenset(str(c.number) for c in view.changes if c.loses)
        asked = frozenset(str(c.number) for c in view.changes if c.controlled)
        self.table.show_rows(HEADS, view.rows if not stop else (), bad=lost, asked=asked)
        session = self.session
        if not session.previewing or self._rests or self._pace.turn(("margins",), busy=session.tells_loads):
            self._show_margins(view, stop)
        self.curves.show_view(view, self._waits)

    def _show_margins(self, view: LoopView, stop: bool) -> None:
        """In words, which are wrapped anew: not in every frame of a moving hand."""
        told: list[tuple[Level, str]] = [("plain", text) for text in (view.margin_lines if not stop else view.margin_lines[-1:])]
        if not stop:
            told.append(self._told_beyond(view))
        self.lines.show_lines(told)

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
        self._follow()
        self._rests = False

    def _waits(self, chart: QWidget) -> bool:
        """What nobody sees waits until the hand rests."""
        return self.session.previewing and not self._rests and chart.visibleRegion().isEmpty()

    # -- hands ---------------------------------------------------------------------------------

    @Slot(float)
    def _preview_gain(self, times: float) -> None:
        self.session.preview(with_loop(self.session.project, times=times))

    @Slot(float)
    def _set_gain(self, times: float) -> None:
        self.session.apply("Change the gain of the loop", with_loop(self.session.project, times=times))

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
        for work in (self._clips, self.inputs.tuning):
            work.forget()
        super().done(result)
