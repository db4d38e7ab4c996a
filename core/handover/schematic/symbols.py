"""Symbols that the drawing library lacks or draws otherwise than IEC 60617 does.

Each is an element of the library, from (0, 0) to the right, so that it is placed and turned as its own are.
"""

from __future__ import annotations

from math import nan

from core.handover.schematic.library import Element, Element2Term, Segment, SegmentCircle

BREAK = (nan, nan)
PLATE, THICK, GAP = 0.62, 0.66, 0.16
"""Half length of a piezoceramic's electrodes, its thickness, and what separates both."""
BOX_WIDE, BOX_HIGH = 2.6, 3.2
SMALL_WIDE, SMALL_HIGH = 1.9, 2.4


class Piezo(Element2Term):
    """A crystal with two electrodes (07-... of IEC 60617), wide enough for its name; `dot_first` marks the lead
    that it starts from."""

    def __init__(self, dot_first: bool, ceramic: str) -> None:
        super().__init__()
        end = 2 * GAP + THICK
        inner = PLATE - 0.02
        body = [(GAP, inner), (GAP + THICK, inner), (GAP + THICK, -inner), (GAP, -inner), (GAP, inner)]
        self.segments.append(Segment([(0, 0), BREAK, (end, 0)]))
        for x in (0.0, end):
            self.segments.append(Segment([(x, PLATE), (x, -PLATE)]))
        self.segments.append(Segment(body, color=ceramic, fill=ceramic))
        self.segments.append(Segment(body))
        along = -0.28 if dot_first else end + 0.28
        self.segments.append(SegmentCircle((along, PLATE - 0.05), 0.11, fill=True))


class Amplifier(Element):
    """An operational amplifier as a block with its triangle and infinity (IEC 60617-13).

    Anchors `upper`, `lower`, `out`; the sign at the upper input is minus, or plus where `upper_inverts` is False. `small`
    has no room for lettering beside its sign; `to_left` has the inputs on the right.
    """

    def __init__(self, upper_inverts: bool, *, small: bool = False, to_left: bool = False) -> None:
        super().__init__()
        side = -1.0 if to_left else 1.0
        wide, high = (SMALL_WIDE, SMALL_HIGH) if small else (BOX_WIDE, BOX_HIGH)
        up, down = 0.7, 0.7 - high
        low = down + 0.7

        def line(*points: tuple[float, float]) -> None:
            self.segments.append(Segment([(side * x, y) for x, y in points]))

        line((0, up), (wide, up), (wide, down), (0, down), (0, up))
        for y, minus in ((0.0, upper_inverts), (low, not upper_inverts)):
            line((0.2, y), (0.5, y))
            if not minus:
                line((0.35, y - 0.15), (0.35, y + 0.15))
        t = 0.85 if not small else 0.65
        line((t, 0.35), (t, -0.05), (t + 0.38, 0.15), (t, 0.35))
        for x in (t + 0.68, t + 0.96):
            self.segments.append(SegmentCircle((side * x, 0.15), 0.14))
        self.anchors["upper"] = (0.0, 0.0)
        self.anchors["lower"] = (0.0, low)
        self.anchors["out"] = (side * wide, (up + down) / 2)
