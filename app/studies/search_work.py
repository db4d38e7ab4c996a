"""The search on its thread: progress and the best layouts so far are told in good measure."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from core.project.model import Project

if TYPE_CHECKING:
    from core.study.search.goals import SearchRequest, SearchResult

TELL_S = 0.1
ALIKE = 1e-3
"""Scores nearer to each other than this read alike."""
SHOW_S = 0.3
"""The best layouts so far are drawn no oftener than this."""


@dataclass(frozen=True)
class Present:
    """How the layout that was shown stands: `better` of the `found` layouts do more of what was asked."""

    candidate: str
    words: str
    meets: bool
    better: int
    found: int

    def sentence(self) -> str:
        unmet = "" if self.meets else ", short of the targets"
        if self.found == 0:
            return f"The present layout {self.candidate}: {self.words}{unmet}."
        if self.better == 0:
            rank = "none of those found does better"
        else:
            rank = f"{self.better} of the {self.found} found {'does' if self.better == 1 else 'do'} better"
        return f"The present layout {self.candidate}: {self.words}{unmet}; {rank}."


def search_work(
    project: Project,
    request: SearchRequest,
    tell: Callable[[float, str], None],
    show: Callable[[object], None],
    stop: threading.Event,
) -> tuple[SearchResult, Present | None] | None:
    """The search, telling how far it is and the best layouts so far, and how the present layout stands; None when
    told to stop."""
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

    result = search(project, request, on_progress=on_progress, on_partial=on_partial, cancelled=stop.is_set)
    return None if result is None else (result, _present(project, request, result))


def _present(project: Project, request: SearchRequest, result: SearchResult) -> Present | None:
    """The active candidate by the measure of the search; None where it has no patch or cannot be predicted."""
    from core.study.search.exact import prediction_of, score_of, target_ratios

    candidate = project.candidate()
    if not candidate.patches:
        return None
    try:
        found = prediction_of(project, request, candidate)
    except (ValueError, ArithmeticError):
        return None
    score, words = score_of(request.goal, found)
    meets = all(ratio >= 1.0 for ratio in target_ratios(request.goal, found))
    alike = ALIKE * abs(score)
    better = sum(other.score > score + alike and (other.meets or not meets) for other in result.found)
    return Present(candidate.id, words, meets, better, len(result.found))
