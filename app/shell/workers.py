"""Processes for long studies, started with the first one and kept: the window's own stays free.

A thread of this process would do, but its Python takes turns with the window's; beyond a second
that is felt.
"""

from __future__ import annotations

import threading
from concurrent.futures import Executor

_lock = threading.Lock()
_pool: Executor | None = None


def pool() -> Executor:
    """The worker processes of this program; new ones where the last broke or were closed."""
    global _pool
    with _lock:
        if _pool is None or getattr(_pool, "_broken", False):
            from core.study.executors import local_executor

            _pool = local_executor("processes")
        return _pool


def close() -> None:
    """End the workers; what they were at is dropped."""
    global _pool
    with _lock:
        if _pool is not None:
            _pool.shutdown(wait=False, cancel_futures=True)
            _pool = None
