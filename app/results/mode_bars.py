"""The damping of every shown mode, before and after, as bars with their numbers.

A bar's colour is its mode's; its number stands beside it. The scale is common to all modes and
written under them; it may grow while a hand drags, but shrinks only when the drag ends.
"""

from __future__ import annotations

from math import isnan

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QHelpEvent, QPainter, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.fields.plain import plain
from app.theme import look
from core.predict.prediction import ModeResult
from core.units import words

ROW_HEIGHT = 46
SCALE_HEIGHT = 20
_STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)


class ModeBars(QWidget):
    """One row a mode: frequency, bar, damping before and after, K², strain energy, peak change."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("modeBars")
        self.setAccessibleName("Damping on each mode")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._modes: tuple[ModeResult, ...] = ()
        self._scale = _STEPS[0]
        self._stale = False
        self._bands: tuple[tuple[float, float, float], ...] = ()
        look.look_changed.connect(self.update)

    def show_modes(self, modes: tuple[ModeResult, ...], *, stale: bool, dragging: bool) -> None:
        """Draw these modes; `stale` greys them, `dragging` keeps the scale from shrinking."""
        if len(modes) != len(self._modes):
            self._modes = modes
            self.updateGeometry()
        self._modes, self._stale = modes, stale
        needed = _scale_for(modes)
        self._scale = max(self._scale, needed) if dragging else needed
        self.update()

    def show_bands(self, bands: tuple[tuple[float, float, float], ...]) -> None:
        """P10, P50 and P90 of each mode's damping under tolerances, drawn across its bar; () for none."""
        if bands != self._bands:
            self._bands = bands
            self.update()

    def row_texts(self, mode: ModeResult) -> tuple[str, str, str]:
        """What a row says: frequency, damping, and the second line."""
        if isnan(mode.zeta):
            damping = "unstable"
        else:
            damping = words.zeta_change(mode.zeta_before, mode.zeta)
        change = mode.peak_change_db
        peak = "no peak here" if change is None else f"peak {words.decibel_and_percent(change)}"
        energy = words.energy_share(mode.ceramic_share)
        second = f"K² {words.coupling(mode.k2)} · strain energy {energy} · {peak}"
        return words.frequency(mode.f_short_hz), damping, second

    def sentences(self) -> list[str]:
        """The rows in words, for a reader of the screen and for the accessible description."""
        return [f"Mode {m.number}: {', '.join(self.row_texts(m))}" for m in self._modes]

    # ---- Qt ------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(330, ROW_HEIGHT * len(self._modes) + SCALE_HEIGHT)

    def minimumSizeHint(self) -> QSize:
        return QSize(250, self.sizeHint().height())

    def paintEvent(self, event: QEvent) -> None:
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            if self._stale:
                painter.setOpacity(0.55)
            for row, mode in enumerate(self._modes):
                self._paint_row(painter, mode, row * ROW_HEIGHT)
            self._paint_scale(painter, len(self._modes) * ROW_HEIGHT)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            row = int(event.pos().y() // ROW_HEIGHT)
            text = _explanation(self._modes[row]) if row < len(self._modes) else ""
            if row < len(self._bands):
                values = words.three(*(words.percent(v) for v in self._bands[row]))
                text += f"\nunder tolerances P10 / P50 / P90 {values} (whisker)"
            QToolTip.showText(event.globalPos(), plain(text), self)
            return True
        return super().event(event)

    # ---- painting ------------------------------------------------------------------------

    def _bar_area(self, top: float) -> QRectF:
        left, right = 92.0, self.width() - 122.0
        return QRectF(left, top + 8.0, max(right - left, 20.0), 12.0)

    def _paint_row(self, p: QPainter, mode: ModeResult, top: float) -> None:
        look_now = look.current()
        colour = look_now.mode(mode.number)
        frequency, damping, second = self.row_texts(mode)
        p.setFont(look.font(13, bold=True))
        p.setPen(colour)
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        p.drawText(QRectF(0, top, 20, 28), left, str(mode.number))
        p.setPen(look_now.text)
        p.setFont(look.font(12))
        p.drawText(QRectF(18, top, 74, 28), left, frequency)
        self._paint_bar(p, mode, self._bar_area(top))
        if mode.number <= len(self._bands):
            self._paint_band(p, self._bands[mode.number - 1], self._bar_area(top))
        p.setFont(look.font(12, bold=True))
        p.setPen(look_now.danger if isnan(mode.zeta) else look_now.text)
        p.drawText(QRectF(self.width() - 118, top, 118, 28), right, damping)
        p.setFont(look.font(11))
        p.setPen(look_now.faint_text)
        metrics, room = p.fontMetrics(), self.width() - 18
        if metrics.horizontalAdvance(second) > room:
            second = second.replace("strain energy", "energy")
        second = metrics.elidedText(second, Qt.TextElideMode.ElideRight, room)
        p.drawText(QRectF(18, top + 25, room, 16), left, second)

    def _paint_bar(self, p: QPainter, mode: ModeResult, area: QRectF) -> None:
        look_now = look.current()
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(look_now.line, 0.6))
        p.drawRoundedRect(area, 2, 2)
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

    def _paint_scale(self, p: QPainter, top: float) -> None:
        look_now = look.current()
        area = self._bar_area(top - 8.0)
        p.setPen(look_now.faint_text)
        p.setFont(look.font(11))
        box = QRectF(area.left(), top, area.width(), SCALE_HEIGHT - 4)
        p.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, "0")
        end = f"{words.significant(100 * self._scale, 1)} %"
        p.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, end)
        p.setPen(look.pen(look_now.line, 1.0, self))
        p.drawLine(QPointF(area.left(), top), QPointF(area.right(), top))


def _scale_for(modes: tuple[ModeResult, ...]) -> float:
    values = [z for m in modes for z in (m.zeta, m.zeta_before) if not isnan(z)]
    largest = max(values, default=0.0)
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
        f"Mode {mode.number}",
        f"shorted {words.fine_frequency(mode.f_short_hz)}, open {words.fine_frequency(mode.f_open_hz)}",
        f"K² = {words.coupling(mode.k2)} of the squared shorted frequency, k_eff² = "
        f"{words.coupling(mode.k_eff2)}",
        f"strain energy: ceramic {words.energy_share(mode.ceramic_share)}, whole package "
        f"{words.energy_share(mode.package_share)} of the mode's",
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
