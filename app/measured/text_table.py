"""A small painted table: heads, rows of texts, a mode's number in its colour, remarks in their tone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QHelpEvent, QPainter
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.fields.plain import plain
from app.theme import look

Tone = Literal["plain", "faint", "bold", "caution", "danger", "good"]
HEAD, ROW, GAP = 20, 22, 8
BADGE = 26
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


@dataclass(frozen=True)
class Cell:
    """A text and how it is painted."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True)
class Row:
    """Cells of a line, with the number of its mode and a tip."""

    cells: tuple[Cell, ...]
    mode: int | None = None
    tip: str = ""


@dataclass(frozen=True)
class Column:
    """Head, share of the width, and whether its texts end at the right."""

    head: str
    share: float
    right: bool = True


def tone_color(tone: Tone) -> QColor:
    """The colour of a tone."""
    now = look.current()
    return {"faint": now.faint_text, "caution": now.caution, "danger": now.danger, "good": now.good}.get(tone, now.text)


class TextTable(QWidget):
    """Paints the rows over the whole width; a cut text is whole in the tip. `badges` False: no row is a mode's."""

    def __init__(
        self, name: str, accessible: str, columns: tuple[Column, ...], parent: QWidget | None = None, *, badges: bool = True
    ) -> None:
        super().__init__(parent)
        self._left = float(BADGE) if badges else 0.0
        self._head = HEAD if any(column.head for column in columns) else 0
        self.setObjectName(name)
        self.setAccessibleName(accessible)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._columns = columns
        self._rows: tuple[Row, ...] = ()
        self._share = sum(c.share for c in columns)
        look.look_changed.connect(self.update)

    def show_rows(self, rows: tuple[Row, ...]) -> None:
        """Draw these."""
        if rows == self._rows:
            return
        self._rows = rows
        self.setAccessibleDescription("\n".join(self.sentences()))
        self.updateGeometry()
        self.update()

    def rows(self) -> tuple[Row, ...]:
        return self._rows

    def sentences(self) -> list[str]:
        """The table in words, a line a row."""
        return [
            ", ".join(([f"mode {row.mode}"] if row.mode else []) + [f"{c.head} {cell.text}".strip() for c, cell in zip(self._columns, row.cells, strict=True) if cell.text])
            for row in self._rows
        ]

    def sizeHint(self) -> QSize:
        return QSize(420, self._head + ROW * max(len(self._rows), 1))

    def minimumSizeHint(self) -> QSize:
        return QSize(260, self.sizeHint().height())

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            n = (event.pos().y() - self._head) // ROW
            row = self._rows[n] if 0 <= n < len(self._rows) else None
            told = "" if row is None else row.tip or ", ".join(c.text for c in row.cells if c.text)
            QToolTip.showText(event.globalPos(), plain(told), self)
            return True
        return super().event(event)

    def paintEvent(self, event: QEvent) -> None:
        now = look.current()
        with QPainter(self) as p:
            if self._head:
                self._paint_head(p, now)
            for n, row in enumerate(self._rows):
                self._paint_row(p, row, self._head + n * ROW)

    def _paint_head(self, p: QPainter, now: look.Look) -> None:
        p.setFont(look.font(11))
        p.setPen(now.faint_text)
        for box, column in zip(self._boxes(0, HEAD - 4), self._columns, strict=True):
            self._draw(p, box, column.head, column.right)
        p.setPen(look.pen(now.line, 1.0, self))
        p.drawLine(0, HEAD - 2, self.width(), HEAD - 2)

    def _boxes(self, top: float, height: float) -> list[QRectF]:
        left, room = self._left, self.width() - self._left
        out = []
        for column in self._columns:
            wide = room * column.share / self._share
            out.append(QRectF(left, top, wide - GAP, height))
            left += wide
        return out

    def _paint_row(self, p: QPainter, row: Row, top: float) -> None:
        if row.mode is not None:
            paint_badge(p, row.mode, 9.0, top + ROW / 2)
        for box, column, cell in zip(self._boxes(top, ROW), self._columns, row.cells, strict=True):
            p.setFont(look.font(12, bold=cell.tone == "bold"))
            p.setPen(tone_color(cell.tone))
            self._draw(p, box, cell.text, column.right)

    def _draw(self, p: QPainter, box: QRectF, text: str, right: bool) -> None:
        shown = p.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(box.width()))
        p.drawText(box, _RIGHT if right else _LEFT, shown)


def paint_badge(p: QPainter, mode: int, x: float, y: float) -> None:
    """The number of a mode in its ring."""
    color = look.current().mode(mode)
    p.save()
    p.setRenderHint(QPainter.RenderHint.Antialiasing)
    p.setPen(look.pen(color, 1.5))
    p.setBrush(Qt.BrushStyle.NoBrush)
    p.drawEllipse(QRectF(x - 8, y - 8, 16, 16))
    p.setFont(look.font(11, bold=True))
    p.setPen(color)
    p.drawText(QRectF(x - 8, y - 8, 16, 16), Qt.AlignmentFlag.AlignCenter, str(mode))
    p.restore()
