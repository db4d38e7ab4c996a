"""The search on its thread: progress and the best layouts so far are told in good measure."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from core.project.model import Project

if TYPE_CHECKING:
    from core.study.search.goals import SearchRequest, SearchResult

TELL_S = 0.1
SHOW_S = 0.3
"""The best layouts so far are drawn no oftener than this."""


def search_work(
    project: Project,
    request: SearchRequest,
    tell: Callable[[float, str], None],
    show: Callable[[object], None],
    stop: threading.Event,
) -> SearchResult | None:
    """The search, telling how far it is and the best layouts so far; None when told to stop."""
    from core.study.search.search import search

    last = shown = 0.0

    def on_progress(share: float, words: str) -> None:
        nonlocal last
        if time.perf_counter() - last > TELL_S:
            last = time.perf_counter()
            tell(share, words[:1].upper() + words[1:])

    def on_partial(found: object) -> None:
        nonlocal shown
        if time.perf_counter() - shown > SHOW_S:
            shown = time.perf_counter()
            show(found)

    return search(project, request, on_progress=on_progress, on_partial=on_partial, cancelled=stop.is_set)
