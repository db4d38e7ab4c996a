"""What a schematic is drawn on: places symbols of the library and keeps lettering apart.

Lettering is set by us, so that values can change in a drawing that is laid out once, and so that every screen
and paper writes it in its own typeface. Here y goes up, as the library has it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, isnan, radians, sin
from typing import Any

from core.circuit.network import What
from core.handover.schematic.library import Drawing, elements, segments
from core.handover.schematic.picture import TEXT, Disc, Ink, Label, Point, Schematic, Stroke
from core.handover.schematic.symbols import Amplifier, Piezo

# The library checks that a colour is one; here it carries what is drawn.
_INKS: dict[str, Ink] = {"#000001": "ceramic", "#000002": "frame"}
_COLOUR_OF = {ink: colour for colour, ink in _INKS.items()}
_FORMS: dict[What, Callable[[], Any]] = {
    "resistor": elements.ResistorIEC,
    "inductor": elements.Inductor,
    "capacitor": elements.Capacitor,
    "switch": elements.Switch,
}
ARC_STEPS = 12
MARGIN = 0.35
LETTER = 0.62
"""Width of a letter against its size, on the safe side: what the edge of the drawing leaves for it."""


@dataclass(frozen=True)
class Slot:
    """Lettering whose text is known when the drawing is shown: the value of that name."""

    label: Label
    name: str


class Sheet:
    """Collects a drawing."""

    def __init__(self) -> None:
        self._drawing = Drawing(show=False, canvas="svg")
        self._labels: list[Label] = []
        self._slots: list[Slot] = []

    def wire(self, *points: Point) -> None:
        for a, b in pairwise(points):
            self._drawing.add(elements.Line().endpoints(a, b))

    def part(self, form: What, a: Point, b: Point) -> None:
        self._drawing.add(_FORMS[form]().endpoints(a, b))

    def piezo(self, a: Point, b: Point, dot_first: bool) -> None:
        self._drawing.add(Piezo(dot_first, _COLOUR_OF["ceramic"]).endpoints(a, b))

    def amplifier(self, upper: Point, upper_inverts: bool, *, small: bool = False, to_left: bool = False) -> None:
        """With its upper input at that place."""
        block = Amplifier(upper_inverts, small=small, to_left=to_left)
        self._drawing.add(block.at(upper).anchor("upper").theta(0))

    def junction(self, at: Point) -> None:
        self._drawing.add(elements.Dot().at(at))

    def terminal(self, at: Point) -> None:
        self._drawing.add(elements.Dot(open=True, radius=0.14).at(at))

    def ground(self, at: Point) -> None:
        self._drawing.add(elements.Ground().at(at).theta(0))

    def frame(self, left: float, bottom: float, right: float, top: float) -> None:
        corners = ((left, bottom), (right, bottom), (right, top), (left, top), (left, bottom))
        for a, b in pairwise(corners):
            self._drawing.add(elements.Line().endpoints(a, b).color(_COLOUR_OF["frame"]))

    def write(self, at: Point, text: str, **how: Any) -> None:
        self._labels.append(Label(at, text, **how))

    def slot(self, at: Point, name: str, *, room: int = 9, **how: Any) -> None:
        """Lettering to fill; room is left for so many letters."""
        self._slots.append(Slot(Label(at, "0" * room, **how), name))

    def finished(self) -> Laid:
        """The drawing with y down, from the top left corner of what is drawn."""
        strokes, discs = _shapes(self._drawing.get_segments())
        room = [*_corners(strokes, discs)]
        for label in (*self._labels, *(slot.label for slot in self._slots)):
            room += _reach(label)
        left, right = min(x for x, _ in room) - MARGIN, max(x for x, _ in room) + MARGIN
        low, high = min(y for _, y in room) - MARGIN, max(y for _, y in room) + MARGIN

        def moved(point: Point) -> Point:
            return (point[0] - left, high - point[1])

        return Laid(
            Schematic(
                right - left,
                high - low,
                tuple(replace(s, points=tuple(map(moved, s.points))) for s in strokes),
                tuple(replace(d, centre=moved(d.centre)) for d in discs),
                tuple(replace(label, at=moved(label.at)) for label in self._labels),
            ),
            tuple(replace(s, label=replace(s.label, at=moved(s.label.at))) for s in self._slots),
        )


@dataclass(frozen=True)
class Laid:
    """A drawing without its values."""

    bare: Schematic
    slots: tuple[Slot, ...]

    def filled(self, texts: dict[str, str]) -> Schematic:
        """With the texts of its slots; what has none is left out."""
        told = tuple(replace(s.label, text=texts[s.name]) for s in self.slots if texts.get(s.name))
        return replace(self.bare, labels=self.bare.labels + told)


def _shapes(drawn: list[Any]) -> tuple[list[Stroke], list[Disc]]:
    strokes: list[Stroke] = []
    discs: list[Disc] = []
    for one in drawn:
        ink = _INKS.get(str(one.color), "line")
        if isinstance(one, segments.SegmentCircle):
            discs.append(Disc(_point(one.center), float(one.radius), one.fill is True, ink))
        elif isinstance(one, segments.SegmentArc):
            strokes.append(Stroke(tuple(_arc(one)), ink))
        else:
            fill: Ink | None = "ceramic" if one.fill and ink == "ceramic" else None
            strokes += [Stroke(run, ink, fill, ink == "frame") for run in _runs(one.path)]
    return strokes, discs


def _point(one: Any) -> Point:
    return (round(float(one[0]), 6), round(float(one[1]), 6))


def _runs(path: list[Any]) -> Iterator[tuple[Point, ...]]:
    """A path between its breaks."""
    run: list[Point] = []
    for point in path:
        if isnan(float(point[0])):
            if len(run) > 1:
                yield tuple(run)
            run = []
        else:
            run.append(_point(point))
    if len(run) > 1:
        yield tuple(run)


def _arc(arc: Any) -> Iterator[Point]:
    """Points of an ellipse's arc, turned by its angle."""
    (cx, cy), turn = arc.center, radians(arc.angle)
    first, last = arc.theta1, arc.theta2
    for k in range(ARC_STEPS + 1):
        at = radians(first + (last - first) * k / ARC_STEPS)
        x, y = arc.width / 2 * cos(at), arc.height / 2 * sin(at)
        yield _point((cx + x * cos(turn) - y * sin(turn), cy + x * sin(turn) + y * cos(turn)))


def _corners(strokes: list[Stroke], discs: list[Disc]) -> Iterator[Point]:
    for stroke in strokes:
        yield from stroke.points
    for disc in discs:
        (x, y), r = disc.centre, disc.radius
        yield from ((x - r, y - r), (x + r, y + r))


def _reach(label: Label) -> tuple[Point, Point]:
    (x, y), wide = label.at, LETTER * TEXT * len(label.text)
    before = {"start": 0.0, "middle": wide / 2, "end": wide}[label.anchor]
    return (x - before, y - 0.25 * TEXT), (x - before + wide, y + TEXT)
