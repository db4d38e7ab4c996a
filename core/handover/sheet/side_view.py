"""The side view: the part's thickness, the packages on it, the supports. z is not true."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from core.handover.drawing.dimensions import Row
from core.handover.drawing.items import Circle, Item, Line, Point, Polygon, Polyline, Text, View
from core.handover.drawing.lettering import text_width_mm
from core.handover.sheet.layout import Lettering
from core.handover.sheet.plan_view import SUPPORT_HATCH, SUPPORT_MM, supports
from core.handover.sheet.subject import Placed, Subject
from core.handover.sheet.tuned_masses import side_items as tuned_mass_items

PART_MM = 5.5
"""Paper height of the thickest section; nothing in z is to scale."""
THINNEST_MM = 1.4
PACKAGE_MM = 2.0
CERAMIC_MM = 0.9
BLOCK_MM = 4.0

Surface = Callable[[float], float]
"""Paper y of a face over x of the model in mm."""


def side_height(subject: Subject, letters: Lettering) -> float:
    """Height that the side view takes, mm."""
    named = PACKAGE_MM + 1.7 * letters.dimension
    below = any(p.patch.face != subject.face for p in (*subject.placed, *subject.others))
    return named + PART_MM + (named if below else BLOCK_MM + 0.5)


def side_items(subject: Subject, view: View, top: float, letters: Lettering) -> Iterator[Item]:
    """The side view in the strip of paper that starts at `top`, x as in the plan."""
    flat = top + 1.7 * letters.dimension + PACKAGE_MM
    thickest = max(subject.thickness_mm(x) for x in subject.stations_mm)

    def drawn(x_mm: float) -> float:
        return max(THINNEST_MM, PART_MM * subject.thickness_mm(x_mm) / thickest if thickest else 0.0)

    # the sheet of the underside shows the part turned over, so that the view below the plan is the
    # neighbour of the plan's lower edge on both sheets (third angle); the underside is taken as flat
    if subject.face == "underside":
        sides: tuple[tuple[str, Surface, int], ...] = (
            ("underside", lambda _: flat, -1), ("top", lambda x: flat + drawn(x), 1),
        )  # fmt: skip
    else:
        sides = (("top", lambda x: flat + PART_MM - drawn(x), -1), ("underside", lambda _: flat + PART_MM, 1))
    upper, lower = sides[0][1], sides[1][1]
    for x, outward, kind in supports(subject):
        yield from _support(view.at(x, 0.0)[0], outward, kind, upper(x), lower(x))
    xs = subject.stations_mm
    profile = tuple((view.at(x, 0.0)[0], upper(x)) for x in xs)
    back = tuple((view.at(x, 0.0)[0], lower(x)) for x in reversed(xs))
    yield Polygon((*profile, *back), "part", "wide", fill="white")
    for spring in subject.project.structure.springs:
        x = 1e3 * spring.x_m
        yield from _spring(view.at(x, 0.0)[0], lower(x))
    for one in subject.tuned_masses:
        x = 1e3 * one.x_m
        yield from tuned_mass_items((view.at(x, 0.0)[0], upper(x)))
    carried = (*subject.placed, *subject.others)
    for face, surface, out in sides:
        on_face = [p for p in carried if p.patch.face in (face, "both")]
        for placed in on_face:
            yield from _package(subject, placed, view, surface, out)
        yield from _names(subject, on_face, view, surface, out, letters)


def _spring(x: float, under: float) -> Iterator[Item]:
    """A spring from the lower face of the drawing to hatched ground."""
    turns, foot = 5, under + BLOCK_MM - 1.0
    step = (foot - under) / (turns + 1)
    zigzag = [(x + (1.2 if k % 2 else -1.2), under + k * step) for k in range(1, turns + 1)]
    yield Polyline(((x, under), *zigzag, (x, foot)), "support", "narrow")
    ground = ((x - 2.6, foot), (x + 2.6, foot), (x + 2.6, foot + 1.4), (x - 2.6, foot + 1.4))
    yield Line(ground[0], ground[1], "support", "narrow")
    yield Polygon(ground, "support", None, hatch=SUPPORT_HATCH)


def _package(subject: Subject, placed: Placed, view: View, surface: Surface, out: int) -> Iterator[Item]:
    """A package on a surface given as paper y over x; `out` is +1 where outward is down."""

    def band(low: float, high: float, near: float, far: float) -> tuple[Point, ...]:
        low, high = max(low, 0.0), min(high, subject.span_mm)
        xs = [low, *(x for x in subject.stations_mm if low < x < high), high]
        line = [(view.at(x, 0.0)[0], surface(x)) for x in xs]
        return (*((x, y + out * near) for x, y in line), *((x, y + out * far) for x, y in reversed(line)))

    package = [p[0] for p in placed.outline]
    ceramic = [p[0] for p in placed.ceramic]
    low, high = min(package), max(package)
    yield Polygon(band(low, high, 0.0, PACKAGE_MM), "package", "narrow", fill="white")
    inset = (PACKAGE_MM - CERAMIC_MM) / 2
    yield Polygon(band(min(ceramic), max(ceramic), inset, inset + CERAMIC_MM), "ceramic", None, fill="black")


def _names(
    subject: Subject, placed: list[Placed], view: View, surface: Surface, out: int, letters: Lettering
) -> Iterator[Item]:
    """Names of the packages over them; those at the same place share a name line."""
    size = letters.dimension
    lift = -0.35 * size if out < 0 else 0.9 * size
    row = Row(view.at(0.0, 0.0)[0] - SUPPORT_MM, view.at(subject.span_mm, 0.0)[0] + SUPPORT_MM)
    shared: dict[float, list[Placed]] = {}
    for one in placed:
        shared.setdefault(round(one.centre[0], 3), []).append(one)
    for x_mm, here in sorted(shared.items()):
        words = ", ".join(p.id for p in here)
        centre = row.place(text_width_mm(words, size, True), view.at(x_mm, 0.0)[0])
        if centre is not None:
            y = surface(x_mm) + out * PACKAGE_MM + lift
            yield Text((centre, y), words, size, "text", "middle", bold=True)


def _support(x: float, outward: int, kind: str, upper: float, under: float) -> Iterator[Item]:
    outer = x + outward * SUPPORT_MM
    if kind in ("clamped", "elastic"):
        for near, far in ((upper - BLOCK_MM, upper), (under, under + BLOCK_MM)):
            block = ((x, near), (outer, near), (outer, far), (x, far))
            yield Polygon(block, "support", "narrow", hatch=SUPPORT_HATCH)
        yield Line((x, upper), (outer, upper), "part", "medium")
        yield Line((x, under), (outer, under), "part", "medium")
    elif kind == "pinned":
        foot = under + BLOCK_MM
        yield Polygon(((x, under), (x - 2.2, foot), (x + 2.2, foot)), "support", "narrow")
        ground = ((x - 4.0, foot), (x + 4.0, foot), (x + 4.0, foot + 1.6), (x - 4.0, foot + 1.6))
        yield Polygon(ground, "support", None, hatch=SUPPORT_HATCH)
    else:
        wall = x + outward * 3.2
        yield Polyline(((wall, upper - BLOCK_MM), (wall, under + BLOCK_MM)), "support", "medium")
        back = wall + outward * 2.0
        ground = ((wall, upper - BLOCK_MM), (back, upper - BLOCK_MM), (back, under + BLOCK_MM),
                  (wall, under + BLOCK_MM))  # fmt: skip
        yield Polygon(ground, "support", None, hatch=SUPPORT_HATCH)
        for share in (0.2, 0.8):
            y = upper + share * (under - upper)
            yield Circle((x + outward * 1.6, y), 1.3, "support", "narrow")
