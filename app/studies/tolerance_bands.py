"""P10 to P90 of every mode's damping as bars, with what the nominal layout has."""

from __future__ import annotations

from math import isfinite

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.theme import look
from core.study.tolerance.tolerance import Band, ModeSpread
from core.units import words

ROW, HEAD = 52, 20
_STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class ToleranceBands(QWidget):
    """A row a mode; a click or the arrow keys choose the mode whose causes are shown."""

    chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("toleranceBands")
        self.setAccessibleName("Spread of the damping of each mode")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._modes: tuple[ModeSpread, ...] = ()
        self._nominal: tuple[float, ...] = ()
        self._chosen = 1
        self._faded = False
        look.look_changed.connect(self.update)

    @property
    def mode(self) -> int:
        return self._chosen

    def show_modes(self, modes: tuple[ModeSpread, ...], nominal: tuple[float, ...], *, faded: bool) -> None:
        """Draw these; `nominal` is each mode's predicted damping ratio."""
        if len(modes) != len(self._modes):
            self.updateGeometry()
        self._modes, self._nominal, self._faded = modes, nominal, faded
        self.setAccessibleDescription("\n".join(self.sentences()))
        self.update()

    def choose(self, mode: int) -> None:
        """Show the causes of this mode (from 1)."""
        if 1 <= mode <= max(len(self._modes), 1) and mode != self._chosen:
            self._chosen = mode
            self.chosen.emit(mode)
            self.update()

    def sentences(self) -> list[str]:
        """The rows in words."""
        return [f"Mode {m.number}: damping {three(m.zeta)}; {_second(m)}" for m in self._modes]

    # ---- Qt ------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(520, HEAD + ROW * len(self._modes))

    def minimumSizeHint(self) -> QSize:
        return QSize(360, self.sizeHint().height())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.choose(int((event.position().y() - HEAD) // ROW) + 1)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(Qt.Key(event.key()))
        if step is None:
            super().keyPressEvent(event)
        else:
            self.choose(self._chosen + step)

    def paintEvent(self, event: QEvent) -> None:
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            scale = self._scale()
            self._paint_scale(p, scale)
            if self._faded:
                p.setOpacity(0.6)
            for row, mode in enumerate(self._modes):
                self._paint_row(p, mode, HEAD + row * ROW, scale)

    # ---- painting ------------------------------------------------------------------------

    def _scale(self) -> float:
        tops = [m.zeta.p90 for m in self._modes if isfinite(m.zeta.p90)]
        top = max([*tops, *(z for z in self._nominal if isfinite(z))], default=0.0)
        return next((s for s in _STEPS if s >= 1.02 * top), _STEPS[-1])

    def _area(self, top: float) -> QRectF:
        left, right = 74.0, self.width() - 176.0
        return QRectF(left, top, max(right - left, 30.0), 12.0)

    def _paint_scale(self, p: QPainter, scale: float) -> None:
        now, area = look.current(), self._area(0.0)
        p.setFont(look.font(11))
        p.setPen(now.faint_text)
        box = QRectF(area.left(), 0, area.width(), HEAD - 4)
        p.drawText(box, _LEFT, "0")
        p.drawText(box, _RIGHT, f"{words.significant(100 * scale, 1)} %")
        p.drawText(QRectF(area.right(), 0, self.width() - area.right() - 6, HEAD - 4), _RIGHT, "P10 / P50 / P90")

    def _paint_row(self, p: QPainter, mode: ModeSpread, top: float, scale: float) -> None:
        now, colour = look.current(), look.current().mode(mode.number)
        if mode.number == self._chosen:
            p.setPen(look.pen(now.accent, 1.0, self) if self.hasFocus() else Qt.PenStyle.NoPen)
            p.setBrush(look.faded(now.line, 0.45))
            p.drawRoundedRect(QRectF(1, top + 1, self.width() - 2, ROW - 4), 4, 4)
        p.setFont(look.font(13, bold=True))
        p.setPen(colour)
        p.drawText(QRectF(8, top + 4, 64, 20), _LEFT, f"Mode {mode.number}")
        area = self._area(top + 9.0)
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(now.line, 0.6))
        p.drawRoundedRect(area, 2, 2)
        if isfinite(mode.zeta.p50):
            self._paint_band(p, mode, area, scale)
        p.setFont(look.font(12, bold=True))
        p.setPen(now.text)
        p.drawText(QRectF(area.right(), top + 4, self.width() - area.right() - 8, 20), _RIGHT, three(mode.zeta))
        p.setFont(look.font(11))
        p.setPen(now.faint_text)
        second = p.fontMetrics().elidedText(_second(mode), Qt.TextElideMode.ElideRight, self.width() - 84)
        p.drawText(QRectF(74, top + 26, self.width() - 82, 18), _LEFT, second)

    def _paint_band(self, p: QPainter, mode: ModeSpread, area: QRectF, scale: float) -> None:
        now, colour = look.current(), look.current().mode(mode.number)

        def at(value: float) -> float:
            return area.left() + min(value / scale, 1.0) * area.width()

        low, middle, high = (at(v) for v in (mode.zeta.p10, mode.zeta.p50, mode.zeta.p90))
        p.setBrush(colour)
        p.drawRect(QRectF(low, area.top(), max(high - low, 2.0), area.height()))
        p.setPen(look.pen(now.panel, 2.0, self))
        p.drawLine(QPointF(middle, area.top() + 1), QPointF(middle, area.bottom() - 1))
        if mode.number <= len(self._nominal) and isfinite(self._nominal[mode.number - 1]):
            x, y = at(self._nominal[mode.number - 1]), area.center().y()
            p.setPen(look.pen(now.text, 1.0, self))
            p.setBrush(now.panel)
            p.drawPolygon(QPolygonF([QPointF(x, y - 5), QPointF(x + 5, y), QPointF(x, y + 5), QPointF(x - 5, y)]))


def three(band: Band) -> str:
    """A damping band in per cent."""
    return words.three(*(words.percent(v) for v in (band.p10, band.p50, band.p90)))


def _second(m: ModeSpread) -> str:
    k2 = words.between(words.coupling(m.k2.p10), words.coupling(m.k2.p90))
    f = words.between(words.frequency(m.f_short_hz.p10), words.frequency(m.f_short_hz.p90))
    text = f"K² {k2} · {f}"
    if m.peak_change_db is not None:
        peak = words.between(words.decibel(m.peak_change_db.p90), words.decibel(m.peak_change_db.p10))
        text += f" · peak {peak}"
    if m.lost > 0.0:
        text += f" · none in {words.share(m.lost)} of the samples"
    return text
