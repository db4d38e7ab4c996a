"""A drawing as DXF: the plan at true size in model space, the sheet around it in paper space.

One unit is one millimetre. In model space x runs from the support and y is up as the face is seen,
so every DIMENSION there measures the model itself. The layout carries frame, notes, side view,
section and title block at paper size, and looks at the plan through a viewport at the sheet's
scale. A drawing without a view (a template tile, a page of text) is laid out in model space alone.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from core.handover.drawing.dxf_entities import Pen, define_layers, define_styles
from core.handover.drawing.items import Drawing, Item, Point, Text
from core.handover.drawing.lettering import printable, text_box
from core.handover.drawing.strokes import Fill, Stroke, strokes

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

LAYOUT = "Sheet"
EDGE_MM = 1.5
"""Paper between what the viewport shows and its border."""


def drawing_dxf(drawing: Drawing) -> bytes:
    """The DXF document (R2010, UTF-8), audited clean by construction."""
    import ezdxf  # half a second: only who exports pays for it
    from ezdxf import units

    document = ezdxf.new("R2010", units=units.MM)
    document.header["$MEASUREMENT"] = 1
    document.header["$PSLTSCALE"] = 0  # dashes in the viewport are as long as on the paper
    define_styles(document)
    define_layers(document)
    document.header["$PROJECTNAME"] = _plain(drawing.title)
    if drawing.views:
        _plan_and_sheet(document, drawing)
    else:
        _sheet_alone(document, drawing)
    _set_extents(document)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")


def _set_extents(document: Document) -> None:
    """What the model and the layout hold, in the header and in the layouts, so that a viewer opens on it."""
    from ezdxf import bbox

    for layout in document.layouts:
        box = bbox.extents(layout, fast=True)
        if not box.has_data:
            continue
        if layout.is_modelspace:
            document.header["$EXTMIN"], document.header["$EXTMAX"] = box.extmin, box.extmax
        layout.dxf.extmin, layout.dxf.extmax = box.extmin, box.extmax


def _plan_and_sheet(document: Document, drawing: Drawing) -> None:
    view = drawing.views[0]
    first, last = drawing.in_view
    plan = drawing.items[first:last]

    def to_model(point: Point) -> Point:
        return ((point[0] - view.origin[0]) / view.scale, (view.origin[1] - point[1]) / view.scale)

    _draw(Pen(document.modelspace(), to_model, 1 / view.scale), plan)
    layout: Any = document.layouts.get("Layout1")
    document.layouts.rename("Layout1", LAYOUT)
    layout.page_setup(size=(drawing.width_mm, drawing.height_mm), margins=(0, 0, 0, 0), units="mm")
    _draw(_on_paper(layout, drawing), (*drawing.items[:first], *drawing.items[last:]))
    left, top, right, bottom = bounds(plan)
    left, top, right, bottom = left - EDGE_MM, top - EDGE_MM, right + EDGE_MM, bottom + EDGE_MM
    middle = ((left + right) / 2, (top + bottom) / 2)
    port = layout.add_viewport(
        center=(middle[0], drawing.height_mm - middle[1]),
        size=(right - left, bottom - top),
        view_center_point=to_model(middle),
        view_height=(bottom - top) / view.scale,
    )
    port.dxf.layer = "VIEWPORT"
    document.set_modelspace_vport(1.2 * drawing.height_mm / view.scale, to_model(middle))


def _sheet_alone(document: Document, drawing: Drawing) -> None:
    space = document.modelspace()
    _draw(_on_paper(space, drawing), drawing.items)
    document.set_modelspace_vport(1.1 * drawing.height_mm, (drawing.width_mm / 2, drawing.height_mm / 2))


def _on_paper(space: object, drawing: Drawing) -> Pen:
    return Pen(space, lambda point: (point[0], drawing.height_mm - point[1]), 1.0)


def _draw(pen: Pen, items: Iterable[Item]) -> None:
    for item in items:
        pen.draw(item)


def bounds(items: Iterable[Item]) -> tuple[float, float, float, float]:
    """(left, top, right, bottom) of the lines and texts of some items on the paper, mm."""
    points: list[Point] = []
    for primitive in (primitive for item in items for primitive in strokes(item)):
        if isinstance(primitive, Stroke | Fill):
            points += primitive.points
        elif isinstance(primitive, Text):
            left, top, right, bottom = text_box(primitive)
            points += [(left, top), (right, bottom)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _plain(text: str) -> str:
    """A header text without control characters."""
    return re.sub(r"\s+", " ", printable(text)).strip()[:200]
