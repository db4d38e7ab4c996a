"""Where to put it, with what on its leads: a global search refined by the single prediction."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor

import numpy as np

from core.project.model import Candidate, Project
from core.study.binding import binding
from core.study.exact import (
    ROUND_M,
    prediction_of,
    score_of,
    settle,
    static_margin,
    target_ratios,
)
from core.study.executors import Job, run_chunks
from core.study.explore import APART, Effort, Spot, distance, explore
from core.study.goals import Found, SearchRequest, SearchResult
from core.study.scoring import out_of_place
from core.study.templates import Template, modes_of, templates
from core.study.wishes import no_layout, nothing_found, what_would_have_to_give

Cancelled = Callable[[], bool]
Progress = Callable[[float, str], None]

POLISH_M = (5e-4, 2e-4)
SCREEN = Effort(8, 3)
MOST_EXPLORED = 8
"""Templates explored in full; with more choices a short look at each picks them."""


def search(
    project: Project,
    request: SearchRequest,
    *,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> SearchResult | None:
    """The best clearly different layouts, best first; None when cancelled.

    Deterministic for a seed, whatever the executor. `on_progress` gets the share done and what is
    being done. Raises KeyError for an unknown package, ValueError in words for a request that asks
    nothing.
    """
    check_search(project, request)
    tell = on_progress or _silent
    spots, count = spots_of(project, request, executor=executor, tell=tell, cancelled=cancelled)
    if cancelled is not None and cancelled():
        return None
    chosen = _different(spots, request.wanted, project.structure.span_m)
    found = []
    for i, spot in enumerate(chosen):
        if cancelled is not None and cancelled():
            return None
        tell(0.75 + 0.2 * i / len(chosen), f"predicting layout {i + 1} of {len(chosen)} exactly")
        found.append(_exactly(project, request, spot))
    ranked = tuple(sorted(found, key=lambda f: (not f.meets, -f.score)))
    met = any(f.meets for f in ranked)
    gives: tuple[str, ...] = ()
    if not met:
        tell(0.95, "looking for what would have to give")
        gives = what_would_have_to_give(project, request, cancelled)
    verdict = _verdict(project, request, ranked)
    return SearchResult(request, ranked, met, verdict, gives, count)


def _silent(_share: float, _words: str) -> None:
    """Nobody listens."""


def check_search(project: Project, request: SearchRequest) -> None:
    """ValueError in words for a search that cannot start."""
    limits, goal = request.limits, request.goal
    for name in limits.packages:
        project.package(name)
    for given, words in (
        (limits.packages, "package"),
        (limits.circuits, "circuit"),
        (limits.faces, "face"),
        (limits.patches, "number of patches"),
    ):
        if not given:
            raise ValueError(f"The search allows no {words}. Choose at least one.")
    if goal.kind == "weighted" and not any(w > 0.0 for w in goal.weights):
        raise ValueError("No mode has a weight. Give at least one mode a weight above 0.")
    if goal.kind == "targets" and not any(t.zeta or t.peak_db for t in goal.targets):
        raise ValueError("No mode has a target. Give at least one mode a damping or a peak to reach.")


def spots_of(
    project: Project,
    request: SearchRequest,
    *,
    executor: Executor | None = None,
    tell: Progress = _silent,
    cancelled: Cancelled | None = None,
    effort: Effort = Effort(),
) -> tuple[list[Spot], int]:
    """The good layouts of every template on the batched engine, and how many were scored."""
    every, count = templates(project, request), 0
    if len(every) > MOST_EXPLORED:
        tell(0.0, f"a first look at {len(every)} choices of package, circuit and tuning")
        jobs: list[Job] = [(explore, (project, request, t, SCREEN, 1)) for t in every]
        best = np.full(len(every), np.inf)
        for i, (spots, scored) in run_chunks(jobs, executor, cancelled):
            best[i] = spots[0].objective if spots else np.inf
            count += scored
        order = [i for i in np.argsort(best, kind="stable") if np.isfinite(best[i])]
        every = tuple(every[i] for i in order[:MOST_EXPLORED])
    found: dict[int, tuple[Spot, ...]] = {}
    inside = cancelled if executor is None else None
    jobs = [(explore, (project, request, t, effort, request.wanted, inside)) for t in every]
    for i, (spots, scored) in run_chunks(jobs, executor, cancelled):
        found[i] = spots
        count += scored
        tell(0.05 + 0.7 * len(found) / len(every), f"searched {len(found)} of {len(every)} choices")
    ordered = [spot for i in sorted(found) for spot in found[i]]
    return sorted(ordered, key=lambda s: s.objective), count


def _different(spots: list[Spot], wanted: int, span_m: float) -> list[Spot]:
    chosen: list[Spot] = []
    for spot in spots:
        v = np.array(spot.vector)
        apart = (distance(spot.template, v, c.template, np.array(c.vector), span_m) for c in chosen)
        if all(d >= 0.999 * APART for d in apart):
            chosen.append(spot)
        if len(chosen) == wanted:
            break
    return chosen


def _exactly(project: Project, request: SearchRequest, spot: Spot) -> Found:
    """The spot with the single prediction's numbers, nudged to its exact best place."""
    vector = _polished(project, request, spot)
    candidate, found = settle(project, request, _layout(project, request, spot.template, vector))
    score, words = score_of(request.goal, found)
    ratios = target_ratios(request.goal, found)
    margin = static_margin(found)
    inductance = max(
        (v.value for g in found.groups for v in g.values if v.name == "inductance_h"), default=0.0
    )
    held = binding(
        project, request, spot.template, vector,
        mass_kg=found.added_mass_kg, strain_margin=margin, inductance_h=inductance,
    )  # fmt: skip
    meets = all(r >= 1.0 for r in ratios)
    if ratios and not meets:
        score, words = min(ratios) - 1e3, f"{100 * min(ratios):.0f} % of the hardest target"
    return Found(
        candidate=candidate,
        score=score,
        score_words=words,
        zeta=tuple(m.zeta for m in found.modes),
        peak_db=tuple(m.peak_change_db for m in found.modes),
        added_mass_kg=found.added_mass_kg,
        strain_margin=margin,
        binding=held.words,
        at_edge=held.at_edge,
        meets=meets,
    )


def _polished(project: Project, request: SearchRequest, spot: Spot) -> tuple[float, ...]:
    """Steps along each start as long as the single prediction gains; targets are left where they are."""
    if request.goal.kind == "targets":
        return spot.vector
    best = np.array(spot.vector)
    score = _exact_score(project, request, spot.template, best)
    for step in POLISH_M:
        for k in range(0, len(best), 2 if spot.template.varies_length else 1):
            for way in (-step, step):
                there = best.copy()
                there[k] += way
                if out_of_place(project, request.limits, spot.template, there[None])[0] > 0.0:
                    continue
                value = _exact_score(project, request, spot.template, there)
                if value > score:
                    best, score = there, value
    return tuple(map(float, best))


def _exact_score(project: Project, request: SearchRequest, template: Template, v: np.ndarray) -> float:
    return score_of(request.goal, prediction_of(project, request, template.layout(v)))[0]


def _layout(
    project: Project, request: SearchRequest, template: Template, vector: tuple[float, ...]
) -> Candidate:
    """The layout at places a shop can mark where the limits allow those, else as found."""
    rounded = np.round(np.array(vector) / ROUND_M) * ROUND_M
    if template.varies_length and request.goal.kind == "targets":
        rounded[1::2] = np.ceil(np.array(vector[1::2]) / ROUND_M - 1e-6) * ROUND_M
    if out_of_place(project, request.limits, template, rounded[None])[0] > 0.0:
        return template.layout(np.array(vector))
    return template.layout(rounded)


def _verdict(project: Project, request: SearchRequest, ranked: tuple[Found, ...]) -> str:
    if not ranked:
        return no_layout(project, request)
    best = ranked[0]
    if request.goal.kind == "targets" and not best.meets:
        return nothing_found(request, best)
    modes = ", ".join(str(m) for m in modes_of(project, request.goal))
    words = f"Best found: {best.score_words} (mode{'s' if ',' in modes else ''} looked at: {modes})."
    if best.at_edge:
        words += " It lies at the edge of what was searched: " + "; ".join(best.binding) + "."
    return words
