"""Words of the modes in which the part twists, one text for window, papers and terminal."""

from __future__ import annotations

from collections.abc import Sequence

from core.predict.mode_result import TorsionMode
from core.units import words

UNREACHED = "cannot be reached by a centred patch"
"""What stands in place of a K^2 of nothing."""
MISSED = "is not reached by patches that lie so"
"""The same where something lies off the centreline or is turned."""


def torsion_line(modes: Sequence[TorsionMode]) -> str:
    """Every mode with its frequency and, where patches reach it, its K^2 and damping."""
    if all(m.k2 is None for m in modes):
        return f"{words.torsion([m.f_hz for m in modes])}; {UNREACHED}"
    return ", ".join(f"{words.torsion([m.f_hz], m.rank)} ({reach(m)})" for m in modes)


def reach(mode: TorsionMode) -> str:
    """K^2 and damping of one mode, or that patches do not reach it."""
    if not mode.is_reached:
        return MISSED if mode.k2 is not None else UNREACHED
    assert mode.k2 is not None and mode.zeta is not None
    return f"K² {words.coupling(mode.k2)}, damping {words.damping(mode.zeta)}"
