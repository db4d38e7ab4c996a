"""The exact side of a search: a layout predicted singly, with the circuit it would really get."""

from __future__ import annotations

from typing import Literal

import numpy as np
from msgspec.structs import replace

from core.circuit.connect import in_parts
from core.circuit.kind import is_inductance
from core.circuit.preferred import nearest
from core.circuit.registry import CIRCUITS
from core.predict.predict import predict
from core.predict.prediction import Prediction
from core.project.candidate import Candidate, Group
from core.project.edit import with_candidate
from core.project.model import Project
from core.study.search.goals import Goal, SearchRequest
from core.study.search.templates import modes_of
from core.units import words

STATIC = "strain, static"
ROUND_M = 1e-4
"""Places are rounded to what a shop can mark, unless that puts them beyond a limit."""


def tuned(candidate: Candidate, goal: Goal) -> Candidate:
    """The candidate with every tuned circuit at the optimum of the coupled model for the goal."""

    def better(group: Group) -> Group:
        tuning = group.circuit.tuning
        if tuning is None:
            return group
        goals = {"band": "peak", "weighted": "weighted"}
        wanted = goals.get(goal.kind, "damping")
        weights = goal.weights if wanted == "weighted" else ()
        tuning = replace(tuning, rule="optimum", goal=wanted, weights=weights)
        return replace(group, circuit=replace(group.circuit, tuning=tuning))

    return replace(candidate, groups=tuple(better(g) for g in candidate.groups))


def settle(project: Project, request: SearchRequest, candidate: Candidate) -> tuple[Candidate, Prediction]:
    """The candidate with its circuit values in effect and its prediction: the optimum, held below
    the largest inductance, then preferred values where asked for."""
    wanted = tuned(candidate, request.goal)
    found = prediction_of(project, request, wanted)
    limit = request.limits.largest_inductance_h
    if limit is not None and _largest_inductance(found) > limit:
        wanted = candidate
        found = prediction_of(project, request, wanted)
    wanted = _with_values(wanted, found)
    if request.limits.preferred and any(g.circuit.tuning is not None for g in wanted.groups):
        wanted = _preferred(wanted, request.limits.preferred, limit)
        found = prediction_of(project, request, wanted)
    return wanted, found


def prediction_of(project: Project, request: SearchRequest, candidate: Candidate) -> Prediction:
    """The single prediction, with every mode the goal looks at."""
    shown = max(project.view.modes_shown, *modes_of(project, request.goal))
    here = replace(
        with_candidate(project, candidate),
        view=replace(project.view, modes_shown=shown, before="patch shorted"),
    )
    return predict(here, candidate.id)


def _largest_inductance(found: Prediction) -> float:
    return max((v.value for g in found.groups for v in g.values if is_inductance(v.name)), default=0.0)


def _with_values(candidate: Candidate, found: Prediction) -> Candidate:
    groups = tuple(
        replace(g, circuit=replace(g.circuit, values={v.name: v.value for v in r.values}))
        for g, r in zip(candidate.groups, found.groups, strict=True)
    )
    return replace(candidate, groups=groups)


def _preferred(candidate: Candidate, series: Literal["E12", "E24", "E96"], largest_inductance_h: float | None) -> Candidate:
    """The candidate built from a series, its circuits fixed at the parts taken, no inductance above the largest."""
    build = replace(candidate.build, series=series)

    def fixed(group: Group) -> Group:
        values = in_parts(CIRCUITS[group.circuit.kind], group.circuit.values, build)
        for name in filter(is_inductance, values):
            if largest_inductance_h is not None and values[name] > largest_inductance_h:
                values[name] = nearest(largest_inductance_h, series, "down")
        return replace(group, circuit=replace(group.circuit, tuning=None, values=values))

    return replace(candidate, groups=tuple(fixed(g) for g in candidate.groups), build=build)


def score_of(goal: Goal, found: Prediction) -> tuple[float, str]:
    """What the goal counts, larger is better, and the same in words with its unit."""
    if goal.kind == "damping":
        zeta = _zeta(found, goal.mode)
        return zeta, f"damping of mode {goal.mode}: {words.damping(zeta)}"
    if goal.kind == "weighted":
        weights = np.asarray(goal.weights)
        each = np.array([_zeta(found, m + 1) for m in range(len(weights))])
        mean = float(each @ weights / weights.sum())
        return mean, f"weighted damping: {words.damping(mean)}"
    if goal.kind == "band":
        drop = 20.0 * np.log10(found.response.peak_after / found.response.peak_before)
        return -float(np.log10(found.response.peak_after)), f"highest response in the band: {words.decibel(float(drop))}"
    return -found.added_mass_kg, f"{words.mass(found.added_mass_kg)} added"


def _zeta(found: Prediction, mode: int) -> float:
    value = found.modes[mode - 1].zeta if mode <= len(found.modes) else 0.0
    return value if np.isfinite(value) else 0.0


def target_ratios(goal: Goal, found: Prediction) -> tuple[float, ...]:
    """Share of each target reached, in the order of the goal; 1 is all of it. Empty for other goals."""
    out: list[float] = []
    for target in goal.targets if goal.kind == "targets" else ():
        if target.zeta is not None:
            out.append(_zeta(found, target.mode) / target.zeta)
        if target.peak_db is not None:
            change = found.modes[target.mode - 1].peak_change_db
            out.append(0.0 if change is None else change / target.peak_db)
    return tuple(out)


def static_margin(found: Prediction) -> float:
    """Smallest allowable over static strain of the ceramics; inf without a static force."""
    return min((item.margin for item in found.limits if item.name.endswith(STATIC)), default=float("inf"))
