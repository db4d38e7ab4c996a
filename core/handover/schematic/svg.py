"""A schematic as SVG text: lines, discs and lettering of its own, in the colours it is given."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from core.handover.drawing.lettering import printable
from core.handover.schematic.picture import TEXT, Ink, Point, Schematic, Stroke

LINE = 0.055


@dataclass(frozen=True)
class Style:
    """Colours by what is drawn (as SVG names them), and the typeface."""

    inks: Mapping[Ink, str]
    ground: str
    family: str


def schematic_svg(drawn: Schematic, style: Style, unit_px: float = 24.0) -> str:
    """The SVG document, `unit_px` to a unit of the drawing; lettering is then half of it high.

    Coordinates are pixels: readers of SVG know type in whole ones.
    """
    wide, high = _n(drawn.width * unit_px), _n(drawn.height * unit_px)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}">',
        f'<g fill="none" stroke-linecap="round" stroke-linejoin="round" stroke-width="{_n(LINE * unit_px)}" '
        f'font-family={quoteattr(style.family)} font-size="{_n(TEXT * unit_px)}">',
        *_elements(drawn, style, unit_px),
        "</g>",
        "</svg>",
        "",
    ]
    return "\n".join(lines)


def _elements(drawn: Schematic, style: Style, unit: float) -> Iterator[str]:
    inks = style.inks
    for stroke in sorted(drawn.strokes, key=lambda one: one.fill is None):
        yield _stroke(stroke, inks, unit)
    for disc in drawn.discs:
        (x, y), ink = _scaled(disc.centre, unit), inks[disc.ink]
        fill = ink if disc.filled else style.ground
        yield f'<circle cx="{x}" cy="{y}" r="{_n(disc.radius * unit)}" stroke="{ink}" fill="{fill}"/>'
    for label in drawn.labels:
        bold = ' font-weight="bold"' if label.bold else ""
        x, y = _scaled(label.at, unit)
        yield (
            f'<text x="{x}" y="{y}" text-anchor="{label.anchor}"{bold} '
            f'fill="{inks[label.ink]}" stroke="none">{escape(printable(label.text))}</text>'
        )


def _stroke(stroke: Stroke, inks: Mapping[Ink, str], unit: float) -> str:
    path = "M" + " L".join(" ".join(_scaled(point, unit)) for point in stroke.points)
    if stroke.fill is not None:
        return f'<path d="{path} Z" fill="{inks[stroke.fill]}"/>'
    dash = f' stroke-dasharray="{_n(0.25 * unit)} {_n(0.2 * unit)}"' if stroke.dashed else ""
    return f'<path d="{path}" stroke="{inks[stroke.ink]}"{dash}/>'


def _scaled(point: Point, unit: float) -> tuple[str, str]:
    return _n(point[0] * unit), _n(point[1] * unit)


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
