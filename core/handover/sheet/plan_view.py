"""The plan of one face: outline, supports, cut-outs, keep-outs, packages with lead and polarity mark."""

from __future__ import annotations

import math
from collections.abc import Iterator

from core.handover.drawing.clip import runs
from core.handover.drawing.items import Arrow, Circle, Hatch, Item, Line, Point, Polygon, Polyline, Text, View
from core.handover.drawing.lettering import text_width_mm
from core.handover.sheet.datums import touchable_datums
from core.handover.sheet.layout import Box, Lettering
from core.handover.sheet.subject import Placed, Subject
from core.project.edge_strips import edge_strips
from core.project.placement.lead import lead_run
from core.project.plan import datum_holes
from core.project.structure import DatumFeature, PointMass

SUPPORT_MM = 9.0
"""Paper length of the support block drawn beside an end."""
SUPPORT_BEYOND_MM = 2.2
LEAD_MM = 9.0
LEAD_ACROSS_MM = 6.0
MASS_MM = 1.5
SUPPORT_HATCH = Hatch(45.0, 1.5)
KEEP_OUT_HATCH = Hatch(-45.0, 2.0, crossed=True)


def supports(subject: Subject) -> tuple[tuple[float, int, str], ...]:
    """(x in mm, outward direction -1 or +1, kind) of every end that is held."""
    structure = subject.project.structure
    ends = ((0.0, -1, structure.root.kind), (subject.span_mm, 1, structure.tip.kind))
    return tuple(end for end in ends if end[2] != "free")


def edge(view: View, subject: Subject, x_mm: float, below: bool) -> Point:
    """Paper point of the outline's lower or upper edge (as drawn) at x."""
    low, high = subject.edges_mm(x_mm)
    points = (view.at(x_mm, high), view.at(x_mm, low))
    return max(points, key=lambda p: p[1]) if below else min(points, key=lambda p: p[1])


# ---- the part --------------------------------------------------------------------------------


def part_items(subject: Subject, view: View) -> Iterator[Item]:
    """Supports, outline, cut-outs, centreline and the lines that stand for x."""
    span = subject.span_mm
    for x, outward, kind in supports(subject):
        yield from _support(subject, view, x, outward, kind)
    yield from _outline(subject, view)
    yield from _edge_strips(subject, view)
    a = subject.datums.a_mm
    if min(abs(a), abs(a - span)) > 1e-3:
        yield Line(edge(view, subject, a, False), edge(view, subject, a, True), "datum", "fine", "chain")
    for datum in other_datums(subject):
        x = 1e3 * datum.x_m
        yield Line(edge(view, subject, x, False), edge(view, subject, x, True), "datum", "fine", "chain")
    for _, hole in datum_holes(subject.project.structure):
        yield Circle(view.at(1e3 * hole.x_m, 1e3 * hole.y_m), 500 * hole.diameter_m * view.scale, "part", "medium")
    for mass in subject.project.structure.masses:
        yield from _mass(mass_at(subject, view, mass))


def other_datums(subject: Subject) -> tuple[DatumFeature, ...]:
    """Touchable features between the ends that are not datum A: for orientation only."""
    a, span = subject.datums.a_mm, subject.span_mm
    return tuple(
        d for d in touchable_datums(subject.project)
        if abs(1e3 * d.x_m - a) > 1e-3 and 1e-3 < 1e3 * d.x_m < span - 1e-3
    )  # fmt: skip


def _outline(subject: Subject, view: View) -> Iterator[Item]:
    """The part's true outline where a drawing gave it, else what the stations say."""
    rings = subject.true_outline_mm
    if rings:
        held = [outward for _, outward, _ in supports(subject)]
        low = view.at(0.0, 0.0)[0] if -1 in held else -1e6
        high = view.at(subject.span_mm, 0.0)[0] if 1 in held else 1e6
        for n, ring in enumerate(rings):
            points = tuple(view.at(*p) for p in (*ring, ring[0]))
            for run in runs(points, Box(low, -1e6, high, 1e6)):
                yield Polyline(run, "part", "medium" if n else "wide")
        return
    yield Polygon(tuple(view.at(*p) for p in subject.outline_between(0.0, subject.span_mm)), "part", "wide")
    for cut in subject.project.structure.cut_outs:
        centre = view.at(1e3 * cut.x_m, 1e3 * cut.y_m)
        if cut.kind == "hole":
            yield Circle(centre, 500 * cut.diameter_m * view.scale, "part", "medium")
        else:
            dx, dy = 500 * cut.length_m * view.scale, 500 * cut.width_m * view.scale
            corners = ((-dx, -dy), (dx, -dy), (dx, dy), (-dx, dy))
            yield Polygon(tuple((centre[0] + u, centre[1] + v) for u, v in corners), "part", "medium")


def _edge_strips(subject: Subject, view: View) -> Iterator[Item]:
    """The inner sides of strips along the edges, as the steel edges of a ski."""
    for strip in edge_strips(subject.project.structure):
        for side in (1.0, -1.0):
            yield Polyline(tuple(view.at(1e3 * x, side * 1e3 * y) for x, y in strip.inner_m), "part", "fine")


def mass_at(subject: Subject, view: View, mass: PointMass) -> Point:
    """Where a point mass is drawn: at its place, at the edge where it lies beyond on an arm."""
    x = 1e3 * mass.x_m
    ends = sorted(edge(view, subject, x, lower)[1] for lower in (False, True))
    at = view.at(x, 1e3 * mass.y_m)
    return at[0], min(max(at[1], ends[0]), ends[1])


def _mass(centre: Point) -> Iterator[Item]:
    """A point mass: a circle with two opposite quarters filled."""
    x, y = centre
    yield Circle(centre, MASS_MM, "mass", "narrow")
    for start in (0.0, math.pi):
        turns = [start + k * math.pi / 16 for k in range(9)]
        arc = tuple((x + MASS_MM * math.cos(t), y + MASS_MM * math.sin(t)) for t in turns)
        yield Polygon((centre, *arc), "mass", None, fill="black")


def _support(subject: Subject, view: View, x: float, outward: int, kind: str) -> Iterator[Item]:
    upper, lower = edge(view, subject, x, False), edge(view, subject, x, True)
    top, bottom = upper[1] - SUPPORT_BEYOND_MM, lower[1] + SUPPORT_BEYOND_MM
    outer = upper[0] + outward * SUPPORT_MM
    if kind in ("clamped", "elastic"):
        block = ((upper[0], top), (outer, top), (outer, bottom), (upper[0], bottom))
        yield Polygon(block, "support", None, hatch=SUPPORT_HATCH)
        yield Line((upper[0], upper[1]), (outer, upper[1]), "part", "medium")
        yield Line((lower[0], lower[1]), (outer, lower[1]), "part", "medium")
        yield Polyline(_break_line(outer, upper[1], lower[1]), "part", "fine")
    yield Line((upper[0], top), (upper[0], bottom), "support", "fine", "chain")


def _break_line(x: float, top: float, bottom: float) -> tuple[Point, ...]:
    middle = (top + bottom) / 2
    return ((x, top), (x, middle - 1.2), (x + 0.9, middle - 0.4), (x - 0.9, middle + 0.4),
            (x, middle + 1.2), (x, bottom))  # fmt: skip


def keep_out_items(subject: Subject, view: View) -> Iterator[Item]:
    """The keep-outs of the face, hatched."""
    for zone in subject.keep_outs:
        corners = subject.zone_corners(zone)
        yield Polygon(tuple(view.at(*p) for p in corners), "keep-out", "fine", hatch=KEEP_OUT_HATCH)


# ---- the packages ----------------------------------------------------------------------------


def package_items(subject: Subject, view: View, letters: Lettering) -> Iterator[Item]:
    """Packages with their ceramics, leads, centrelines and marks of polarity."""
    for placed in subject.placed:
        yield Polygon(tuple(view.at(*p) for p in placed.outline), "package", "wide", fill="white")
        yield Polygon(tuple(view.at(*p) for p in placed.ceramic), "ceramic", "narrow", "dashed")
        yield from _lead(subject, placed, view)
    yield from _centrelines(subject, view)
    for placed in subject.placed:
        yield from _mark(placed, view, letters)


def _lead(subject: Subject, placed: Placed, view: View) -> Iterator[Item]:
    exit = placed.patch.lead_exit
    ux, uy = placed.direction(exit)
    reach = placed.half_extent(exit)
    start = view.at(placed.centre[0] + reach * ux, placed.centre[1] + reach * uy)
    length = LEAD_ACROSS_MM if exit in ("left", "right") else LEAD_MM
    end = (start[0] + length * ux, start[1] - view.flip_y * length * uy)
    yield Arrow(start, end, "lead", "medium")
    dx, dy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    structure, packages = subject.project.structure, subject.project.packages
    fits = lead_run(structure, packages, subject.candidate, placed.patch).fits
    for share in (0.42, 0.54) if fits else ():  # the strain relief: two bars across the leads
        x, y = start[0] + share * length * dx, start[1] + share * length * dy
        yield Line((x - 1.3 * dy, y + 1.3 * dx), (x + 1.3 * dy, y - 1.3 * dx), "lead", "narrow")


def _centrelines(subject: Subject, view: View) -> Iterator[Item]:
    for placed in subject.placed:
        c, s = placed.direction("towards tip")
        reach = placed.half_extent("towards tip")
        tip = (placed.centre[0] + reach * c, placed.centre[1] + reach * s)
        root = (placed.centre[0] - reach * c, placed.centre[1] - reach * s)
        yield Line(view.at(*root), view.at(*tip), "centre", "fine", "chain")


def words_inside(placed: Placed, view: View, letters: Lettering) -> tuple[str, ...]:
    """What finds room beside the dot inside the ceramic as drawn: ("+", name), (name,) or nothing."""
    room = 1e3 * placed.patch.length_m * view.scale - 4.5
    if 1e3 * placed.patch.width_m * view.scale < 1.7 * letters.dimension:
        return ()
    for words in (("+", placed.id), (placed.id,)):
        if text_width_mm(" ".join(words), letters.dimension, bold=True) <= room:
            return words
    return ()


def _mark(placed: Placed, view: View, letters: Lettering) -> Iterator[Item]:
    """The polarity dot near the lead end and the package's name beside it."""
    size = letters.dimension
    towards_tip = placed.patch.lead_exit == "towards tip"
    half_l, half_w = 500 * placed.patch.length_m, 500 * placed.patch.width_m
    inset = min(2.2 / view.scale, half_l / 2)
    u, v = (half_l - inset if towards_tip else inset - half_l), 0.52 * half_w * view.flip_y
    c, s = placed.direction("towards tip")
    dot = view.at(placed.centre[0] + c * u - s * v, placed.centre[1] + s * u + c * v)
    radius = min(1.1, half_w * view.scale / 2)
    words = words_inside(placed, view, letters)
    if words:
        at = (dot[0] + (-2.0 if towards_tip else 2.0), dot[1] + 0.36 * size)
        line = " ".join(reversed(words) if towards_tip else words)
        yield Text(at, line, size, "polarity", "end" if towards_tip else "start", bold=True, clear=True)
    yield Circle(dot, radius, "polarity", filled=True)
