"""Which dear view a frame of a drag draws: each a few times a second, never two of them in one frame.

Curves of hundreds of points cost more than all the numbers beside them. Fifteen pictures a second are motion to an eye,
and taking turns keeps every frame as short as the others.
"""

from __future__ import annotations

import time
from collections.abc import Sequence

EVERY_S = 1 / 15


class Pace:
    """Gives the views their turns; one never drawn comes first."""

    def __init__(self) -> None:
        self._drawn_at: dict[str, float] = {}

    def turn(self, names: Sequence[str], *, busy: bool) -> str | None:
        """That of `names` which waits longest, once it has waited long enough; in a `busy` frame twice as long."""
        now = time.perf_counter()
        longest = min(names, key=lambda name: self._drawn_at.get(name, -1e9), default=None)
        if longest is None or now - self._drawn_at.get(longest, -1e9) < EVERY_S * (2.0 if busy else 1.0):
            return None
        self._drawn_at[longest] = now
        return longest
