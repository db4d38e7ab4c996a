"""A drawing as SVG text: user unit 1 mm, true size, text as text, one group a layer."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from xml.sax.saxutils import escape, quoteattr

from core.handover.drawing.items import LINE_WIDTH_MM, Circle, Drawing, Text
from core.handover.drawing.lettering import FAMILY, printable, text_width_mm
from core.handover.drawing.strokes import Fill, Primitive, Stroke, strokes

FONTS = f"'{FAMILY}', sans-serif"


def drawing_svg(drawing: Drawing) -> str:
    """The SVG document. Each text states its length, so that another typeface cannot overlap."""
    width, height = _n(drawing.width_mm), _n(drawing.height_mm)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{escape(printable(drawing.title))}</title>",
        f'<rect width="{width}" height="{height}" fill="white"/>',
        f'<g fill="none" stroke="black" stroke-linejoin="round" font-family="{FONTS}">',
    ]
    primitives = (primitive for item in drawing.items for primitive in strokes(item))
    for layer, group in groupby(primitives, key=lambda primitive: primitive.layer):
        lines.append(f'<g class="{layer.replace(" ", "-")}">')
        lines += [element for primitive in group for element in _element(primitive)]
        lines.append("</g>")
    lines += ["</g>", "</svg>", ""]
    return "\n".join(lines)


def _n(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _element(primitive: Primitive) -> Iterator[str]:
    match primitive:
        case Stroke(points, closed, width, dash):
            dashes = f' stroke-dasharray="{" ".join(map(_n, dash))}"' if dash else ""
            yield f'<path d="{_path(points, closed)}" stroke-width="{_n(width)}"{dashes}/>'
        case Fill(points, white):
            colour = "white" if white else "black"
            yield f'<path d="{_path(points, True)}" fill="{colour}" stroke="none"/>'
        case Circle((x, y), radius, _, weight, filled):
            paint = 'fill="black" stroke="none"' if filled else f'stroke-width="{_n(LINE_WIDTH_MM[weight])}"'
            yield f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" {paint}/>'
        case Text():
            yield _text(primitive)


def _path(points: tuple[tuple[float, float], ...], closed: bool) -> str:
    path = "M" + " L".join(f"{_n(x)} {_n(y)}" for x, y in points)
    return path + " Z" if closed else path


def _text(item: Text) -> str:
    x, y = item.at
    turn = f' transform="rotate({_n(-item.angle_deg)} {_n(x)} {_n(y)})"' if item.angle_deg else ""
    bold = ' font-weight="bold"' if item.bold else ""
    length = _n(text_width_mm(item.text, item.size_mm, item.bold))
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(item.size_mm)}" text-anchor={quoteattr(item.anchor)}'
        f'{bold}{turn} fill="black" stroke="none" textLength="{length}" '
        f'lengthAdjust="spacingAndGlyphs" xml:space="preserve">{escape(printable(item.text))}</text>'
    )
