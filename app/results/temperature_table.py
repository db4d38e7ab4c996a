"""Cold, reference and hot beside each other, painted: three columns under the mode bars."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QHelpEvent, QPainter
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.fields.plain import plain
from app.results.temperature_rows import TemperatureRow
from app.theme import look

HEAD, LINE, FAINT_LINE, BEFORE_MODE = 20, 19, 15, 4
NAME_SHARE = 0.27
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class TemperatureTable(QWidget):
    """Paints the rows; a marked cell carries a sign as well as a colour."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("temperatureTable")
        self.setAccessibleName("Damping when cold, at the reference temperature and when hot")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._heads: tuple[str, ...] = ()
        self._rows: tuple[TemperatureRow, ...] = ()
        self._faded = False
        look.look_changed.connect(self.update)

    def show_rows(self, heads: tuple[str, ...], rows: tuple[TemperatureRow, ...], *, faded: bool) -> None:
        """Draw these; `faded` while they belong to an earlier layout."""
        if (heads, rows, faded) == (self._heads, self._rows, self._faded):
            return
        height = self.sizeHint().height()
        self._heads, self._rows, self._faded = heads, rows, faded
        if self.sizeHint().height() != height:
            self.updateGeometry()
        self.setAccessibleDescription("\n".join(self.sentences()))
        self.update()

    def sentences(self) -> list[str]:
        """The table in words."""
        return [f"At {' / '.join(self._heads)}", *(row.sentence() for row in self._rows)]

    # ---- Qt ------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(330, HEAD + sum(_height(row) for row in self._rows))

    def minimumSizeHint(self) -> QSize:
        return QSize(230, self.sizeHint().height())

    def paintEvent(self, event: QEvent) -> None:
        with QPainter(self) as painter:
            if self._faded:
                painter.setOpacity(0.55)
            self._paint_heads(painter)
            top = float(HEAD)
            for row in self._rows:
                self._paint_row(painter, row, top + _height(row) - _line(row))
                top += _height(row)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            row = self._row_at(event.pos().y())
            QToolTip.showText(event.globalPos(), plain("" if row is None else row.tip or row.sentence()), self)
            return True
        return super().event(event)

    def _row_at(self, y: float) -> TemperatureRow | None:
        top = float(HEAD)
        for row in self._rows:
            if top <= y < top + _height(row):
                return row
            top += _height(row)
        return None

    # ---- painting ------------------------------------------------------------------------

    def _cell(self, column: int, top: float, height: float) -> QRectF:
        left = NAME_SHARE * self.width()
        wide = (self.width() - left) / 3.0
        return QRectF(left + column * wide, top, wide - 2.0, height)

    def _paint_heads(self, p: QPainter) -> None:
        now = look.current()
        p.setFont(look.font(11))
        p.setPen(now.faint_text)
        for column, text in enumerate(self._heads):
            p.drawText(self._cell(column, 0.0, HEAD - 4.0), _RIGHT, text)
        p.setPen(look.pen(now.line, 1.0, self))
        p.drawLine(0, HEAD - 3, self.width(), HEAD - 3)

    def _paint_row(self, p: QPainter, row: TemperatureRow, top: float) -> None:
        now, height = look.current(), float(_line(row))
        p.setFont(look.font(11) if row.faint else look.font(12, bold=row.mode is not None))
        name = QRectF(10.0 if row.faint else 0.0, top, NAME_SHARE * self.width() - 4.0, height)
        plain = now.faint_text if row.faint else now.text
        p.setPen(plain if row.faint or row.mode is None else now.mode(row.mode))
        text = p.fontMetrics().elidedText(row.name, Qt.TextElideMode.ElideRight, int(name.width()))
        p.drawText(name, _LEFT, text)
        for column, text in enumerate(row.cells):
            marked = row.marked[column]
            p.setPen(now.caution if marked else plain)
            p.drawText(self._cell(column, top, height), _RIGHT, f"△ {text}" if marked else text)


def _line(row: TemperatureRow) -> int:
    return FAINT_LINE if row.faint else LINE


def _height(row: TemperatureRow) -> int:
    return _line(row) + (0 if row.faint else BEFORE_MODE)
