"""A list of facts, painted: name, value, remark, with a second line and a tool tip a row."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QHelpEvent, QPainter
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.fields.plain import plain
from app.theme import look

LINE = 19
Level = Literal["plain", "caution", "danger"]
_SIGN = {"plain": "", "caution": "△", "danger": "✕"}


@dataclass(frozen=True)
class Row:
    """One fact. `level` adds a sign in front and colours the value."""

    name: str
    value: str
    note: str = ""
    second: str = ""
    tip: str = ""
    level: Level = "plain"

    def sentence(self) -> str:
        """The row in words."""
        return ", ".join(part for part in (f"{self.name}: {self.value}", self.note, self.second) if part)


class RowList(QWidget):
    """Paints `Row`s; cheap enough to follow every mouse move."""

    def __init__(self, name: str, accessible: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self.setAccessibleName(accessible)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._rows: tuple[Row, ...] = ()
        self._faded = False
        look.look_changed.connect(self.update)

    @property
    def rows(self) -> tuple[Row, ...]:
        return self._rows

    def show_rows(self, rows: tuple[Row, ...], *, faded: bool = False) -> None:
        """Draw these rows; `faded` when they belong to an earlier state."""
        if rows == self._rows and faded == self._faded:
            return
        height = self.sizeHint().height()
        self._rows, self._faded = rows, faded
        if self.sizeHint().height() != height:
            self.updateGeometry()
        self.update()

    def sentences(self) -> list[str]:
        """The rows in words."""
        return [row.sentence() for row in self._rows]

    # ---- Qt ------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(330, max(sum(_height(row) for row in self._rows), LINE))

    def minimumSizeHint(self) -> QSize:
        return QSize(220, self.sizeHint().height())

    def paintEvent(self, event: QEvent) -> None:
        with QPainter(self) as painter:
            if self._faded:
                painter.setOpacity(0.55)
            top = 0.0
            for row in self._rows:
                self._paint_row(painter, row, top)
                top += _height(row)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            row = self._row_at(event.pos().y())
            QToolTip.showText(event.globalPos(), plain(row.tip or row.sentence() if row else ""), self)
            return True
        return super().event(event)

    def _row_at(self, y: float) -> Row | None:
        top = 0.0
        for row in self._rows:
            top += _height(row)
            if y < top:
                return row
        return None

    def _paint_row(self, p: QPainter, row: Row, top: float) -> None:
        now = look.current()
        colour = {"plain": now.text, "caution": now.caution, "danger": now.danger}[row.level]
        width = float(self.width())
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        sign = _SIGN[row.level]
        p.setFont(look.font(12, bold=True))
        p.setPen(colour)
        value_width = min(p.fontMetrics().horizontalAdvance(row.value) + 4.0, 0.75 * width)
        _draw(p, QRectF(width - value_width, top, value_width, LINE), right, row.value)
        p.setFont(look.font(12))
        p.setPen(colour if sign else now.text)
        name = f"{sign} {row.name}" if sign else row.name
        _draw(p, QRectF(0, top, width - value_width - 6, LINE), left, name)
        if not row.second and not row.note:
            return
        p.setFont(look.font(11))
        p.setPen(now.faint_text)
        note_width = p.fontMetrics().horizontalAdvance(row.note) + 2.0
        lower = top + LINE - 1
        _draw(p, QRectF(width - note_width, lower, note_width, LINE - 4), right, row.note)
        _draw(p, QRectF(0, lower, width - note_width - 6, LINE - 4), left, row.second)


def _height(row: Row) -> int:
    return LINE + (LINE - 4 if row.second or row.note else 0) + 4


def _draw(p: QPainter, box: QRectF, where: Qt.AlignmentFlag, text: str) -> None:
    p.drawText(box, where, p.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(box.width())))
