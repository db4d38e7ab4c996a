"""Damping each mode would get with the patch starting at x, and the damping its target needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from app.drawing.axis import XScale, nice_step, tick_text, ticks
from app.drawing.ink import Align, Ink, fitting, hatch, polygon, rect_path, text_width
from app.drawing.use_strip import paint_use, use_titles
from app.drawing.view_model import FLAT, Array, DrawingView, StripView
from app.theme import look as looks
from core.units import words

TITLES = ("Damping each mode would get with {} starting at x", "Damping with {} starting at x", "Damping with {} at x")
MOST_ABOVE = 3.0
"""A target further above the curves than this many times their range stands at the upper edge with an arrow."""


WORKING = "Working it out ..."
OLD = 0.3
"""Opacity of the curves of a layout of before."""


@dataclass(frozen=True)
class DampingScale:
    """The damping scale of a strip in per cent: it stands on the inherent damping, or on the least damping
    where a circuit takes some away."""

    low: float
    high: float
    step: float

    def y(self, rect: QRectF, percent: float) -> float:
        """Height in `rect` of a damping ratio in per cent."""
        return rect.bottom() - rect.height() * (percent - self.low) / (self.high - self.low)

    def ys(self, rect: QRectF, percent: Array) -> Array:
        """Heights in `rect` of damping ratios in per cent, of the shape of `percent`."""
        return rect.bottom() - rect.height() * (percent - self.low) / (self.high - self.low)


def damping_scale(strip: StripView, height_px: float) -> DampingScale:
    """The scale that suits what the strip holds, with the targets that are near enough."""
    good = 100.0 * strip.zeta[np.isfinite(strip.zeta)]
    parts = max(2, int(height_px // 26))
    if not good.size or good.max() <= 0:
        return DampingScale(0.0, 1.0, nice_step(1.0, parts))
    inherent = 100.0 * strip.inherent
    least, most = float(good.min()), float(good.max())
    low = inherent if least >= inherent * (1.0 - FLAT) else min(least, inherent)
    high = most
    if most - low <= FLAT * most:
        high = 1.6 * most if most > 0 else low + 1.0
    for _, zeta, _ in strip.needed:
        if 100.0 * zeta - low <= (1.0 + MOST_ABOVE) * (high - low):
            high = max(high, 100.0 * zeta)
    high += 0.08 * (high - low)
    return DampingScale(low, high, nice_step(high - low, parts))


def paint_strip_ground(
    painter: QPainter, caption: QRectF, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink
) -> None:
    """Everything but strain nodes and marker: it changes only when the strip does."""
    look = ink.look
    painter.fillRect(rect, look.panel)
    _paint_caption(painter, caption, view, ink)
    strip = view.strip
    if strip is None:
        painter.setPen(ink.pen(look.line))
        painter.drawRect(rect)
        painter.setPen(ink.pen(look.faint_text))
        text = _empty(view)
        painter.drawText(rect, Align.AlignCenter, text)
        return
    if view.strip_is_old:
        painter.setOpacity(OLD)
    _paint_not_allowed(painter, rect, strip, scale, ink)
    if strip.of_use is not None:
        paint_use(painter, rect, view, strip, scale, ink)
    else:
        _paint_scale(painter, rect, strip, ink, lowest=not view.with_strain)
        _paint_needed(painter, rect, view, strip, scale, ink)
        _paint_curves(painter, rect, view, strip, scale, ink)
    painter.setOpacity(1.0)
    painter.setPen(ink.pen(look.line))
    painter.drawRect(rect)


def _paint_caption(painter: QPainter, caption: QRectF, view: DrawingView, ink: Ink) -> None:
    """The heading, and at its right where the modes asked for have their best; neither over the other."""
    font, small = ink.font(12), ink.font(11, bold=True)
    room = caption.width() + 40.0
    strip = view.strip
    driven = view.use != "damp" if strip is None else strip.of_use is not None
    wordings_of_best = [WORKING, ""] if view.strip_is_old else [""] if driven else _best_wordings(view)
    best = fitting(small, wordings_of_best, 0.55 * room)
    wordings = use_titles(view.use if strip is None else strip.use) if driven else TITLES
    titles = [title.format("the patch" if view.selected is None else view.selected.id) for title in wordings]
    title = fitting(font, titles, room - text_width(small, best) - 14.0)
    painter.setFont(font)
    painter.setPen(ink.pen(ink.look.text))
    painter.drawText(caption, Align.AlignLeft | Align.AlignVCenter, title)
    painter.setFont(small)
    painter.setPen(ink.pen(ink.look.faint_text))
    painter.drawText(caption.adjusted(0, 0, 40, 0), Align.AlignRight | Align.AlignVCenter, best)


def _best_wordings(view: DrawingView) -> list[str]:
    """Where the modes asked for have their best allowed place, from the longest wording to none."""
    strip = view.strip
    if strip is None or len(strip.x_start_m) < 2:
        return [""]
    told, flat = [], []
    for mode in view.asked:
        if mode > strip.zeta.shape[1]:
            continue
        best = strip.best(mode)
        if best is not None:
            told.append((mode, words.millimetres(float(strip.x_start_m[best]))))
        elif strip.is_flat(mode):
            flat.append(mode)
    if flat and not told:
        return [f"mode {flat[0]} gains nothing anywhere", ""]
    if not told:
        return [""]
    long = " \N{MIDDLE DOT} ".join(f"best for mode {mode}: start at {at}" for mode, at in told)
    short = " \N{MIDDLE DOT} ".join(f"best {mode}: {at}" for mode, at in told)
    held = [strip.held[mode - 1] for mode, _ in told if mode <= len(strip.held) and strip.held[mode - 1]]
    why = [f"{long}; {held[0]}"] if held else []
    return [*why, long, short, f"best {told[0][0]}: {told[0][1]}", ""]


def _empty(view: DrawingView) -> str:
    if view.selected is None:
        return "Add a patch to see where it would work best."
    return WORKING if view.modes and not view.stale else "Waits for a layout without problems."


def _paint_not_allowed(painter: QPainter, rect: QRectF, strip: StripView, scale: XScale, ink: Ink) -> None:
    """Grey with hatching where the package may not start."""
    for start, end in blocked_stretches(strip):
        area = QRectF(scale.px(start), rect.top(), scale.px(end) - scale.px(start), rect.height())
        area = area.intersected(rect)
        painter.fillRect(area, looks.faded(ink.look.strong_line, 0.16))
        hatch(painter, rect_path(area), ink.pen(looks.faded(ink.look.strong_line, 0.35)), 8.0)


def blocked_stretches(strip: StripView) -> list[tuple[float, float]]:
    """Stretches of start positions that are not allowed, out to half a step beyond their samples."""
    x, blocked = strip.x_start_m, ~strip.allowed
    if len(x) < 2:
        return []
    edges = np.diff(np.concatenate([[0], blocked.astype(int), [0]]))
    starts, ends = np.nonzero(edges == 1)[0], np.nonzero(edges == -1)[0] - 1
    half = 0.5 * float(x[1] - x[0])
    return [(float(x[a]) - half, float(x[b]) + half) for a, b in zip(starts, ends, strict=True)]


def _paint_scale(painter: QPainter, rect: QRectF, strip: StripView, ink: Ink, *, lowest: bool) -> None:
    """The damping scale; under the `lowest` strip the strain nodes are told, so that its floor is named above its number."""
    shown = damping_scale(strip, rect.height())
    named = shown.low == 100.0 * strip.inherent and shown.low != 0.0
    taken = 31.0 if named and lowest else 18.0
    painter.setFont(ink.font(11))
    for value in ticks(shown.low, shown.high, shown.step):
        y = float(shown.y(rect, value))
        painter.setPen(ink.pen(ink.look.line))
        painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
        painter.setPen(ink.pen(ink.look.faint_text))
        box = QRectF(rect.left() - 60, y - 8, 54, 16)
        if y < rect.bottom() - taken:  # the floor's own number stands there
            painter.drawText(box, Align.AlignRight | Align.AlignVCenter, f"{tick_text(value, shown.step)} %")
    low = "0" if shown.low == 0.0 else words.percent(0.01 * shown.low)
    box = QRectF(rect.left() - 72, rect.bottom() - 13, 66, 16)
    painter.drawText(box, Align.AlignRight | Align.AlignVCenter, low)
    if named:
        painter.drawText(box.translated(0, -13 if lowest else 13), Align.AlignRight | Align.AlignVCenter, "inherent")


def _paint_needed(
    painter: QPainter, rect: QRectF, view: DrawingView, strip: StripView, scale: XScale, ink: Ink
) -> None:
    """A dotted line at the damping that each target needs, its words under it or over it where they hide nothing; one
    further up is told at the upper edge."""
    shown = damping_scale(strip, rect.height())
    font = ink.font(11)
    lines: dict[tuple[float, str], list[int]] = {}
    for mode, zeta, told in strip.needed:
        lines.setdefault((round(100.0 * zeta, 3), told), []).append(mode)
    row = 0
    told_at: list[QRectF] = []
    highest = max((percent for percent, _ in lines if percent <= shown.high), default=0.0)
    for (percent, told), modes in lines.items():
        above = percent > shown.high
        y = rect.top() if above else float(shown.y(rect, percent))
        alone = ink.look.mode(modes[0]) if len(lines) > 1 else ink.look.text
        painter.setPen(ink.pen(alone, 1.0, (1.0, 3.0)))
        if not above:
            painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
        where = f" on mode {', '.join(map(str, modes))}" if len(lines) > 1 else ""
        text = f"{told}{where}"
        reach = "" if _is_reached(strip, modes, percent) else f": no place reaches it{_together(strip, modes, percent)}"
        arrow = " \N{UPWARDS ARROW}" if above else ""
        text = fitting(font, (f"{text}{reach}{arrow}", text), rect.width() - 12)
        wide = text_width(font, text) + 6
        # of several lines the upper one has its words over it, where those of the next do not reach
        beside = (y - 16, y + 1) if len(lines) > 1 and percent == highest else (y + 1, y - 16)
        tops = [rect.top() + 2 + 16 * row] if above else [top for top in beside if rect.top() <= top <= rect.bottom() - 15]
        places = [QRectF(left, top, wide, 15) for left in (rect.right() - wide - 4, rect.left() + 4) for top in tops]
        apart = [one for one in places if not any(one.intersects(other) for other in told_at)] or places
        box = next((one for one in apart if not _hides_a_best(one, rect, shown, view, strip, scale)), apart[0])
        told_at.append(box)
        row += above
        painter.fillRect(box, looks.faded(ink.look.panel, 0.85))
        painter.setFont(font)
        painter.setPen(ink.pen(alone))
        painter.drawText(box, Align.AlignCenter, text)


def _hides_a_best(
    box: QRectF, rect: QRectF, shown: DampingScale, view: DrawingView, strip: StripView, scale: XScale
) -> bool:
    """Whether words in `box` would cover the disc at a mode's best place."""
    for number in range(1, min(strip.zeta.shape[1], view.modes_shown) + 1):
        best = strip.best(number)
        if best is not None:
            at = QPointF(scale.px(strip.x_start_m[best]), shown.y(rect, 100.0 * strip.zeta[best, number - 1]))
            if box.adjusted(-9, -9, 9, 9).contains(at):
                return True
    return False


def _together(strip: StripView, modes: list[int], percent: float) -> str:
    """What is added where some mode gets that damping somewhere, but never all of them at one place."""
    if not any(_is_reached(strip, [mode], percent) for mode in modes):
        return ""
    return " on both modes" if len(modes) == 2 else " on all modes"


def _is_reached(strip: StripView, modes: list[int], percent: float) -> bool:
    """Whether one allowed place gives every one of the modes that damping."""
    columns = [mode - 1 for mode in modes if mode <= strip.zeta.shape[1]]
    good = strip.allowed & (100.0 * strip.zeta[:, columns] >= percent).all(axis=1)
    return bool(good.any())


def _paint_curves(
    painter: QPainter, rect: QRectF, view: DrawingView, strip: StripView, scale: XScale, ink: Ink
) -> None:
    """One curve per mode in its colour and dash, with its number at its best allowed place."""
    shown = damping_scale(strip, rect.height())
    x = scale.px_array(strip.x_start_m)
    painter.save()
    painter.setClipRect(rect)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    spots = []
    for index in reversed(range(min(strip.zeta.shape[1], view.modes_shown))):
        number = index + 1
        colour = ink.look.mode(number)
        wide = 2.0 if number in view.asked else 1.0
        painter.setPen(ink.pen(colour, wide, ink.look.mode_dash(number)))
        good = np.isfinite(strip.zeta[:, index])
        painter.drawPolyline(polygon(x[good], shown.ys(rect, 100.0 * strip.zeta[good, index])))
        best = strip.best(number)
        if best is not None:
            y = float(shown.y(rect, 100.0 * strip.zeta[best, index]))
            spots.append((number, float(x[best]), y, colour))
    placed: list[QRectF] = []
    for number, at, y, colour in reversed(spots):
        _paint_best(painter, rect, number, at, y, colour, placed, ink, filled=number in view.asked)
    painter.restore()


def _paint_best(
    painter: QPainter,
    rect: QRectF,
    number: int,
    x: float,
    y: float,
    colour: QColor,
    placed: list[QRectF],
    ink: Ink,
    *,
    filled: bool,
) -> None:
    """A numbered disc at the best allowed place of a mode (full where it is asked for), moved aside where
    discs would cover each other."""
    x = min(max(x, rect.left() + 9), rect.right() - 9)
    y = min(max(y, rect.top() + 9), rect.bottom() - 9)
    disc = QRectF(x - 8, y - 8, 16, 16)
    while any(disc.intersects(other) for other in placed) and disc.right() + 16 < rect.right():
        disc.translate(17, 0)
    placed.append(disc)
    painter.setPen(ink.pen(colour))
    painter.setBrush(colour if filled else ink.look.panel)
    painter.drawEllipse(disc)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(ink.pen(ink.look.panel if filled else colour))
    painter.setFont(ink.font(11, bold=True))
    painter.drawText(disc, Align.AlignCenter, str(number))


def paint_strip_nodes(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """Strain nodes as ticks on the lower edge, one row per mode, with the mode's number below."""
    painter.setFont(ink.font(11))
    taken: list[tuple[float, float]] = []
    for mode in view.modes:
        colour = ink.look.mode(mode.colour)
        painter.setPen(ink.pen(colour, 2.0))
        for node in mode.strain_nodes_m.tolist():
            at = scale.px(node)
            painter.drawLine(QLineF(at, rect.bottom() - 3, at, rect.bottom() + 5))
            if all(abs(at - other) > 11 for other, _ in taken):
                painter.drawText(
                    QRectF(at - 8, rect.bottom() + 5, 16, 14), Align.AlignCenter, str(mode.number)
                )
                taken.append((at, 0.0))
    if any(len(mode.strain_nodes_m) for mode in view.modes):
        painter.setPen(ink.pen(ink.look.faint_text))
        box = QRectF(4, rect.bottom() + 4, rect.left() - 8, 16)
        painter.drawText(box, Align.AlignLeft | Align.AlignVCenter, "strain nodes")


def paint_strip_marker(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """The line of the present start, its head inside the strip: over it stands what the strip is."""
    patch = view.selected
    if patch is None:
        return
    look, at = ink.look, scale.px(patch.x_a_m)
    painter.setPen(ink.pen(look.accent, 1.0))
    painter.drawLine(QLineF(at, rect.top(), at, rect.bottom()))
    painter.setBrush(look.accent)
    painter.drawPolygon([QPointF(at - 6, rect.top()), QPointF(at + 6, rect.top()), QPointF(at, rect.top() + 8)])
    painter.setBrush(Qt.BrushStyle.NoBrush)
