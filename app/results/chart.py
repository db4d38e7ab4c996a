"""A small chart to look into: two axes, an own grid item, curves that keep their identity.

pyqtgraph's showGrid costs more than the curves, and auto-range makes the picture swim under the
hand; neither is used. The view is fitted when asked, and left alone once a person has zoomed (Ctrl and wheel, or a drag); a
double click shows all again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, QRectF, Signal, Slot
from PySide6.QtGui import QColor, QContextMenuEvent, QFontMetricsF, QGuiApplication, QPainter, QWheelEvent
from PySide6.QtWidgets import QMenu, QWidget

from app.fields.wheel import zooms
from app.results.ticks import Tick, linear_ticks, log_ticks
from app.theme import look

Array = NDArray[np.float64]
WIDEST_LABEL = "\N{MINUS SIGN}200 mm"
TickMaker = Callable[..., list[Tick]]


class _Axis(pg.AxisItem):
    """An axis whose marks come from `ticks`, with the unit on every label."""

    def __init__(self, orientation: str, maker: TickMaker, wanted: int) -> None:
        super().__init__(orientation)
        self._maker, self._wanted, self.unit_text = maker, wanted, ""
        self.enableAutoSIPrefix(False)
        self.setStyle(tickLength=-3, autoExpandTextSpace=True, hideOverlappingLabels=False)

    def marks(self, low: float, high: float) -> list[Tick]:
        size = self.size()
        room = size.width() / 46.0 if self.orientation == "bottom" else size.height() / 24.0
        return self._maker(low, high, self.unit_text, wanted=max(min(self._wanted, int(room)), 1))

    def tickValues(self, minVal: float, maxVal: float, size: float) -> list[tuple[float, list[float]]]:
        return [(1.0, [at for at, _, labelled in self.marks(minVal, maxVal) if labelled])]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        texts = {at: text for at, text, _ in self.marks(*self.range)}
        return [texts.get(value, "") for value in values]


class _Grid(pg.GraphicsObject):
    """All grid lines in one item behind the curves; opaque cosmetic lines cost nothing."""

    def __init__(self, x_axis: _Axis, y_axis: _Axis) -> None:
        super().__init__()
        self._x_axis, self._y_axis = x_axis, y_axis
        self.setZValue(-100)

    def boundingRect(self) -> QRectF:
        return self.viewRect() or QRectF()

    def viewRangeChanged(self) -> None:
        self.prepareGeometryChange()
        self.update()

    def paint(self, painter: QPainter, *_around: object) -> None:
        area = self.boundingRect()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(look.pen(look.current().line, 1.0, self.getViewWidget()))
        for at, _, labelled in self._x_axis.marks(area.left(), area.right()):
            if labelled:
                painter.drawLine(QPointF(at, area.top()), QPointF(at, area.bottom()))
        for at, _, labelled in self._y_axis.marks(area.top(), area.bottom()):
            if labelled:
                painter.drawLine(QPointF(area.left(), at), QPointF(area.right(), at))


class Chart(pg.PlotWidget):
    """Curves by key on fixed axes. Log axes take data as exponents of ten (see `set_curve`)."""

    hovered = Signal(str)

    def __init__(
        self, name: str, accessible: str, *, log_x: bool, log_y: bool, parent: QWidget | None = None
    ) -> None:
        x_axis = _Axis("bottom", log_ticks if log_x else linear_ticks, 6)
        y_axis = _Axis("left", log_ticks if log_y else linear_ticks, 4)
        super().__init__(parent=parent, background=None, axisItems={"bottom": x_axis, "left": y_axis})
        self.setObjectName(name)
        self.setAccessibleName(accessible)
        self._x_axis, self._y_axis = x_axis, y_axis
        self._log_x, self._log_y = log_x, log_y
        self._curves: dict[str, pg.PlotCurveItem] = {}
        self._zoomed = False
        self._box = self.getPlotItem().getViewBox()
        self._box.disableAutoRange()
        self._box.setMenuEnabled(False)
        self._box.sigRangeChangedManually.connect(self._on_zoomed)
        self.getPlotItem().hideButtons()
        self.getPlotItem().setContentsMargins(0, 2, 10, 0)
        self._grid = _Grid(x_axis, y_axis)
        self._box.addItem(self._grid, ignoreBounds=True)
        self.scene().sigMouseMoved.connect(self._on_mouse)
        self._restyle()
        look.look_changed.connect(self._restyle)

    # ---- data ----------------------------------------------------------------------------

    def set_units(self, x_unit: str, y_unit: str) -> None:
        """Units written at the marks; the prefix is chosen per mark."""
        if (x_unit, y_unit) != (self._x_axis.unit_text, self._y_axis.unit_text):
            self._x_axis.unit_text, self._y_axis.unit_text = x_unit, y_unit
            for axis in (self._x_axis, self._y_axis):
                axis.picture = None
                axis.update()

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
        curve = self._curves.get(key)
        if curve is None:
            curve = pg.PlotCurveItem(antialias=True)
            curve.setZValue(z)
            self._curves[key] = curve
            self._box.addItem(curve, ignoreBounds=True)
        pen = look.pen(color, width, self, dash)
        if pen != curve.opts["pen"]:
            curve.setPen(pen)
        if not np.isfinite(y).all():  # what has no value (an unstable layout's answer) is not drawn
            keep = np.isfinite(y)
            x, y = x[keep], y[keep]
        curve.setData(_logarithm(x) if self._log_x else x, _logarithm(y) if self._log_y else y)

    def keep_only(self, keys: Sequence[str]) -> None:
        """Empty the curves that are not in `keys`."""
        for key, curve in self._curves.items():
            if key not in keys:
                curve.setData([], [])

    def curve_data(self, key: str) -> tuple[Array, Array]:
        """What is drawn for `key`, in axis coordinates."""
        x, y = self._curves[key].getData()
        return np.asarray(x if x is not None else []), np.asarray(y if y is not None else [])

    def fit(self, *, force: bool = False, depth: float = 6.0) -> None:
        """Show all curves, at most `depth` decades below the highest point of a log axis.

        A view that a person zoomed stays unless `force`.
        """
        if self._zoomed and not force:
            return
        data = [self.curve_data(key) for key in self._curves]
        data = [(x, y) for x, y in data if x.size]
        if not data:
            return
        x_low, x_high = min(float(x.min()) for x, _ in data), max(float(x.max()) for x, _ in data)
        y_low, y_high = min(float(y.min()) for _, y in data), max(float(y.max()) for _, y in data)
        if self._log_y:
            y_low = max(y_low, y_high - depth)
        pad = 0.06 * (y_high - y_low) or 1.0
        self._zoomed = False
        self._box.setRange(xRange=(x_low, x_high), yRange=(y_low - pad, y_high + pad), padding=0)

    # ---- Qt ------------------------------------------------------------------------------

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Ctrl and wheel zoom about the pointer; the wheel alone scrolls the page the chart stands on."""
        if zooms(event):
            super().wheelEvent(event)
        else:
            event.ignore()

    def mouseDoubleClickEvent(self, event: QEvent) -> None:
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

    @Slot()
    def _on_zoomed(self) -> None:
        self._zoomed = True

    @Slot(object)
    def _on_mouse(self, position: QPointF) -> None:
        if not self._box.sceneBoundingRect().contains(position):
            self.hovered.emit("")
            return
        x = float(self._box.mapSceneToView(position).x())
        self.hovered.emit(self.reading_at(x))

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

    @Slot()
    def _restyle(self) -> None:
        now = look.current()
        self.setBackground(now.panel)
        for axis in (self._x_axis, self._y_axis):
            axis.setPen(look.pen(now.strong_line, 1.0, self))
            axis.setTextPen(now.faint_text)
            axis.setStyle(tickFont=look.font(11))
        # a fixed width: the curves must not move sideways when a label gets longer
        self._y_axis.setWidth(QFontMetricsF(look.font(11)).horizontalAdvance(WIDEST_LABEL) + 10.0)
        self._box.setBorder(look.pen(now.line, 1.0, self))


def _logarithm(values: Array) -> Array:
    """Base-ten logarithm with a floor far below anything drawn, so that zero is no special case."""
    return np.log10(np.maximum(values, 1e-30))

