"""The right side of the window: everything the present placement gives, before and after."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from math import isnan
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QApplication, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.fields.scroll import settle
from app.results import facts, temperature_rows
from app.results.answer_lines import circuit_text, limits_brief, peak_text
from app.results.clipboard import copy_table
from app.results.cure_button import CureButton
from app.results.mode_bars import ModeBars
from app.results.pace import Pace
from app.results.peak_windows import PeakWindows, peaks_of
from app.results.response_chart import ResponseChart, RingDownChart
from app.results.row_list import Level, RowList
from app.results.section import ResultSection, Sentences
from app.results.split_offer import SplitOffer
from app.results.temperature_table import TemperatureTable
from app.results.temperature_watch import TemperatureWatch
from app.theme import look
from core.predict.asked import asked_modes, damping_needed
from core.predict.asked_text import needed_text
from core.predict.prediction import twists_among
from core.project.provenance import gathered, strongest_first
from core.units import words

if TYPE_CHECKING:
    from app.results.temperature_rows import TemperatureRow
    from app.shell.session import Session
    from core.predict.prediction import Prediction
    from core.study.temperature.temperature import TemperatureStudy

    _TemperatureText = tuple[TemperatureStudy, tuple[str, ...], tuple[TemperatureRow, ...]]

SOMETIMES = ("temperature", "remarks", "assumed")
"""Sections that are shown when they have something to say; to show one and hide it again would cost
a layout of the panel in every frame of a drag."""
CHARTS = ("response", "ring")
"""Sections that take turns in the frames of a drag, see `Pace`; where the hand rests both are of the place."""
ROOM_FOR = {"bars": 0, "response": 440}
TALL = 550
"""Heights of the panel below which a section is folded to a line, unless a person unfolds it."""
NOTHING_YET = "No prediction yet. Mend what the fields on the left point at, and it appears here."


class ResultsPanel(QScrollArea):
    """Follows the session; keeps showing the last good prediction, marked as such."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("resultsPanel")
        self.setAccessibleName("Results")
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._session = session
        self._about_response = self._about_ring = ""
        self._temperature_text: _TemperatureText | None = None
        self._effects: dict[str, float] = {}
        self._pace = Pace()
        self._chosen: dict[str, bool] = {}
        """Sections a person folded or unfolded; the others follow the room there is."""
        body = QWidget(self)
        self._alarm = Sentences("resultsAlarm", "State of the results", body)
        self.cure = CureButton(session, body)
        self.split = SplitOffer(session, body)
        self.bars = ModeBars(body)
        self.response = ResponseChart(body)
        self.peaks = PeakWindows(body)
        self.ring_down = RingDownChart(body)
        self.temperature = TemperatureTable(body)
        self.temperature_watch = TemperatureWatch(session, self)
        self.limits = RowList("limitsList", "Limits at the stated load", body)
        self.groups = RowList("groupsList", "Patch groups and circuit values", body)
        self.masses = RowList("massList", "Masses and stiffness", body)
        self.remarks = Sentences("remarksList", "Remarks on validity", body)
        self.assumed = Sentences("assumedList", "Assumed inputs", body)
        response = QWidget(body)
        beside = QHBoxLayout(response)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.setSpacing(8)
        beside.addWidget(self.response, 3)
        beside.addWidget(self.peaks, 2)
        self._sections = {
            name: ResultSection(title, content, body, stacked=name in ("bars", "response", "ring", "limits"))
            for name, title, content in (
                ("bars", "Damping on each mode", self.bars),
                ("response", "Response", response),
                ("ring", "Ring-down", self.ring_down),
                ("limits", "Limits, worst first", self.limits),
                ("temperature", "Cold, reference, hot", self.temperature),
                ("remarks", "Watch out for", self.remarks),
                ("groups", "Patch groups and circuits", self.groups),
                ("masses", "Mass and stiffness", self.masses),
                ("assumed", "Leans on assumed inputs", self.assumed),
            )
        }
        layout = QVBoxLayout(body)
        layout.setContentsMargins(12, 8, 8, 12)
        layout.setSpacing(4)
        layout.addWidget(self._alarm)
        layout.addWidget(self.cure)
        layout.addWidget(self.split)
        for name, section in self._sections.items():
            layout.addWidget(section)
            section.toggled.connect(partial(self._on_toggled, name))
        layout.addStretch(1)
        self.setWidget(body)
        self.response.hovered.connect(self._on_response_hover)
        self.ring_down.hovered.connect(self._on_ring_hover)
        self.temperature_watch.changed.connect(self._show_temperature)
        session.tolerance_changed.connect(self._show_tolerance)
        session.prediction_changed.connect(self._follow)
        session.hand_rests.connect(self._on_hand_rests)
        session.problems_changed.connect(self.refresh)
        look.look_changed.connect(self.refresh)
        self.verticalScrollBar().valueChanged.connect(self._on_scrolled)
        self.refresh()

    @Slot()
    def _on_scrolled(self) -> None:
        if self._session.previewing:
            self.refresh()  # what comes into sight during a drag was left as it was

    @property
    def alarm_lines(self) -> list[str]:
        """What the banner says: unstable poles, or why the results are those of an earlier state."""
        return [text for _, text in self._alarm.lines]

    def sizeHint(self) -> QSize:
        return QSize(384, 700)

    @Slot()
    def refresh(self) -> None:
        """Draw the session's prediction."""
        self._draw(CHARTS)

    @Slot()
    def _follow(self) -> None:
        """Draw it as a frame of a drag does, one of the charts at a time, or all of it."""
        if not self._session.previewing:
            self._draw(CHARTS)
            return
        seen = [name for name in CHARTS if not self._sections[name].visibleRegion().isEmpty()]
        turn = self._pace.turn(seen, busy=self._session.tells_loads)
        self._draw(() if turn is None else (turn,))

    def _draw(self, charts: Sequence[str]) -> None:
        prediction, stale = self._session.prediction, self._session.stale
        dragging = self._session.previewing
        self._show_alarm(prediction, stale)
        if not dragging:
            self._show_offers()
        for name, section in self._sections.items():
            if prediction is None or name not in SOMETIMES:
                section.setVisible(prediction is not None)
        if prediction is None:
            return
        self._show_bars(prediction, stale, dragging)
        self._show_curves(prediction, stale, dragging, charts)
        if self._session.tells_loads:
            self._show_loads(prediction, stale, dragging)
        if self._is_seen("masses", dragging):
            self.masses.show_rows(facts.mass_rows(prediction), faded=stale)
        self._show_summaries(prediction, charts)
        if not dragging:
            self._show_sentences(prediction)
        self._show_temperature()
        self._show_tolerance()

    def _show_loads(self, p: Prediction, stale: bool, dragging: bool) -> None:
        """What the loads do to patches and circuits."""
        if self._is_seen("limits", dragging):
            self.limits.show_rows(facts.limit_rows(p.limits), faded=stale)
        if self._is_seen("groups", dragging):
            rows = (*facts.group_rows(p.groups), *facts.absorber_rows(p.absorbers), *facts.service_rows(p), *facts.lead_rows(p))
            self.groups.show_rows(rows, faded=stale)

    def _is_seen(self, name: str, dragging: bool) -> bool:
        """During a drag what is folded or out of sight is left as it is; the end of the drag shows it all."""
        section = self._sections[name]
        return not dragging or not (section.folded or section.visibleRegion().isEmpty())

    def _is_told(self, name: str) -> bool:
        """Whether a summary follows the hand: not what is out of sight, nor how many remarks there are."""
        if not self._session.previewing:
            return True
        return name not in SOMETIMES and not self._sections[name].visibleRegion().isEmpty()

    def _show_summaries(self, p: Prediction, charts: Sequence[str] = CHARTS) -> None:
        """What the folded sections say in a line; of charts those that have their turn."""
        project = self._session.predicted_for
        told = {
            "bars": lambda: ", ".join(f"{m.number}: {words.damping(m.zeta)}" for m in p.modes[:3]),
            "response": lambda: ", ".join(
                f"mode {m.number} {peak_text(m)}" for m in p.modes if project and m.number in asked_modes(project)
            ),
            "ring": lambda: facts.settling_brief(p.ring_down),
            "limits": lambda: limits_brief(self._session.limits),
            "remarks": lambda: facts.remarks_brief(p),
            "groups": lambda: circuit_text(p),
            "masses": lambda: f"adds {words.mass(p.added_mass_kg)}",
            "assumed": lambda: f"{len(p.assumed_inputs)} of them",
        }
        for name, say in told.items():
            has_turn = name not in CHARTS or name in charts
            if has_turn and self._sections[name].folded and self._is_told(name):
                self._sections[name].set_summary(say())

    @Slot()
    def show_limits(self) -> None:
        """Bring the limits, unfolded, to the top of what is seen."""
        section = self._sections["limits"]
        if section.folded:
            section.set_folded(False)
            self._on_toggled("limits")
        settle(self)
        self.verticalScrollBar().setValue(section.y())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fold()

    def _fold(self) -> None:
        """Fold what has no room, from the end; what a person chose stays."""
        for name, section in self._sections.items():
            section.set_folded(self._chosen.get(name, self.height() < ROOM_FOR.get(name, TALL)))
        if self._session.prediction is not None:
            self._show_summaries(self._session.prediction)
            self._show_temperature()

    def _on_toggled(self, name: str) -> None:
        self._chosen[name] = self._sections[name].folded
        self.refresh()

    @Slot()
    def copy_table(self) -> None:
        """Everything shown, as a table on the clipboard."""
        if self._session.prediction is not None:
            table = facts.results_table(self._session.prediction)
            study = self.temperature_watch.study
            if study is not None and not self.temperature_watch.is_old:
                table += temperature_rows.temperature_table(study)
            copy_table(table)

    @Slot()
    def _show_temperature(self) -> None:
        """The study of cold, reference and hot; the last one stays, faded, while it is worked out."""
        study, old = self.temperature_watch.study, self.temperature_watch.is_old
        section = self._sections["temperature"]
        section.setVisible(study is not None and self._session.prediction is not None)
        if study is None:
            return
        if self._temperature_text is None or self._temperature_text[0] is not study:
            rows = temperature_rows.temperature_rows(study)
            self._temperature_text = (study, temperature_rows.heads(study), rows)
        _, heads, rows = self._temperature_text
        self.temperature.show_rows(heads, rows, faded=old)
        flat = "no constant in use changes with temperature" if study.is_flat else "circuit as tuned, held"
        section.set_about("being updated" if old else flat)
        if section.folded:
            section.set_summary(temperature_rows.brief(study))

    @Slot()
    def _show_tolerance(self) -> None:
        """Bands of the last tolerance study, while it belongs to the layout shown."""
        result = self._session.tolerance
        if result is None:
            self.bars.show_bands(())
            self.response.show_band(None)
            return
        self.bars.show_bands(tuple((m.zeta.p10, m.zeta.p50, m.zeta.p90) for m in result.modes))
        self.response.show_band(result.response)
        prediction = self._session.prediction
        if prediction is not None:
            at = self._session.predicted_for.service.reference_c if self._session.predicted_for else 20.0
            about = f"at {words.celsius(at)}, {prediction.before_label} → with circuit; whisker: P10 – P50 – P90 under tolerances"
            self._sections["bars"].set_about(about)

    def _show_alarm(self, prediction: Prediction | None, stale: bool) -> None:
        lines: list[tuple[Level, str]] = []
        if prediction is None:
            lines.append(("plain", NOTHING_YET))
        elif stale:
            lines.append(("caution", "These are the results of the last layout that could be predicted."))
        lines += [("danger", problem.message) for problem in self._session.problems[:4]]
        more = len(self._session.problems) - 4
        if more > 0:
            lines.append(("danger", f"and {more} more, shown beside their fields"))
        if prediction is not None and not stale:
            lines += [("danger", text) for text in prediction.unstable]
            lines += [("danger", remark.text) for remark in prediction.errors]
        self.cure.show_for(None if stale else prediction)
        self._alarm.show_lines(lines)
        self._alarm.setVisible(bool(lines))

    def _show_bars(self, p: Prediction, stale: bool, dragging: bool) -> None:
        wait = dragging and p.torsion_is_apart and "torsion" not in p.asked_for
        self.bars.show_modes(p.modes, None if wait else twists_among(p), stale=stale, dragging=dragging)
        project = self._session.predicted_for
        if project is not None:
            service = project.service
            needed = {}
            for mode in p.modes:
                zeta = damping_needed(service.asked, mode, service.settle_to)
                if zeta is not None:
                    needed[mode.number] = (zeta, needed_text(service.asked, mode.number, zeta))
            self.bars.show_asked(asked_modes(project), needed)
            at = f"at {words.celsius(service.reference_c)}, {p.before_label} → with circuit"
            self._sections["bars"].set_about(at)
        if not dragging:
            self.bars.setAccessibleDescription("\n".join(self.bars.sentences()))

    def _show_offers(self) -> None:
        self.split.show_for(None if self._session.stale else self._session.prediction)

    def _show_curves(self, p: Prediction, stale: bool, dragging: bool, charts: Sequence[str] = CHARTS) -> None:
        if "response" in charts and self._is_seen("response", dragging):
            self._show_response(p, stale, dragging)
        if "ring" in charts and self._is_seen("ring", dragging):
            self._show_ring_down(p, stale, dragging)

    def _show_response(self, p: Prediction, stale: bool, dragging: bool) -> None:
        project, response = self._session.predicted_for, p.response
        self.response.show_response(response, dragging=dragging, stale=stale)
        if project is not None:
            kept = next((m.kept for m in project.measurements if m.candidate == p.candidate), None)
            self.response.show_measured(() if kept is None else kept.modes)
            self.peaks.show_peaks(peaks_of(p, asked_modes(project), project.service.asked), faded=stale)
        told = f"with circuit, {response.unit} over Hz; shorted leads have no voltage"
        if not isnan(response.mean_square_change_db):
            change = words.decibel(response.mean_square_change_db)
            told = (
                f"{response.before_label} (dashed), with circuit (bold), {response.unit} over Hz; mean square in "
                f"the load's band {change}"
            )
        self._about_response = f"{response.label}; {told}"
        self._sections["response"].set_about(self._about_response)

    def _show_ring_down(self, p: Prediction, stale: bool, dragging: bool) -> None:
        self.ring_down.show_ring_down(p.ring_down, dragging=dragging, stale=stale)
        self._about_ring = facts.settling_text(p.ring_down)
        self._sections["ring"].set_about(self._about_ring)

    @Slot()
    def _on_hand_rests(self) -> None:
        """What the frames of a drag left out: sentences, because wrapped text costs a new layout of the
        panel, and what is dear."""
        p, stale = self._session.prediction, self._session.stale
        self._show_offers()
        if p is not None:
            _ = p.torsion
            self._show_bars(p, stale, True)
            self._show_loads(p, stale, True)
            self._show_summaries(p)
            self._show_sentences(p)
            # a preview from keys or a dialog is no drag: nothing swims under a hand, and what changed much must fit
            held = QApplication.mouseButtons() != Qt.MouseButton.NoButton
            self._show_curves(p, stale, held)

    def _show_sentences(self, p: Prediction) -> None:
        # errors stand in the banner at the top
        remarks = [line for line in facts.remark_lines(p) if line[0] != "danger"]
        stale = self._session.stale
        self.remarks.show_lines(remarks, faded=stale)
        self._sections["remarks"].setVisible(bool(remarks))
        self.assumed.show_lines([("plain", text) for text in self._assumed_lines(p)], faded=stale)
        ranked = "strongest doubt first" if self._effects else ""
        self._sections["assumed"].set_about(ranked)
        self._sections["assumed"].setVisible(bool(p.assumed_inputs))
        each = "with the load at which each is reached; its source on hover"
        self._sections["limits"].set_about(each if p.limits else "nothing is bonded that a load could break")

    def rank_assumed(self, effects: dict[str, float]) -> None:
        """Order the assumed inputs by how far each moves the answer, by path; unknown ones come last."""
        self._effects = effects
        if self._session.prediction is not None:
            self._show_sentences(self._session.prediction)

    def _assumed_lines(self, p: Prediction) -> tuple[str, ...]:
        project = self._session.predicted_for
        if project is None or not self._effects:
            return p.assumed_inputs
        return gathered(tuple(row.label for row in strongest_first(project, p.candidate, self._effects)))

    @Slot(str)
    def _on_response_hover(self, text: str) -> None:
        self._sections["response"].set_about(text or self._about_response)

    @Slot(str)
    def _on_ring_hover(self, text: str) -> None:
        self._sections["ring"].set_about(text or self._about_ring)
