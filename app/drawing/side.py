"""The side view: layers, neutral axis, packages, supports and attachments, z stretched and said so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPolygonF

from app.drawing.absorber_view import paint_in_side
from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, hatch, polygon, polygon_path, text_width
from app.drawing.labels import TALL, Labels, label_width
from app.drawing.limit_marks import WORDS_TALL, paint_side_words
from app.drawing.patch_view import PatchView, zone_ends
from app.drawing.plan import paint_collision
from app.drawing.structure_view import StructureView
from app.drawing.supports import paint_ground_spring, paint_support
from app.drawing.use_arrow import paint_use_arrow
from app.drawing.view_model import Array, DrawingView
from core.project.structure import PointMass

_FACTORS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200)


@dataclass(frozen=True)
class ZScale:
    """Height above the underside to pixels; `factor` is the stretch against the x scale."""

    zero_px: float
    px_per_m: float
    factor: float

    def px(self, z_m: float) -> float:
        return self.zero_px - z_m * self.px_per_m

    def z(self, px: float) -> float:
        return (self.zero_px - px) / self.px_per_m


def z_scale(rect: QRectF, structure: StructureView, patches: tuple[PatchView, ...], scale: XScale) -> ZScale:
    """The largest stretch at which part and packages fill about half of `rect`."""
    stack = max((patch.stack_m for patch in patches), default=0.0)
    total = structure.thickest_m + 2.0 * stack
    wanted = 0.62 * rect.height() / (total * scale.px_per_m)
    factor = float(max((f for f in _FACTORS if f <= wanted), default=1))
    if wanted < 1.0:
        factor = wanted
    px_per_m = scale.px_per_m * factor
    half = 0.5 * total * px_per_m
    # room over it for the worst limits in words, whether any are told or not: nothing jumps when one is
    middle = max(rect.center().y(), min(rect.top() + WORDS_TALL + half, rect.bottom() - half))
    return ZScale(middle + 0.5 * structure.thickest_m * px_per_m, px_per_m, factor)


def paint_side_ground(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """Layers, supports, keep-outs and attachments: what a moving patch leaves alone."""
    structure, look = view.structure, ink.look
    zs = z_scale(rect, structure, view.patches, scale)
    _paint_label(painter, rect, zs, ink)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(Qt.PenStyle.NoPen)
    for piece in structure.pieces:
        painter.setBrush(look.layer_fills[piece.order % len(look.layer_fills)])
        painter.drawPolygon(_between(piece.x_m, piece.bottom_m, piece.top_m, scale, zs))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if len(structure.pieces) > 1:
        painter.setPen(ink.pen(look.strong_line))
        for piece in structure.pieces:
            painter.drawPolygon(_between(piece.x_m, piece.bottom_m, piece.top_m, scale, zs))
    painter.setPen(ink.pen(look.structure_line))
    bottom = np.zeros_like(structure.thickness_m)
    painter.drawPolygon(_between(structure.stations_m, bottom, structure.thickness_m, scale, zs))
    _paint_supports(painter, structure, scale, zs, ink)
    _paint_keep_outs(painter, structure, scale, zs, ink)
    _paint_attachments(painter, rect, structure, scale, zs, ink)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _paint_label(painter: QPainter, rect: QRectF, zs: ZScale, ink: Ink) -> None:
    middle = rect.center().y()
    painter.setPen(ink.pen(ink.look.faint_text))
    painter.setFont(ink.font(12))
    painter.drawText(QRectF(8, middle - 16, 56, 16), Align.AlignLeft, "Side")
    painter.setFont(ink.font(11))
    painter.drawText(QRectF(8, middle, 56, 14), Align.AlignLeft, f"z × {zs.factor:.3g}")


def _between(x: Array, low: Array, high: Array, scale: XScale, zs: ZScale) -> QPolygonF:
    px = scale.px_array(x)
    return polygon(
        np.concatenate([px, px[::-1]]),
        np.concatenate([zs.zero_px - low * zs.px_per_m, (zs.zero_px - high * zs.px_per_m)[::-1]]),
    )


def _paint_supports(painter: QPainter, structure: StructureView, scale: XScale, zs: ZScale, ink: Ink) -> None:
    for at_root, support in ((True, structure.root), (False, structure.tip)):
        end = 0.0 if at_root else structure.span_m
        top, bottom = zs.px(float(structure.top_at(end))), zs.px(0.0)
        reach = max(12.0, 0.5 * (bottom - top))
        box = QRectF(scale.px(end), top - reach, 0.0, bottom - top + 2 * reach)
        paint_support(painter, box, support.kind, ink, at_root=at_root)


def _paint_keep_outs(
    painter: QPainter, structure: StructureView, scale: XScale, zs: ZScale, ink: Ink
) -> None:
    """A hatched strip along the face it applies to."""
    for zone in structure.keep_outs:
        low, high = zone_ends(zone)
        left, right = scale.px(low), scale.px(high)
        middle = 0.5 * (low + high)
        strips = []
        if zone.face in ("top", "both"):
            strips.append(QRectF(left, zs.px(float(structure.top_at(middle))) - 6, right - left, 6))
        if zone.face in ("underside", "both"):
            strips.append(QRectF(left, zs.px(0.0), right - left, 6))
        for strip in strips:
            hatch(painter, polygon_path(QPolygonF(strip)), ink.pen(ink.look.keep_out), 5.0)


def _paint_attachments(
    painter: QPainter, rect: QRectF, structure: StructureView, scale: XScale, zs: ZScale, ink: Ink
) -> None:
    look = ink.look
    for mass in structure.masses:
        top = zs.px(float(structure.top_at(mass.x_m)))
        painter.setPen(ink.pen(look.text))
        painter.setBrush(look.strong_line)
        painter.drawRoundedRect(QRectF(scale.px(mass.x_m) - 6, top - 11, 12, 11), 2, 2)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        box = _mass_label(mass, structure, scale, zs, ink)
        Labels().write(painter, [(box.left(), box.top())], _mass_words(mass), look.faint_text, ink)
    for spring in structure.springs:
        under = QPointF(scale.px(spring.x_m), zs.px(0.0))
        length = max(10.0, min(20.0, rect.bottom() - under.y() - 6))
        paint_ground_spring(painter, under, length, ink)
        left = under.x() - 14 - text_width(ink.font(11), spring.name)
        _caption(painter, left, under.y() + length - 10, spring.name, ink)


def _mass_words(mass: PointMass) -> str:
    return f"{mass.name} {1e3 * mass.mass_kg:.3g} g"


def _mass_label(mass: PointMass, structure: StructureView, scale: XScale, zs: ZScale, ink: Ink) -> QRectF:
    """Where the name of a mass stands: on the root's side of it, over the face."""
    wide = label_width(_mass_words(mass), ink)
    return QRectF(scale.px(mass.x_m) - 8 - wide, zs.px(float(structure.top_at(mass.x_m))) - 20, wide, TALL)


def _caption(painter: QPainter, left: float, top: float, text: str, ink: Ink) -> None:
    font = ink.font(11)
    painter.setFont(font)
    painter.setPen(ink.pen(ink.look.faint_text))
    painter.drawText(QRectF(left, top, text_width(font, text) + 4, 14), Align.AlignLeft, text)


def paint_side_patches(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """Packages in section and the neutral axis that goes with them."""
    zs = z_scale(rect, view.structure, view.patches, scale)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    words_end = rect.top() + WORDS_TALL if view.marks else rect.top()
    packages = [
        (patch, face, sign, section_polygon(patch, face, view.structure, scale, zs, "package"))
        for patch in view.patches
        for face, sign in zip(patch.faces, patch.signs, strict=True)
    ]
    stacks = [package.boundingRect() for _, face, _, package in packages if face == "top"]
    for patch, face, sign, package in packages:
        _paint_section(painter, patch, face, sign, package, view, scale, zs, ink, words_end, stacks)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    plate = QRectF()
    if view.marks:
        place = next((m.x_m for m in view.marks if m.x_m is not None), 0.0)
        plate = paint_side_words(painter, rect, view.marks, zs.px(float(view.structure.top_at(place))), scale, ink)
    if view.neutral_axis is not None:
        _paint_neutral_axis(painter, rect, view, scale, zs, ink)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    paint_in_side(painter, view, scale, absorber_tops(view, zs), ink)
    if view.arrow is not None:
        top = zs.px(float(view.structure.top_at(view.arrow.x_m)))
        labels = Labels()
        labels.keep_off(plate)
        for mass in view.structure.masses:
            labels.keep_off(_mass_label(mass, view.structure, scale, zs, ink))
        paint_use_arrow(painter, rect, view.arrow, top, zs.px(0.0), scale, ink, labels)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def absorber_tops(view: DrawingView, zs: ZScale) -> list[float]:
    """Height on the page of the face every tuned mass stands on: the part's, or that of a patch under it."""
    tops = []
    for absorber in view.absorbers:
        under = [p.stack_m for p in view.patches if "top" in p.faces and p.outline[0] <= absorber.x_m <= p.outline[1]]
        tops.append(zs.px(float(view.structure.top_at(absorber.x_m)) + max(under, default=0.0)))
    return tops


def section_polygon(
    patch: PatchView, face: str, structure: StructureView, scale: XScale, zs: ZScale, part: str
) -> QPolygonF:
    """`part` "package" or "ceramic" of a patch on `face`, following the face it sits on."""
    ceramic = part == "ceramic"
    start, end = (patch.x_a_m, patch.x_b_m) if ceramic else patch.outline
    stations = structure.stations_m
    x = np.concatenate([[start], stations[(stations > start) & (stations < end)], [end]])
    low = patch.bond_m + patch.lower_skin_m if ceramic else 0.0
    high = low + patch.ceramic_m if ceramic else patch.stack_m
    if face == "top":
        base = structure.top_at(x)
        return _between(x, base + low, base + high, scale, zs)
    zero = np.zeros_like(x)
    return _between(x, zero - low, zero - high, scale, zs)


def _paint_section(
    painter: QPainter,
    patch: PatchView,
    face: str,
    sign: int,
    package: QPolygonF,
    view: DrawingView,
    scale: XScale,
    zs: ZScale,
    ink: Ink,
    words_end: float,
    stacks: Sequence[QRectF],
) -> None:
    """A package on one face with its name; `stacks` are those on the top, and the worst limits in words end at `words_end`."""
    look, structure = ink.look, view.structure
    ceramic = section_polygon(patch, face, structure, scale, zs, "ceramic")
    painter.setPen(
        ink.pen(look.accent if patch.selected else look.ceramic_line, 1.5 if patch.selected else 1.0)
    )
    painter.setBrush(look.package)
    painter.drawPolygon(package)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(look.ceramic_line if not look.is_dark else look.ceramic)
    painter.drawPolygon(ceramic)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    box = package.boundingRect()
    label = f"{patch.id} {'+' if sign > 0 else '−'}"
    left, top = box.left() + 2, box.top() - 15 if face == "top" else box.bottom() + 1
    if face == "top" and top < words_end:  # beside the package, where no other lies
        top, wide = max(box.top() - 5, words_end), text_width(ink.font(11), label) + 4
        beside = (QRectF(x, top, wide, 14) for x in (box.right() + 5, box.left() - wide - 1))
        free = [one for one in beside if not any(one.intersects(stack) for stack in stacks)]
        if free:
            _caption(painter, free[0].left(), top, label, ink)
    else:
        _caption(painter, left, top, label, ink)
    for collision in patch.collisions:
        if collision.face == face:
            left, right = scale.px(collision.x_start_m), scale.px(collision.x_end_m)
            area = QRectF(left, box.top() - 2, right - left, box.height() + 4)
            paint_collision(painter, area, ink, caution=collision.caution)


def _paint_neutral_axis(
    painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, zs: ZScale, ink: Ink
) -> None:
    if view.neutral_axis is None:
        return
    x, height = view.neutral_axis
    painter.setPen(ink.pen(ink.look.text, 1.0, (6.0, 4.0)))
    painter.drawPolyline(polygon(scale.px_array(x), zs.zero_px - height * zs.px_per_m))
    font = ink.font(11)
    painter.setFont(font)
    painter.setPen(ink.pen(ink.look.faint_text))
    wide = text_width(font, "neutral axis") + 4
    top = zs.px(0.0) + 8
    if top + 12 <= rect.bottom():  # else it would stand in the strip below
        painter.drawText(QRectF(scale.right_px - wide, top, wide, 14), Align.AlignRight, "neutral axis")
