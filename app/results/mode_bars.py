"""The damping of every shown mode, before and after, as bars with their numbers.

A bar's colour is its mode's; its number stands beside it. The scale is common to all modes and
written under them; it may grow while a hand drags, but shrinks only when the drag ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QHelpEvent, QPainter, QPixmap, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.drawing.view_model import LATER
from app.fields.plain import plain
from app.theme import look
from core.predict.mode_result import ModeResult, TorsionMode, names_told
from core.predict.report.torsion_text import reach
from core.units import words

HEAD_HEIGHT = 18
ROW_HEIGHT = 27
FOOT_HEIGHT = 18
_DISC, _GAP = 24.0, 7.0
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)


class ModeBars(QWidget):
    """One row a mode: frequency shorted and open, bar, damping before and after, K², peak change.

    Modes asked for are tinted and carry a tick at the damping that their target needs.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("modeBars")
        self.setAccessibleName("Damping on each mode")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._modes: tuple[ModeResult, ...] = ()
        self._cells: tuple[Cells, ...] = ()
        self._columns_of: tuple[object, ...] = ()
        self._edges = _Columns(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        self._scale = _STEPS[0]
        self._stale = False
        self._names: tuple[str, ...] = ()
        self._twists: tuple[tuple[str, str], ...] = ()
        self._bands: tuple[tuple[float, float, float], ...] = ()
        self._asked: tuple[int, ...] = ()
        self._needed: dict[int, tuple[float, str]] = {}
        self._ground: QPixmap | None = None
        self._ground_of: tuple[object, ...] = ()
        look.look_changed.connect(self.update)

    def show_modes(
        self, modes: tuple[ModeResult, ...], twists: tuple[TorsionMode, ...] | None = (), *, stale: bool, dragging: bool
    ) -> None:
        """Draw these modes, and under them those that twist among them (None: not yet, for they cost a solution of their own);
        `stale` greys them, `dragging` keeps the scale from shrinking, and the names from being worked out anew."""
        if twists is None:
            told = tuple((name, LATER) for name, _ in self._twists)
        else:
            told = tuple((one.name, f"{words.frequency(one.f_hz)}, {reach(one)}") for one in twists)
        if (len(modes), len(told)) != (len(self._modes), len(self._twists)):
            self._modes, self._twists = modes, told
            self.updateGeometry()
        self._modes, self._stale, self._twists = modes, stale, told
        if not dragging or len(self._names) != len(modes):
            self._names = names_told(modes, twists or ())
        self._cells = tuple(row_cells(mode, name) for mode, name in zip(modes, self._names, strict=True))
        needed = _scale_for(modes, self._needed)
        self._scale = max(self._scale, needed) if dragging else needed
        self.update()

    def show_asked(self, modes: tuple[int, ...], needed: dict[int, tuple[float, str]]) -> None:
        """Mark `modes`; `needed` gives of some the damping ratio their target needs, and that in words."""
        if (modes, needed) != (self._asked, self._needed):
            self._asked, self._needed = modes, needed
            self._scale = _scale_for(self._modes, needed)
            self.update()

    def show_bands(self, bands: tuple[tuple[float, float, float], ...]) -> None:
        """P10, P50 and P90 of each mode's damping under tolerances, drawn across its bar; () for none."""
        if bands != self._bands:
            self._bands = bands
            self.update()

    def row_texts(self, mode: ModeResult) -> tuple[str, str, str]:
        """A mode in words: frequencies, damping, and what else its row and its tool tip say."""
        if isnan(mode.zeta):
            damping = "unstable"
        else:
            damping = words.zeta_change(mode.zeta_before, mode.zeta)
        change = mode.peak_change_db
        peak = "no peak here" if change is None else f"peak {words.decibel_and_percent(change)}"
        energy = words.energy_share(mode.ceramic_share)
        second = f"K² {words.coupling(mode.k2)} · strain energy {energy} · {peak}"
        frequencies = f"{words.frequency(mode.f_short_hz)} shorted, {words.frequency(mode.f_open_hz)} open"
        return frequencies, damping, second

    def sentences(self) -> list[str]:
        """The rows in words, for a reader of the screen and for the accessible description."""
        rows = [f"Mode {m.number}: {', '.join(self.row_texts(m))}" for m in self._modes]
        return rows + [f"{name}: the part twists, {text}" for name, text in self._twists]

    # ---- Qt ------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(330, HEAD_HEIGHT + ROW_HEIGHT * len(self._modes) + FOOT_HEIGHT * (1 + len(self._twists)))

    def minimumSizeHint(self) -> QSize:
        return QSize(250, self.sizeHint().height())

    def paintEvent(self, event: QEvent) -> None:
        with QPainter(self) as painter:
            columns = self._columns(painter)
            painter.drawPixmap(0, 0, self._ground_picture(columns))
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            if self._stale:
                painter.setOpacity(0.55)
            for row, (mode, cells) in enumerate(zip(self._modes, self._cells, strict=True)):
                self._paint_row(painter, mode, cells, HEAD_HEIGHT + row * ROW_HEIGHT, columns)
            self._paint_twists(painter, HEAD_HEIGHT + len(self._modes) * ROW_HEIGHT)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            row = int((event.pos().y() - HEAD_HEIGHT) // ROW_HEIGHT)
            text = _explanation(self._modes[row]) if 0 <= row < len(self._modes) else ""
            if 0 <= row < len(self._bands):
                values = words.three(*(words.percent(v) for v in self._bands[row]))
                text += f"\nunder tolerances P10 / P50 / P90 {values} (whisker)"
            QToolTip.showText(event.globalPos(), plain(text), self)
            return True
        return super().event(event)

    # ---- painting ------------------------------------------------------------------------

    def _columns(self, p: QPainter) -> _Columns:
        """Right edges of the columns, from the widest text of each; the bar takes what is left.

        Measured anew only when a text got longer or shorter: figures are all of one width.
        """
        lengths = tuple(
            tuple(len(text) for text in (c.shorted, c.opened, c.damping, c.k2, c.peak)) for c in self._cells
        )
        if self._columns_of != (self.width(), lengths):
            self._columns_of, self._edges = (self.width(), lengths), self._measured(p)
        return self._edges

    def _measured(self, p: QPainter) -> _Columns:
        plain_font, bold = look.font(12), look.font(12, bold=True)

        def widest(font: QFont, texts: list[str]) -> float:
            p.setFont(font)
            return max((p.fontMetrics().horizontalAdvance(t) for t in texts), default=0) + 2.0

        cells = self._cells
        peak = widest(bold, [c.peak for c in cells] + ["peak"])
        k2 = widest(bold, [c.k2 for c in cells] + ["K² %"])
        damping = widest(bold, [c.damping for c in cells] + ["% critical"])
        hertz = widest(bold, [c.shorted for c in cells])
        opened = widest(plain_font, [c.opened for c in cells])
        right = float(self.width())
        k2_right = right - peak - _GAP
        damping_right = k2_right - k2 - _GAP
        hertz_right = _DISC + hertz
        bar_left, bar_right = hertz_right + opened + _GAP, damping_right - damping - _GAP
        if bar_right - bar_left < 20.0:  # too narrow for both frequencies: the tool tip has the open one
            bar_left = hertz_right + _GAP
        return _Columns(hertz_right, bar_left, bar_right, damping_right, k2_right, right)

    def _paint_head(self, p: QPainter, c: _Columns) -> None:
        p.setFont(look.font(11))
        p.setPen(look.current().faint_text)
        left = "Hz, shorted → open" if c.shows_open else "Hz, shorted"
        p.drawText(QRectF(_DISC, 0, c.bar_right, HEAD_HEIGHT), _LEFT, left)
        for text, right in (("% critical", c.damping), ("K² %", c.k2), ("peak", c.peak)):
            p.drawText(QRectF(right - 90, 0, 90, HEAD_HEIGHT), _RIGHT, text)

    def _ground_picture(self, columns: _Columns) -> QPixmap:
        """What stays while the values move: head, foot, discs, tints and empty bars."""
        now, ratio = look.current(), self.devicePixelRatioF()
        numbers = tuple(mode.number for mode in self._modes)
        needed = tuple(dict.fromkeys(text for _, text in self._needed.values()))
        key = (numbers, self._asked, needed, self._scale, self._stale, columns, now.name, ratio, self.width(), self.height())
        if self._ground is None or key != self._ground_of:
            made = QPixmap(self.size() * ratio)
            made.setDevicePixelRatio(ratio)
            made.fill(now.window)
            with QPainter(made) as painter:
                painter.setRenderHint(QPainter.RenderHint.Antialiasing)
                if self._stale:
                    painter.setOpacity(0.55)
                self._paint_head(painter, columns)
                for row, number in enumerate(numbers):
                    self._paint_disc(painter, number, HEAD_HEIGHT + row * ROW_HEIGHT, columns)
                self._paint_foot(painter, self.height() - FOOT_HEIGHT, needed)
            self._ground, self._ground_of = made, key
        return self._ground

    def _paint_disc(self, p: QPainter, number: int, top: float, c: _Columns) -> None:
        now = look.current()
        colour, asked = now.mode(number), number in self._asked
        if asked:
            p.fillRect(QRectF(-2, top, self.width() + 4, ROW_HEIGHT - 2.0), look.faded(colour, 0.10))
            p.fillRect(QRectF(0, top, 3, ROW_HEIGHT - 2.0), colour)
        disc = QRectF(5, top + 4, 17, 17)
        p.setPen(look.pen(colour, 1.0, self))
        p.setBrush(colour if asked else now.panel)
        p.drawEllipse(disc)
        p.setPen(now.panel if asked else colour)
        p.setFont(look.font(11, bold=True))
        p.drawText(disc, Qt.AlignmentFlag.AlignCenter, str(number))
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(now.line, 0.6))
        p.drawRoundedRect(_bar_area(top, c), 2, 2)

    def _paint_row(self, p: QPainter, mode: ModeResult, cells: Cells, top: float, c: _Columns) -> None:
        now = look.current()
        asked, tall = mode.number in self._asked, ROW_HEIGHT - 2.0
        area = _bar_area(top, c)
        self._paint_bar(p, mode, area)
        if mode.number <= len(self._bands):
            self._paint_band(p, self._bands[mode.number - 1], area)
        self._paint_tick(p, mode, area)
        p.setPen(now.text)
        p.setFont(look.font(12, bold=asked))
        p.drawText(QRectF(_DISC, top, c.hertz - _DISC, tall), _RIGHT, cells.shorted)
        p.drawText(QRectF(c.k2 - 70, top, 70, tall), _RIGHT, cells.k2)
        p.drawText(QRectF(c.peak - 80, top, 80, tall), _RIGHT, cells.peak)
        p.setFont(look.font(12, bold=True))
        p.setPen(now.danger if isnan(mode.zeta) else now.text)
        p.drawText(QRectF(c.damping - 130, top, 130, tall), _RIGHT, cells.damping)
        if c.shows_open:
            p.setFont(look.font(12))
            p.setPen(now.faint_text)
            p.drawText(QRectF(c.hertz, top, c.bar_left - c.hertz, tall), _LEFT, cells.opened)

    def _paint_twists(self, p: QPainter, top: float) -> None:
        """A line for each mode that twists: its frequency, and what patches do to it."""
        now, left = look.current(), _DISC + 18.0
        for row, (name, text) in enumerate(self._twists):
            y = top + row * FOOT_HEIGHT
            p.setPen(now.text)
            p.setFont(look.font(11, bold=True))
            p.drawText(QRectF(5, y, left - 5, FOOT_HEIGHT), _LEFT, name)
            p.setPen(now.faint_text)
            p.setFont(look.font(11))
            room = QRectF(left - 12, y, self.width() - left + 12, FOOT_HEIGHT)
            p.drawText(room, _LEFT, p.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(room.width())))

    def _paint_tick(self, p: QPainter, mode: ModeResult, area: QRectF) -> None:
        """A stroke at the damping the target needs; with an arrow where it lies past the scale."""
        if mode.number not in self._needed:
            return
        share = self._needed[mode.number][0] / self._scale
        x = area.left() + min(share, 1.0) * area.width()
        p.setPen(look.pen(look.current().text, 2.0, self))
        p.drawLine(QPointF(x, area.top() - 4), QPointF(x, area.bottom() + 4))
        if share > 1.0:
            p.drawLine(QPointF(x, area.center().y()), QPointF(x + 5, area.center().y()))

    def _paint_bar(self, p: QPainter, mode: ModeResult, area: QRectF) -> None:
        look_now = look.current()
        p.setPen(Qt.PenStyle.NoPen)
        if isnan(mode.zeta):
            _paint_unstable(p, area)
            return
        colour = look_now.mode(mode.number)
        before, after = (min(z / self._scale, 1.0) * area.width() for z in (mode.zeta_before, mode.zeta))
        p.setBrush(colour)
        p.drawRect(QRectF(area.left(), area.top(), after, area.height()))
        p.setBrush(look_now.before)
        p.drawRect(QRectF(area.left(), area.top(), min(before, after), area.height()))
        if before > after:  # the circuit took damping away: the loss stays visible as an outline
            p.setBrush(Qt.BrushStyle.NoBrush)
            p.setPen(look.pen(look_now.before, 1.0, self))
            p.drawRect(QRectF(area.left() + after, area.top(), before - after, area.height()))

    def _paint_band(self, p: QPainter, band: tuple[float, float, float], area: QRectF) -> None:
        """A whisker under the bar: P10 to P90 with a stroke at P50."""
        if any(isnan(v) for v in band):
            return
        low, middle, high = (area.left() + min(v / self._scale, 1.0) * area.width() for v in band)
        y = area.bottom() + 3.5
        p.setPen(look.pen(look.current().text, 1.0, self))
        p.drawLine(QPointF(low, y), QPointF(high, y))
        for x, half in ((low, 2.5), (middle, 2.5), (high, 2.5)):
            p.drawLine(QPointF(x, y - half), QPointF(x, y + half))

    def _paint_foot(self, p: QPainter, top: float, told: tuple[str, ...]) -> None:
        """What the ticks stand for, and how far the bars reach."""
        p.setPen(look.current().faint_text)
        p.setFont(look.font(11))
        box = QRectF(0, top, self.width(), FOOT_HEIGHT)
        end = f"bars to {words.significant(100 * self._scale, 1)} %"
        p.drawText(box, _RIGHT, end)
        if told:
            room = int(self.width() - p.fontMetrics().horizontalAdvance(end) - 10)
            text = "| " + ", ".join(told)
            p.drawText(box, _LEFT, p.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, room))


@dataclass(frozen=True)
class _Columns:
    """Edges of the columns, pixels."""

    hertz: float
    bar_left: float
    bar_right: float
    damping: float
    k2: float
    peak: float

    @property
    def shows_open(self) -> bool:
        return self.bar_left - self.hertz > 2.0 * _GAP


def _bar_area(top: float, c: _Columns) -> QRectF:
    return QRectF(c.bar_left, top + 8.0, max(c.bar_right - c.bar_left, 10.0), 9.0)


@dataclass(frozen=True)
class Cells:
    """The texts of a row; units stand in the head."""

    shorted: str
    opened: str
    damping: str
    k2: str
    peak: str


def row_cells(mode: ModeResult, name: str = "") -> Cells:
    """What a row says, its name before the frequency where that is told."""
    change = mode.peak_change_db
    peak = "–" if change is None or isnan(mode.zeta) else words.amplitude_change(change)
    return Cells(
        f"{name} {words.frequency(mode.f_short_hz).removesuffix(' Hz')}".lstrip(),
        f" → {words.frequency(mode.f_open_hz).removesuffix(' Hz')}",
        words.zeta_change(mode.zeta_before, mode.zeta).removesuffix(" %"),
        words.coupling(mode.k2).removesuffix(" %").replace("under ", "<"),
        peak,
    )


def _scale_for(modes: tuple[ModeResult, ...], needed: dict[int, tuple[float, str]]) -> float:
    """A round end of the scale past every bar, and past the targets that are within three times of them."""
    values = [z for m in modes for z in (m.zeta, m.zeta_before) if not isnan(z)]
    largest = max(values, default=0.0)
    largest = max([largest, *(zeta for zeta, _ in needed.values() if zeta <= 3.0 * largest)])
    return next((step for step in _STEPS if step >= largest), _STEPS[-1])


def _paint_unstable(p: QPainter, area: QRectF) -> None:
    """A stop sign instead of a bar: an unstable mode has no damping to show."""
    look_now = look.current()
    p.setBrush(look_now.danger)
    p.drawRoundedRect(area, 2, 2)
    centre, r = area.center(), area.height() * 0.42
    p.setBrush(look_now.panel)
    corners = [(-1, -0.42), (-0.42, -1), (0.42, -1), (1, -0.42), (1, 0.42), (0.42, 1), (-0.42, 1), (-1, 0.42)]
    p.drawPolygon(QPolygonF([QPointF(centre.x() + x * r, centre.y() + y * r) for x, y in corners]))


def _explanation(mode: ModeResult) -> str:
    """The tool tip of a row: every number of the mode, with what it is a share of."""
    lines = [
        f"Mode {mode.number}, {mode.name}: {'bends along the span' if mode.name.startswith('B') else 'curves across the span'}",
        f"shorted {words.fine_frequency(mode.f_short_hz)}, open {words.fine_frequency(mode.f_open_hz)}",
        f"K² = {words.coupling(mode.k2)} of the squared shorted frequency, k_eff² = "
        f"{words.coupling(mode.k_eff2)}",
        f"strain energy: ceramic {words.energy_share(mode.ceramic_share)}, whole package "
        f"{words.energy_share(mode.package_share)} of the mode's"
        + (f", electrical {words.energy_share(mode.electric_share)}" if mode.electric_share > 0 else ""),
        f"inherent damping ratio {words.damping(mode.zeta_inherent)}",
    ]
    if mode.electrode_use is not None:
        lines.append(f"electrode use {words.significant(mode.electrode_use, 2)} of the ceiling of 1")
    for pole in mode.poles:
        lines.append(
            f"pole at {words.frequency(pole.frequency_hz)}, damping ratio "
            f"{words.damping(pole.damping_ratio)}, {words.share(pole.mechanical_share)} mechanical"
        )
    if len(mode.poles) > 1:
        lines.append("The lowest of these poles counts.")
    return "\n".join(lines)
