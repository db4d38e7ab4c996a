"""Where a negative capacitance holds: value across, temperature up, its travel from cold to hot and its margin."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.drawing.ink import Align, Ink, arrow
from app.results.ticks import linear_ticks
from app.theme import look
from core.units import words

if TYPE_CHECKING:
    from core.predict.electrics.stability import SettingAt, StabilityRegion

LEFT, RIGHT, TOP, FOOT = 40.0, 12.0, 8.0, 20.0
SPREAD = 0.35
"""Share of the axis on the far sides of what is shown."""
LEAST_SPAN_C = 30.0


class StabilityView(QWidget):
    """Paints a region; without one it is empty and asks for no room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("stabilityView")
        self.setAccessibleName("Stability over temperature")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._region: StabilityRegion | None = None
        self._tolerance = 0.0
        look.look_changed.connect(self.update)

    def show_region(self, region: StabilityRegion | None, tolerance: float) -> None:
        """`tolerance` of the value, relative: the band around its travel."""
        every = () if region is None else (region.here, *region.travel)
        drawable = all(np.isfinite(at.setting.limit_f) and at.setting.limit_f > 0.0 for at in every)
        self._region, self._tolerance = region if drawable else None, tolerance
        self.setVisible(self._region is not None)
        self.setAccessibleDescription("" if region is None else region.sentence)
        self.update()

    @property
    def margin_words(self) -> tuple[str, ...]:
        """The margin where the least is left, and with the part at its worst."""
        region = self._region
        if region is None:
            return ()
        worst = region.worst
        if not worst.setting.holds:
            return (f"fails at {words.celsius(worst.temperature_c)}",)
        lines = [f"margin {words.share(worst.setting.room)} at {words.celsius(worst.temperature_c)}"]
        if self._tolerance:
            lines.append(_with_worst_part(worst, self._tolerance))
        return tuple(lines)

    def sizeHint(self) -> QSize:
        return QSize(300, 190)

    def minimumSizeHint(self) -> QSize:
        return QSize(240, 170)

    def paintEvent(self, event: QPaintEvent) -> None:
        region, now = self._region, look.current()
        if region is None:
            return
        box = QRectF(LEFT, TOP, max(self.width() - LEFT - RIGHT, 10.0), max(self.height() - TOP - FOOT, 10.0))
        scale = _Scale(region, self._tolerance, box)
        ink = Ink(now, self.devicePixelRatioF())
        with QPainter(self) as p:
            p.fillRect(box, now.panel)
            self._paint_marks(p, scale, ink)
            p.save()
            p.setClipRect(box)
            self._paint_unstable(p, region, scale, ink)
            self._paint_travel(p, region, scale, ink)
            p.restore()
            p.setPen(ink.pen(now.strong_line))
            p.setBrush(Qt.BrushStyle.NoBrush)
            p.drawRect(box)

    def _paint_marks(self, p: QPainter, scale: _Scale, ink: Ink) -> None:
        now, font, box = ink.look, ink.font(11), scale.box
        tall = QFontMetricsF(font).height()
        p.setFont(font)
        for value, text, _ in linear_ticks(scale.low_f, scale.high_f, "F", wanted=5):
            x, half = scale.x(value), 0.5 * QFontMetricsF(font).horizontalAdvance(text) + 2
            if box.left() + half - LEFT <= x <= self.width() - half:
                p.setPen(ink.pen(now.line))
                p.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
                p.setPen(ink.pen(now.faint_text))
                p.drawText(QRectF(x - half, box.bottom() + 3, 2 * half, tall), Align.AlignCenter, text)
        for value, text, _ in linear_ticks(scale.cold_c, scale.hot_c, "", wanted=4):
            y = scale.y(value)
            p.setPen(ink.pen(now.line))
            p.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            p.setPen(ink.pen(now.faint_text))
            if y < box.top() + 0.8 * tall:
                continue  # where the unit stands
            p.drawText(QRectF(0, y - tall / 2, LEFT - 5, tall), Align.AlignRight | Align.AlignVCenter, text)
        p.setPen(ink.pen(now.faint_text))
        p.drawText(QRectF(0, box.top() - 2, LEFT - 5, tall), Align.AlignRight, "°C")

    def _paint_unstable(self, p: QPainter, region: StabilityRegion, scale: _Scale, ink: Ink) -> None:
        now = ink.look
        edge = [QPointF(scale.x(limit), scale.y(at)) for at, limit in scale.limits]
        beyond = scale.box.left() - 5 if region.holds_above else scale.box.right() + 5
        p.setRenderHint(QPainter.RenderHint.Antialiasing)
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(now.danger, 0.12))
        p.drawPolygon(QPolygonF([*edge, QPointF(beyond, edge[-1].y()), QPointF(beyond, edge[0].y())]))
        p.setPen(look.pen(now.danger, 2.0))
        p.setBrush(Qt.BrushStyle.NoBrush)
        p.drawPolyline(QPolygonF(edge))
        p.setFont(ink.font(11, bold=True))
        where = scale.box.adjusted(6, 4, -6, -4)
        side = Align.AlignLeft if region.holds_above else Align.AlignRight
        p.drawText(where, side | Align.AlignTop, "unstable: drifts")

    def _paint_travel(self, p: QPainter, region: StabilityRegion, scale: _Scale, ink: Ink) -> None:
        now, value = ink.look, region.here.setting.value_f
        x = scale.x(value)
        ends = [scale.y(at.temperature_c) for at in (region.travel[0], region.travel[-1])]
        wide = scale.x(value * (1 + self._tolerance)) - x
        if wide > 0.5:
            band = QRectF(x - wide, min(ends), 2 * wide, abs(ends[1] - ends[0]))
            p.fillRect(band, look.faded(now.accent, 0.14))
        p.setPen(look.pen(now.accent, 3.0))
        p.drawLine(QPointF(x, ends[0]), QPointF(x, ends[1]))
        worst = region.worst
        if worst.setting.holds:
            y, limit = scale.y(worst.temperature_c), scale.x(worst.setting.limit_f)
            p.setPen(look.pen(now.text, 1.2))
            p.drawLine(QPointF(x, y), QPointF(limit, y))
            arrow(p, QPointF(limit, y), -1.0 if limit < x else 1.0, 0.0)
        p.setPen(look.pen(now.accent, 2.0))
        p.setBrush(now.panel)
        for at in {one.temperature_c for one in (region.here, *region.travel)}:
            p.drawEllipse(QPointF(x, scale.y(at)), 4.0, 4.0)
        self._paint_words(p, region, scale, x, wide, ink)

    def _paint_words(
        self, p: QPainter, region: StabilityRegion, scale: _Scale, x: float, wide: float, ink: Ink
    ) -> None:
        """Beside the travel, on the side that holds."""
        now, font = ink.look, ink.font(11, bold=True)
        tall = QFontMetricsF(font).height()
        lines = self.margin_words
        y = scale.y((region.travel[0].temperature_c + region.travel[-1].temperature_c) / 2) - tall * len(lines) / 2
        for n, text in enumerate(lines):
            room = QFontMetricsF(font).horizontalAdvance(text) + 8
            left = x + max(wide, 5) + 4 if region.holds_above else x - max(wide, 5) - 4 - room
            left = min(max(left, scale.box.left() + 2), scale.box.right() - room - 2)
            p.setFont(font if n == 0 else ink.font(11))
            p.setPen(now.danger if not region.worst.setting.holds else now.text if n == 0 else now.caution)
            p.drawText(QRectF(left, y + n * tall, room, tall), Align.AlignLeft | Align.AlignVCenter, text)
        for at, name in ((region.travel[-1], "hot"), (region.travel[0], "cold")):
            p.setFont(ink.font(11))
            p.setPen(now.faint_text)
            told = f"{name} {words.celsius(at.temperature_c)}"
            room = QFontMetricsF(p.font()).horizontalAdvance(told) + 4
            left = x + 8 if region.holds_above else x - 8 - room
            top = scale.y(at.temperature_c) - tall - 1 if name == "hot" else scale.y(at.temperature_c) + 1
            p.drawText(QRectF(left, top, room, tall), Align.AlignLeft | Align.AlignVCenter, told)


class _Scale:
    """Values and temperatures on the box; limits (temperature, F) go on beyond cold and hot as they go between."""

    def __init__(self, region: StabilityRegion, tolerance: float, box: QRectF) -> None:
        self.box = box
        ends = (region.travel[0], region.travel[-1])
        cold, hot = ends[0].temperature_c, ends[1].temperature_c
        more = max(LEAST_SPAN_C - (hot - cold), 0.3 * (hot - cold)) / 2
        self.cold_c, self.hot_c = cold - more, hot + more
        known_c = np.array([at.temperature_c for at in region.travel])
        known_f = np.array([at.setting.limit_f for at in region.travel])
        slope = (known_f[-1] - known_f[0]) / (hot - cold) if hot > cold else 0.0
        self.limits = [
            (self.cold_c, float(known_f[0] - slope * more)),
            *zip(known_c.tolist(), known_f.tolist(), strict=True),
            (self.hot_c, float(known_f[-1] + slope * more)),
        ]
        value = region.here.setting.value_f
        seen = [value * (1 - tolerance), value * (1 + tolerance), *(limit for _, limit in self.limits)]
        low, high = min(seen), max(seen)
        room = max(high - low, 0.04 * value)
        self.low_f, self.high_f = max(low - SPREAD * room, 0.0), high + SPREAD * room
        if region.holds_above:
            self.high_f += 2 * SPREAD * room
        else:
            self.low_f = max(self.low_f - 2 * SPREAD * room, 0.0)

    def x(self, farad: float) -> float:
        return self.box.left() + (farad - self.low_f) / (self.high_f - self.low_f) * self.box.width()

    def y(self, celsius: float) -> float:
        return self.box.bottom() - (celsius - self.cold_c) / (self.hot_c - self.cold_c) * self.box.height()


def _with_worst_part(worst: SettingAt, tolerance: float) -> str:
    """The margin left where the part is as far off as it may be, to the worse side."""
    setting = worst.setting
    off = setting.value_f * (1.0 - tolerance if setting.in_series else 1.0 + tolerance)
    left, part = dataclasses.replace(setting, value_f=off).room, f"the part {words.share(tolerance)} off"
    return f"{words.share(left)} with {part}" if left > 0.0 else f"fails with {part}"
