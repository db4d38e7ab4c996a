"""What a template shows of the part, true size: edges, datum with its flap, packages to prick through.

Coordinates are those of the part as its face is seen, in mm: x from the support, y down.
"""

from __future__ import annotations

from collections.abc import Iterator

from core.handover.drawing.clip import round_outline
from core.handover.drawing.dimensions import number
from core.handover.drawing.items import Arrow, Circle, Hatch, Item, Line, Point, Polygon, Polyline, Text, View
from core.handover.drawing.lettering import fit, text_width_mm
from core.handover.sheet.layout import Box
from core.handover.sheet.notes import AROUND_MM
from core.handover.sheet.plan_dimensions import column_words, columns, written_along
from core.handover.sheet.subject import Placed, Subject
from core.project.placement.lead import lead_run
from core.project.plan import datum_holes

FLAP_MM = 18.0
BEYOND_MM = 6.0
"""Paper beyond the furthest thing drawn."""
LEAD_MM = 25.0
PRICK_MM = 3.0
SIZE = 2.8
SMALL = 2.2


def seen(subject: Subject) -> View:
    """The view that takes model mm to the face as it is seen, at true size."""
    return View("template", (0.0, 0.0), 1.0, subject.flip_y)


def flap_side(subject: Subject) -> int:
    """+1 where the flap lies on the tip side of datum A, -1 on the root side, 0 where it cannot:
    a package or the part itself lies on both sides."""
    a, span = subject.datums.a_mm, subject.span_mm
    if abs(a - span) < 1e-3:
        return 1
    return -1 if abs(a) < 1e-3 else 0


def region(subject: Subject) -> Box:
    """From datum A with its flap to the furthest package and the start of its leads, full width."""
    view, a = seen(subject), subject.datums.a_mm
    xs, ys = [a], []
    for placed in subject.placed:
        for x, y in placed.outline:
            xs.append(x)
            ys.append(view.at(x, y)[1])
        end = _lead_end(placed, view)
        xs.append(end[0])
        ys.append(end[1])
    low, high = min(xs) - BEYOND_MM, max(xs) + BEYOND_MM
    side = flap_side(subject)
    low, high = (low - FLAP_MM if side < 0 else low), (high + FLAP_MM if side > 0 else high)
    for x, y in _part_points(subject, low, high):
        ys.append(view.at(x, y)[1])
    return Box(low, min(ys) - BEYOND_MM, high, max(ys) + BEYOND_MM)


def package_boxes(subject: Subject) -> tuple[Box, ...]:
    """Each package with its prick crosses as the face is seen: what no seam should cut."""
    view, boxes = seen(subject), []
    for placed in subject.placed:
        points = [view.at(*p) for p in placed.outline]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        boxes.append(Box(min(xs) - PRICK_MM, min(ys) - PRICK_MM, max(xs) + PRICK_MM, max(ys) + PRICK_MM))
    return tuple(boxes)


def _part_points(subject: Subject, low: float, high: float) -> Iterator[Point]:
    yield from subject.outline_between(max(low, 0.0), min(high, subject.span_mm))


def template_items(subject: Subject, area: Box) -> Iterator[Item]:
    """Everything true to size; whoever draws it cuts it to tiles."""
    view = seen(subject)
    yield from _part(subject, view)
    yield from _keep_outs(subject, view)
    yield from _datum_a(subject, view, area)
    yield from _datum_b(subject, view, area)
    for placed in subject.placed:
        yield from _package(subject, placed, view)


def _part(subject: Subject, view: View) -> Iterator[Item]:
    rings = subject.true_outline_mm or (subject.outline_between(0.0, subject.span_mm),)
    for ring in rings:
        yield Polygon(tuple(view.at(*p) for p in ring), "part", "narrow")
    for _, hole in datum_holes(subject.project.structure):
        centre = view.at(1e3 * hole.x_m, 1e3 * hole.y_m)
        yield Polygon(round_outline(centre, 500 * hole.diameter_m), "part", "narrow")
    if not subject.true_outline_mm:
        for cut in subject.project.structure.cut_outs:
            centre = view.at(1e3 * cut.x_m, 1e3 * cut.y_m)
            if cut.kind == "hole":
                yield Polygon(round_outline(centre, 500 * cut.diameter_m), "part", "narrow")
            else:
                dx, dy = 500 * cut.length_m, 500 * cut.width_m
                corners = ((-dx, -dy), (dx, -dy), (dx, dy), (-dx, dy))
                yield Polygon(tuple((centre[0] + u, centre[1] + v) for u, v in corners), "part", "narrow")


def _keep_outs(subject: Subject, view: View) -> Iterator[Item]:
    for n, zone in enumerate(subject.keep_outs, start=1):
        corners = subject.zone_corners(zone)
        points = tuple(view.at(*p) for p in corners)
        yield Polygon(points, "keep-out", "fine", "dashed", Hatch(-45.0, 6.0, crossed=True))
        xs, top = [p[0] for p in points], min(p[1] for p in points)
        words = f"Z{n} keep clear: {zone.name}"
        if max(xs) - min(xs) < text_width_mm(words, SMALL) + 2:
            words = f"Z{n}"
        yield Text(((min(xs) + max(xs)) / 2, top + 12.0), words, SMALL, "keep-out", "middle", clear=True)


def _datum_a(subject: Subject, view: View, area: Box) -> Iterator[Item]:
    a, side = subject.datums.a_mm, flap_side(subject)
    half = max(abs(y) for x, y in subject.outline_between(0.0, subject.span_mm)) + BEYOND_MM
    if side:
        low, high = subject.edges_mm(a)
        far = a + side * FLAP_MM
        flap = (view.at(a, high), view.at(far, high), view.at(far, low), view.at(a, low))
        yield Polyline(flap, "datum", "fine")
        yield Line(view.at(a, high), view.at(a, low), "datum", "narrow", "chain")
        yield from _flap_words((a + far) / 2, view.at(a, (low + high) / 2)[1], (high - low) / 2)
    else:
        y_low, y_high = view.at(a, -half)[1], view.at(a, half)[1]
        yield Line((a, y_low), (a, y_high), "datum", "narrow", "chain")
        words = f"line up with {subject.datums.a_name}"
        if a > (area.left + area.right) / 2:
            yield Text((a - 1.4, area.top + 5.0), words, SMALL, "datum", "end")
        else:
            yield Text((a + 1.4, area.top + 5.0), words, SMALL, "datum")
    # on the side away from the packages, where nothing else is marked
    away = side or (1 if a > (area.left + area.right) / 2 else -1)
    yield from _mark("A", a if away > 0 else a - MARK_MM, area.top + 4.0)


def _flap_words(x: float, centre: float, half: float) -> Iterator[Item]:
    """What to do with the flap, on either side of the leads that may run across it."""
    for words, middle in (
        ("FLAP: fold", centre + half / 2 + 0.5),
        ("lay against A", centre - half / 2 - 0.5),
    ):
        size = next((s for s in (SIZE, 2.4, 2.0, 1.6) if text_width_mm(words, s) + 1.5 <= half), None)
        if size is not None:
            yield Text((x + 0.36 * size, middle), words, size, "datum", "middle", angle_deg=90.0)


MARK_MM = 6.4
"""From one side of a line to the other for the square of a datum letter."""


def _mark(letter: str, x: float, y: float) -> Iterator[Item]:
    """A datum letter in its square, beside the line it belongs to."""
    corners = ((x + 1, y - 2.2), (x + 5.4, y - 2.2), (x + 5.4, y + 2.2), (x + 1, y + 2.2))
    yield Polygon(corners, "datum", "narrow", fill="white")
    yield Text((x + 3.2, y + 1.1), letter, 3.2, "datum", "middle", True)


def _datum_b(subject: Subject, view: View, area: Box) -> Iterator[Item]:
    """The datum across: an edge is drawn already, the centreline is not."""
    b = subject.datums.b_mm
    y = view.at(0.0, b or 0.0)[1]
    if b is None:
        ends = (max(area.left, 0.0), min(area.right, subject.span_mm))
        yield Line((ends[0], y), (ends[1], y), "centre", "fine", "chain")
    nearest = min(subject.placed, key=lambda p: abs(p.centre[0] - subject.datums.a_mm))
    tipward = subject.datums.a_mm > nearest.centre[0]
    edge, far = nearest.tip_edge[0], nearest.root_edge[0]
    if not tipward:
        edge, far = far, edge
    x = (edge + subject.datums.a_mm) / 2 - MARK_MM / 2
    if b is None or abs(edge - subject.datums.a_mm) < 2 * MARK_MM:
        x = far + (-MARK_MM - PRICK_MM if tipward else PRICK_MM)
    # beside the edge on the free side, beside the centreline below it
    outside = 3.4 if b is None or y >= view.at(0.0, 0.0)[1] else -3.4
    yield from _mark("B", x, y + outside)


def _package(subject: Subject, placed: Placed, view: View) -> Iterator[Item]:
    yield Polygon(tuple(view.at(*p) for p in placed.outline), "package", "narrow")
    yield Polygon(tuple(view.at(*p) for p in placed.ceramic), "ceramic", "fine", "dashed")
    for corner in placed.outline:
        x, y = view.at(*corner)
        yield Line((x - PRICK_MM, y), (x + PRICK_MM, y), "package", "fine")
        yield Line((x, y - PRICK_MM), (x, y + PRICK_MM), "package", "fine")
    yield from _words_in(subject, placed, view)
    yield from _lead(subject, placed, view)


def _words_in(subject: Subject, placed: Placed, view: View) -> Iterator[Item]:
    """Polarity dot, name and the written dimensions inside the ceramic, as far as they fit."""
    half_l, half_w = 500 * placed.patch.length_m, 500 * placed.patch.width_m
    c, s = placed.direction("towards tip")

    def at(u: float, v: float) -> Point:
        return view.at(placed.centre[0] + c * u - s * v, placed.centre[1] + s * u + c * v)

    towards_tip = placed.patch.lead_exit == "towards tip"
    inset = min(3.5, half_l / 2)
    radius = min(1.3, half_w / 3)
    up = subject.flip_y
    dot = at((half_l - inset) if towards_tip else (inset - half_l), up * 0.55 * half_w)
    yield Circle(dot, radius, "polarity", filled=True)
    room = 2 * half_l - 2.0
    lines = [placed.id, written_along(subject, placed), written_across(subject, placed)]
    size = min(SIZE, 2 * half_w / 6)
    if size < 1.4:
        return
    yield Text((dot[0] + (-2.2 if towards_tip else 2.2), dot[1] + 0.36 * size), "+", size, "polarity",
               "end" if towards_tip else "start", True)  # fmt: skip
    start = at(0.0, 0.0)
    for n, words in enumerate(lines, start=1):
        shown = fit(words, size, room)
        if shown == words:
            yield Text((start[0], start[1] + 1.3 * n * size), words, size, "package", "middle", n == 1)


def written_across(subject: Subject, placed: Placed) -> str:
    """Distance from B and angle of a package with their tolerances, as on the diagram."""
    for column in columns(subject):
        if placed in column[1]:
            _, across, angle = column_words(subject, column)
            return f"B to {placed.id} {across}, {angle}"
    raise KeyError(placed.id)


def _lead_end(placed: Placed, view: View) -> Point:
    ux, uy = placed.direction(placed.patch.lead_exit)
    reach = placed.half_extent(placed.patch.lead_exit) + _lead_mm(placed)
    return view.at(placed.centre[0] + reach * ux, placed.centre[1] + reach * uy)


def _lead_mm(placed: Placed) -> float:
    return min(LEAD_MM, 1e3 * placed.package.lead_length_m)


def _lead(subject: Subject, placed: Placed, view: View) -> Iterator[Item]:
    """The start of the leads, the strain relief across them, length and bend radius in words."""
    ux, uy = placed.direction(placed.patch.lead_exit)
    reach = placed.half_extent(placed.patch.lead_exit)
    x, y = placed.centre
    start, end = view.at(x + reach * ux, y + reach * uy), _lead_end(placed, view)
    yield Arrow(start, end, "lead", "narrow", 3.0)
    relief = min(float(AROUND_MM), _lead_mm(placed) / 2)
    fits = lead_run(subject.project.structure, subject.project.packages, subject.candidate, placed.patch).fits
    for along in (relief - 0.6, relief + 0.6) if fits else ():
        px, py = x + (reach + along) * ux, y + (reach + along) * uy
        yield Line(
            view.at(px - 2.5 * uy, py + 2.5 * ux), view.at(px + 2.5 * uy, py - 2.5 * ux), "lead", "fine"
        )
    words = (
        f"leads {number(1e3 * placed.package.lead_length_m)}",
        f"strain relief at {relief:.0f}" if fits else "strain relief: agree on another exit",
        f"bend radius {number(1e3 * placed.package.lead_bend_radius_m)} or more",
    )
    if placed.patch.lead_exit in ("left", "right"):
        for n, text in enumerate(words):
            at = (start[0] + 4.0, (start[1] + end[1]) / 2 + 1.25 * SMALL * (n - 1))
            yield Text(at, text, SMALL, "lead", clear=True)
        return
    corners = [view.at(*p) for p in placed.outline]
    left, top = min(p[0] for p in corners), min(p[1] for p in corners)
    yield Text((left + PRICK_MM + 1.5, top - PRICK_MM - 1.2), ", ".join(words), SMALL, "lead", clear=True)
