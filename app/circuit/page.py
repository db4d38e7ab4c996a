"""The Circuit page: what hangs on the leads of one group, in place of the drawing between inputs and answer.

Only what lies in sight is worked out while a hand moves something; the rest follows when it lets go.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, Qt, Signal, Slot
from PySide6.QtGui import QPixmap, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from app.circuit.failure_table import FailureTable
from app.circuit.over_frequency import OverFrequencyBlock
from app.circuit.prices import Prices
from app.circuit.schematic_view import SchematicView
from app.circuit.side import CircuitSide
from app.circuit.stability_view import StabilityView
from app.circuit.tolerances import tolerances_of
from app.fields import ChoiceField
from app.fields.elided import Elided
from app.fields.link import Link
from app.fields.plain import PlainLabel
from app.fields.scroll import scroll_of
from app.results.clipboard import copy_table
from app.shell.away_page import AwayPage
from app.shell.saved_text import ask_and_save
from app.theme import look
from core.circuit.negative_capacitance import NAME
from core.circuit.registry import CIRCUITS
from core.handover.schematic.schematic import schematic
from core.predict.electrics.stability import StabilityRegion
from core.units import words

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.group_result import GroupResult
    from core.predict.prediction import Prediction

BESIDE = 740
"""From this width on stability and failures stand beside each other."""
NOTHING = "No patch is wired to leads in this candidate. Add a patch on the drawing, and its circuit appears here."
PASSIVE = "Nothing in this circuit feeds it: it holds whatever its values are."
SWITCHED = "The switch only follows the motion: it never runs away by itself."


class CircuitPage(AwayPage):
    """Follows the session. `side` belongs beside it, or under it where the window is narrow (`stack`)."""

    said = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("circuitPage")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._session = session
        self._shown_group: str | None = None
        self._volts = ("", "")
        """At the leads of a group, as last worked out: not in every frame of a drag."""
        self._make_content()
        self.side = CircuitSide(session, self)
        self._lay_out()
        session.prediction_changed.connect(self._on_prediction)
        session.selection_changed.connect(self._on_selection)
        session.hand_rests.connect(self._on_rest)
        look.look_changed.connect(self._restyle)
        self._restyle()

    # ---- building ------------------------------------------------------------------------

    def _make_content(self) -> None:
        self._body = QWidget(self)
        self.title = _heading("", self._body)
        self.about = Elided("schematicAbout", self._body)
        self.group: ChoiceField[str] = ChoiceField("Group shown", parent=self._body)
        self.group.chosen.connect(self._on_group_chosen)
        self.copy = _link("Copy", "copySchematic", self._body)
        self.copy.clicked.connect(self.copy_schematic)
        self.save = _link("Save as SVG", "saveSchematic", self._body)
        self.save.clicked.connect(self.save_schematic)
        self.schematic = SchematicView(self._body)
        self._schematic_scroll = scroll_of(self.schematic, "schematicScroll", self._body)
        self.prices_title = _heading("The price of being off", self._body)
        self.prices_about = Elided("pricesAbout", self._body)
        self.prices = Prices(self._session, self._body)
        self.prices.told.connect(self._tell_prices)
        self.stability_title = _heading("Stability", self._body)
        self.stability_words = PlainLabel("", self._body)
        self.stability_words.setObjectName("stabilityWords")
        self.stability_words.setWordWrap(True)
        self.stability = StabilityView(self._body)
        self.failures = FailureTable(self._session, self._body)
        self.over_frequency = OverFrequencyBlock(self._body)

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(8)
        head.addWidget(self.title)
        head.addWidget(self.group)
        head.addWidget(self.about, 1)
        head.addWidget(self.copy)
        head.addWidget(self.save)
        prices_head = QHBoxLayout()
        prices_head.setSpacing(8)
        prices_head.addWidget(self.prices_title)
        prices_head.addWidget(self.prices_about, 1)
        stable = QVBoxLayout()
        stable.setSpacing(4)
        stable.addWidget(self.stability_title)
        stable.addWidget(self.stability_words)
        stable.addWidget(self.stability)
        stable.addStretch(1)
        self._lower = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._lower.setSpacing(18)
        self._lower.addLayout(stable, 1)
        self._lower.addWidget(self.failures, 1)
        column = QVBoxLayout(self._body)
        column.setContentsMargins(14, 10, 14, 14)
        column.setSpacing(6)
        column.addLayout(head)
        column.addWidget(self._schematic_scroll)
        column.addSpacing(6)
        column.addLayout(prices_head)
        column.addWidget(self.prices)
        column.addSpacing(6)
        column.addLayout(self._lower)
        column.addSpacing(6)
        column.addWidget(self.over_frequency)
        self._under = QVBoxLayout()
        column.addLayout(self._under)
        column.addStretch(1)
        self.area = scroll_of(self._body, "circuitScroll", self, sideways=False)
        self._above = QVBoxLayout()
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        page.addLayout(self._above)
        page.addWidget(self.area, 1)

    def stack(self, above: QWidget | None) -> None:
        """One column: `above` stands over the page and does not scroll, the side follows at its end. None: the side
        goes where the window puts it."""
        if above is not None:
            self._above.addWidget(above)
            holder = self.side.parentWidget()
            area = holder.parentWidget() if holder is not None else None
            if isinstance(area, QScrollArea) and area.widget() is self.side:
                area.takeWidget()
            self._under.addWidget(self.side)
            self.side.show()

    # ---- what is shown -------------------------------------------------------------------

    @property
    def result(self) -> GroupResult | None:
        """The group shown, as last predicted."""
        prediction = self._session.prediction
        groups = prediction.groups if prediction is not None else ()
        return next((one for one in groups if one.id == self._shown_group), groups[0] if groups else None)

    @Slot()
    def _on_prediction(self) -> None:
        if self.isVisible():
            self.refresh()

    @Slot()
    def _on_rest(self) -> None:
        if self.isVisible():
            self._show_slow()

    @Slot()
    def _on_selection(self) -> None:
        """The group of the patch that is picked is the one shown."""
        patch = self._session.selected_patch
        for group in self._session.shown.candidate().groups:
            if any(member.patch == patch for member in group.members):
                self._shown_group = group.id
        self._on_prediction()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._on_selection()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        direction = QBoxLayout.Direction
        self._lower.setDirection(direction.LeftToRight if self.width() >= BESIDE else direction.TopToBottom)

    def refresh(self) -> None:
        """Show what the session's prediction says of the group; what is out of sight waits for the hand."""
        prediction, result = self._session.prediction, self.result
        self._show_head(prediction, result)
        for part in (self._schematic_scroll, self.prices_title, self.prices_about, self.prices, self.stability_title,
                     self.stability_words, self.copy, self.save, self.over_frequency):  # fmt: skip
            part.setVisible(result is not None)
        if prediction is None or result is None:
            self.failures.hide()
            self.stability.show_region(None, 0.0)
            return
        if not self._session.previewing:
            self._show_slow()
            return
        self._show_schematic(prediction, result)
        if self._in_sight(self.prices):
            self.prices.show_group(result)

    def _show_slow(self) -> None:
        """What takes longer than a frame."""
        prediction, result = self._session.prediction, self.result
        if prediction is None or result is None:
            return
        self._show_schematic(prediction, result, rests=True)
        self.prices.show_group(result, rests=True)
        self._tell_prices()
        self._show_stability(result.stability, result)
        self.failures.refresh()
        self.over_frequency.show_group(prediction, result)
        self.side.refresh(result)

    @Slot()
    def _tell_prices(self) -> None:
        self.prices_about.setText(self.prices.about)

    def _show_head(self, prediction: Prediction | None, result: GroupResult | None) -> None:
        project = self._session.shown
        self.title.setText(f"Schematic of {project.active}" if result is not None else "Circuit")
        groups = () if prediction is None else prediction.groups
        self.group.setVisible(len(groups) > 1)
        self.group.set_options([(one.id, f"{one.id}, {one.circuit_label}") for one in groups])
        if result is None:
            self.about.setText(NOTHING)
            return
        self._shown_group = result.id
        self.group.set_value(result.id)
        self.about.setText(result.circuit_label if len(groups) == 1 else "")

    def _show_schematic(self, prediction: Prediction, result: GroupResult, *, rests: bool = False) -> None:
        if self._session.tells_loads or self._volts[0] != result.id:
            self._volts = (result.id, "" if prediction.unstable else words.voltage(result.voltage_peak_v))
        (_, volts), about, swings = self._volts, "volts under the load shown", False
        if (rests or not self._session.previewing) and not prediction.unstable:
            leads = prediction.leads
            own = leads.of(f"group {result.id}") if leads is not None else None
            worst = None if own is None else own.with_circuit
            if worst is not None:
                volts, about, swings = words.voltage(worst.volts), f"volts at the worst load: {worst.cause}", True
        project = self._session.predicted_for or self._session.shown
        drawn = schematic(project, prediction, result.id, volts, with_swing=swings)
        self.schematic.show_schematic(drawn)
        several = len(prediction.groups) > 1
        told = about if several else f"{result.circuit_label}; {about}"
        self.about.setText(told)
        least = self.schematic.minimumSizeHint()
        self.schematic.setMinimumSize(least)
        room = min(max(self.schematic.sizeHint().height(), 190), 320)
        self._schematic_scroll.setFixedHeight(max(room, least.height() + 4))

    def _show_stability(self, region: StabilityRegion | None, result: GroupResult) -> None:
        calm = self._in_loop(result) or (SWITCHED if CIRCUITS[result.circuit].worked_out else PASSIVE)
        self.stability_words.setText(calm if region is None else region.sentence)
        project = self._session.predicted_for or self._session.shown
        tolerance = 0.0 if region is None else tolerances_of(project, result).get(NAME, 0.0)
        self.stability.show_region(region, tolerance)

    def _in_loop(self, result: GroupResult) -> str:
        """Whether the loop holds, of a group that a closed one listens to or drives."""
        prediction = self._session.prediction
        solved = None if prediction is None else prediction.solved
        if solved is None or not solved.candidate.loop_is_closed or solved.loop is None:
            return ""
        from core.predict.loop.text import holding_told  # with the first closed loop

        ends = (solved.loop.sensing, solved.loop.driven)
        return holding_told(solved.loop) if result.id in (solved.candidate.groups[g].id for g in ends) else ""

    def _in_sight(self, widget: QWidget) -> bool:
        """Whether anything of it lies in what is scrolled to."""
        view = self.area.viewport()
        place = QRect(widget.mapTo(self._body, widget.rect().topLeft()), widget.size())
        seen = QRect(self._body.mapFrom(view, view.rect().topLeft()), view.size())
        return place.intersects(seen)

    # ---- what a person does --------------------------------------------------------------

    @Slot(object)
    def _on_group_chosen(self, group_id: object) -> None:
        group = next(g for g in self._session.shown.candidate().groups if g.id == group_id)
        self._shown_group = group.id
        if group.members:
            self._session.select_patch(group.members[0].patch)
        self.refresh()

    @Slot()
    def copy_schematic(self) -> None:
        self.schematic.copy_picture()
        self.said.emit("Schematic copied")

    @Slot()
    def save_schematic(self) -> None:
        name = f"circuit {self._session.project.active} {self._shown_group}.svg"
        ask_and_save(self, "Save the schematic", name, "Drawing (*.svg)", self.schematic.svg)

    def picture(self) -> QPixmap:
        """The whole page, also what lies outside the window."""
        return self._body.grab()

    def copy_table(self) -> None:
        """The values, what missing them costs, and the failures."""
        copy_table(self.table())

    def table(self) -> list[list[str]]:
        rows = [["Value", "In effect", "Too small", "Too large"]]
        for card in self.prices.cards:
            if card.price is not None:
                sides = [f"{name}: {value}" for name, value, _ in card.misses.lines]
                rows.append([card.price.label, card.head.lines[0][1], *sides])
        rows += [[*cells[:3], ", ".join(cells[3:])] for cells in self.failures.table()]
        return rows

    @Slot()
    def _restyle(self) -> None:
        look.set_background(self._body, look.current().window)


def _heading(text: str, parent: QWidget) -> QLabel:
    label = PlainLabel(text, parent)
    label.setFont(look.font(13, bold=True))
    return label


def _link(text: str, name: str, parent: QWidget) -> Link:
    link = Link(text, parent, padding=(4, 3))
    link.setObjectName(name)
    return link

