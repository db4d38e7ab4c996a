"""One mode over x: deflection as the solid emphasised line, curvature dashed over its filled area."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPolygonF

from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, fitting, polygon, strong_curve, text_width
from app.drawing.view_model import DrawingView, ModeView
from app.theme import look as looks
from core.units import words

Array = NDArray[np.float64]

FADED = 0.35
_LEFT = Align.AlignLeft | Align.AlignVCenter
_DIAMOND = QPolygonF([QPointF(-4, 0), QPointF(0, -4), QPointF(4, 0), QPointF(0, 4)])
TALL = 36.0
"""Strips of this height have room for two lines beside them."""


def paint_mode_frame(painter: QPainter, rect: QRectF, ink: Ink) -> None:
    """The empty strip: page, frame and zero line."""
    painter.fillRect(rect, ink.look.panel)
    painter.setPen(ink.pen(ink.look.line))
    painter.drawRect(rect)
    painter.drawLine(QLineF(rect.left(), rect.center().y(), rect.right(), rect.center().y()))


def paint_mode_name(painter: QPainter, rect: QRectF, mode: ModeView, ink: Ink, asked: str, *, faded: bool) -> None:
    """Number and, where it is told, name beside the strip; one that is `asked` for has a frame and a bar of its colour, and says so."""
    colour = _colour(mode, ink)
    if asked:
        painter.setPen(ink.pen(colour))
        painter.drawRect(rect)
        painter.fillRect(QRectF(rect.left() - 5, rect.top(), 4, rect.height()), colour)
    painter.setPen(ink.pen(ink.look.faint_text if faded else colour))
    painter.setFont(ink.font(12, bold=True))
    top, chip = _label_top(rect, asked)
    if rect.height() < TALL:
        painter.drawText(QRectF(4, top, 12, 16), _LEFT, str(mode.number or ""))
        return
    named = f"{mode.number} · {mode.name}" if mode.name and mode.number else mode.label
    painter.drawText(QRectF(8, top, 62, 17), _LEFT, named)
    if chip:
        font = ink.font(11)
        box = QRectF(8, top + 34, text_width(font, asked) + 8, 15)
        painter.fillRect(box, looks.faded(colour, 0.15))
        painter.setFont(font)
        painter.drawText(box, Align.AlignCenter, asked)


def _label_top(rect: QRectF, asked: str) -> tuple[float, bool]:
    """Where the label beside a strip begins, and whether there is room for what it is asked as."""
    chip = bool(asked) and rect.height() >= 50.0
    return rect.center().y() - (8 if rect.height() < TALL else 25 if chip else 17), chip


def paint_mode_caption(painter: QPainter, rect: QRectF, view: DrawingView, ink: Ink) -> None:
    """The key of the strips at the right, and what they stand for when they are not current."""
    look = ink.look
    font = ink.font(11)
    painter.setFont(font)
    x = rect.right()
    for text, dash in (("strain node", None), ("curvature", (4.0, 3.0)), ("deflection", ())):
        wide = text_width(font, text) + 4
        painter.setPen(ink.pen(look.faint_text))
        painter.drawText(QRectF(x - wide, rect.top(), wide, rect.height()), Align.AlignCenter, text)
        middle = rect.center().y()
        if dash is None:
            _node(painter, x - wide - 7, middle + 3, look.faint_text, ink)
        else:
            painter.setPen(ink.pen(look.faint_text, 1.0 if dash else 2.0, dash))
            painter.drawLine(QLineF(x - wide - 24, middle, x - wide - 3, middle))
        x -= wide + (22 if dash is None else 40)
    if view.stale:
        painter.setFont(ink.font(11, bold=True))
        painter.setPen(ink.pen(look.caution))
        painter.drawText(rect, Align.AlignLeft | Align.AlignVCenter, "last good result")
    elif not view.modes:
        painter.setPen(ink.pen(look.faint_text))
        painter.drawText(rect, Align.AlignLeft | Align.AlignVCenter, "no result yet")


def paint_mode(
    painter: QPainter,
    rect: QRectF,
    mode: ModeView,
    scale: XScale,
    ink: Ink,
    *,
    stale: bool,
    asked: str = "",
) -> None:
    """Curvature, deflection, strain nodes and the frequency of one mode in its strip; of one that twists its two edges."""
    look = ink.look
    colour, stale = _colour(mode, ink), stale or mode.old
    if stale:
        colour = looks.faded(colour, FADED)
    if mode.edges is not None:
        _paint_twist(painter, rect, mode, scale, ink, colour, stale=stale)
        return
    x = scale.px_array(mode.x_m)
    middle, reach = rect.center().y(), 0.5 * rect.height() - 4
    if mode.chord is not None:
        _paint_told(painter, rect, mode, ink)  # under the curves
        edges = [middle - reach * edge for edge in mode.chord]
        centre = middle - reach * np.interp(mode.x_m, mode.deflection_x_m, mode.deflection)
        _paint_chord(painter, x, edges, centre, mode, ink, colour, stale=stale)
    curve = middle - reach * mode.curvature
    area = polygon(np.concatenate([[x[0]], x, [x[-1]]]), np.concatenate([[middle], curve, [middle]]))
    if mode.chord is None:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(looks.faded(look.mode(mode.colour), 0.08 if stale else 0.20))
        painter.drawPolygon(area)
        painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(ink.pen(colour, 1.0, (4.0, 3.0)))
    painter.drawPolyline(polygon(x, curve))
    for node in mode.strain_nodes_m.tolist():
        _node(painter, scale.px(node), middle, colour, ink)
    strong_curve(painter, scale.px_array(mode.deflection_x_m), middle - reach * mode.deflection, colour, ink)
    _paint_frequency(painter, rect, mode, ink, asked, faded=stale)


def _colour(mode: ModeView, ink: Ink) -> QColor:
    """Its own; a mode that twists has none, for nothing else in the window stands for it."""
    return ink.look.mode(mode.colour) if mode.colour else ink.look.text


def _paint_twist(
    painter: QPainter, rect: QRectF, mode: ModeView, scale: XScale, ink: Ink, colour: QColor, *, stale: bool
) -> None:
    """Both edges with what lies between them, and what patches do to it where there is room."""
    assert mode.edges is not None
    x = scale.px_array(mode.deflection_x_m)
    middle, reach = rect.center().y(), 0.5 * rect.height() - 4
    left, right = (middle - reach * edge for edge in mode.edges)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(looks.faded(ink.look.text, 0.04 if stale else 0.09))
    painter.drawPolygon(polygon(np.concatenate([x, x[::-1]]), np.concatenate([left, right[::-1]])))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    strong_curve(painter, x, left, colour, ink)
    painter.setPen(ink.pen(colour))
    painter.drawPolyline(polygon(x, right))
    _paint_frequency(painter, rect, mode, ink, "", faded=stale)
    _paint_told(painter, rect, mode, ink)


def _paint_chord(
    painter: QPainter, x: Array, edges: Sequence[Array], centre: Array, mode: ModeView, ink: Ink, colour: QColor, *, stale: bool
) -> None:
    """What lies between the middle and the edges of a mode that curves across, and the edges."""
    fill = looks.faded(ink.look.mode(mode.colour), 0.08 if stale else 0.20)
    for edge in edges:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(fill)
        painter.drawPolygon(polygon(np.concatenate([x, x[::-1]]), np.concatenate([edge, centre[::-1]])))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(ink.pen(colour))
        painter.drawPolyline(polygon(x, edge))
        if np.allclose(edges[0], edges[-1], atol=0.25):
            break  # one line, not twice the same


def _paint_told(painter: QPainter, rect: QRectF, mode: ModeView, ink: Ink) -> None:
    """What is said of it, in its upper corner, where there is room; in a low strip a curve would strike the words out."""
    font = ink.font(11)
    text = fitting(font, (mode.told, ""), 0.6 * rect.width())
    box = QRectF(rect.left() + 6, rect.top() + 1, text_width(font, text), 15)
    painter.fillRect(box, ink.look.panel)
    painter.setFont(font)
    painter.setPen(ink.pen(ink.look.faint_text))
    painter.drawText(box, _LEFT, text)


def _node(painter: QPainter, x: float, y: float, colour: QColor, ink: Ink) -> None:
    """A tick with a small open diamond where the curvature is zero."""
    painter.setPen(ink.pen(colour))
    painter.setBrush(ink.look.panel)
    painter.drawPolygon(_DIAMOND.translated(x, y))
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _paint_frequency(painter: QPainter, rect: QRectF, mode: ModeView, ink: Ink, asked: str, *, faded: bool) -> None:
    """Beside the number where the strip is thin, else under it."""
    top, _ = _label_top(rect, asked)
    painter.setPen(ink.pen(ink.look.faint_text if faded else ink.look.text))
    painter.setFont(ink.font(11))
    box = QRectF(17, top, rect.left() - 22, 16) if rect.height() < TALL else QRectF(8, top + 17, 62, 16)
    text = words.frequency(mode.frequency_hz)
    if mode.name and rect.height() < TALL:
        text = f"{mode.name} {words.unitless(text)}"
    painter.drawText(box, _LEFT, text)


def paint_folded(painter: QPainter, rect: QRectF, modes: Sequence[ModeView], ink: Ink) -> None:
    """The modes that have no strip of their own, in one line."""
    if not modes:
        return
    numbers = ", ".join(str(mode.number or mode.name) for mode in modes)
    painter.setPen(ink.pen(ink.look.faint_text))
    bold, plain = ink.font(11, bold=True), ink.font(11)
    painter.setFont(bold)
    title = f"mode{'s' if len(modes) > 1 else ''} {numbers}"
    painter.drawText(QRectF(8, rect.top(), rect.right(), rect.height()), Align.AlignLeft | Align.AlignVCenter, title)
    values = [words.frequency(mode.frequency_hz).removesuffix(" Hz") for mode in modes]
    painter.setFont(plain)
    room = rect.right() - 16 - text_width(bold, title)
    text = fitting(plain, (f"{', '.join(values)} Hz, not asked for", f"{', '.join(values)} Hz", ""), room)
    painter.drawText(rect, Align.AlignRight | Align.AlignVCenter, text)
