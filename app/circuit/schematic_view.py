"""The schematic on screen: as large as its place allows, never with lettering under the smallest legible size."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QByteArray, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QGuiApplication, QPainter, QPaintEvent, QPixmap
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.theme import look
from core.handover.schematic.picture import TEXT, Ink, Schematic
from core.handover.schematic.svg import Style, schematic_svg

LEAST_UNIT = look.SMALLEST_TEXT_PX / TEXT
LARGEST_UNIT = 30.0
EDGE = 6
PICTURE_RATIO = 2.0
SAVED_UNIT = 24.0


def style(now: look.Look) -> Style:
    """Colours of a look, by what is drawn."""
    inks: dict[Ink, QColor] = {
        "line": now.text, "ceramic": now.ceramic, "faint": now.faint_text, "frame": now.strong_line,
        "value": now.accent, "part": look.ON_CERAMIC,
    }  # fmt: skip
    return Style({ink: colour.name() for ink, colour in inks.items()}, now.panel.name(), look.font(12).family())


class SchematicView(QWidget):
    """Paints a schematic in the middle; wider ones make it ask for the width they need."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("schematic")
        self.setAccessibleName("Schematic")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._drawn: Schematic | None = None
        self._painted: tuple[object, ...] = ()
        self._kept: tuple[object, float, tuple[str, float], QPixmap] | None = None
        self._renderer = QSvgRenderer(self)
        look.look_changed.connect(self.update)

    def show_schematic(self, drawn: Schematic | None) -> None:
        """Draw this one, or nothing."""
        if drawn == self._drawn:
            return
        before, self._drawn = self._drawn, drawn
        if before is None or drawn is None or (before.width, before.height) != (drawn.width, drawn.height):
            self.updateGeometry()
        self.setAccessibleDescription("" if drawn is None else ", ".join(drawn.words))
        self.update()

    @property
    def words(self) -> tuple[str, ...]:
        """Everything that is written in it."""
        return () if self._drawn is None else self._drawn.words

    def svg(self) -> str:
        """As a file: black on white as every reader of SVG shows it."""
        return "" if self._drawn is None else schematic_svg(self._drawn, style(look.light()), SAVED_UNIT)

    def picture(self) -> QPixmap:
        """For the clipboard, at twice the size of the screen."""
        drawn = self._drawn
        if drawn is None:
            return self.grab()
        unit = PICTURE_RATIO * SAVED_UNIT
        made = QPixmap(int(drawn.width * unit), int(drawn.height * unit))
        made.fill(look.current().panel)
        with QPainter(made) as p:
            QSvgRenderer(QByteArray(schematic_svg(drawn, style(look.current()), unit).encode())).render(p)
        return made

    def copy_picture(self) -> None:
        QGuiApplication.clipboard().setPixmap(self.picture())

    def sizeHint(self) -> QSize:
        return self._size_at(SAVED_UNIT)

    def minimumSizeHint(self) -> QSize:
        return self._size_at(LEAST_UNIT)

    def _size_at(self, unit: float) -> QSize:
        if self._drawn is None:
            return QSize(200, 140)
        wide, high = self._drawn.width * unit, self._drawn.height * unit
        return QSize(int(wide) + 2 * EDGE, int(high) + 2 * EDGE)

    def paintEvent(self, event: QPaintEvent) -> None:
        now, drawn = look.current(), self._drawn
        with QPainter(self) as p:
            p.fillRect(self.rect(), now.panel)
            p.setPen(look.pen(now.strong_line if self.hasFocus() else now.line, 1.0, self))
            p.drawRect(QRectF(self.rect()).adjusted(0, 0, -1, -1))
            if drawn is None:
                return
            room_x, room_y = self.width() - 2 * EDGE, self.height() - 2 * EDGE
            unit = min(room_x / drawn.width, room_y / drawn.height, LARGEST_UNIT)
            unit = 2.0 * int(max(unit, LEAST_UNIT) / 2.0 + 1e-6)  # lettering of whole pixels
            wide, high = drawn.width * unit, drawn.height * unit
            left, top = max((self.width() - wide) / 2, EDGE), max((self.height() - high) / 2, EDGE)
            where = QRectF(left, top, wide, high)
            p.drawPixmap(where.topLeft(), self._parts(drawn, unit, now))
            if self._painted != (drawn, unit, now.name):
                lettering = replace(drawn, strokes=(), discs=())
                self._renderer.load(QByteArray(schematic_svg(lettering, style(now), unit).encode()))
                self._painted = (drawn, unit, now.name)
            self._renderer.render(p, where)

    def _parts(self, drawn: Schematic, unit: float, now: look.Look) -> QPixmap:
        """Everything but the lettering, which alone follows a hand: drawn once a layout."""
        kept, ratio = self._kept, self.devicePixelRatioF()
        if kept is not None and kept[0] is drawn.strokes and kept[1:3] == (unit, (now.name, ratio)):
            return kept[3]
        made = QPixmap(QSize(round(drawn.width * unit * ratio), round(drawn.height * unit * ratio)))
        made.setDevicePixelRatio(ratio)
        made.fill(Qt.GlobalColor.transparent)
        with QPainter(made) as p:
            bare = replace(drawn, labels=())
            QSvgRenderer(QByteArray(schematic_svg(bare, style(now), unit).encode())).render(
                p, QRectF(0.0, 0.0, drawn.width * unit, drawn.height * unit)
            )
        self._kept = (drawn.strokes, unit, (now.name, ratio), made)
        return made
