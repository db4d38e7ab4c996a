"""A candidate's plan in small: outline, support, patches with their place in millimetres."""

from __future__ import annotations

from math import degrees

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from app.drawing.axis import XScale
from app.drawing.plan import YScale, outline_path, true_path
from app.drawing.structure_view import structure_view
from app.theme import look
from core import units
from core.project.candidate import Candidate
from core.project.patch import Patch
from core.project.structure import Structure
from core.units import words


def paint_mini(p: QPainter, box: QRectF, structure: Structure, candidate: Candidate, widget: QWidget) -> None:
    """Draw into `box`; the lowest 18 px are the dimension line of the first patch."""
    now = look.current()
    plan = QRectF(box.left() + 8, box.top(), box.width() - 12, box.height() - 20)
    view = structure_view(structure)
    along = XScale(plan.left(), plan.right(), structure.span_m)
    scale, mid = along.px_per_m, plan.center().y()
    widest = max(view.widest_m, max((patch.width_m for patch in candidate.patches), default=0.0))
    across = min(scale, plan.height() / widest) if widest > 0 else scale
    across = max(across, 0.45 * plan.height() / widest) if widest > 0 else across
    tall = YScale(mid, across, across / scale)
    p.setPen(look.pen(now.structure_line, 1.0, widget))
    p.setBrush(now.structure_fill)
    p.drawPath(true_path(view, along, tall) if view.rings_m else outline_path(view, along, tall))
    if structure.root.kind in ("clamped", "elastic"):
        p.fillRect(QRectF(plan.left() - 7, plan.top(), 7, plan.height()), now.before)
    for patch in candidate.patches:
        _paint_patch(p, plan, patch, scale, across, mid, widget)
    for absorber in candidate.absorbers:
        at = QPointF(plan.left() + absorber.x_m * scale, mid)
        p.setPen(look.pen(now.text, 1.0, widget))
        p.setBrush(now.panel)
        p.drawEllipse(at, 5.0, 5.0)
        p.setBrush(now.text)
        p.drawEllipse(at, 2.0, 2.0)
    _paint_place(p, box, plan, candidate, scale, widget)


def _paint_patch(
    p: QPainter, plan: QRectF, patch: Patch, scale: float, across: float, mid: float, widget: QWidget
) -> None:
    """A patch on the underside has a dashed edge: it is seen through the part."""
    now = look.current()
    area = QRectF(
        plan.left() + patch.x_start_m * scale,
        mid - (patch.y_m + 0.5 * patch.width_m) * across,
        patch.length_m * scale,
        patch.width_m * across,
    )
    hidden = patch.face == "underside"
    p.setBrush(look.faded(now.ceramic, 0.45) if hidden else now.ceramic)
    p.setPen(look.pen(now.ceramic_line, 1.0, widget, (4.0, 3.0) if hidden else ()))
    p.save()
    p.translate(area.center())
    p.rotate(-degrees(patch.angle_rad))
    p.drawRect(area.translated(-area.center()))
    p.restore()


def _paint_place(
    p: QPainter, box: QRectF, plan: QRectF, candidate: Candidate, scale: float, widget: QWidget
) -> None:
    """Start and length of the patches in words, with a line from the root to the first one."""
    now = look.current()
    p.setPen(look.pen(now.faint_text, 1.0, widget))
    p.setFont(look.font(11))
    y = box.bottom() - 9
    if not candidate.patches:
        text = "; ".join(f"{one.id} at {units.show(one.x_m, 'mm', significant=5)} mm" for one in candidate.absorbers)
        p.drawText(
            QRectF(plan.left(), y - 8, plan.width(), 16), Qt.AlignmentFlag.AlignLeft, text or "no patch yet"
        )
        return
    first = min(candidate.patches, key=lambda patch: patch.x_start_m)
    ends = (plan.left(), plan.left() + first.x_start_m * scale)
    p.drawLine(QLineF(ends[0], y, ends[1], y))
    for x in ends:
        p.drawLine(QLineF(x, y - 4, x, y + 4))
    text = "; ".join(
        f"{units.show(patch.x_start_m, 'mm', significant=5)} | {units.show(patch.length_m, 'mm')} mm"
        for patch in candidate.patches
    )
    room = QRectF(ends[1] + 5, y - 8, box.right() - ends[1] - 5, 16)
    width = p.fontMetrics().horizontalAdvance(text) + 4
    if width > room.width():
        room = QRectF(max(box.right() - width, plan.left()), y - 8, width, 16)
        p.fillRect(room, now.panel)
    p.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)


def summary(candidate: Candidate) -> str:
    """Faces, sizes and circuits in a line: "top, 50 x 25, series R-L on mode 1"; tuned masses after them."""
    if not candidate.patches and not candidate.absorbers:
        return "no patch yet"
    sizes = {f"{p.face}, {1e3 * p.length_m:.0f} × {1e3 * p.width_m:.0f}" for p in candidate.patches}
    circuits = []
    for group in candidate.groups:
        tuning = group.circuit.tuning
        circuits.append(f"{group.circuit.kind} on mode {tuning.mode}" if tuning else group.circuit.kind)
    hung = [
        f"tuned mass on mode {one.tuning.mode}" if one.tuning else f"tuned mass at {words.frequency(one.frequency_hz)}"
        for one in candidate.absorbers
    ]
    return ", ".join([*sorted(sizes), *dict.fromkeys(circuits), *dict.fromkeys(hung)])

