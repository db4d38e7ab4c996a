"""Before and after as line drawings: black only, dashed before, solid after."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.handover.drawing.clip import runs
from core.handover.drawing.items import Item, Line, Point, Polygon, Polyline, Text
from core.handover.drawing.lettering import fit, text_width_mm
from core.handover.sheet.layout import Box
from core.predict.prediction import Response, RingDown
from core.units import words

Array = NDArray[np.float64]
SIZE = 2.3
DECADES_SHOWN = 5.0
POINTS = 900
MOST_SWINGS = 60


@dataclass(frozen=True)
class Axis:
    """From `low` to `high` of the values, or of their decimal logarithms where `log`."""

    low: float
    high: float
    log: bool
    label: str

    def share(self, value: float) -> float:
        v = math.log10(value) if self.log else value
        return (v - self.low) / (self.high - self.low)

    def ticks(self) -> list[tuple[float, str]]:
        if self.log:
            return _decades(self.low, self.high)
        step = _step(self.high - self.low)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        digits = max(0, -math.floor(math.log10(step)))
        return [(k * step, words.fixed(k * step, digits)) for k in range(first, last + 1)]


def response_plot(
    response: Response, box: Box, band_hz: tuple[float, float] | None = None
) -> tuple[Item, ...]:
    """Magnitude over frequency, both logarithmic; of a narrow band where one is named."""
    f = np.asarray(response.frequency_hz, dtype=float)
    curves = [np.abs(response.before), np.abs(response.after)]
    good = np.isfinite(f) & (f > 0) & np.all([np.isfinite(c) & (c > 0) for c in curves], axis=0)
    if band_hz is not None:
        good &= (f >= band_hz[0]) & (f <= band_hz[1])
    if good.sum() < 2:
        return _nothing(box, "No response to draw.")
    f, curves = f[good], [c[good] for c in curves]
    top = math.log10(max(float(c.max()) for c in curves))
    low = max(math.log10(min(float(c.min()) for c in curves)), top - DECADES_SHOWN)
    x = Axis(math.log10(float(f[0])), math.log10(float(f[-1])), True, "frequency, Hz")
    y = Axis(low - 0.05, top + 0.1, True, f"{response.label}, {response.unit}")
    names = (response.before_label or "before", "with the circuit")
    # a peak alone fills its frame: the other plots tell which line is which
    return tuple(_plot(box, x, y, [(f, c) for c in curves], names if band_hz is None else None))


def ring_down_plot(ring: RingDown, box: Box, before_label: str) -> tuple[Item, ...]:
    """Free decay over time, linear."""
    t = np.asarray(ring.time_s, dtype=float)
    curves = [np.asarray(c, dtype=float) for c in (ring.before, ring.after)]
    good = np.isfinite(t) & np.all([np.isfinite(c) for c in curves], axis=0)
    if good.sum() < 2 or not max(float(np.abs(c[good]).max()) for c in curves) > 0:
        return _nothing(box, "No decay to draw.")
    t, curves = t[good], [c[good] for c in curves]
    reach = 1.08 * max(float(np.abs(c).max()) for c in curves)
    x = Axis(float(t[0]), float(t[-1]), False, "time, s")
    names = (before_label or "before", "with the circuit")
    factor, unit = _readable(ring.unit, reach)
    curves, reach = [factor * c for c in curves], factor * reach
    if max(_swings(c) for c in curves) <= MOST_SWINGS:
        y = Axis(-reach, reach, False, f"output, {unit}")
        return tuple(_plot(box, x, y, [(t, c) for c in curves], names))
    y = Axis(0.0, reach, False, f"swing of the output, {unit} peak")
    return tuple(_plot(box, x, y, [_envelope(t, c) for c in curves], names))


def _readable(unit: str, largest: float) -> tuple[float, str]:
    """A factor and a unit in which small motions are not a row of zeros."""
    if unit == "m":
        for factor, name in ((1e3, "mm"), (1e6, "µm")):
            if largest * factor >= 0.1:
                return factor, name
        return 1e9, "nm"
    return 1.0, unit


def _swings(curve: Array) -> int:
    """How often a decay changes sign."""
    return int(np.count_nonzero(np.diff(np.signbit(curve))))


def _envelope(t: Array, curve: Array) -> tuple[Array, Array]:
    """The local peaks of the magnitude: swings too dense to print one by one."""
    size = np.abs(curve)
    peaks = np.flatnonzero((size[1:-1] >= size[:-2]) & (size[1:-1] > size[2:])) + 1
    kept = np.concatenate(([0], peaks)) if len(peaks) else np.arange(len(t))
    return t[kept], size[kept]


def _plot(
    box: Box, x: Axis, y: Axis, curves: Sequence[tuple[Array, Array]], names: tuple[str, str] | None
) -> Iterator[Item]:
    frame = Box(box.left + 13.0, box.top + 4.4, box.right - 1.0, box.bottom - 7.4)
    if not (x.high > x.low and y.high > y.low):
        yield from _nothing(box, "Nothing to draw.")
        return
    yield from _axes(box, frame, x, y)
    for curve, dash, weight in ((curves[0], "dashed", "narrow"), (curves[1], "solid", "medium")):
        points = tuple(_points(frame, x, y, *curve))
        for run in runs(points, frame):
            yield Polyline(run, "figure", weight, dash)  # type: ignore[arg-type]
    if names:
        yield from _legend(frame, names)


def _points(frame: Box, x: Axis, y: Axis, abscissa: Array, curve: Array) -> Iterator[Point]:
    """Paper points; of many the extremes of each stretch, so that no peak is lost."""
    keep = _extremes(curve) if len(curve) > POINTS else range(len(curve))
    for k in keep:
        value = float(curve[k])
        if y.log:
            value = max(value, 10 ** (y.low - 1))
        yield (
            frame.left + x.share(float(abscissa[k])) * frame.width,
            frame.bottom - y.share(value) * frame.height,
        )


def _extremes(curve: Array) -> list[int]:
    kept: set[int] = {0, len(curve) - 1}
    for part in np.array_split(np.arange(len(curve)), POINTS // 2):
        kept |= {int(part[np.argmin(curve[part])]), int(part[np.argmax(curve[part])])}
    return sorted(kept)


def _axes(box: Box, frame: Box, x: Axis, y: Axis) -> Iterator[Item]:
    corners = ((frame.left, frame.top), (frame.right, frame.top), (frame.right, frame.bottom),
               (frame.left, frame.bottom))  # fmt: skip
    yield Polygon(corners, "figure", "narrow")
    free = frame.left - 99.0
    for value, told in x.ticks():
        at = frame.left + x.share(value) * frame.width
        yield Line((at, frame.bottom), (at, frame.bottom - 1.4), "figure", "fine")
        half = text_width_mm(told, SIZE) / 2
        if told and at - half > free and at + half <= box.right:
            yield Text((at, frame.bottom + 2.9), told, SIZE, "figure", "middle")
            free = at + half + 1.5
    lowest = frame.bottom + 1.0
    for value, told in y.ticks():
        at = frame.bottom - y.share(value) * frame.height
        yield Line((frame.left, at), (frame.left + 1.4, at), "figure", "fine")
        if told and at < lowest - 0.2:
            yield Text((frame.left - 1.0, at + 0.36 * SIZE), told, SIZE, "figure", "end")
            lowest = at - 1.25 * SIZE
    label = fit(x.label, SIZE, frame.width)
    yield Text(((frame.left + frame.right) / 2, frame.bottom + 6.2), label, SIZE, "figure", "middle")
    yield Text((box.left, box.top + 2.4), fit(y.label, SIZE, box.width), SIZE, "figure")


def _legend(frame: Box, names: tuple[str, str]) -> Iterator[Item]:
    wide = max(text_width_mm(n, SIZE) for n in names)
    left = frame.right - wide - 11.0
    for n, (name, dash, weight) in enumerate(zip(names, ("dashed", "solid"), ("narrow", "medium"), strict=True)):
        y = frame.top + 3.4 + 1.35 * SIZE * n
        yield Line((left, y - 0.8), (left + 8.0, y - 0.8), "figure", weight, dash)  # type: ignore[arg-type]
        yield Text((left + 9.5, y), name, SIZE, "figure", clear=True)


def _nothing(box: Box, told: str) -> tuple[Item, ...]:
    return (Text((box.left, (box.top + box.bottom) / 2), told, SIZE, "figure"),)


def _decades(low: float, high: float) -> list[tuple[float, str]]:
    ticks: list[tuple[float, str]] = []
    if high - low < 0.5:  # a narrow band reads better in even steps
        step = _step(10.0**high - 10.0**low)
        first, last = math.ceil(10.0**low / step), math.floor(10.0**high / step)
        return [(k * step, words.plain(k * step)) for k in range(first, last + 1)]
    labelled = (1.0, 2.0, 5.0) if high - low < 2.5 else (1.0,)
    for decade in range(math.floor(low), math.ceil(high) + 1):
        for m in range(1, 10):
            at = decade + math.log10(m)
            if low - 1e-9 <= at <= high + 1e-9:
                value = m * 10.0**decade
                ticks.append((value, _power(m, decade) if float(m) in labelled else ""))
    return ticks


def _power(m: int, decade: int) -> str:
    if -2 <= decade <= 4:
        return words.plain(m * 10.0**decade)
    return words.power_of_ten(m, decade)


def _step(span: float) -> float:
    raw = span / 5
    base = 10.0 ** math.floor(math.log10(raw))
    return next(k * base for k in (1, 2, 5, 10) if k * base >= raw - 1e-12 * base)
