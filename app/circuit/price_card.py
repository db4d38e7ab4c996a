"""One value of the circuit: what it is, the damping along it, a slider, and what missing it costs in two lines."""

from __future__ import annotations

from dataclasses import replace
from math import isnan
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt, Signal, Slot
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QSizePolicy, QVBoxLayout, QWidget

from app.circuit import price_curve
from app.circuit.price_curve import Curve, PriceCurve
from app.circuit.value_slider import Step, ValueSlider
from app.drawing.ink import Align, fitting
from app.theme import look
from core.predict.electrics.price import LEADS
from core.units import words
from core.units.sentence import inside

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from core.predict.electrics.price import Price

    Array = NDArray[np.float64]

SPANS = {"ohm": 4.0, "H": 1.25, "F": 1.35}
"""Factor from the middle of a card's axis to its ends: as wide as the value is forgiving."""
LINE = 17


class _Words(QWidget):
    """Lines of a name at the left and its value at the right; what has no room is cut with dots."""

    def __init__(self, bold_names: bool, parent: QWidget) -> None:
        super().__init__(parent)
        self._bold_names = bold_names
        self._lines: tuple[tuple[str, str, bool], ...] = ()
        self.short = ""
        """The first name where the whole has no room."""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        look.look_changed.connect(self.update)

    def show_lines(self, *lines: tuple[str, str, bool]) -> None:
        """(name, value, whether it is a danger) from the top."""
        if lines != self._lines:
            self._lines = lines
            self.setFixedHeight(LINE * len(lines))
            self.update()

    @property
    def lines(self) -> tuple[tuple[str, str, bool], ...]:
        return self._lines

    def paintEvent(self, event: QPaintEvent) -> None:
        now = look.current()
        with QPainter(self) as p:
            for n, (name, value, bad) in enumerate(self._lines):
                top = LINE * n
                p.setFont(look.font(12, bold=True))
                wide = QFontMetricsF(p.font()).horizontalAdvance(value)
                p.setPen(now.danger if bad else now.accent if self._bold_names else now.text)
                p.drawText(0, top, self.width(), LINE, Align.AlignRight | Align.AlignVCenter, value)
                p.setFont(look.font(12, bold=self._bold_names))
                p.setPen(now.text if self._bold_names else now.faint_text)
                room = int(self.width() - wide - 6)
                wordings = (name, self.short) if n == 0 and self.short else (name,)
                text = p.fontMetrics().elidedText(fitting(p.font(), wordings, room), Qt.TextElideMode.ElideRight, room)
                p.drawText(0, top, room, LINE, Align.AlignLeft | Align.AlignVCenter, text)


class PriceCard(QFrame):
    """Follows one `Price`; signals of its slider go on with the name of the value."""

    previewed = Signal(str, float)
    kept = Signal(str)
    dropped = Signal()
    back_wanted = Signal(str)

    def __init__(self, name: str, step: Step, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(f"price {name}")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.name = name
        self.middle: float | None = None
        """Of the axis; it stays while the value moves along it."""
        self.price: Price | None = None
        self._tolerance, self._mark = 0.0, ""
        self.head = _Words(True, self)
        self.curve = PriceCurve(self)
        self.slider = ValueSlider(name, step, self)
        self.slider.inset = (price_curve.LEFT, price_curve.RIGHT)
        policy = self.slider.sizePolicy()
        policy.setRetainSizeWhenHidden(True)  # all curves of a row are as high
        self.slider.setSizePolicy(policy)
        self.slider.setVisible(name != LEADS)
        self.misses = _Words(False, self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 8, 10, 8)
        layout.setSpacing(2)
        layout.addWidget(self.head)
        layout.addWidget(self.curve, 1)
        layout.addWidget(self.slider)
        layout.addWidget(self.misses)
        self.slider.previewed.connect(self._on_previewed)
        self.slider.kept.connect(self._on_kept)
        self.slider.dropped.connect(self.dropped)
        self.slider.back_wanted.connect(self._on_back)

    def range_for(self, present: float, unit: str) -> tuple[float, float]:
        """The axis: where it was as long as the value lies on it, else around the value."""
        span = SPANS[unit]
        if not self.slider.is_held and (self.middle is None or not 1.0 / span < present / self.middle < span):
            self.middle = present
        middle = self.middle or present
        return middle / span, middle * span

    def show_price(self, price: Price, limits: tuple[float, float], tolerance: float, mark: str) -> None:
        """Draw it along `limits`; `tolerance` of the part is a relative half width, `mark` its name on the schematic."""
        self.price, self._tolerance, self._mark = price, tolerance, mark
        self.show_again(limits)

    def follow(self, price: Price) -> None:
        """The value where a hand has it now, on the curve as it was."""
        known = self.price
        assert known is not None
        self.price = replace(price, values=known.values, damping=known.damping, tuned=known.tuned)
        self.show_again(self.range_for(price.present, price.unit))

    def show_again(self, limits: tuple[float, float]) -> None:
        price, tolerance, mark = self.price, self._tolerance, self._mark
        assert price is not None
        told = words.part(price.present, price.unit)
        self.head.short = mark or "On the leads"
        self.head.show_lines((f"{price.label} {mark}".strip(), told, False))
        here = float(price.at_present[price.mode - 1])
        self.curve.show_curve(
            Curve(
                price.values, price.target, price.present, here, *limits, price.unit,
                (1.0 - min(tolerance, 0.9), 1.0 + tolerance), price.tuned or self.middle, price.unit == "ohm",
            ),
            keep_scale=self.slider.is_held,
        )  # fmt: skip
        self.slider.show_value(price.present, *limits, told)
        self.misses.show_lines(*(_miss(name, float(zeta[price.mode - 1])) for name, zeta in _sides(price)))
        self.slider.setAccessibleName(price.label)
        self.setAccessibleName(f"Price of {inside(price.label)}")
        self.setAccessibleDescription(". ".join([f"{price.label} {told}", *self.sentences(), price.sentence]))
        self.setToolTip(price.sentence)

    def sentences(self) -> list[str]:
        """What missing it costs, a sentence a side."""
        return [f"{name}: {value}" for name, value, _ in self.misses.lines]

    def paintEvent(self, event: QPaintEvent) -> None:
        now = look.current()
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            p.setBrush(now.panel)
            p.setPen(look.pen(now.line, 1.0))
            p.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 3, 3)

    @Slot(float)
    def _on_previewed(self, value: float) -> None:
        self.previewed.emit(self.name, value)

    @Slot()
    def _on_kept(self) -> None:
        self.kept.emit(self.name)

    @Slot()
    def _on_back(self) -> None:
        self.back_wanted.emit(self.name)


def _sides(price: Price) -> list[tuple[str, Array]]:
    """What each miss is called, and the damping of every mode there."""
    if price.missed == 2.0:
        return [("half of it", price.low), ("double", price.high)]
    off = words.share(price.missed - 1.0)
    return [(f"{off} less", price.low), (f"{off} more", price.high)]


def _miss(name: str, zeta: float) -> tuple[str, str, bool]:
    return (name, "grows without end", True) if isnan(zeta) else (name, words.damping(zeta), False)
