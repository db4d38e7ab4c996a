"""The plan view: outline, cut-outs, keep-outs, attachments, packages seen from above."""

from __future__ import annotations

from dataclasses import dataclass
from math import copysign, degrees, hypot

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QTransform

from app.drawing.absorber_view import paint_in_plan
from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, arrow, hatch, polygon, polygon_path, rect_path
from app.drawing.labels import TALL, Labels, label_width
from app.drawing.limit_marks import paint_cross
from app.drawing.patch_view import PatchView
from app.drawing.structure_view import StructureView
from app.drawing.supports import paint_support
from app.drawing.view_model import DrawingView
from app.theme import look as looks
from core.beam.distinct import distinct
from core.project.structure import DatumFeature, KeepOut, PointMass

_FACTORS = (0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0)


@dataclass(frozen=True)
class YScale:
    """Across the part to pixels down the page: y = 0 on the centreline, positive up."""

    middle_px: float
    px_per_m: float
    factor: float
    """Stretch against the x scale; 1 is true shape."""

    def px(self, y_m: float) -> float:
        return self.middle_px - y_m * self.px_per_m

    def y(self, px: float) -> float:
        return (self.middle_px - px) / self.px_per_m


def y_scale(rect: QRectF, widest_m: float, scale: XScale) -> YScale:
    """True shape where it fits; a part too wide is squeezed and a very narrow one stretched, and said so."""
    room = rect.height() - 24.0
    wanted = room / (widest_m * scale.px_per_m)
    factor = max((f for f in _FACTORS if f <= wanted), default=_FACTORS[0])
    if factor > 1.0 and widest_m * scale.px_per_m > 40.0:
        factor = 1.0
    return YScale(rect.center().y(), scale.px_per_m * factor, factor)


def true_path(structure: StructureView, scale: XScale, ys: YScale) -> QPainterPath:
    """The outline of the drawing, its openings left out (odd-even filling)."""
    path = QPainterPath()
    for ring in structure.rings_m:
        path.addPath(
            polygon_path(polygon(scale.px_array(ring[:, 0]), ys.middle_px - ring[:, 1] * ys.px_per_m))
        )
    return path


def outline_path(structure: StructureView, scale: XScale, ys: YScale) -> QPainterPath:
    """The net outline of the model: edges through the stations, holes and slots left out."""
    x = scale.px_array(structure.stations_m)
    half = structure.half_width_m * ys.px_per_m
    edge = polygon(
        np.concatenate([x, x[::-1]]), np.concatenate([ys.middle_px - half, (ys.middle_px + half)[::-1]])
    )
    path = polygon_path(edge)
    for cut in structure.cut_outs:
        hole = QPainterPath()
        centre = QPointF(scale.px(cut.x_m), ys.px(cut.y_m))
        if cut.kind == "hole":
            radius = 0.5 * cut.diameter_m
            hole.addEllipse(centre, radius * scale.px_per_m, radius * ys.px_per_m)
        else:
            wide, tall = cut.length_m * scale.px_per_m, cut.width_m * ys.px_per_m
            hole.addRect(QRectF(centre.x() - wide / 2, centre.y() - tall / 2, wide, tall))
        path = path.subtracted(hole)
    return path


def zone_path(zone: KeepOut, structure: StructureView, scale: XScale, ys: YScale) -> QPainterPath:
    """The area of a keep-out in the plan."""
    if zone.polygon_m:
        points = np.asarray(zone.polygon_m)
        return polygon_path(polygon(scale.px_array(points[:, 0]), ys.middle_px - points[:, 1] * ys.px_per_m))
    x = np.concatenate([[zone.x_start_m], structure.stations_m, [zone.x_end_m]])
    x = distinct(x[(x >= zone.x_start_m) & (x <= zone.x_end_m)])
    half = structure.half_width_at(x) * ys.px_per_m
    px = scale.px_array(x)
    return polygon_path(
        polygon(
            np.concatenate([px, px[::-1]]), np.concatenate([ys.middle_px - half, (ys.middle_px + half)[::-1]])
        )
    )


def paint_plan_ground(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """What a moving patch leaves alone: outline, supports, keep-outs, attachments, datums."""
    look, structure = ink.look, view.structure
    ys = y_scale(rect, structure.widest_m, scale)
    _paint_label(painter, rect, ys, ink)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(ink.pen(look.structure_line))
    painter.setBrush(look.structure_fill)
    modelled = outline_path(structure, scale, ys)
    painter.drawPath(true_path(structure, scale, ys) if structure.rings_m else modelled)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(ink.pen(looks.faded(look.structure_line, 0.6)))
    for line in structure.edge_strips_m:
        for side in (1.0, -1.0):
            painter.drawPolyline(polygon(scale.px_array(line[:, 0]), ys.middle_px - side * line[:, 1] * ys.px_per_m))
    if structure.rings_m:
        painter.setPen(ink.pen(looks.faded(look.accent, 0.55), 1.0, (2.0, 4.0)))
        painter.drawPath(modelled)
    for at_root, support in ((True, structure.root), (False, structure.tip)):
        end = 0.0 if at_root else structure.span_m
        half = float(structure.half_width_at(end)) * ys.px_per_m + 6.0
        box = QRectF(scale.px(end), ys.middle_px - half, 0.0, 2 * half)
        paint_support(painter, box, support.kind, ink, at_root=at_root)
    zones = [(zone, zone_path(zone, structure, scale, ys)) for zone in structure.keep_outs]
    for zone, path in zones:
        _paint_keep_out(painter, path, ink, seen=on_face(zone, view.faces_looked_at))
    for datum in structure.datums:
        _paint_datum(painter, datum, rect, scale, ink, chosen=view.datum == datum)
        if datum.diameter_m is not None:
            _paint_datum_hole(painter, datum, scale, ys, ink, chosen=view.datum == datum)
    for mass in structure.masses:
        _paint_mass(painter, mass, structure, rect, scale, ys, ink)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    labels = Labels()
    if view.datum is not None:
        _name_datum(painter, view.datum, rect, scale, labels, ink, chosen=True)
    for datum in structure.datums:
        if datum != view.datum:
            _name_datum(painter, datum, rect, scale, labels, ink, chosen=False)
    for zone, path in zones:
        _name_keep_out(painter, zone, path, rect, scale, labels, ink)


def on_face(zone: KeepOut, faces: tuple[str, ...]) -> bool:
    """Whether the zone holds for a patch on one of these faces."""
    return zone.face == "both" or zone.face in faces


def _paint_label(painter: QPainter, rect: QRectF, ys: YScale, ink: Ink) -> None:
    painter.setFont(ink.font(12))
    painter.setPen(ink.pen(ink.look.faint_text))
    painter.drawText(QRectF(8, rect.top() + 4, 60, 16), Align.AlignLeft, "Plan")
    if ys.factor != 1.0:
        painter.setFont(ink.font(11))
        painter.drawText(QRectF(8, rect.top() + 20, 60, 14), Align.AlignLeft, f"y × {ys.factor:g}")


def _paint_keep_out(painter: QPainter, path: QPainterPath, ink: Ink, *, seen: bool) -> None:
    """Hatched where it holds for the face looked at; of the other face a faint dashed outline."""
    look = ink.look
    if seen:
        hatch(painter, path, ink.pen(looks.faded(look.keep_out, 0.75)), 7.0)
    painter.setPen(ink.pen(looks.faded(look.keep_out, 0.8 if seen else 0.5), 1.0, () if seen else (4.0, 3.0)))
    painter.drawPath(path)


def _name_keep_out(
    painter: QPainter,
    zone: KeepOut,
    path: QPainterPath,
    rect: QRectF,
    scale: XScale,
    labels: Labels,
    ink: Ink,
) -> None:
    """Beside the part where there is room, so that no patch lies over the name."""
    name = zone.name if zone.face == "top" else f"{zone.name} ({_FACE_WORDS[zone.face]})"
    box = path.boundingRect()
    wide = label_width(name, ink)
    left = min(max(box.center().x() - wide / 2, scale.left_px + 2), scale.right_px + PAST_TIP - wide)
    below, above = box.bottom() + 3, box.top() - TALL - 3
    places = [(left, below)] if below + TALL <= rect.bottom() + 4 else []
    places += [(left, above)] if above >= rect.top() - 3 else []
    places += [(left, box.bottom() - TALL - 3), (left, box.top() + 3), (left, box.center().y() - TALL / 2)]
    labels.write(painter, places, name, ink.look.text, ink)


PAST_TIP = 40.0
"""How far past the tip a name may reach, px; beside it, on the part, a patch may lie."""
_FACE_WORDS = {"underside": "underside", "both": "both faces"}


def _paint_datum(
    painter: QPainter, datum: DatumFeature, rect: QRectF, scale: XScale, ink: Ink, *, chosen: bool
) -> None:
    """A dash-dot line with a filled triangle (hollow when the sheet does not measure from it)."""
    look, at = ink.look, scale.px(datum.x_m)
    colour = look.accent if chosen else look.faint_text
    painter.setPen(ink.pen(colour, 1.0, (8.0, 3.0, 2.0, 3.0)))
    painter.drawLine(QLineF(at, rect.top(), at, rect.bottom()))
    painter.setPen(ink.pen(colour))
    painter.setBrush(colour if chosen else Qt.BrushStyle.NoBrush)
    foot = rect.top()
    painter.drawPolygon([QPointF(at - 4, foot - 6), QPointF(at + 4, foot - 6), QPointF(at, foot)])
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _paint_datum_hole(
    painter: QPainter, datum: DatumFeature, scale: XScale, ys: YScale, ink: Ink, *, chosen: bool
) -> None:
    """The hole the shop measures from, at its size and place across."""
    radius = 0.5 * (datum.diameter_m or 0.0)
    painter.setPen(ink.pen(ink.look.accent if chosen else ink.look.structure_line))
    painter.setBrush(ink.look.window)
    centre = QPointF(scale.px(datum.x_m), ys.px(datum.y_m))
    painter.drawEllipse(centre, radius * scale.px_per_m, radius * ys.px_per_m)
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _name_datum(
    painter: QPainter,
    datum: DatumFeature,
    rect: QRectF,
    scale: XScale,
    labels: Labels,
    ink: Ink,
    *,
    chosen: bool,
) -> None:
    at, wide = scale.px(datum.x_m), label_width(datum.name, ink)
    places = [(at + 5, rect.top() - 3), (at - 5 - wide, rect.top() - 3)]
    places = [(left, top) for left, top in places if left > 66 and left + wide < scale.right_px + 44]
    labels.write(painter, places, datum.name, ink.look.accent if chosen else ink.look.faint_text, ink)


def _paint_mass(
    painter: QPainter, mass: PointMass, structure: StructureView, rect: QRectF, scale: XScale, ys: YScale, ink: Ink
) -> None:
    """A filled disc, on an arm where it lies beyond the edge; the side view below it writes the name."""
    x = scale.px(mass.x_m)
    at = QPointF(x, min(max(ys.px(mass.y_m), rect.top() + 8.0), rect.bottom() - 8.0))
    painter.setPen(ink.pen(ink.look.text))
    edge = float(structure.half_width_at(mass.x_m))
    if abs(mass.y_m) > edge:
        painter.drawLine(QPointF(x, ys.px(copysign(edge, mass.y_m))), at)
    painter.setBrush(looks.faded(ink.look.text, 0.75))
    painter.drawEllipse(at, 6.0, 6.0)
    painter.setBrush(Qt.BrushStyle.NoBrush)


def paint_plan_patches(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """The packages, the selected one last and on top."""
    ys = y_scale(rect, view.structure.widest_m, scale)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    for patch in sorted(view.patches, key=_selected_last):
        _paint_package(painter, patch, view, scale, ys, ink)
    for patch in view.patches:
        if any(mark.broken and mark.patch == patch.id for mark in view.marks):
            box = package_rect(patch, scale, ys)
            paint_cross(painter, QPointF(box.right() - 2, box.top() + 1), ink)
    paint_in_plan(painter, view, scale, ys.middle_px, ink)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _selected_last(patch: PatchView) -> bool:
    return patch.selected


def ceramic_rect(patch: PatchView, scale: XScale, ys: YScale) -> QRectF:
    """Outline of the ceramic before turning."""
    return _box(patch, scale, ys, 0.0, 0.0)


def package_rect(patch: PatchView, scale: XScale, ys: YScale) -> QRectF:
    """Outline of the whole package before turning."""
    return _box(patch, scale, ys, patch.margin_m, patch.side_margin_m)


def _box(patch: PatchView, scale: XScale, ys: YScale, end_m: float, side_m: float) -> QRectF:
    half = 0.5 * patch.width_m + side_m
    left = scale.px(patch.x_a_m - end_m)
    wide = scale.px(patch.x_b_m + end_m) - left
    return QRectF(left, ys.px(patch.y_m + half), wide, 2 * half * ys.px_per_m)


def _paint_package(
    painter: QPainter, patch: PatchView, view: DrawingView, scale: XScale, ys: YScale, ink: Ink
) -> None:
    look = ink.look
    outer = package_rect(patch, scale, ys)
    ceramic = ceramic_rect(patch, scale, ys)
    hidden = "top" not in patch.faces
    line = look.accent if patch.selected else look.ceramic_line
    turn = turned(patch, outer, ys)
    painter.save()
    painter.setTransform(turn, True)
    painter.setPen(ink.pen(line, 2.0 if patch.selected else 1.0, (5.0, 3.0) if hidden else ()))
    painter.setBrush(looks.faded(look.package, 0.5 if hidden else 1.0))
    painter.drawRoundedRect(outer, 3.0, 3.0)
    painter.setPen(ink.pen(look.ceramic_line, 1.0, (4.0, 3.0) if hidden else ()))
    painter.setBrush(looks.faded(look.ceramic, 0.35 if hidden else 1.0))
    painter.drawRect(ceramic)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if patch.selected:
        _paint_handles(painter, ceramic, ink)
    for collision in patch.collisions:
        left, right = scale.px(collision.x_start_m), scale.px(collision.x_end_m)
        area = QRectF(left, outer.top(), right - left, outer.height())
        paint_collision(painter, area, ink, caution=collision.caution)
    painter.restore()
    _paint_lead(painter, patch, outer, turn, ink)
    _paint_name(painter, patch, ceramic, turn, ink, hidden=hidden)


def turned(patch: PatchView, outer: QRectF, ys: YScale) -> QTransform:
    """From the outline before turning to where it is drawn: where the plan is squeezed across, a turned rectangle is
    drawn as the parallelogram it is. What is written on it stays upright."""
    turn = QTransform()
    if patch.angle_rad:
        turn.translate(outer.center().x(), outer.center().y())
        turn.scale(1.0, ys.factor)
        turn.rotate(-degrees(patch.angle_rad))
        turn.scale(1.0, 1.0 / ys.factor)
        turn.translate(-outer.center().x(), -outer.center().y())
    return turn


def paint_collision(painter: QPainter, area: QRectF, ink: Ink, *, caution: bool) -> None:
    """The red hatch over a stretch where a package must not be; the colour of a caution for its margin."""
    colour = ink.look.caution if caution else ink.look.danger
    hatch(painter, rect_path(area), ink.pen(colour, 1.5), 5.0, rising=False)
    painter.setPen(ink.pen(colour, 1.5))
    painter.drawRect(area)


def _paint_lead(painter: QPainter, patch: PatchView, outer: QRectF, turn: QTransform, ink: Ink) -> None:
    """An arrow out of the package where the leads leave it."""
    where = {
        "towards root": (QPointF(outer.left(), outer.center().y()), -1.0, 0.0),
        "towards tip": (QPointF(outer.right(), outer.center().y()), 1.0, 0.0),
        "left": (QPointF(outer.center().x(), outer.top()), 0.0, -1.0),
        "right": (QPointF(outer.center().x(), outer.bottom()), 0.0, 1.0),
    }
    at, along, across = where[patch.lead_exit]
    start, ahead = turn.map(at), turn.map(QPointF(at.x() + along, at.y() + across))
    far = max(hypot(ahead.x() - start.x(), ahead.y() - start.y()), 1e-9)
    dx, dy = (ahead.x() - start.x()) / far, (ahead.y() - start.y()) / far
    tip = QPointF(start.x() + 13 * dx, start.y() + 13 * dy)
    painter.setPen(ink.pen(ink.look.text, 1.5))
    painter.drawLine(start, QPointF(tip.x() - 5 * dx, tip.y() - 5 * dy))
    painter.setPen(ink.pen(ink.look.text))
    arrow(painter, tip, dx, dy, 6.0)


def _paint_name(
    painter: QPainter, patch: PatchView, ceramic: QRectF, turn: QTransform, ink: Ink, *, hidden: bool
) -> None:
    """Name, face and the polarity dot with its sign, upright where `turn` takes their places."""
    look = ink.look
    text_colour = look.text if hidden else _on_ceramic(ink)
    faces = _FACES_WORDS.get(patch.faces, "")
    sign = "+" if patch.signs[0] > 0 else "−"
    name = patch.id
    roomy = ceramic.height() > 60 and ceramic.width() > 50
    if roomy or ceramic.width() > 100:
        dot = turn.map(QPointF(ceramic.left() + 13, ceramic.top() + 13 if roomy else ceramic.center().y()))
        painter.setPen(ink.pen(text_colour))
        painter.setBrush(text_colour)
        painter.drawEllipse(dot, 3.5, 3.5)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setFont(ink.font(13, bold=True))
        painter.drawText(QRectF(dot.x() + 5, dot.y() - 9, 14, 18), Align.AlignCenter, sign)
    else:
        name = f"●{sign} {patch.id}"
    painter.setPen(ink.pen(text_colour))
    painter.setFont(ink.font(12, bold=patch.selected))
    box = ceramic if ceramic.width() >= 30 else ceramic.adjusted(-20, 0, 20, 0)
    if faces and ceramic.height() > 36 and ceramic.width() > 60:
        painter.drawText(box.adjusted(0, -8, 0, -8), Align.AlignCenter, name)
        painter.setFont(ink.font(11))
        painter.drawText(box.adjusted(0, 8, 0, 8), Align.AlignCenter, faces)
    else:
        painter.drawText(box, Align.AlignCenter, name)


_FACES_WORDS = {("underside",): "underside", ("top", "underside"): "both faces"}


def _on_ceramic(ink: Ink) -> QColor:
    return ink.look.text if not ink.look.is_dark else ink.look.window


def _paint_handles(painter: QPainter, ceramic: QRectF, ink: Ink) -> None:
    """Grips at both ends of the ceramic: these are what resizing takes hold of."""
    tall = min(22.0, 0.5 * ceramic.height())
    painter.setPen(ink.pen(ink.look.accent))
    painter.setBrush(ink.look.panel)
    for at in (ceramic.left(), ceramic.right()):
        painter.drawRoundedRect(QRectF(at - 3, ceramic.center().y() - tall / 2, 6, tall), 2.5, 2.5)
    painter.setBrush(Qt.BrushStyle.NoBrush)


def paint_zone_mark(
    painter: QPainter, rect: QRectF, view: DrawingView, index: int, scale: XScale, ink: Ink
) -> None:
    """The outline of the keep-out that was clicked."""
    ys = y_scale(rect, view.structure.widest_m, scale)
    painter.setPen(ink.pen(ink.look.accent, 2.0))
    painter.drawPath(zone_path(view.structure.keep_outs[index], view.structure, scale, ys))
