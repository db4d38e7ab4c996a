"""Memory that the C library keeps for the next layout."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

LARGE_BLOCK = 31 * 2**20
"""Bytes: the size follows up to 32 MiB."""


@lru_cache(maxsize=1)
def keep_freed_memory() -> None:
    """The C library gives freed memory back to the system from a size on that follows the largest block freed so far; faulting
    it in again takes a fifth of the time of one layout, and a third of that of many. One large block, never touched, raises that
    size once."""
    np.empty(LARGE_BLOCK, dtype=np.uint8)
