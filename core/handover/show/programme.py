"""What is played of a ring-down: how long, how slowly, in which order, and how high it must be put to be heard.

Times of the part ("part's time") run from the moment it is let go; what a person sees takes `slow` times as long.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf, isfinite, log2
from typing import Literal

from core.predict.swing import Swing

Order = Literal["in turn", "together"]

SLOW = (1, 4, 8, 16)
SWINGS_A_SECOND = 3.0
"""An eye follows about this many swings in a second."""
LONGEST_S = 30.0
FEWEST_SWINGS = 12.0
BEYOND_SETTLING = 1.3
QUIET_HZ = 40.0
"""Below this the loudspeaker of a laptop gives nothing (common practice, no source)."""
HEARD_HZ = 150.0
"""What is put up comes at least here."""


@dataclass(frozen=True)
class Programme:
    """A swing to play. length_s : of one ring-down in the part's time; slow : times slower than the part."""

    swing: Swing
    order: Order
    slow: float
    length_s: float

    @property
    def whole_s(self) -> float:
        """All of it in the part's time: both one after the other, or both at once."""
        return self.length_s * (2.0 if self.order == "in turn" else 1.0)

    def times(self, at_s: float) -> tuple[float | None, float]:
        """Time since each was let go, before and after, at `at_s` of the programme; None: it is over, 0: held still."""
        if self.order == "together":
            return at_s, at_s
        return (at_s, 0.0) if at_s < self.length_s else (None, at_s - self.length_s)


def programme(swing: Swing, order: Order = "in turn", slow: float | None = None) -> Programme:
    """What is played of a swing; `slow` None chooses the one of `SLOW` an eye can follow best."""
    return Programme(swing, order, followed(swing.f_hz) if slow is None else slow, length_s(swing))


def length_s(swing: Swing) -> float:
    """Of one ring-down: until the circuit's is well settled, at least a dozen swings, at most half a minute."""
    ring = swing.ring
    settled = [BEYOND_SETTLING * s for s in (ring.settle_after_s, ring.settle_before_s) if isfinite(s) and s > 0.0]
    least = FEWEST_SWINGS / swing.f_hz if swing.f_hz > 0.0 else 1.0
    return min(max(settled[0] if settled else LONGEST_S, least), LONGEST_S)


def followed(f_hz: float) -> int:
    """The slow-down at which the part swings closest to three times a second, as ratios go."""
    return min(SLOW, key=lambda s: abs(log2(max(f_hz, 1e-6) / s / SWINGS_A_SECOND)))


def octaves_up(f_hz: float) -> int:
    """By how many octaves a ring-down is put up to be heard: none from 40 Hz on."""
    if not 0.0 < f_hz < QUIET_HZ:
        return 0
    return ceil(log2(HEARD_HZ / f_hz))


def magnification(swing: Swing, drawn_span: float = 1.0, reach: float = 0.22) -> float:
    """How many times as large the motion is drawn, when the span takes `drawn_span` and the largest deflection
    `reach` of it; inf where nothing moves."""
    span = float(swing.x_m[-1])
    return reach * drawn_span * span / swing.largest if swing.largest > 0.0 else inf
