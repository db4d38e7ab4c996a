"""How work on a loop that takes a while asks whether anybody still waits for it."""

from __future__ import annotations

from collections.abc import Callable

GoesOn = Callable[[float], bool]
"""Told the share done; False ends the work with Stopped."""


class Stopped(Exception):
    """Whoever waited wants it no more."""
