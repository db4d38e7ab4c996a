"""A small chart to look into: two axes, a grid, curves by name, painted in one go.

The view is fitted when asked, and left alone once a person has zoomed (Ctrl and wheel, or a drag); a
double click shows all again. Everything but the curves is painted again only when the view changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QColor,
    QContextMenuEvent,
    QFontMetricsF,
    QGuiApplication,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QWheelEvent,
)
from PySide6.QtWidgets import QMenu, QSizePolicy, QWidget

from app.drawing.ink import Align, Ink, polygon, strong_curve, text_width
from app.fields.wheel import zooms
from app.results.chart_area import Area, Range
from app.results.ticks import linear_ticks, log_ticks
from app.theme import look

Array = NDArray[np.float64]
WIDEST_LABEL = "\N{MINUS SIGN}200 mm"
X_MARKS, Y_MARKS = 6, 4
TOP, RIGHT, FOOT = 3.0, 11.0, 19.0
ZOOM = 1.02 ** (1.0 / 8.0)
"""Per unit of the wheel's angle."""


@dataclass(frozen=True, eq=False)
class _Curve:
    """x, y in axis coordinates, x rising."""

    x: Array
    y: Array
    color: QColor
    width: float
    dash: tuple[float, ...]
    z: float


class Chart(QWidget):
    """Curves by key on fixed axes. Log axes take data as exponents of ten (see `set_curve`)."""

    hovered = Signal(str)

    def __init__(
        self, name: str, accessible: str, *, log_x: bool, log_y: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self.setAccessibleName(accessible)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._log_x, self._log_y = log_x, log_y
        self._curves: dict[str, _Curve] = {}
        self._band: tuple[Array, Array, Array, QColor] | None = None
        self._units = ("", "")
        self._x, self._y = Range(0.0, 1.0), Range(0.0, 1.0)
        self._zoomed = False
        self._held: tuple[QPointF, Area] | None = None
        self._ground: QPixmap | None = None
        self._ground_of: tuple[object, ...] = ()
        look.look_changed.connect(self.update)

    # ---- data ----------------------------------------------------------------------------

    def set_units(self, x_unit: str, y_unit: str) -> None:
        """Units written at the marks; the prefix is chosen per mark."""
        if (x_unit, y_unit) != self._units:
            self._units = (x_unit, y_unit)
            self.update()

    def set_curve(
        self,
        key: str,
        x: Array,
        y: Array,
        color: QColor,
        *,
        width: float = 1.0,
        dash: Sequence[float] = (),
        z: float = 0.0,
    ) -> None:
        """Create or move the curve `key`; values are physical, the axes take the logarithm."""
        if not np.isfinite(y).all():  # what has no value (an unstable layout's answer) is not drawn
            keep = np.isfinite(y)
            x, y = x[keep], y[keep]
        x, y = (_logarithm(x) if self._log_x else x), (_logarithm(y) if self._log_y else y)
        self._curves[key] = _Curve(x, y, color, width, tuple(dash), z)
        self.update()

    def set_band(self, x: Array, low: Array, high: Array, color: QColor) -> None:
        """A filled band behind the curves; without points it goes."""
        if self._log_x:
            x = _logarithm(x)
        if self._log_y:
            low, high = _logarithm(low), _logarithm(high)
        self._band = (x, low, high, color) if len(x) else None
        self.update()

    @property
    def has_band(self) -> bool:
        return self._band is not None

    def keep_only(self, keys: Sequence[str]) -> None:
        """Take away the curves that are not in `keys`."""
        self._curves = {key: curve for key, curve in self._curves.items() if key in keys}
        self.update()

    def curve_data(self, key: str) -> tuple[Array, Array]:
        """What is drawn for `key`, in axis coordinates."""
        curve = self._curves[key]
        return curve.x, curve.y

    def curve_dash(self, key: str) -> tuple[float, ...]:
        """Its dashes, in line widths; () for a solid line."""
        return self._curves[key].dash

    def fit(self, *, force: bool = False, depth: float = 6.0) -> None:
        """Show all curves, at most `depth` decades below the highest point of a log axis.

        A view that a person zoomed stays unless `force`.
        """
        if self._zoomed and not force:
            return
        data = [(curve.x, curve.y) for curve in self._curves.values() if curve.x.size]
        if not data:
            return
        x_low, x_high = min(float(x.min()) for x, _ in data), max(float(x.max()) for x, _ in data)
        y_low, y_high = min(float(y.min()) for _, y in data), max(float(y.max()) for _, y in data)
        if self._log_y:
            y_low = max(y_low, y_high - depth)
        pad = 0.06 * (y_high - y_low) or 1.0
        self._zoomed = False
        self._show(Range(x_low, x_high), Range(y_low - pad, y_high + pad))

    @property
    def shown_range(self) -> tuple[Range, Range]:
        """What is shown of x and y, in axis coordinates."""
        return self._x, self._y

    def _show(self, x: Range, y: Range) -> None:
        if (x, y) != (self._x, self._y) and x.length > 0.0 and y.length > 0.0:
            self._x, self._y = x, y
            self.update()

    # ---- painting ------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(256, 192)

    def _area(self) -> Area:
        # a fixed width beside it: the curves must not move sideways when a label gets longer
        left = QFontMetricsF(look.font(11)).horizontalAdvance(WIDEST_LABEL) + 10.0
        box = QRectF(left, TOP, max(self.width() - left - RIGHT, 10.0), max(self.height() - TOP - FOOT, 10.0))
        return Area(box, self._x, self._y)

    def paintEvent(self, event: QPaintEvent) -> None:
        area, now = self._area(), look.current()
        ink = Ink(now, self.devicePixelRatioF())
        with QPainter(self) as p:
            p.drawPixmap(0, 0, self._ground_picture(area, ink))
            p.setClipRect(area.box)
            if self._band is not None:
                x, low, high, colour = self._band
                x_px = area.x_px(x)
                p.setPen(Qt.PenStyle.NoPen)
                p.setBrush(colour)
                ends = np.concatenate([area.y_px(low), area.y_px(high)[::-1]])
                p.drawPolygon(polygon(np.concatenate([x_px, x_px[::-1]]), ends))
                p.setBrush(Qt.BrushStyle.NoBrush)
            for curve in sorted(self._curves.values(), key=lambda one: one.z):
                _paint_curve(p, curve, area, ink)

    def _ground_picture(self, area: Area, ink: Ink) -> QPixmap:
        """Panel, grid, marks and frame."""
        key = (area, self._units, ink.look.name, self.width(), self.height(), ink.ratio)
        if self._ground is None or key != self._ground_of:
            ratio = ink.ratio or 1.0
            made = QPixmap(self.size() * ratio)
            made.setDevicePixelRatio(ratio)
            made.fill(ink.look.panel)
            with QPainter(made) as p:
                self._paint_ground(p, area, ink)
            self._ground, self._ground_of = made, key
        return self._ground

    def _paint_ground(self, p: QPainter, area: Area, ink: Ink) -> None:
        box, font = area.box, ink.font(11)
        tall = QFontMetricsF(font).height()
        p.setFont(font)
        x_maker, y_maker = (log_ticks if log else linear_ticks for log in (self._log_x, self._log_y))
        line, words, taken = ink.pen(ink.look.line), ink.pen(ink.look.faint_text), 0.0
        for at, text in area.x_marks(x_maker, self._units[0], X_MARKS):
            p.setPen(line)
            p.drawLine(QLineF(at, box.top(), at, box.bottom()))
            half = 0.5 * text_width(font, text) + 1.0
            left = min(at - half, self.width() - 2.0 * half)
            if left >= taken:  # marks too near to each other share the first one's words
                p.setPen(words)
                p.drawText(QRectF(left, box.bottom() + 2.0, 2.0 * half, tall), Align.AlignCenter, text)
                taken = left + 2.0 * half + 4.0
        for at, text in area.y_marks(y_maker, self._units[1], Y_MARKS):
            p.setPen(line)
            p.drawLine(QLineF(box.left(), at, box.right(), at))
            p.setPen(words)
            top = min(max(at - 0.5 * tall, 0.0), self.height() - tall)
            p.drawText(QRectF(0.0, top, box.left() - 5.0, tall), Align.AlignRight | Align.AlignVCenter, text)
        p.setPen(ink.pen(ink.look.strong_line))
        p.drawRect(box)

    # ---- hands ---------------------------------------------------------------------------

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Ctrl and wheel zoom about the pointer, over an axis that axis alone; the wheel alone scrolls the page the
        chart stands on."""
        if not zooms(event):
            event.ignore()
            return
        area, at = self._area(), event.position()
        x, y = area.at(at)
        factor = ZOOM ** -float(event.angleDelta().y() or event.angleDelta().x())
        along = at.x() >= area.box.left()
        up = at.y() <= area.box.bottom()
        self._zoomed = True
        self._show(self._x.scaled(factor, x) if along else self._x, self._y.scaled(factor, y) if up else self._y)
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._held = (event.position(), self._area())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._held = None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._held is not None:
            start, area = self._held
            moved = event.position() - start
            self._zoomed = True
            self._show(area.x.moved(-moved.x() / area.px_per_x), area.y.moved(moved.y() / area.px_per_y))
        area = self._area()
        inside = area.box.contains(event.position())
        self.hovered.emit(self.reading_at(area.at(event.position())[0]) if inside else "")

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.fit(force=True)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        menu = QMenu(self)
        menu.addAction("Fit the view", self.fit_all)
        menu.addAction("Copy picture", self.copy_picture)
        menu.exec(event.globalPos())
        menu.deleteLater()

    def leaveEvent(self, event: QEvent) -> None:
        self.hovered.emit("")
        super().leaveEvent(event)

    @Slot()
    def fit_all(self) -> None:
        self.fit(force=True)

    @Slot()
    def copy_picture(self) -> None:
        QGuiApplication.clipboard().setPixmap(self.grab())

    def reading_at(self, x: float) -> str:
        """The curves' values at axis coordinate `x`, in words; overridden by what the chart shows."""
        return ""

    def values_at(self, key: str, x: float) -> float | None:
        """The curve's value at axis coordinate `x` (linear between points), physical; None outside."""
        xs, ys = self.curve_data(key)
        if xs.size < 2 or not xs[0] <= x <= xs[-1]:
            return None
        value = float(np.interp(x, xs, ys))
        return 10.0**value if self._log_y else value


def _paint_curve(p: QPainter, curve: _Curve, area: Area, ink: Ink) -> None:
    seen = area.seen(curve.x)
    x, y = area.x_px(curve.x[seen]), area.y_px(curve.y[seen])
    if curve.width > 1.0 and not curve.dash:
        strong_curve(p, x, y, curve.color, ink, curve.width)
        return
    p.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    p.setPen(ink.pen(curve.color, curve.width, curve.dash))
    p.drawPolyline(polygon(x, y))
    p.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _logarithm(values: Array) -> Array:
    """Base-ten logarithm with a floor far below anything drawn, so that zero is no special case."""
    return np.log10(np.maximum(values, 1e-30))
