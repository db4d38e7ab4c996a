"""Where to put it, with what on its leads: a global search refined by the single prediction."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import is_inductance
from core.project.candidate import Candidate
from core.project.model import Project
from core.study.executors import Job, run_chunks
from core.study.layouts import why_no_peaks
from core.study.search.binding import binding
from core.study.search.exact import (
    ROUND_M,
    prediction_of,
    score_of,
    settle,
    static_margin,
    target_ratios,
)
from core.study.search.explore import APART, Effort, Spot, distance, explore
from core.study.search.goals import Found, SearchRequest, SearchResult, SoFar
from core.study.search.scoring import BROKEN, evaluate, needs_peaks, value_words
from core.study.search.templates import Template, modes_of, templates
from core.study.search.wishes import (
    no_layout,
    nothing_found,
    too_high_voltage,
    voltage_would_give,
    what_would_have_to_give,
)
from core.units import words

Array = NDArray[np.float64]
Cancelled = Callable[[], bool]
Progress = Callable[[float, str], None]
Partial = Callable[[tuple[SoFar, ...]], None]

POLISH_M = (5e-4, 2e-4)
SCREEN = Effort(8, 3)
SPARE = 3
"""Layouts looked at singly per layout wanted where only the single prediction knows a limit."""
MOST_EXPLORED = 8
"""Templates explored in full; with more choices a short look at each picks them."""


def search(
    project: Project,
    request: SearchRequest,
    *,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    on_partial: Partial | None = None,
    cancelled: Cancelled | None = None,
) -> SearchResult | None:
    """The best clearly different layouts, best first; None when cancelled.

    Deterministic for a seed, whatever the executor. `on_progress` gets the share done and what is
    being done, `on_partial` the best layouts so far. Raises KeyError for an unknown package, ValueError in words for a request that asks
    nothing.
    """
    check_search(project, request)
    tell = on_progress or _silent
    show = on_partial or _unseen
    limit = request.limits.largest_voltage_v
    looked_at = request.wanted * (1 if limit is None else SPARE)
    wider = replace(request, wanted=looked_at)
    spots, count = spots_of(project, wider, executor=executor, tell=tell, show=show, cancelled=cancelled)
    if cancelled is not None and cancelled():
        return None
    chosen = _different(spots, looked_at, project.structure.span_m)
    found: list[Found] = []
    for i, spot in enumerate(chosen):
        if cancelled is not None and cancelled():
            return None
        tell(0.75 + 0.2 * i / len(chosen), f"predicting layout {i + 1} of {len(chosen)} exactly")
        found.append(_exactly(project, request, spot))
        show(_so_far(request, found, chosen[i + 1 :]))
    quiet = [f for f in found if limit is None or f.voltage_v <= limit]
    ranked = tuple(sorted(quiet, key=lambda f: (not f.meets, -f.score))[: request.wanted])
    met = any(f.meets for f in ranked)
    gives: tuple[str, ...] = ()
    if any(f.meets for f in found) and not met:
        gives = (voltage_would_give(request),)
    elif not met:
        tell(0.95, "looking for what would have to give")
        gives = what_would_have_to_give(project, request, cancelled)
    verdict = _verdict(project, request, ranked, min((f.voltage_v for f in found), default=None))
    return SearchResult(request, ranked, met, verdict, gives, count)


def _silent(_share: float, _words: str) -> None:
    """Nobody listens."""


def _unseen(_found: tuple[SoFar, ...]) -> None:
    """Nobody looks."""


def _so_far(request: SearchRequest, exact: list[Found], rest: list[Spot]) -> tuple[SoFar, ...]:
    """The best layouts of a search that runs: those predicted singly, then the others."""
    limit = request.limits.largest_voltage_v
    known = sorted(
        (f for f in exact if limit is None or f.voltage_v <= limit), key=lambda f: (not f.meets, -f.score)
    )
    out = [SoFar(f.candidate, f.score_words, exact=True) for f in known]
    out += [
        SoFar(s.template.layout(_marked(s.vector)), value_words(request.goal, s.objective), exact=False)
        for s in rest
        if s.objective < BROKEN
    ]
    return tuple(out[: request.wanted])


def check_search(project: Project, request: SearchRequest) -> None:
    """ValueError in words for a search that cannot start."""
    limits, goal = request.limits, request.goal
    for name in limits.packages:
        project.package(name)
    for given, what in (
        (limits.packages, "package"),
        (limits.circuits, "circuit"),
        (limits.faces, "face"),
        (limits.patches, "number of patches"),
    ):
        if not given:
            raise ValueError(f"The search allows no {what}. Choose at least one.")
    if goal.kind == "weighted" and not any(w > 0.0 for w in goal.weights):
        raise ValueError("No mode has a weight. Give at least one mode a weight above 0.")
    if goal.kind == "targets" and not any(t.zeta or t.peak_db for t in goal.targets):
        raise ValueError("No mode has a target. Give at least one mode a damping or a peak to reach.")
    why = why_no_peaks(project) if needs_peaks(goal) else ""
    if why:
        raise ValueError(f"{why} Search for damping instead.")


def spots_of(
    project: Project,
    request: SearchRequest,
    *,
    executor: Executor | None = None,
    tell: Progress = _silent,
    show: Partial = _unseen,
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
    span = project.structure.span_m

    def best_of(spots: list[Spot]) -> None:
        show(_so_far(request, [], _different(sorted(spots, key=lambda s: s.objective), request.wanted, span)))

    def better(spot: Spot) -> None:
        best_of([spot, *(s for each in found.values() for s in each)])

    # Only work done here can be looked at: what other processes are given must be picklable.
    inside = (cancelled, better) if executor is None else (None, None)
    jobs = [(explore, (project, request, t, effort, request.wanted, *inside)) for t in every]
    for i, (spots, scored) in run_chunks(jobs, executor, cancelled):
        found[i] = spots
        count += scored
        tell(0.05 + 0.7 * len(found) / len(every), f"searched {len(found)} of {len(every)} choices")
        best_of([s for each in found.values() for s in each])
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
    score, told = score_of(request.goal, found)
    ratios = target_ratios(request.goal, found)
    margin = static_margin(found)
    inductance = max(
        (v.value for g in found.groups for v in g.values if is_inductance(v.name)), default=0.0
    )
    voltage = max((g.voltage_peak_v for g in found.groups), default=0.0)
    held = binding(
        project, request, spot.template, vector,
        mass_kg=found.added_mass_kg, strain_margin=margin, inductance_h=inductance, voltage_v=voltage,
    )  # fmt: skip
    meets = all(r >= 1.0 for r in ratios)
    if ratios and not meets:
        score, told = min(ratios) - 1e3, f"{words.share(round(min(ratios), 2))} of the hardest target"
    return Found(
        candidate=candidate,
        score=score,
        score_words=told,
        zeta=tuple(m.zeta for m in found.modes),
        peak_db=tuple(m.peak_change_db for m in found.modes),
        added_mass_kg=found.added_mass_kg,
        strain_margin=margin,
        binding=held.words,
        at_edge=held.at_edge,
        meets=meets,
        voltage_v=voltage,
    )


def _polished(project: Project, request: SearchRequest, spot: Spot) -> tuple[float, ...]:
    """Steps along each start as long as the single prediction gains; targets are left where they are."""
    if request.goal.kind == "targets":
        return spot.vector
    best = np.array(spot.vector)
    score = _exact_score(project, request, spot.template, best)
    for step in POLISH_M:
        for k in range(0, len(best), 2 if spot.template.varies_length else 1):
            both = np.array([best, best])
            both[:, k] += (-step, step)
            for there in both[_allowed(project, request, spot.template, both)]:
                value = _exact_score(project, request, spot.template, there)
                if value > score:  # the other way only led back
                    best, score = there, value
                    break
    return tuple(map(float, best))


def _exact_score(project: Project, request: SearchRequest, template: Template, v: np.ndarray) -> float:
    return score_of(request.goal, prediction_of(project, request, template.layout(v)))[0]


def _layout(
    project: Project, request: SearchRequest, template: Template, vector: tuple[float, ...]
) -> Candidate:
    """The layout at places a shop can mark where the limits allow those, else as found."""
    rounded = _marked(vector)
    if template.varies_length and request.goal.kind == "targets":
        rounded[1::2] = np.ceil(np.array(vector[1::2]) / ROUND_M - 1e-6) * ROUND_M
    if _allowed(project, request, template, rounded[None])[0]:
        return template.layout(rounded)
    return template.layout(np.array(vector))


def _marked(vector: tuple[float, ...]) -> np.ndarray:
    """Places and lengths as a shop can mark them."""
    return np.round(np.array(vector) / ROUND_M) * ROUND_M


def _allowed(project: Project, request: SearchRequest, template: Template, v: Array) -> NDArray[np.bool_]:
    """(P,) whether layouts (P, k) keep every limit."""
    return np.asarray(evaluate(project, request, template, v).objective < BROKEN)


def _verdict(
    project: Project, request: SearchRequest, ranked: tuple[Found, ...], least_voltage_v: float | None
) -> str:
    if not ranked and least_voltage_v is not None:
        return too_high_voltage(request.limits, least_voltage_v)
    if not ranked:
        return no_layout(project, request)
    best = ranked[0]
    if request.goal.kind == "targets" and not best.meets:
        return nothing_found(request, best)
    modes = ", ".join(str(m) for m in modes_of(project, request.goal))
    told = f"Best found: {best.score_words} (mode{'s' if ',' in modes else ''} looked at: {modes})."
    if best.at_edge:
        told += " It lies at the edge of what was searched: " + "; ".join(best.binding) + "."
    return told
