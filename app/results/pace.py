"""Which dear view a frame of a drag draws: each a few times a second, never two of them in one frame.

Curves of hundreds of points cost more than all the numbers beside them. Fifteen pictures a second are motion to an eye,
and taking turns keeps every frame as short as the others.
"""

from __future__ import annotations

import time
from collections.abc import Sequence

EVERY_S, EVERY = 1 / 15, 4
"""Each is drawn no more often, and in no more than one frame of so many, however slow frames are."""
NEVER = (-1e9, -(10**9))


class Pace:
    """Gives the views their turns; one never drawn comes first."""

    def __init__(self) -> None:
        self._frame = 0
        self._drawn: dict[str, tuple[float, int]] = {}

    def turn(self, names: Sequence[str], *, busy: bool) -> str | None:
        """That of `names` which waits longest, once it has waited long enough; in a `busy` frame twice as long."""
        now, self._frame = time.perf_counter(), self._frame + 1
        name = min(names, key=lambda one: self._drawn.get(one, NEVER), default=None)
        if name is None:
            return None
        drawn_at, frame = self._drawn.get(name, NEVER)
        if now - drawn_at < EVERY_S * (2.0 if busy else 1.0) or self._frame - frame < EVERY:
            return None
        self._drawn[name] = (now, self._frame)
        return name
