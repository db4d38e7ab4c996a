"""The stop sign in place of the answer: what grows, how fast, what holds, and the key back to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.theme import look

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.electrics.clipping import ClipSign
    from core.predict.electrics.stop import StopSign
    from core.predict.loop.stop import LoopStop

    Sign = StopSign | ClipSign | LoopStop

KEY = "F8"
"""Of the menu's entry that does what the button does."""
SIGN = 46


class StopBlock(QWidget):
    """Shown while the layout runs away, and above the answer while an amplifier clips under a load stated."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("stopBlock")
        self.setAccessibleName("Stop")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._session = session
        self._sign: Sign | None = None
        self.title, self.detail, self.cure = (self._label(name) for name in ("stop title", "stop detail", "stop cure"))
        self.title.setFont(look.font(14, bold=True))
        self.back = QPushButton(self)
        self.back.setObjectName("stopBack")
        self.back.clicked.connect(self.go_back)
        words = QVBoxLayout()
        words.setSpacing(4)
        for label in (self.title, self.detail, self.cure):
            words.addWidget(label)
        row = QHBoxLayout()
        row.addWidget(self.back)
        row.addStretch(1)
        words.addLayout(row)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(14 + SIGN + 12, 10, 12, 10)
        layout.addLayout(words)
        look.look_changed.connect(self._paint_words)
        self._paint_words()
        self.hide()

    def _label(self, name: str) -> QLabel:
        label = PlainLabel("", self)
        label.setObjectName(name)
        label.setWordWrap(True)
        return label

    def show_sign(self, sign: Sign | None) -> None:
        """This sign, or nothing."""
        if sign != self._sign:
            self._sign = sign
            if sign is not None:
                self._tell(sign)
        self.setVisible(sign is not None)

    def _tell(self, sign: Sign) -> None:
        self.title.setText(sign.title)
        self.detail.setText(sign.detail)
        self.cure.setText(sign.cure)
        self.cure.setVisible(bool(sign.cure))
        self.setAccessibleDescription(" ".join((sign.title, sign.detail, sign.cure)))
        if sign.holds is not None:
            self.back.setText(f"{sign.holds.action}  ({KEY})")
            self.back.setAccessibleName(sign.holds.action)
        self.back.setVisible(sign.holds is not None)
        self.updateGeometry()

    @Slot()
    def go_back(self) -> None:
        """The nearest setting that holds, as one step that can be undone."""
        sign, project = self._sign, self._session.project
        if sign is None or sign.holds is None:
            self._session.said.emit("Nothing runs away here" if sign is None else "No setting near this one holds")
            return
        if self._session.previewing:
            return
        new = sign.holds.candidate
        candidates = tuple(new if c.id == new.id else c for c in project.candidates)
        self._session.apply(sign.holds.action, replace(project, candidates=candidates))

    def sizeHint(self) -> QSize:
        return QSize(380, max(super().sizeHint().height(), SIGN + 24))

    @Slot()
    def _paint_words(self) -> None:
        now = look.current()
        for label, colour in ((self.title, now.danger), (self.detail, now.text), (self.cure, now.text)):
            palette = label.palette()
            palette.setColor(label.foregroundRole(), colour)
            label.setPalette(palette)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        now = look.current()
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            p.setPen(look.pen(now.danger, 2.0, self))
            p.setBrush(now.panel)
            p.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 3, 3)
            box = QRectF(14, (self.height() - SIGN) / 2, SIGN, SIGN)
            cut = SIGN * 0.293  # a regular octagon
            p.setPen(Qt.PenStyle.NoPen)
            p.setBrush(now.danger)
            p.drawPolygon(
                QPolygonF([
                    QPointF(box.left() + cut, box.top()), QPointF(box.right() - cut, box.top()),
                    QPointF(box.right(), box.top() + cut), QPointF(box.right(), box.bottom() - cut),
                    QPointF(box.right() - cut, box.bottom()), QPointF(box.left() + cut, box.bottom()),
                    QPointF(box.left(), box.bottom() - cut), QPointF(box.left(), box.top() + cut),
                ])
            )  # fmt: skip
            p.setBrush(now.panel)
            p.drawRect(QRectF(box.left() + 0.22 * SIGN, box.center().y() - 0.09 * SIGN, 0.56 * SIGN, 0.18 * SIGN))
