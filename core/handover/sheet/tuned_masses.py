"""Tuned masses on the sheet: where each is fixed, how it is drawn, what the shop must know of it.

They stand on the top face, as in the window, so that the sheet of the underside has none. Spring and
damper are results: they are on the decision record, never here.
"""

from __future__ import annotations

from collections.abc import Iterator

from core.handover.drawing.dimensions import Wanted, matched, number
from core.handover.drawing.items import Circle, Item, Point, Polygon, Polyline, View
from core.handover.sheet.layout import Lettering
from core.handover.sheet.plan_view import edge
from core.handover.sheet.subject import Subject
from core.handover.sheet.tolerances import limits
from core.project.candidate import Absorber
from core.units import words

RING_MM, DISC_MM = 2.0, 0.9
"""Radii of the symbol in plan: the mass in its cage."""
COIL_MM, BLOCK_MM, HALF_MM = 2.4, 1.6, 1.8
"""Height of coil and block over the face in the side view, and half the block's width."""


def plan_items(subject: Subject, view: View) -> Iterator[Item]:
    """A ring about a disc where the axis of the tuned mass goes through the part."""
    for one in subject.tuned_masses:
        centre = view.at(1e3 * one.x_m, 0.0)
        yield Circle(centre, RING_MM, "mass", "narrow")
        yield Circle(centre, DISC_MM, "mass", "narrow", filled=True)


def side_items(foot: Point) -> Iterator[Item]:
    """A block on a coil that stands on `foot`."""
    x, y = foot
    turns = [(x + (0.9 if k % 2 else -0.9), y - COIL_MM * (k + 0.5) / 5) for k in range(5)]
    yield Polyline((foot, *turns, (x, y - COIL_MM)), "mass", "narrow")
    top, low = y - COIL_MM - BLOCK_MM, y - COIL_MM
    corners = ((x - HALF_MM, top), (x + HALF_MM, top), (x + HALF_MM, low), (x - HALF_MM, low))
    yield Polygon(corners, "mass", "narrow", fill="black")


def dimensions(subject: Subject, view: View, letters: Lettering) -> list[Wanted]:
    """From datum A to the axis of each, functional, with the sheet's tolerance along."""
    a = subject.datums.a_mm
    start = edge(view, subject, a, True)
    wanted = []
    for one in subject.tuned_masses:
        x, y = view.at(1e3 * one.x_m, 0.0)
        value, tolerance = abs(1e3 * one.x_m - a), _tolerance(subject, one)
        told = f"A to {one.id} {matched(value, tolerance)}"
        foot = (x, y + RING_MM)
        wanted.append(Wanted(start, foot, value, told, view.scale, letters.dimension, tolerance))
    return wanted


def note_lines(subject: Subject) -> tuple[str, ...]:
    """Where each sits and what it weighs."""
    return tuple(
        f"{one.id}: centre {number(abs(1e3 * one.x_m - subject.datums.a_mm))} from A on the centreline, mass "
        f"{words.mass(one.mass_kg)}; spring and damper as the decision record says.{_stroke(one)}"
        for one in subject.tuned_masses
    )


def caution_lines(subject: Subject) -> tuple[str, ...]:
    """What a shop must know of tuned masses; empty without one."""
    if not subject.tuned_masses:
        return ()
    return ("A tuned mass swings: keep its stroke free, fasten it so that it cannot come off, keep fingers away.",)


def _stroke(one: Absorber) -> str:
    if one.allowed_stroke_m is None:
        return ""
    return f" Keep {words.size(one.allowed_stroke_m)} free to either side of it."


def _tolerance(subject: Subject, one: Absorber) -> str:
    """More is away from A, whichever way that is; no further than the part goes."""
    tip, root = subject.project.sheet.tolerances_x_m
    tip, root = min(tip, subject.project.structure.span_m - one.x_m), min(root, one.x_m)
    return limits(tip, root) if 1e3 * one.x_m >= subject.datums.a_mm else limits(root, tip)
