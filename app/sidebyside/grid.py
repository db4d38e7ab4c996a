"""The painted table of the comparison: a column a candidate, a row a quantity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan

from PySide6.QtCore import QLineF, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.sidebyside.mini_drawing import paint_mini, summary
from app.sidebyside.rows import Cell, Row
from app.theme import look
from core.project.candidate import Candidate
from core.project.structure import Structure

LABELS = 236
LEAST_COLUMN = 230
HEAD = 148
LINE = 30
BAND = 54
"""Height of the names that stay in sight."""
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


@dataclass(frozen=True)
class Column:
    """A candidate with, where it cannot be predicted, the reason."""

    candidate: Candidate
    trouble: str = ""


class ComparisonGrid(QWidget):
    """Paints columns and rows; holds only what it was given to draw."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("comparisonGrid")
        self.setAccessibleName("Candidates side by side")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._structure: Structure | None = None
        self._columns: tuple[Column, ...] = ()
        self._rows: list[Row] = []
        self.whole = False
        """While a picture of all of it is taken, the heads stand at its top only."""
        look.look_changed.connect(self.update)

    def show_comparison(self, structure: Structure, columns: Sequence[Column], rows: list[Row]) -> None:
        self._structure, self._columns, self._rows = structure, tuple(columns), rows
        self.setAccessibleDescription("\n".join(_sentence(row, self._columns) for row in rows))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        height = HEAD + sum(_height(row) for row in self._rows) + 8
        return QSize(LABELS + LEAST_COLUMN * max(len(self._columns), 1), height)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def paintEvent(self, event: object) -> None:
        if not self._columns or self._structure is None:
            return
        now = look.current()
        wide = (self.width() - LABELS) / len(self._columns)
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            for place, column in enumerate(self._columns):
                card = QRectF(LABELS + place * wide + 4, 2, wide - 8, self.height() - 4)
                p.setPen(look.pen(now.line, 1.0, self))
                p.setBrush(now.panel)
                p.drawRoundedRect(card, 4, 4)
                self._paint_head(p, column, self._structure, card.adjusted(14, 8, -12, 0))
            top = float(HEAD)
            for row in self._rows:
                self._paint_row(p, row, top, wide)
                top += _height(row)
            self._paint_band(p, wide)

    def _paint_band(self, p: QPainter, wide: float) -> None:
        """The names again at the upper edge of what is seen, once the heads have gone out of sight."""
        seen = self.visibleRegion().boundingRect().top()
        if self.whole or seen <= HEAD - BAND:
            return
        now = look.current()
        p.setPen(Qt.PenStyle.NoPen)
        p.fillRect(QRectF(0, seen, self.width(), BAND), self.palette().window())
        for place, column in enumerate(self._columns):
            card = QRectF(LABELS + place * wide + 4, seen, wide - 8, BAND)
            p.fillRect(card, now.panel)
            self._paint_name(p, column, card.adjusted(14, 8, -12, 0))
        p.setPen(look.pen(now.strong_line, 1.0, self))
        p.drawLine(QLineF(0, seen + BAND, self.width(), seen + BAND))

    def _paint_name(self, p: QPainter, column: Column, box: QRectF) -> None:
        now, letter = look.current(), column.candidate.id
        badge = QRectF(box.left(), box.top(), 24, 24)
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(now.candidate(letter))
        p.drawEllipse(badge)
        p.setPen(now.panel)
        p.setFont(look.font(13, bold=True))
        p.drawText(badge, Qt.AlignmentFlag.AlignCenter, letter)
        p.setPen(now.text)
        _draw(p, QRectF(badge.right() + 9, box.top(), box.width() - 90, 22), _LEFT, column.candidate.name)
        p.setPen(look.pen(now.candidate(letter), 2.0, self, now.candidate_dash(letter)))
        p.drawLine(QLineF(box.right() - 44, box.top() + 12, box.right(), box.top() + 12))
        p.setPen(now.faint_text)
        p.setFont(look.font(11))
        below = QRectF(badge.right() + 9, box.top() + 22, box.width() - 34, 16)
        _draw(p, below, _LEFT, summary(column.candidate))

    def _paint_head(self, p: QPainter, column: Column, structure: Structure, box: QRectF) -> None:
        now = look.current()
        self._paint_name(p, column, box)
        mini = QRectF(box.left(), box.top() + 46, box.width(), 78)
        paint_mini(p, mini, structure, column.candidate, self)
        if column.trouble:
            p.setPen(now.danger)
            p.setFont(look.font(12))
            area = QRectF(box.left(), HEAD, box.width(), 200)
            p.drawText(area, Qt.AlignmentFlag.AlignLeft | Qt.TextFlag.TextWordWrap, f"✕ {column.trouble}")

    def _paint_row(self, p: QPainter, row: Row, top: float, wide: float) -> None:
        now = look.current()
        p.setPen(now.mode(row.mode) if row.mode else now.text)
        p.setFont(look.font(12, bold=row.mode is not None))
        _draw(p, QRectF(12, top + 1, LABELS - 14, 16), _LEFT, row.label)
        p.setPen(now.faint_text)
        p.setFont(look.font(11))
        _draw(p, QRectF(12, top + 15, LABELS - 14, 14), _LEFT, row.note)
        for place, (column, cell) in enumerate(zip(self._columns, row.cells, strict=True)):
            left = LABELS + place * wide + 18
            box = QRectF(left, top, wide - 34, _height(row) - 2)
            p.setPen(look.pen(now.line, 1.0, self))
            p.drawLine(QLineF(left - 13, top - 1, left + wide - 23, top - 1))
            if not column.trouble:
                self._paint_cell(p, row, cell, column, box)

    def _paint_cell(self, p: QPainter, row: Row, cell: Cell, column: Column, box: QRectF) -> None:
        now = look.current()
        text_box = QRectF(box)
        font = QFont(look.font(12, bold=cell.best))  # a copy: the look's fonts are shared
        font.setUnderline(cell.best)
        p.setFont(look.font(11))
        aside = p.fontMetrics().horizontalAdvance(cell.difference) + 8.0 if cell.difference else 0.0
        if row.mode is not None:
            text_box.setLeft(box.left() + bar_width(box.width(), self._texts_beside()) + 10)
            bar = QRectF(box.left(), box.top() + 8, text_box.left() - 10 - box.left(), 12)
            self._paint_bar(p, row, cell, bar)
        lines = _lines(text_box, cell.text.count("\n") + 1, QFontMetricsF(font).height())
        p.setPen(now.faint_text)
        _draw(p, lines[-1], _RIGHT, cell.difference)  # beside the last line: a value of two takes all the width for its first
        lines[-1].setRight(text_box.right() - aside)
        p.setFont(font)
        p.setPen(now.danger if "✕" in cell.text or cell.text == "unstable" else now.text)
        for line, text in zip(lines, cell.text.split("\n"), strict=True):
            _draw(p, line, _LEFT, text)

    def _texts_beside(self) -> float:
        """Room that damping and difference need beside their bars, which are of one length for one scale."""
        bold, small = QFontMetricsF(look.font(12, bold=True)), QFontMetricsF(look.font(11))
        cells = [cell for row in self._rows if row.mode is not None for cell in row.cells]
        told = max((bold.horizontalAdvance(cell.text) for cell in cells), default=0.0)
        return told + max((small.horizontalAdvance(cell.difference) for cell in cells), default=0.0) + 20.0

    def _paint_bar(self, p: QPainter, row: Row, cell: Cell, area: QRectF) -> None:
        """All damping bars share one scale: the largest damping of any mode of any candidate."""
        now = look.current()
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(now.line, 0.6))
        p.drawRoundedRect(area, 2, 2)
        if cell.value is None or isnan(cell.value):
            return
        values = [c.value for r in self._rows if r.mode for c in r.cells if c.value is not None]
        most = max((value for value in values if not isnan(value)), default=1.0)
        scale = area.width() / max(most, 1e-9)
        p.setBrush(now.mode(row.mode or 1))
        p.drawRect(QRectF(area.left(), area.top(), min(cell.value * scale, area.width()), area.height()))
        p.setBrush(now.before)
        p.drawRect(QRectF(area.left(), area.top(), min(row.before, cell.value) * scale, area.height()))


def bar_width(box_px: float, texts_px: float) -> float:
    """The length of a damping bar: it gives way to what is written beside it, not the other way round."""
    return max(min(0.42 * box_px, box_px - texts_px - 10.0), 0.12 * box_px)


def _lines(box: QRectF, count: int, tall: float) -> list[QRectF]:
    """The boxes of lines over each other in the middle of `box`."""
    top = box.center().y() - 0.5 * count * tall
    return [QRectF(box.left(), top + n * tall, box.width(), tall) for n in range(count)]


def _height(row: Row) -> int:
    lines = max((cell.text.count("\n") + 1 for cell in row.cells), default=1)
    return max(LINE + 2, 17 * lines + 8)


def _draw(p: QPainter, box: QRectF, where: Qt.AlignmentFlag, text: str) -> None:
    p.drawText(box, where, p.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(box.width())))


def _sentence(row: Row, columns: Sequence[Column]) -> str:
    values = "; ".join(
        f"{column.candidate.id} {cell.text}" for column, cell in zip(columns, row.cells, strict=True)
    )
    return f"{row.label}: {values}"
