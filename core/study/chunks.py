"""Runs chunks of a study on any executor, or here when there is none."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.study.executors import Job, run_chunks

__all__ = ["Job", "run_chunks", "spread"]


def spread(count: int, chunk: int) -> list[NDArray[np.intp]]:
    """Indices 0..count-1 in chunks, each chunk strided over the whole range."""
    n = max(1, -(-count // chunk))
    return [np.arange(k, count, n, dtype=np.intp) for k in range(n) if k < count]
