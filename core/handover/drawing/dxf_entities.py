"""Drawing items as DXF entities: real dimensions, hatches, text set to its length, named layers."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any, get_args

from core.handover.drawing.items import (
    DASH_MM,
    LINE_WIDTH_MM,
    Circle,
    Dimension,
    Hatch,
    Item,
    Layer,
    Point,
    Polygon,
    Text,
    Weight,
)
from core.handover.drawing.lettering import printable, text_width_mm
from core.handover.drawing.strokes import ARROW_MM, GAP_MM, OVERSHOOT_MM, Fill, Stroke, strokes

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

CAPITAL = 0.73
"""Height of a capital, of the text size: what DXF calls the text height."""
STYLE = "SHEET"
STYLE_BOLD = "SHEET-BOLD"
FONT, FONT_BOLD = "DejaVuSansCondensed.ttf", "DejaVuSansCondensed-Bold.ttf"
LINE_TYPES = {DASH_MM["dashed"]: "SHEET-DASHED", DASH_MM["chain"]: "SHEET-CHAIN"}
BLACK, BY_LAYER = 7, 256


def layer_name(layer: Layer) -> str:
    """The name of a layer in the exchange file: "TITLE-BLOCK"."""
    return layer.upper().replace(" ", "-")


COLOURS: dict[Layer, int] = {
    "package": 5, "ceramic": 4, "centre": 8, "dimension": 3, "datum": 6, "keep-out": 1, "polarity": 30,
    "lead": 42, "support": 9, "caution": 1, "mass": 8, "revision": 6,
}  # fmt: skip
"""Colour numbers of the layers; those not named are black on white paper and white on black."""
WEIGHTS: dict[Layer, Weight] = {
    "frame": "wide", "part": "wide", "package": "wide", "title block": "narrow", "caution": "wide",
    "lead": "medium", "section": "medium", "dimension": "fine", "centre": "fine", "keep-out": "fine",
    "text": "fine", "figure": "narrow",
}  # fmt: skip
"""Line weight of the layers; narrow where none is named."""


def define_layers(document: Document) -> None:
    """Every layer a sheet may use, and one for the viewport's border that is not plotted."""
    for layer in get_args(Layer):
        weight = round(100 * LINE_WIDTH_MM[WEIGHTS.get(layer, "narrow")])
        document.layers.add(layer_name(layer), color=COLOURS.get(layer, BLACK), lineweight=weight)
    document.layers.add("VIEWPORT", color=8).dxf.plot = 0


def define_styles(document: Document) -> None:
    """Text styles, line types and the dimension style of a document, as the sheet has them."""
    document.styles.add(STYLE, font=FONT)
    document.styles.add(STYLE_BOLD, font=FONT_BOLD)
    for (on, off, *more), name in LINE_TYPES.items():
        pattern = [on, -off] if not more else [on, -off, more[0], -more[1]]
        document.linetypes.add(name, [sum(map(abs, pattern)), *pattern], description=name)
    style: Any = document.dimstyles.duplicate_entry("Standard", STYLE)
    style.dxf.dimtxsty = STYLE
    style.dxf.dimblk = ""  # a closed filled arrow head
    for name, value in (
        ("dimtad", 1), ("dimgap", 0.6), ("dimasz", ARROW_MM), ("dimexo", GAP_MM), ("dimexe", OVERSHOOT_MM),
        ("dimzin", 0), ("dimdsep", ord(".")), ("dimlwd", 13), ("dimlwe", 13), ("dimtih", 0), ("dimtoh", 0),
        ("dimtmove", 2), ("dimtfill", 0), ("dimlunit", 2), ("dimlfac", 1.0), ("dimrnd", 0.0),
    ):  # fmt: skip
        style.dxf.set(name, value)


@dataclass(frozen=True)
class Pen:
    """Draws items into a space; `place` takes paper points to it, `size` its units a paper mm."""

    space: Any
    place: Callable[[Point], Point]
    size: float

    def draw(self, item: Item) -> None:
        match item:
            case Dimension():
                self._dimension(item)
            case Polygon():
                self._polygon(item)
            case Circle():
                self._circle(item)
            case Text():
                self._text(item)
            case _:
                for primitive in strokes(item):
                    self._primitive(primitive)

    def _primitive(self, primitive: Stroke | Fill | Circle | Text) -> None:
        match primitive:
            case Stroke(points, closed, width, dash, layer):
                self._line(points, closed, width, dash, layer)
            case Fill(points, white, layer):
                if not white:
                    hatch = self.space.add_hatch(color=BY_LAYER, dxfattribs={"layer": layer_name(layer)})
                    hatch.paths.add_polyline_path([self.place(p) for p in points], is_closed=True)
            case Circle():
                self._circle(primitive)
            case Text():
                self._text(primitive)

    def _line(
        self, points: tuple[Point, ...], closed: bool, width: float, dash: tuple[float, ...], layer: Layer
    ) -> None:
        attributes = {"layer": layer_name(layer), "lineweight": round(100 * width)}
        if dash:
            attributes |= {"linetype": LINE_TYPES[dash], "ltscale": self.size}
        places = [self.place(p) for p in points]
        if len(places) == 2:
            self.space.add_line(*places, dxfattribs=attributes)
        else:
            self.space.add_lwpolyline(places, close=closed, dxfattribs=attributes)

    def _polygon(self, item: Polygon) -> None:
        layer = layer_name(item.layer)
        # Nothing is wiped out: a reader that prints all in black would print the wiped area so too.
        if item.fill == "black":
            self._primitive(Fill(item.points, False, item.layer))
        if item.hatch:
            self._hatch(item.points, item.hatch, layer)
        if item.weight:
            width = LINE_WIDTH_MM[item.weight]
            self._line(item.points, True, width, DASH_MM[item.dash], item.layer)

    def _hatch(self, points: tuple[Point, ...], hatch: Hatch, layer: str) -> None:
        attributes = {"layer": layer, "lineweight": round(100 * LINE_WIDTH_MM[hatch.weight])}
        made = self.space.add_hatch(color=BY_LAYER, dxfattribs=attributes)
        step = hatch.spacing_mm * self.size
        angles = (hatch.angle_deg, hatch.angle_deg + 90) if hatch.crossed else (hatch.angle_deg,)
        lines = [[a, (0.0, 0.0), (-step * sin(radians(a)), step * cos(radians(a))), []] for a in angles]
        made.set_pattern_fill("SHEET", definition=lines, pattern_type=0)
        made.paths.add_polyline_path([self.place(p) for p in points], is_closed=True)

    def _circle(self, item: Circle) -> None:
        centre, radius, layer = self.place(item.centre), item.radius_mm * self.size, layer_name(item.layer)
        if item.filled:
            hatch = self.space.add_hatch(color=BY_LAYER, dxfattribs={"layer": layer})
            hatch.paths.add_edge_path().add_arc(centre, radius, 0, 360)
        weight = round(100 * LINE_WIDTH_MM[item.weight])
        self.space.add_circle(centre, radius, dxfattribs={"layer": layer, "lineweight": weight})

    def _text(self, item: Text) -> None:
        """Text set to the length it has on the sheet, whatever typeface the reader has."""
        from ezdxf.enums import TextEntityAlignment

        words = printable(item.text).strip()
        if not words:
            return
        width = text_width_mm(item.text, item.size_mm, item.bold)
        back = {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
        c, s = cos(radians(item.angle_deg)), -sin(radians(item.angle_deg))
        start = (item.at[0] - back * c, item.at[1] - back * s)
        end = (start[0] + width * c, start[1] + width * s)
        text = self.space.add_text(
            words, height=CAPITAL * item.size_mm * self.size,
            dxfattribs={"layer": layer_name(item.layer), "style": STYLE_BOLD if item.bold else STYLE},
        )  # fmt: skip
        text.set_placement(self.place(start), self.place(end), align=TextEntityAlignment.FIT)

    def _dimension(self, item: Dimension) -> None:
        """A linear dimension whose text takes its number from what it measures."""
        number = re.search(r"\d+\.(\d+)", item.label)
        label = printable(item.label)
        words = label if number is None else label.replace(number[0], "<>", 1)
        along_x = item.axis == "x"
        base = (item.end[0], item.line_at) if along_x else (item.line_at, item.end[1])
        # from left to right and upward: the other way round the arrow heads would turn outward
        first, second = sorted(self.place(p) for p in (item.start, item.end))
        if not along_x:
            first, second = sorted((first, second), key=lambda p: p[1])
        made = self.space.add_linear_dim(
            base=self.place(base),
            p1=first,
            p2=second,
            angle=0.0 if along_x else 90.0,
            text=words,
            location=self.place(self._text_middle(item)),
            dimstyle=STYLE,
            override={
                "dimtxt": CAPITAL * item.size_mm,
                "dimscale": self.size,
                "dimdec": 1 if number is None else len(number[1]),
            },
            dxfattribs={"layer": layer_name(item.layer)},
        )
        if not along_x:
            made.dimension.dxf.text_rotation = 0.0
        made.dimension.dxf.actual_measurement = item.value_mm
        made.render()

    def _text_middle(self, item: Dimension) -> Point:
        width = text_width_mm(item.label, item.size_mm)
        shift = {"start": width / 2, "middle": 0.0, "end": -width / 2}[item.anchor]
        return (item.text_at[0] + shift, item.text_at[1] - CAPITAL / 2 * item.size_mm)
