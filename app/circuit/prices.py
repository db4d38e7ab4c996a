"""The cards of a group's values beside each other: their curves follow the prediction, their sliders change it."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, QSize, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.circuit import steps
from app.circuit.price_card import SPANS, PriceCard
from app.circuit.tolerances import tolerances_of
from app.shell.jobs import NewestJob
from core.circuit.registry import CIRCUITS
from core.predict.electrics.price import LEADS
from core.units.sentence import inside

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.electrics.price import Price, Ranges
    from core.predict.group_result import GroupResult

GAP, HIGH = 10, 214
FOLLOWS_BY_ITSELF = "A switch follows the patches by itself: there is no value to miss."
LEAST_WIDE = 170
"""A card's width at the least: below it stands in another row."""


class Prices(QWidget):
    """One card a value, the capacitance on the leads last; as many in a row as have room."""

    told = Signal()
    """What was worked out beside the window has come."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("prices")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._session = session
        self._of: tuple[str, str, str] = ("", "", "")
        self._result: GroupResult | None = None
        self._tolerances: dict[str, float] = {}
        self._turn = 0
        self._follows = False
        self.cards: tuple[PriceCard, ...] = ()
        self.about = ""
        self._asked: tuple[GroupResult, Ranges] | None = None
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_priced)
        self._job.failed.connect(self._on_failed)
        session.closing.connect(self._job.close)

    # ---- showing -------------------------------------------------------------------------

    def show_group(self, result: GroupResult, *, rests: bool = False) -> None:
        """Draw the prices of the group. While a hand moves a value, its own curve stays, since nothing else moves; the
        others follow by turns, and all of them once the hand rests. Those of several branches, whose values are many, are
        worked out beside the window."""
        project = self._session.predicted_for or self._session.shown
        shown = (project.active, result.id, result.circuit)
        if shown != self._of:
            self._of = shown
            self._make_cards(result)
        self._result = result
        self._follows = CIRCUITS[result.circuit].worked_out
        held = next((card for card in self.cards if card.slider.is_held and card.price is not None), None)
        if self._session.previewing and held is not None:
            self._follow(held, result, rests=rests)
            return
        if not self._session.previewing:
            self._tolerances = tolerances_of(project, result)
        ranges = self._ranges(result)
        if result.branches > 1 and ranges:
            self._ask(result, ranges, with_tuned=not self._session.previewing)
            return
        self._job.cancel()
        self._show(result, ranges, result.prices_over(ranges) if ranges else ())

    def _ask(self, result: GroupResult, ranges: Ranges, *, with_tuned: bool) -> None:
        self._asked = (result, ranges)
        self.about = "working it out"
        self._job.request(partial(_work, result, ranges, with_tuned))

    @Slot(int, object)
    def _on_priced(self, _revision: int, found: object) -> None:
        if self._asked is None or self._result is not self._asked[0] or not isinstance(found, tuple):
            return
        self._show(*self._asked, found)
        self.told.emit()

    @Slot(int, object)
    def _on_failed(self, _revision: int, _error: object) -> None:
        self.about = "could not be worked out"
        self.told.emit()

    def _show(self, result: GroupResult, ranges: Ranges, every: tuple[Price, ...]) -> None:
        found, marks = {price.name: price for price in every}, _marks(result)
        for card in self.cards:
            price = found.get(card.name)
            card.setVisible(price is not None)
            if price is None:
                continue
            if price.tuned is None and self._session.previewing and card.price is not None:
                price = replace(price, tuned=card.price.tuned)
            card.show_price(price, ranges[card.name], self._tolerances.get(card.name, 0.0), marks.get(card.name, ""))
        self.about = self._told(next(iter(found.values()), None))
        self._arrange()

    def _follow(self, held: PriceCard, result: GroupResult, *, rests: bool) -> None:
        present = {one.name: one.value for one in result.values}[held.name]
        every = self._ranges(result)
        others = [card.name for card in self.cards if card is not held and card.price is not None and card.name in every]
        if others and not rests:  # one of them in each of the frames that tell what is dear
            self._turn = (self._turn + 1) % len(others)
            others = [others[self._turn]] if self._session.tells_loads else []
        ranges = {name: every[name] for name in others} if not rests or result.branches == 1 else {}
        found = {p.name: p for p in result.prices_over({held.name: (present, present), **ranges}, with_tuned=False)}
        for card in self.cards:
            price = found.get(card.name)
            if price is None or card.price is None:
                continue
            if card is held:
                held.follow(price)
            else:
                card.price = replace(price, tuned=card.price.tuned)
                card.show_again(ranges[card.name])
        if rests and result.branches > 1:
            self._ask(result, {held.name: every[held.name], **{name: every[name] for name in others}}, with_tuned=False)

    def _told(self, price: Price | None) -> str:
        if price is None:
            return FOLLOWS_BY_ITSELF if self._follows else "Nothing here has a price; an active loop is set in its own window."
        return f"damping of mode {price.mode}, everything else held; shaded: tolerance of the part"

    def _ranges(self, result: GroupResult) -> dict[str, tuple[float, float]]:
        """The axis of every card."""
        present = {one.name: (one.value, one.unit) for one in result.values}
        ranges = {}
        for card in self.cards:
            value, unit = present.get(card.name, (result.leads_capacitance_f, "F"))
            if value > 0.0 and unit in SPANS:
                ranges[card.name] = card.range_for(value, unit)
        return ranges

    def _make_cards(self, result: GroupResult) -> None:
        for card in self.cards:
            card.hide()
            card.deleteLater()
        kind = CIRCUITS[result.circuit]
        units = {value.name: value.unit for value in result.values}
        names = [p.name for p in kind.parameters if units.get(p.name) in SPANS]
        if kind.closed_form is None or kind.worked_out:
            names = []
        self.cards = tuple(self._new_card(name) for name in ([*names, LEADS] if names else []))

    def _new_card(self, name: str) -> PriceCard:
        card = PriceCard(name, self._step, self)
        card.previewed.connect(self._preview)
        card.kept.connect(self._keep)
        card.dropped.connect(self._session.cancel_preview)
        card.back_wanted.connect(self._back)
        return card

    # ---- changing ------------------------------------------------------------------------

    def _step(self, value: float, count: int) -> float:
        return steps.stepped(value, count, steps.series_of(self._session.project))

    @Slot(str, float)
    def _preview(self, name: str, value: float) -> None:
        if self._result is not None:
            self._session.preview(steps.with_value(self._session.project, self._result, name, value))

    @Slot(str)
    def _keep(self, name: str) -> None:
        label = next((card.price.label for card in self.cards if card.name == name and card.price), "value")
        self._session.commit_preview(f"Change {inside(label)}")

    @Slot(str)
    def _back(self, name: str) -> None:
        """To the value the tuning would choose."""
        card = next(card for card in self.cards if card.name == name)
        if self._result is None or card.price is None or card.price.tuned is None:
            return
        self._session.cancel_preview()
        project = steps.with_value(self._session.project, self._result, name, card.price.tuned)
        self._session.apply(f"Tune {inside(card.price.label)}", project)

    # ---- placing -------------------------------------------------------------------------

    def _arrange(self) -> None:
        shown = [card for card in self.cards if not card.isHidden()]
        if not shown:
            self.setFixedHeight(0)
            return
        columns = max(min(len(shown), (self.width() + GAP) // (LEAST_WIDE + GAP)), 1)
        rows = -(-len(shown) // columns)
        columns = -(-len(shown) // rows)  # even rows
        wide = (self.width() - GAP * (columns - 1)) / columns
        for n, card in enumerate(shown):
            row, column = divmod(n, columns)
            card.setGeometry(QRect(round(column * (wide + GAP)), row * (HIGH + GAP), round(wide), HIGH))
        self.setFixedHeight(rows * (HIGH + GAP) - GAP)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def sizeHint(self) -> QSize:
        return QSize(3 * LEAST_WIDE + 2 * GAP, HIGH)


def _work(result: GroupResult, ranges: Ranges, with_tuned: bool, stop: threading.Event) -> tuple[Price, ...] | None:
    return None if stop.is_set() else result.prices_over(ranges, with_tuned=with_tuned)


def _marks(result: GroupResult) -> dict[str, str]:
    """The name of each value's part on the schematic."""
    values = {one.name: one.value for one in result.values}
    return {part.parameter: part.name for part in CIRCUITS[result.circuit].network(values) if part.parameter}

