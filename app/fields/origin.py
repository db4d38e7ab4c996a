"""The small mark beside a field that tells where its value is from, and changes it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QDialog,
    QDialogButtonBox,
    QLabel,
    QRadioButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.fields.plain import PlainLabel, plain
from app.fields.text import TextField
from app.theme import look
from core.project.model import Origin
from core.project.provenance import origin_of
from core.project.record import Status
from core.units.sentence import inside

if TYPE_CHECKING:
    from app.panels.draft import Draft
    from app.shell.session import Session

STATUSES: tuple[Status, ...] = ("measured", "data sheet", "assumed")


class OriginDialog(QDialog):
    """Asks for measured, data sheet or assumed, and the source in words; `chosen` on OK."""

    chosen = Signal(object)

    def __init__(self, what: str, origin: Origin, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("origin dialog")
        self.setWindowTitle("Where is this value from?")
        self._origin = origin
        layout = QVBoxLayout(self)
        layout.addWidget(PlainLabel(what, self))
        self.buttons = QButtonGroup(self)
        for number, status in enumerate(STATUSES):
            button = QRadioButton(status, self)
            button.setObjectName(f"origin {status}")
            button.setChecked(status == origin.status)
            self.buttons.addButton(button, number)
            layout.addWidget(button)
        layout.addWidget(QLabel("Source (instrument, sheet, drawing number)", self))
        self.source = TextField("Source", parent=self)
        self.source.set_value(origin.source)
        layout.addWidget(self.source)
        box = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel, parent=self
        )
        box.accepted.connect(self.accept)
        box.rejected.connect(self.reject)
        layout.addWidget(box)

    def accept(self) -> None:
        self.chosen.emit(self.origin())
        super().accept()

    def origin(self) -> Origin:
        """What was chosen."""
        return msgspec.structs.replace(
            self._origin, status=STATUSES[self.buttons.checkedId()], source=self.source.text().strip()
        )


class OriginMark(QToolButton):
    """Filled disc: measured; half disc: data sheet; ring with a question mark: assumed."""

    def __init__(self, session: Session | Draft, path: str, label: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self.path, self.label = session, path, label
        self.setAutoRaise(True)
        self.setObjectName(f"origin of {label}")
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        side = self.fontMetrics().height() + 2
        self.setFixedSize(QSize(side, side))
        self._status: Status | None = None
        self.clicked.connect(self.ask)
        self.refresh()

    def set_path(self, path: str) -> None:
        """Show the origin of another value (another patch was selected)."""
        if path != self.path:
            self.path = path
            self.refresh()

    def origin(self) -> Origin:
        """What the project says of the value or of the whole it is in; assumed where nobody spoke."""
        return origin_of(self._session.shown.origins, self.path)

    @Slot()
    def refresh(self) -> None:
        """Read the project again."""
        origin = self.origin()
        told = plain(f"{self.label}: {origin.status}" + (f" ({origin.source})" if origin.source else ""))
        if told == self.toolTip() and origin.status == self._status:
            return
        self._status = origin.status
        self.setToolTip(told)
        self.setAccessibleName(told)
        self.update()

    @Slot()
    def ask(self) -> None:
        """Let a person change it, as one undo step."""
        dialog = OriginDialog(self.label, self.origin(), self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.chosen.connect(self.set_origin)
        dialog.open()

    @Slot(object)
    def set_origin(self, origin: Origin) -> None:
        """Write the origin into the project."""
        project = self._session.project
        origins = {**project.origins, self.path: origin}
        self._session.apply(
            f"Change origin of {inside(self.label)}", msgspec.structs.replace(project, origins=origins)
        )
        self.refresh()

    def paintEvent(self, event: QPaintEvent) -> None:
        colours = look.current()
        side = min(self.width(), self.height())
        radius = side * 0.36
        centre = QPointF(self.width() / 2, self.height() / 2)
        disc = QRectF(centre.x() - radius, centre.y() - radius, 2 * radius, 2 * radius)
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            colour = colours.caution if self._status == "assumed" else colours.strong_line
            painter.setPen(look.pen(colours.accent if self.underMouse() else colour, 1.5))
            if self._status == "measured":
                painter.setBrush(colour)
            painter.drawEllipse(disc)
            if self._status == "data sheet":
                painter.setBrush(colour)
                painter.drawPie(disc, 90 * 16, 180 * 16)
            elif self._status == "assumed":
                font = look.font(int(side * 0.66), bold=True)
                painter.setFont(font)
                painter.drawText(disc.adjusted(-2, -3, 2, 3), Qt.AlignmentFlag.AlignCenter, "?")
