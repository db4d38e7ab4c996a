"""The page of the canvas: paints a `DrawingView`, what a moving patch leaves alone from a picture."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QWidget

from app.drawing.arrangement import Arrangement, arrange
from app.drawing.axis import paint_ruler
from app.drawing.dimensions import paint_dimensions
from app.drawing.ink import Align, Ink, text_width
from app.drawing.mode_strip import (
    paint_folded,
    paint_mode,
    paint_mode_caption,
    paint_mode_frame,
    paint_mode_name,
)
from app.drawing.plan import paint_plan_ground, paint_plan_patches, paint_zone_mark
from app.drawing.position_strip import paint_strip_ground, paint_strip_marker, paint_strip_nodes
from app.drawing.side import paint_side_ground, paint_side_patches, z_scale
from app.drawing.snapping import Feature
from app.drawing.strain_strip import paint_strain_ground, paint_strain_marker
from app.drawing.view_model import DrawingView
from app.theme import look as looks


def paint_ground(painter: QPainter, view: DrawingView, page: Arrangement, ink: Ink) -> None:
    """Everything that stays while a patch moves."""
    scale = page.scale
    paint_ruler(painter, page.ruler, scale, ink, view.unit)
    paint_plan_ground(painter, page.plan, view, scale, ink)
    paint_side_ground(painter, page.side, view, scale, ink)
    for rect in page.modes:
        if rect.height() > 0:
            paint_mode_frame(painter, rect, ink)
    for mode, rect in zip(view.modes, page.modes, strict=False):
        if rect.height() > 0:
            paint_mode_name(painter, rect, mode, ink, _asked(view, mode.number), faded=view.stale)
            if mode.old:
                paint_mode(painter, rect, mode, scale, ink, stale=view.stale)
    if page.mode_caption.height() > 0:
        paint_mode_caption(painter, page.mode_caption, view, ink)
    if page.with_strip:
        paint_strip_ground(painter, page.strip_caption, page.strip, view, scale, ink)
    if page.strain.height() > 0:
        paint_strain_ground(painter, page.strain_caption, page.strain, view, scale, ink)


def paint_moving(painter: QPainter, view: DrawingView, page: Arrangement, ink: Ink) -> None:
    """What follows the hand."""
    scale = page.scale
    patch = view.selected
    if patch is not None:
        left, right = scale.px(patch.x_a_m), scale.px(patch.x_b_m)
        for rect in page.strips:
            area = QRectF(left, rect.top() + 1, right - left, rect.height() - 1).intersected(rect)
            painter.fillRect(area, ink.look.band)
    paint_plan_patches(painter, page.plan, view, scale, ink)
    paint_dimensions(painter, page.dimensions, view, scale, ink)
    paint_side_patches(painter, page.side, view, scale, ink)
    for mode, rect in zip(view.modes, page.modes, strict=False):
        if rect.height() > 0 and not mode.old:
            paint_mode(painter, rect, mode, scale, ink, stale=view.stale, asked=_asked(view, mode.number))
    if page.folded.height() > 0:
        paint_folded(painter, page.folded, [m for m in view.modes if m.number not in view.asked], ink)
    if page.with_strip:
        lowest = page.strain if page.strain.height() > 0 else page.strip
        paint_strip_nodes(painter, lowest, view, scale, ink)
        paint_strip_marker(painter, page.strip, view, scale, ink)
    if page.strain.height() > 0:
        paint_strain_marker(painter, page.strain, view, scale, ink)


def _asked(view: DrawingView, number: int) -> str:
    """"asked" of a mode a person asked for, "tuned" of one the circuits are tuned on, else nothing."""
    if number not in view.asked:
        return ""
    return "asked" if view.is_asked else "tuned" if view.is_tuned else ""


def arrangement_of(view: DrawingView, width: float, height: float) -> Arrangement:
    """Where everything of a view lies on a page of that size."""
    return arrange(
        width, height, view.span_m, view.asked_flags, with_strip=view.with_strip, with_strain=view.with_strain
    )


def paint_drawing(painter: QPainter, view: DrawingView, page: Arrangement, ink: Ink) -> None:
    """The whole drawing on any device."""
    painter.fillRect(QRectF(0, 0, page.scale.right_px + 60, page.height), ink.look.window)
    paint_ground(painter, view, page, ink)
    paint_moving(painter, view, page, ink)


class Surface(QWidget):
    """Shows what `make_view` returns, asked for once after each `invalidate`."""

    def __init__(self, make_view: Callable[[], DrawingView], parent: QWidget) -> None:
        super().__init__(parent)
        self._make_view = make_view
        self._view: DrawingView | None = None
        self.setObjectName("span_surface")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.hover_x: float | None = None
        self.snapped: Feature | None = None
        self.marked_keep_out: int | None = None
        self._ground: QPixmap | None = None
        self._ground_of: tuple[object, ...] = ()

    @property
    def view(self) -> DrawingView:
        """What is shown now."""
        if self._view is None:
            self._view = self._make_view()
        return self._view

    def invalidate(self) -> None:
        """Ask for a new view before the next paint."""
        self._view = None
        self.update()

    def page(self) -> Arrangement:
        """Where everything lies at the present size."""
        return arrangement_of(self.view, self.width(), self.height())

    def forget_ground(self) -> None:
        """Paint everything afresh next time (another look)."""
        self._ground_of = ()
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(720, 760)

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            page = self.page()
            ratio = self.devicePixelRatioF()
            ink = Ink(looks.current(), ratio)
            painter.drawPixmap(0, 0, self._ground_picture(page, ink, ratio))
            paint_moving(painter, self.view, page, ink)
            marked = self.marked_keep_out
            if marked is not None and marked < len(self.view.structure.keep_outs):
                paint_zone_mark(painter, page.plan, self.view, marked, page.scale, ink)
            self._paint_hover(painter, page, ink)
            self._paint_snap(painter, page, ink)

    def _ground_picture(self, page: Arrangement, ink: Ink, ratio: float) -> QPixmap:
        """The still part, painted again only when something in it changed."""
        view = self.view
        strip = view.strip
        selected = view.selected
        key = (
            view.structure,
            view.unit,
            view.use,
            None if strip is None else strip.zeta,
            None if strip is None else strip.of_use,
            None if strip is None else strip.target_mode,
            None if selected is None else selected.id,
            view.faces_looked_at,
            z_scale(page.side, view.structure, view.patches, page.scale).factor,
            view.datum,
            view.asked,
            view.is_asked,
            view.is_tuned,
            view.stale,
            tuple((mode.number, mode.colour, mode.name) for mode in view.modes),
            tuple(id(mode.edges) if mode.old else None for mode in view.modes),
            view.with_strip,
            view.strip_is_old,
            view.with_strain,
            () if strip is None else (strip.inherent, strip.needed),
            ink.look.name,
            self.width(),
            self.height(),
            ratio,
            self.hasFocus(),
        )
        if self._ground is None or not _same(key, self._ground_of):
            picture = QPixmap(self.size() * ratio)
            picture.setDevicePixelRatio(ratio)
            picture.fill(ink.look.window)
            with QPainter(picture) as painter:
                paint_ground(painter, view, page, ink)
                if self.hasFocus():
                    painter.setPen(ink.pen(ink.look.accent, 2.0))
                    painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
            self._ground, self._ground_of = picture, key
        return self._ground

    def _paint_hover(self, painter: QPainter, page: Arrangement, ink: Ink) -> None:
        """A hairline through every strip at the pointer, its x on the ruler."""
        if self.hover_x is None or self.snapped is not None:
            return
        at = self.hover_x
        x_m = page.scale.x(at)
        if not 0.0 <= x_m <= page.scale.span_m:
            return
        top, bottom = page.ruler.bottom(), max(page.strip.bottom(), page.strain.bottom())
        # filled: a see-through line is put down pixel by pixel
        painter.fillRect(QRectF(at, top, ink.hairline, bottom - top), looks.faded(ink.look.text, 0.35))
        _flag(painter, QPointF(at, page.ruler.bottom() - 16), f"{1e3 * x_m:.1f}", ink.look.text, ink)

    def _paint_snap(self, painter: QPainter, page: Arrangement, ink: Ink) -> None:
        if self.snapped is None:
            return
        at = page.scale.px(self.snapped.x_m)
        painter.setPen(ink.pen(ink.look.accent, 1.0, (2.0, 2.0)))
        painter.drawLine(QLineF(at, page.ruler.bottom(), at, page.side.bottom()))
        text = f"{self.snapped.name} {1e3 * self.snapped.x_m:.1f}"
        _flag(painter, QPointF(at, page.ruler.bottom() - 16), text, ink.look.accent, ink)


def _flag(painter: QPainter, at: QPointF, text: str, colour: QColor, ink: Ink) -> None:
    """A small plate with `text`, centred over `at`."""
    font = ink.font(11, bold=True)
    wide = text_width(font, text) + 8
    plate = QRectF(max(at.x() - wide / 2, 2.0), at.y() - 8, wide, 16)
    painter.fillRect(plate, ink.look.panel)
    painter.setPen(ink.pen(colour))
    painter.drawRect(plate)
    painter.setFont(font)
    painter.drawText(plate, Align.AlignCenter, text)


def _same(one: tuple[object, ...], other: tuple[object, ...]) -> bool:
    """Equal item by item; arrays and views count as equal only when identical."""
    plain = (str, int, float, tuple)
    return len(one) == len(other) and all(
        a is b or (isinstance(a, plain) and a == b) for a, b in zip(one, other, strict=True)
    )
