"""What gives way when the window is small: pure functions of its size in logical pixels."""

from __future__ import annotations

from app.shell.candidate_bar import Density

TALL = 880
"""From this height on candidates have a second line."""
NARROW = 1150
"""Below this width the inputs are a rail and other candidates keep letter and mark."""


def density_for(width: int, height: int) -> Density:
    """How much the candidates say."""
    if width < NARROW:
        return "letters"
    return "full" if height >= TALL else "names"


def is_narrow(width: int) -> bool:
    return width < NARROW
