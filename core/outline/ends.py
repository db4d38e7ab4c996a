"""End edges: how far one is out of square, and what that means where the part is held."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from core import units
from core.outline.difference import REACH_M
from core.outline.width import WidthCurve

STEEP = 5.0
"""Width gained over length from which an edge at the root is an end edge out of square (up to 11 degrees)
and not a taper."""
WHOLE = 0.8
"""An end edge leads to at least this share of the width that the part has one width further on."""
NARROW = 0.5
"""A root narrower than this share of the width a quarter of a width further on is said."""


def slant(curve: WidthCurve) -> float:
    """Length along x, m, over which the end at x = 0 gains its whole width; 0 for a square or a tapered end."""
    x, w = curve.x_m, curve.width_m
    run, rise = np.diff(x), np.diff(w)
    on = (rise >= STEEP * run) & (run >= 0.0)
    reach = len(on) if on.all() else int(on.argmin())
    if reach == 0:
        return 0.0
    end, width = float(x[reach]), float(w[reach])
    beyond = x <= end + width
    if width < WHOLE * float(w[beyond].max()):
        return 0.0
    return end - float(x[0])


def narrow_ends(curve: WidthCurve) -> Iterator[str]:
    """Sentences on an end that is next to nothing where the beam would be held."""
    place = min(0.25 * curve.widest_m, 0.5 * curve.span_m)
    start, inner = (float(np.interp(v, curve.x_m, curve.width_m)) for v in (REACH_M, place))
    if start < NARROW * inner:
        yield (
            f"At the clamp line the part is only {_mm(start)} wide, {_mm(place)} further on {_mm(inner)}: held "
            "there it swings as on a hinge. Put the clamp line where the part is held over its whole width."
        )


def slant_words(length_m: float) -> str:
    """What was done about a root edge out of square by that length."""
    return (
        f"The root edge is {_mm(length_m, 2)} out of square. The clamp line lies where the part has its whole "
        "width; move it if the part is held elsewhere."
    )


def _mm(value_m: float, digits: int = 1) -> str:
    return f"{units.show(float(value_m), 'mm', digits)} mm"
