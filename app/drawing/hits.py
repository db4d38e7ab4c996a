"""What lies under the pointer."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QPointF, QRectF

from app.drawing.absorber_view import REACH, plan_box, side_box
from app.drawing.arrangement import Arrangement
from app.drawing.patch_view import PatchView, zone_ends
from app.drawing.plan import ceramic_rect, on_face, y_scale, zone_path
from app.drawing.side import absorber_tops, section_polygon, z_scale
from app.drawing.view_model import DrawingView

END_PX = 6.0
ZONE_END_PX = 4.0
WHOLE = 0.98
"""Share of the span from which a zone counts as covering all of it."""

Part = Literal["body", "root end", "tip end"]


@dataclass(frozen=True)
class Hit:
    """A patch or a tuned mass (by id), a keep-out (by number) or the marker of the position strip, and which
    part of it."""

    kind: Literal["patch", "keep-out", "tuned mass"]
    part: Part
    patch: str = ""
    keep_out: int = -1
    absorber: str = ""


def find_hit(view: DrawingView, page: Arrangement, point: QPointF) -> Hit | None:
    """The topmost thing at `point`: tuned masses, the selected patch before others, patches before keep-outs."""
    marker = _marker_hit(view, page, point)
    if marker is not None:
        return marker
    for absorber, boxes in zip(view.absorbers, absorber_boxes(view, page), strict=True):
        if any(box.adjusted(-REACH, -REACH, REACH, REACH).contains(point) for box in boxes):
            return Hit("tuned mass", "body", absorber=absorber.id)
    for patch in sorted(view.patches, key=_selected_first):
        for number, box in enumerate(patch_boxes(patch, view, page)):
            turned = number == 0 and patch.angle_rad != 0.0
            part = _part(box, _turned_back(point, box, patch, view, page) if turned else point, END_PX)
            if part is not None:
                return Hit("patch", part, patch=patch.id)
    return _keep_out_hit(view, page, point)


def _turned_back(
    point: QPointF, box: QRectF, patch: PatchView, view: DrawingView, page: Arrangement
) -> QPointF:
    """Where the point would lie on the patch before it was turned in plan."""
    factor = y_scale(page.plan, view.structure.widest_m, page.scale).factor
    c, s = math.cos(patch.angle_rad), math.sin(patch.angle_rad)
    right, down = point.x() - box.center().x(), (point.y() - box.center().y()) / factor
    return QPointF(box.center().x() + right * c - down * s, box.center().y() + (right * s + down * c) * factor)


def _selected_first(patch: PatchView) -> bool:
    return not patch.selected


def _marker_hit(view: DrawingView, page: Arrangement, point: QPointF) -> Hit | None:
    """The marker of the present start drags the patch too."""
    patch = view.selected
    if patch is None or not page.strip.adjusted(-8, -10, 8, 0).contains(point):
        return None
    near = abs(point.x() - page.scale.px(patch.x_a_m)) <= END_PX
    return Hit("patch", "body", patch=patch.id) if near else None


def patch_boxes(patch: PatchView, view: DrawingView, page: Arrangement) -> list[QRectF]:
    """Where the patch can be taken hold of: its ceramic's extent in plan, and per face in the side view."""
    scale = page.scale
    ys = y_scale(page.plan, view.structure.widest_m, scale)
    boxes = [ceramic_rect(patch, scale, ys)]
    zs = z_scale(page.side, view.structure, view.patches, scale)
    for face in patch.faces:
        box = section_polygon(patch, face, view.structure, scale, zs, "ceramic").boundingRect()
        boxes.append(box.adjusted(0, -7, 0, 7))
    return boxes


def absorber_boxes(view: DrawingView, page: Arrangement) -> list[tuple[QRectF, QRectF]]:
    """Where every tuned mass can be taken hold of: in plan and in the side view."""
    ys = y_scale(page.plan, view.structure.widest_m, page.scale)
    tops = absorber_tops(view, z_scale(page.side, view.structure, view.patches, page.scale))
    return [
        (plan_box(absorber, page.scale, ys.middle_px), side_box(absorber, page.scale, top))
        for absorber, top in zip(view.absorbers, tops, strict=True)
    ]


def _part(box: QRectF, point: QPointF, end_px: float) -> Part | None:
    """Which part of a box; the ends reach a little outside and at most a quarter inside."""
    if not box.adjusted(-end_px, 0, end_px, 0).contains(point):
        return None
    inside = min(end_px, 0.25 * box.width())
    if point.x() <= box.left() + inside:
        return "root end"
    if point.x() >= box.right() - inside:
        return "tip end"
    return "body"


def _keep_out_hit(view: DrawingView, page: Arrangement, point: QPointF) -> Hit | None:
    """The shortest zone at the point, those of the face looked at first.

    One along the whole span is taken by its ends only: it has nowhere to go, and would otherwise
    lie under every click.
    """
    scale, structure = page.scale, view.structure
    if not page.plan.adjusted(0, -6, 0, 6).contains(point):
        return None
    ys = y_scale(page.plan, structure.widest_m, scale)
    found: list[tuple[bool, float, Hit]] = []
    for index, zone in enumerate(structure.keep_outs):
        low, high = zone_ends(zone)
        box = zone_path(zone, structure, scale, ys).boundingRect()
        if not box.adjusted(-ZONE_END_PX, 0, ZONE_END_PX, 0).contains(point):
            continue
        part = _zone_part(point.x(), scale.px(low), scale.px(high))
        if part != "body" or high - low < WHOLE * structure.span_m:
            other = not on_face(zone, view.faces_looked_at)
            found.append((other, high - low, Hit("keep-out", part, keep_out=index)))
    return min(found, key=_first)[2] if found else None


def _first(item: tuple[bool, float, Hit]) -> tuple[bool, float]:
    return item[:2]


def _zone_part(at: float, low: float, high: float) -> Part:
    if abs(at - low) <= ZONE_END_PX:
        return "root end"
    return "tip end" if abs(at - high) <= ZONE_END_PX else "body"
