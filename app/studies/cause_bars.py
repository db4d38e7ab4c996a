"""The inputs behind one mode's spread, largest share first, as bars."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QHelpEvent, QPainter
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.fields.plain import plain
from app.theme import look
from core.study.tolerance.ranking import Cause, ToldCause, told_causes

ROW = 24
MOST = 10
_SIGNS = {1: "▲", -1: "▼", 0: "◆"}
_WORDS = {1: "more gives more damping", -1: "more gives less damping", 0: "off either way costs damping"}
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class CauseBars(QWidget):
    """Bars of 0 to 100 % of the scatter."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("causeBars")
        self.setAccessibleName("Main causes of the spread")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._causes: tuple[ToldCause, ...] = ()
        self._mode = 1
        self._faded = False
        look.look_changed.connect(self.update)

    def show_causes(self, causes: tuple[Cause, ...], mode: int, samples: int, *, faded: bool) -> None:
        """The causes of a mode's spread that stand out of the chance of so many samples."""
        self._causes, _ = told_causes(causes, samples, MOST)
        self._mode, self._faded = mode, faded
        self.setAccessibleDescription("\n".join(self.sentences()))
        self.updateGeometry()
        self.update()

    def sentences(self) -> list[str]:
        """The bars in words."""
        return [f"{one.cause.label}: {one.text}, {_WORDS[one.cause.direction]}" for one in self._causes]

    # ---- Qt ------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(460, ROW * max(len(self._causes), 1) + 20)

    def minimumSizeHint(self) -> QSize:
        return QSize(320, self.sizeHint().height())

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            row = int(event.pos().y() // ROW)
            QToolTip.showText(event.globalPos(), plain(self.sentences()[row] if row < len(self._causes) else ""), self)
            return True
        return super().event(event)

    def paintEvent(self, event: QEvent) -> None:
        now = look.current()
        with QPainter(self) as p:
            if self._faded:
                p.setOpacity(0.6)
            for row, cause in enumerate(self._causes):
                self._paint_row(p, cause.cause, cause.text, row * ROW)
            p.setFont(look.font(11))
            p.setPen(now.faint_text)
            words = "▲ more gives more · ▼ more gives less · ◆ off either way costs damping"
            box = QRectF(0, ROW * max(len(self._causes), 1), self.width(), 20)
            p.drawText(box, _LEFT, p.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, self.width()))

    def _paint_row(self, p: QPainter, cause: Cause, share: str, top: float) -> None:
        now = look.current()
        split = 0.56 * self.width()
        p.setFont(look.font(12))
        p.setPen(now.text)
        label = p.fontMetrics().elidedText(cause.label, Qt.TextElideMode.ElideMiddle, int(split - 30))
        p.drawText(QRectF(0, top, 18, ROW), _LEFT, _SIGNS[cause.direction])
        p.drawText(QRectF(20, top, split - 28, ROW), _LEFT, label)
        track = QRectF(split, top + 7, self.width() - split - 52, ROW - 14)
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(now.line, 0.6))
        p.drawRect(track)
        p.setBrush(now.mode(self._mode))
        p.drawRect(QRectF(track.left(), track.top(), max(cause.share * track.width(), 1.0), track.height()))
        p.setPen(now.text)
        p.drawText(QRectF(self.width() - 48, top, 46, ROW), _RIGHT, share)
