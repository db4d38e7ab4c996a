"""How good many layouts of one template are: what the goal counts, and how far limits are broken.

Objectives are made for a minimiser: a layout within the limits has its goal's value (below
`BROKEN`), one beyond them `BROKEN` plus how far, so that a search finds its way back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import is_inductance
from core.project.model import Project
from core.project.placement.many import depth_along, pair_depth
from core.project.placement.obstacles import TOUCHING_M, Obstacle, package_boxes, surroundings
from core.project.plan import faces, package_margins
from core.study.layouts import BEYOND, KEPT, Layouts, layouts, placed
from core.study.placement.carrying import Told, carried_layouts, told
from core.study.placement.map_values import holds_charge
from core.study.search.goals import Goal, Limits, SearchRequest, Target
from core.study.search.templates import Template, modes_of, reach_m
from core.units import words

Array = NDArray[np.float64]

BROKEN = 1e3
SHORT = 10.0
"""A target not reached costs this and the shortfall; a mass in kg stays far below."""
TIE = 1e-6
RESERVE = 3e-3
"""Targets are met with this to spare, so that the single prediction of a rounded layout meets them."""


@dataclass(frozen=True)
class Scored:
    """S layouts: objective to minimise, and shortfall of the targets (0 where met)."""

    objective: Array
    shortfall: Array


def evaluate(project: Project, request: SearchRequest, template: Template, v: Array, said: Told | None = None) -> Scored:
    """Score vectors (S, d); those out of place are not solved. In full, or with free sections and carried over by what is said of each."""
    out = out_of_place(project, request.limits, template, v)
    objective, short = BROKEN + 1.0 + out, np.full(len(v), np.inf)
    free = np.flatnonzero(out <= 0.0)
    if len(free):
        own = None if said is None else said.at(free)
        objective[free], short[free] = solved_score(project, request, template, v[free], own)
    return Scored(objective, short)


def solved_score(
    project: Project, request: SearchRequest, template: Template, v: Array, said: Told | None = None
) -> tuple[Array, Array]:
    """Objective and shortfall of layouts wherever they lie: keep-outs are not asked."""
    goal, limits = request.goal, request.limits
    modes, varied = modes_of(project, goal), _varied(template, v)
    if said is None:
        found = layouts(project, template.candidate, varied, max(modes), kept=_kept(modes))
    else:
        found = carried_layouts(project, template.candidate, varied, max(modes), said, _kept(modes))
    beyond = _beyond(limits, template, found, 1.0 if said is None else np.exp(said.use))
    value, short = _goal_value(goal, found, modes)
    return np.where(beyond > 0.0, BROKEN + beyond, value), np.where(beyond > 0.0, np.inf, short)


def levels_apart(project: Project, request: SearchRequest, template: Template, v: Array) -> Told | None:
    """What carries layouts near to these (S, d) over to the level of the project; None where nothing does."""
    modes, every = modes_of(project, request.goal), tuple(p.id for p in template.patches)
    said = told(project, template.candidate, every, _varied(template, v), max(modes), _kept(modes))[0]
    return said if np.isfinite(said.flat()).all() else None


def _kept(modes: tuple[int, ...]) -> int:
    return max(KEPT, max(modes) + BEYOND)


def _varied(template: Template, v: Array) -> dict[str, Array]:
    starts, lengths = template.starts(v), template.lengths(v)
    varied: dict[str, Array] = {}
    for i, p in enumerate(template.patches):
        varied |= placed(template.candidate, p.id, starts[:, i], lengths[:, i])
    return varied


def needs_peaks(goal: Goal) -> bool:
    """Whether a goal looks at response peaks, not at damping alone."""
    return goal.kind == "band" or (
        goal.kind == "targets" and any(t.peak_db is not None for t in goal.targets)
    )


def value_words(goal: Goal, objective: float) -> str:
    """A layout's objective in words, for a search that still runs."""
    if goal.kind == "damping":
        return f"damping of mode {goal.mode}: {words.damping(-objective)}"
    if goal.kind == "weighted":
        return f"weighted damping: {words.damping(-objective)}"
    if goal.kind == "band":
        return "lowest response in the band"
    if objective >= SHORT:
        return f"{words.share(round(objective - SHORT, 2))} short of the targets in all"
    return f"{words.mass(objective)} added"


def _goal_value(goal: Goal, found: Layouts, modes: tuple[int, ...]) -> tuple[Array, Array]:
    none = np.zeros(len(found.beam.omega_rad_s))
    looked_at = tuple(m - 1 for m in modes)
    if goal.kind == "band":
        return 20.0 * np.log10(found.peaks(looked_at)[1].max(axis=1)), none
    zeta = np.nan_to_num(found.damping(max(modes)))
    if goal.kind == "damping":
        return -zeta[:, goal.mode - 1], none
    if goal.kind == "weighted":
        weights = np.asarray(goal.weights)[: zeta.shape[1]]
        return -(zeta[:, : len(weights)] @ weights) / weights.sum(), none
    change = None
    if any(t.peak_db is not None for t in goal.targets):
        before, after = found.peaks(looked_at)
        change = 20.0 * np.log10(after / before)
    reached = np.stack(
        [
            ratio
            for i, t in enumerate(goal.targets)
            for ratio in reached_ratios(t, zeta[:, t.mode - 1], None if change is None else change[:, i])
        ],
        axis=-1,
    )
    short = np.maximum(1.0 + RESERVE - reached, 0.0).sum(axis=-1)
    met = found.beam.added_kg - TIE * reached.min(axis=-1)
    return np.where(short > 0.0, SHORT + short, met), short


def reached_ratios(target: Target, zeta: Array, peak_db: Array | None) -> list[Array]:
    """How much of a target is reached, 1 for all of it: damping, and decibels of the peak."""
    out = []
    if target.zeta is not None:
        out.append(zeta / target.zeta)
    if target.peak_db is not None and peak_db is not None:
        out.append(peak_db / target.peak_db)
    return out


def _beyond(limits: Limits, template: Template, found: Layouts, apart: Array | float) -> Array:
    """(S,) how far mass, strain and part values are beyond their limits, 0 within; `apart` (S, 3) factors on static use."""
    beyond = np.zeros(len(found.beam.omega_rad_s))
    if limits.added_mass_kg is not None:
        beyond += np.maximum(found.beam.added_kg / limits.added_mass_kg - 1.0, 0.0)
    if limits.strain_margin > 0.0:
        charged = any(holds_charge(template.candidate, p.id) for p in template.patches)
        every = tuple(p.id for p in template.patches)
        use = (found.static_use(every) * apart)[:, : 3 if charged else 2].max(axis=1)
        beyond += np.maximum(use * limits.strain_margin - 1.0, 0.0)
    if limits.largest_inductance_h is not None:
        for connection in found.system.connections:
            for name in filter(is_inductance, connection.values):
                over = np.asarray(connection.values[name]) / limits.largest_inductance_h
                beyond += np.log(np.maximum(over, 1.0))
    return beyond


def obstacles_of(project: Project, limits: Limits, template: Template) -> tuple[Obstacle, ...]:
    """What the template's packages can meet; no keep-out where the search does not obey them."""
    first, moving = template.patches[0], tuple(p.id for p in template.patches)
    things = surroundings(project.structure, project.packages, template.candidate, first, moving)
    return tuple(thing for thing in things if limits.keep_outs or thing.kind != "keep-out")


def out_of_place(project: Project, limits: Limits, template: Template, v: Array) -> Array:
    """(S,) how far (in spans) packages lie where they must not; 0 for a free layout."""
    starts, lengths = template.starts(v), template.lengths(v)
    span = project.structure.span_m
    package = project.package(template.patches[0].package)
    low, high = reach_m(limits, package, span)
    out = np.zeros(len(v))
    things = obstacles_of(project, limits, template)
    boxes = []
    for i, patch in enumerate(template.patches):
        x, n = starts[:, i], lengths[:, i]
        out += np.maximum(x + n - high - TOUCHING_M, 0.0) + np.maximum(low - x - TOUCHING_M, 0.0)
        boxes.append(package_boxes(patch, package_margins(package), x, n))
        out += depth_along(things, boxes[-1])
    if len(boxes) == 2 and faces(template.patches[0].face) & faces(template.patches[1].face):
        out += pair_depth(*boxes)
    return out / span
