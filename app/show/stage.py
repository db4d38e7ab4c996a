"""One side of the show: the part as it bends at this moment, its swing now, and when it settles."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.theme import look
from core.handover.show.animation import Plate
from core.handover.show.captions import settles
from core.predict.decay import Decay
from core.predict.swing import Swing
from core.units import words

Array = NDArray[np.float64]

REACH = 0.40
"""Share of the height that the largest deflection takes to either side."""
BEAM_PX, PATCH_PX = 9.0, 5.0


@dataclass(frozen=True)
class Scene:
    """What a side shows. `clamped` : whether the root is held in a wall; about : "0.15 % of critical"."""

    swing: Swing
    decay: Decay
    plates: tuple[Plate, ...]
    title: str
    about: str
    settles_s: float
    clamped: bool


class Stage(QWidget):
    """Before or after; `at` moves it."""

    def __init__(self, name: str, *, after: bool, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self._after = after
        self._scene: Scene | None = None
        self._reach: tuple[Array, ...] = ()
        self._at_s: float | None = 0.0
        self.setMinimumHeight(150)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        look.look_changed.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(560, 300)

    def show_scene(self, scene: Scene | None) -> None:
        self._scene = scene
        self._reach = () if scene is None else _first_swings(scene)
        self.setAccessibleName("" if scene is None else f"{scene.title}, {scene.about}")
        self.update()

    def at(self, time_s: float | None) -> None:
        """The moment shown, s since it was let go; None: after its end."""
        self._at_s = time_s
        self.update()

    @property
    def bend_m(self) -> Array:
        """(n,) deflection along the span now."""
        if self._scene is None or self._at_s is None:
            return np.zeros(0 if self._scene is None else len(self._scene.swing.x_m))
        decay = self._scene.decay
        return np.asarray((decay.amplitude[:-1] @ _turned(decay, self._at_s)).real)

    @property
    def swing_now(self) -> float:
        """Envelope at the output now, in the ring-down's unit."""
        if self._scene is None or self._at_s is None:
            return 0.0
        decay = self._scene.decay
        return float(abs(decay.amplitude[-1] @ _turned(decay, self._at_s)))

    @property
    def drawn_times(self) -> float:
        """How many times as large as the span's scale the motion is drawn."""
        if self._scene is None or self._scene.swing.largest <= 0.0:
            return float("inf")
        box, swing = self._box(), self._scene.swing
        return REACH * box.height() / swing.largest / (box.width() / float(swing.x_m[-1]))

    def _box(self) -> QRectF:
        """Where the part is drawn: its span across, the swing up and down."""
        return QRectF(64.0, 44.0, max(self.width() - 64.0 - 34.0 - self._scale_room(), 40.0),
                      max(self.height() - 44.0 - 42.0, 40.0))  # fmt: skip

    def _scale_room(self) -> float:
        """What the longest number of the scale beside the tip takes."""
        if self._scene is None:
            return 62.0
        return max(QFontMetricsF(look.font(11)).horizontalAdvance(_below(self._scene.swing)) + 8.0, 62.0)

    def paintEvent(self, event: QPaintEvent) -> None:
        now = look.current()
        colour = now.after if self._after else now.before
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing)
            p.setPen(look.pen(colour if self._after else now.line, 2.0 if self._after else 1.0, self))
            p.setBrush(now.panel)
            p.drawRoundedRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5), 6.0, 6.0)
            if self._scene is not None:
                self._paint_texts(p, self._scene, colour)
                self._paint_part(p, self._scene, colour)

    def _paint_texts(self, p: QPainter, scene: Scene, colour: QColor) -> None:
        now, align = look.current(), Qt.AlignmentFlag
        strong = colour if self._after else now.text
        p.setFont(look.font(15, bold=True))
        p.setPen(strong)
        p.drawText(QRectF(18, 10, 90, 28), align.AlignLeft | align.AlignVCenter, scene.title)
        left = 18 + p.fontMetrics().horizontalAdvance(scene.title) + 14
        p.setFont(look.font(12))
        p.setPen(now.faint_text)
        room = self.width() - left - 16
        about = p.fontMetrics().elidedText(scene.about, Qt.TextElideMode.ElideMiddle, int(room))
        p.drawText(QRectF(left, 10, room, 28), align.AlignLeft | align.AlignVCenter, about)
        row = QRectF(18, self.height() - 38, self.width() - 36, 30)
        p.drawText(row, align.AlignLeft | align.AlignVCenter, "swing now")
        left = p.fontMetrics().horizontalAdvance("swing now") + 10
        p.setFont(look.font(16, bold=True))
        p.setPen(strong)
        p.drawText(row.adjusted(left, 0, 0, 0), align.AlignLeft | align.AlignVCenter, swing_words(self.swing_now, scene.swing))
        p.setFont(look.font(12, bold=True))
        p.drawText(row, align.AlignRight | align.AlignVCenter, settles(scene.swing.ring.settle_to, scene.settles_s))

    def _paint_part(self, p: QPainter, scene: Scene, colour: QColor) -> None:
        now, box, swing = look.current(), self._box(), scene.swing
        middle = box.center().y()
        up = REACH * box.height() / swing.largest if swing.largest > 0.0 else 0.0
        x = box.left() + box.width() * swing.x_m / swing.x_m[-1]
        p.setPen(look.pen(now.strong_line, 1.0, self, (3.0, 4.0)))
        for bound in self._reach:
            p.drawPolyline(_polygon(x, middle - up * bound))
        if scene.clamped:
            self._paint_wall(p, box, middle)
        bent = middle - up * self.bend_m
        p.setBrush(Qt.BrushStyle.NoBrush)
        for width, ink in ((BEAM_PX, now.structure_line), (BEAM_PX - 3.0, now.structure_fill)):
            pen = look.pen(ink, width, self)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            p.setPen(pen)
            p.drawPolyline(_polygon(x, bent))
        for plate in scene.plates:
            own = np.linspace(plate.start_m, plate.end_m, 9)
            side = -1.0 if plate.on_top else 1.0
            own_y = np.interp(own, swing.x_m, bent) + side * 0.5 * (BEAM_PX + PATCH_PX)
            pen = look.pen(now.ceramic_line if now.is_dark else now.ceramic, PATCH_PX, self)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            p.setPen(pen)
            p.drawPolyline(_polygon(box.left() + box.width() * own / swing.x_m[-1], own_y))
        self._paint_scale(p, scene, box, middle, up, colour)

    def _paint_wall(self, p: QPainter, box: QRectF, middle: float) -> None:
        now = look.current()
        wall = QRectF(box.left() - 16, middle - 0.24 * box.height(), 16, 0.48 * box.height())
        p.fillRect(wall, look.faded(now.strong_line, 0.25))
        p.setPen(look.pen(now.strong_line, 2.0, self))
        p.drawLine(QLineF(wall.topRight(), wall.bottomRight()))

    def _paint_scale(self, p: QPainter, scene: Scene, box: QRectF, middle: float, up: float, colour: QColor) -> None:
        """The swing's scale beside the tip, and where the output point stands."""
        now, align, swing = look.current(), Qt.AlignmentFlag, scene.swing
        at = box.right() + 22
        p.setPen(look.pen(now.strong_line, 1.0, self))
        p.drawLine(QLineF(at, middle - up * swing.largest, at, middle + up * swing.largest))
        p.setFont(look.font(11))
        for sign in (1.0, 0.0, -1.0):
            y = middle - sign * up * swing.largest
            p.setPen(look.pen(now.strong_line, 1.0, self))
            p.drawLine(QLineF(at - 4, y, at + 4, y))
            p.setPen(now.faint_text)
            told = "0" if sign == 0.0 else _below(swing) if sign < 0.0 else _size(swing.largest, swing)
            p.drawText(QRectF(at + 8, y - 9, self._scale_room(), 18), align.AlignLeft | align.AlignVCenter, told)
        if self._at_s is None:
            return
        moved = float((scene.decay.amplitude[-1] @ _turned(scene.decay, self._at_s)).real)
        x = box.left() + box.width() * swing.output_m / float(swing.x_m[-1])
        y = middle - up * moved
        p.setPen(look.pen(colour, 1.0, self, (2.0, 3.0)))
        p.drawLine(QLineF(x + 6, y, at - 6, y))
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(colour)
        p.drawEllipse(QPointF(x, y), 5.5, 5.5)


def _first_swings(scene: Scene) -> tuple[Array, Array]:
    """The lowest and the highest it comes along the span within its first two swings, (n,) each."""
    f_hz = scene.swing.f_hz
    moved = scene.decay.analytic(0.0, 1.0 / (60.0 * f_hz) if f_hz > 0.0 else 1.0, 120).real[:-1]
    return moved.min(axis=1), moved.max(axis=1)


def swing_words(value: float, swing: Swing) -> str:
    """ "± 4.4 mm"."""
    return f"± {_size(value, swing)}" if isfinite(value) else "grows"


def _size(value: float, swing: Swing) -> str:
    """In two figures: it changes sixty times a second."""
    return words.level(value, swing.ring.unit, 2)


def _below(swing: Swing) -> str:
    """The lowest of the scale, the longest of its texts."""
    return words.minus(f"-{_size(swing.largest, swing)}")


def _turned(decay: Decay, time_s: float) -> NDArray[np.complex128]:
    """(k,) exp(rate t)."""
    power = decay.rate * time_s
    return np.asarray(np.exp(np.minimum(power.real, 700.0) + 1j * power.imag))


def _polygon(x: Array, y: Array) -> QPolygonF:
    return QPolygonF([QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)])
