"""Measured over predicted, a row a value: a dot with its uncertainty about the line of one, on the band of good parts."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QHelpEvent, QPainter
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.fields.plain import plain
from app.measured.text_table import paint_badge
from app.theme import look
from core.measured.evaluate import Compared
from core.measured.report_text import compared_label, compared_value
from core.units import words

HEAD, ROW = 20, 22
WIDEST = 0.4
"""A value further off stands at the end of the scale with an arrow."""
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


@dataclass(frozen=True)
class RatioRow:
    """A compared value; `band` is what good parts have of the predicted value, None where nobody studied it."""

    compared: Compared
    band: tuple[float, float] | None = None

    @property
    def out(self) -> bool:
        return self.band is not None and not self.band[0] <= self.compared.ratio <= self.band[1]

    def sentence(self) -> str:
        c = self.compared
        told = f"{compared_label(c)}: {compared_value(c, c.measured)} over {compared_value(c, c.predicted)}, {words.fixed(c.ratio, 3)}"
        return f"{told}, out of the band" if self.out else told


class RatioRows(QWidget):
    """Paints the rows on one scale about 1."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("measuredOverPredicted")
        self.setAccessibleName("Measured over predicted")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._rows: tuple[RatioRow, ...] = ()
        look.look_changed.connect(self.update)

    def show_rows(self, rows: tuple[RatioRow, ...]) -> None:
        self._rows = rows
        self.setAccessibleDescription("\n".join(self.sentences()))
        self.updateGeometry()
        self.update()

    def sentences(self) -> list[str]:
        """The rows in words."""
        return [row.sentence() for row in self._rows]

    def sizeHint(self) -> QSize:
        return QSize(420, HEAD + ROW * len(self._rows))

    def minimumSizeHint(self) -> QSize:
        return QSize(300, self.sizeHint().height())

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            n = (event.pos().y() - HEAD) // ROW
            QToolTip.showText(event.globalPos(), plain(self._rows[n].sentence() if 0 <= n < len(self._rows) else ""), self)
            return True
        return super().event(event)

    def paintEvent(self, event: QEvent) -> None:
        if not self._rows:
            return
        now = look.current()
        reach = self._reach()
        with QPainter(self) as p:
            track = self._track()
            p.setFont(look.font(11))
            p.setPen(now.faint_text)
            for share in (-1.0, 0.0, 1.0):
                at = track.center().x() + share * track.width() / 2
                p.drawText(QRectF(at - 30, 0, 60, HEAD - 4), Qt.AlignmentFlag.AlignCenter, words.fixed(1.0 + share * reach, 2))
            for left, wide, text in self._heads():
                p.drawText(QRectF(left, 0, wide, HEAD - 4), _RIGHT, text)
            before = ""
            for n, row in enumerate(self._rows):
                label = compared_label(row.compared).rpartition(", mode")[0] or compared_label(row.compared)
                self._paint_row(p, row, HEAD + n * ROW, label if label != before else "", reach)
                before = label
            p.setPen(look.pen(now.strong_line, 1.0, self))
            x = int(track.center().x())
            p.drawLine(x, HEAD, x, HEAD + ROW * len(self._rows))

    def _reach(self) -> float:
        far = max(abs(r.compared.ratio - 1.0) for r in self._rows if r.compared.ratio == r.compared.ratio) if self._rows else 0.1
        return min(max(0.1 * (int(far * 1.15 / 0.1) + 1), 0.1), WIDEST)

    def _heads(self) -> tuple[tuple[float, float, str], ...]:
        w = self.width()
        return (0.30 * w, 0.135 * w, "predicted"), (0.445 * w, 0.135 * w, "measured"), (0.90 * w, 0.10 * w - 2, "ratio")

    def _track(self) -> QRectF:
        w = self.width()
        return QRectF(0.605 * w, HEAD, 0.29 * w, ROW * len(self._rows))

    def _paint_row(self, p: QPainter, row: RatioRow, top: float, label: str, reach: float) -> None:
        now, c, w = look.current(), row.compared, float(self.width())
        p.setPen(now.text)
        p.setFont(look.font(12))
        p.drawText(QRectF(0, top, 0.27 * w, ROW), _LEFT, p.fontMetrics().elidedText(label[:1].upper() + label[1:], Qt.TextElideMode.ElideRight, int(0.26 * w)))
        if c.mode is not None:
            paint_badge(p, c.mode, 0.285 * w, top + ROW / 2)
        p.setPen(now.faint_text)
        p.drawText(QRectF(0.30 * w, top, 0.135 * w, ROW), _RIGHT, compared_value(c, c.predicted))
        p.setPen(now.text)
        p.setFont(look.font(12, bold=True))
        p.drawText(QRectF(0.445 * w, top, 0.135 * w, ROW), _RIGHT, compared_value(c, c.measured))
        track = self._track()

        def at(ratio: float) -> float:
            return track.center().x() + min(max((ratio - 1.0) / reach, -1.0), 1.0) * track.width() / 2

        if row.band is not None:
            p.fillRect(QRectF(at(row.band[0]), top + 3, at(row.band[1]) - at(row.band[0]), ROW - 6), look.faded(now.strong_line, 0.25))
        color = now.danger if row.out else now.text
        p.setRenderHint(QPainter.RenderHint.Antialiasing)
        spread = c.uncertainty / c.predicted if c.predicted else 0.0
        p.setPen(look.pen(color, 1.5, self))
        p.drawLine(QPointF(at(c.ratio - 2 * spread), top + ROW / 2), QPointF(at(c.ratio + 2 * spread), top + ROW / 2))
        p.setBrush(color)
        if abs(c.ratio - 1.0) > reach:
            p.drawText(QRectF(at(c.ratio) - 8, top, 16, ROW), Qt.AlignmentFlag.AlignCenter, "◂" if c.ratio < 1.0 else "▸")
        else:
            p.drawEllipse(QPointF(at(c.ratio), top + ROW / 2), 3.5, 3.5)
        p.setPen(color)
        p.setFont(look.font(12))
        text = words.shift(c.ratio - 1.0) if c.quantity == "frequency" else words.fixed(c.ratio, 2)
        p.drawText(QRectF(0.90 * w, top, 0.10 * w - 2, ROW), _RIGHT, f"out {text}" if row.out else text)
