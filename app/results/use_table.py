"""A table of a use, painted: heads, a row a mode with its number in its colour, one row standing out."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.theme import look

HEAD, LINE, GAP = 20, 21, 8.0
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
Row = tuple[str, ...]


class UseTable(QWidget):
    """Rows of texts under heads; the first column is a mode's number or a word."""

    def __init__(self, name: str, accessible: str, shares: tuple[float, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self.setAccessibleName(accessible)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._shares = shares
        self._edges: list[float] = []
        self._heads: Row = ()
        self._rows: tuple[Row, ...] = ()
        self._told: tuple[object, ...] = ()
        self._weak: frozenset[str] = frozenset()
        self._bad: frozenset[str] = frozenset()
        self._asked: frozenset[str] = frozenset()
        self._faded = False
        look.look_changed.connect(self.update)

    @property
    def rows(self) -> tuple[Row, ...]:
        return self._rows

    def show_rows(
        self,
        heads: Row,
        rows: tuple[Row, ...],
        *,
        weak: frozenset[str] = frozenset(),
        bad: frozenset[str] = frozenset(),
        asked: frozenset[str] = frozenset(),
        faded: bool = False,
    ) -> None:
        """Draw these; `weak` and `bad` name the rows (by their first cell) that are dull or go too far, `asked` the
        tinted ones."""
        told = (heads, rows, weak, bad, asked, faded)
        if told == self._told:
            return
        grown = len(rows) != len(self._rows)
        self._told = told
        self._heads, self._rows, self._weak, self._bad, self._asked, self._faded = told
        if grown:
            self.updateGeometry()
        self.setAccessibleDescription("\n".join(self.sentences()))
        self.update()

    def sentences(self) -> list[str]:
        """The table in words."""
        return [", ".join(f"{head}: {cell}" for head, cell in zip(self._heads, row, strict=True)) for row in self._rows]

    def sizeHint(self) -> QSize:
        return QSize(330, HEAD + LINE * len(self._rows))

    def minimumSizeHint(self) -> QSize:
        return QSize(230, self.sizeHint().height())

    def paintEvent(self, event: QEvent) -> None:
        now = look.current()
        with QPainter(self) as p:
            if self._faded:
                p.setOpacity(0.55)
            self._lay_out(p)
            p.setFont(look.font(11))
            p.setPen(now.faint_text)
            for column, text in enumerate(self._heads):
                if column:
                    p.drawText(self._cell(column, 0.0, HEAD - 4.0), _RIGHT, text)
            p.setPen(look.pen(now.line, 1.0, self))
            p.drawLine(0, HEAD - 3, self.width(), HEAD - 3)
            for index, row in enumerate(self._rows):
                self._paint_row(p, row, float(HEAD + LINE * index))

    def _lay_out(self, p: QPainter) -> None:
        """Columns as wide as what stands in them, what is over shared out; where all is too wide, all give way alike."""
        p.setFont(look.font(11))
        needs = [float(p.fontMetrics().horizontalAdvance(head)) for head in self._heads]
        for row in self._rows:
            p.setFont(look.font(12, bold=row[0] in self._asked))
            needs = [max(n, float(p.fontMetrics().horizontalAdvance(cell))) for n, cell in zip(needs, row, strict=True)]
        needs = [n + GAP for n in needs]
        spare, whole = self.width() - sum(needs), sum(self._shares)
        shares = needs if spare < 0.0 else self._shares
        self._edges = [0.0]
        for need, share in zip(needs, shares, strict=False):
            self._edges.append(self._edges[-1] + need + spare * share / (sum(needs) if spare < 0.0 else whole))

    def _cell(self, column: int, top: float, height: float) -> QRectF:
        left, right = self._edges[column : column + 2]
        return QRectF(left, top, right - left - 2.0, height)

    def _paint_row(self, p: QPainter, row: Row, top: float) -> None:
        now, name = look.current(), row[0]
        if name in self._asked:
            p.fillRect(QRectF(0, top, self.width(), LINE), look.faded(now.accent, 0.10))
        number = int(name) if name.isdigit() else None
        if number is None:
            p.setFont(look.font(12))
            p.setPen(now.text)
            p.drawText(self._cell(0, top, LINE), Qt.AlignmentFlag.AlignVCenter, name)
        else:
            colour, disc = now.mode(number), QRectF(2.0, top + 2.0, 17.0, 17.0)
            p.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            p.setPen(look.pen(colour, 1.0, self))
            p.setBrush(colour if name in self._asked else now.panel)
            p.drawEllipse(disc)
            p.setBrush(Qt.BrushStyle.NoBrush)
            p.setRenderHint(QPainter.RenderHint.Antialiasing, False)
            p.setPen(now.panel if name in self._asked else colour)
            p.setFont(look.font(11, bold=True))
            p.drawText(disc, Qt.AlignmentFlag.AlignCenter, name)
        p.setFont(look.font(12, bold=name in self._asked))
        for column, text in enumerate(row[1:], 1):
            p.setPen(now.danger if name in self._bad and column >= 3 else now.caution if name in self._weak else now.text)
            p.drawText(self._cell(column, top, LINE), _RIGHT, text)
