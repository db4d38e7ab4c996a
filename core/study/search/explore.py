"""The global part of a search: one template explored, its good layouts kept.

`scipy.optimize.differential_evolution` on the batched engine (one call scores a whole generation),
every layout it met remembered; the clearly different ones are then improved coordinate by
coordinate, contact with whatever is in the way included, because that is where optima lie. The first part is told
with sections free across (`core.study.carried`), the second as it is at the level of the project: in each window carried over by
what the two differ by in its middle. In full are the layouts it begins and ends with.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.project.model import Project
from core.project.placement.room import free_between
from core.project.plan import package_margins
from core.study.carried import LEVELS, free_sections
from core.study.placement.carrying import Told
from core.study.search.goals import SearchRequest
from core.study.search.scoring import BROKEN, evaluate, levels_apart, obstacles_of
from core.study.search.templates import Template

Array = NDArray[np.float64]

APART = 0.08
"""Layouts of one template are clearly different from this distance on, in spans (largest over the
starts and lengths)."""


@dataclass(frozen=True)
class Zoom:
    """How layouts are improved: windows about each coordinate, in spans, one after the other; places looked at in each, and how
    often all coordinates are gone through."""

    windows: tuple[float, ...]
    places: int
    rounds: int


WIDE = Zoom((0.1, 0.03, 0.006), 17, 4)
CLOSER = Zoom((0.1, 0.03, 0.006), 9, 3)
"""At a level of the project that costs ten times as much."""


@dataclass(frozen=True)
class Spot:
    """A layout of a template with its objective and shortfall."""

    template: Template
    vector: tuple[float, ...]
    objective: float
    shortfall: float


@dataclass(frozen=True)
class Effort:
    """Layouts per generation and generations, per number of variables."""

    population: int = 12
    generations: int = 14

    def of(self, variables: int) -> tuple[int, int]:
        return self.population * (1 + variables), self.generations * (2 if variables > 2 else 1)


def distance(a: Template, va: Array, b: Template, vb: Array, span_m: float) -> float:
    """How different two layouts are, in spans; other packages, faces or circuits count as 1."""
    return 1.0 if a.kind != b.kind else float(_distances(a, va[None], b, vb, span_m)[0])


def _distances(a: Template, va: Array, b: Template, vb: Array, span_m: float) -> Array:
    """(n,) of layouts (n, d) of a template to one of another of its kind."""
    return np.asarray(np.abs(_sorted(a, va) - _sorted(b, vb[None])).max(axis=-1) / span_m)


def _sorted(template: Template, v: Array) -> Array:
    """(n, 2 patches) starts and lengths in the order of the starts."""
    starts, lengths = template.starts(v), template.lengths(v)
    order = np.argsort(starts, axis=-1)
    return np.concatenate([np.take_along_axis(each, order, -1) for each in (starts, lengths)], axis=-1)


def explore(
    project: Project,
    request: SearchRequest,
    template: Template,
    effort: Effort,
    wanted: int,
    cancelled: Callable[[], bool] | None = None,
    better: Callable[[Spot], None] | None = None,
) -> tuple[tuple[Spot, ...], int]:
    """The best clearly different layouts of one template, and how many were scored. Pure: the same
    request and seed give the same spots, on any machine.

    effort : generations and population of the search; wanted : how many layouts at the most; cancelled :
    asked between generations; better : hears the best layout so far whenever a generation improved it.
    """
    from scipy.optimize import differential_evolution  # slow to import, needed only here

    seen: list[tuple[Array, Array, Array]] = []
    rough = free_sections(project)

    def score(v: Array) -> Array:
        found = evaluate(rough, request, template, v)
        seen.append((v, found.objective, found.shortfall))
        return found.objective

    scores = _Scores(project, request, template)
    low, high = np.array(template.low), np.array(template.high)
    free = high > low
    population, generations = effort.of(int(free.sum()))
    contacts = contact_starts(project, request, template)
    grid = _first(template, contacts, population, request.seed)
    score(grid)
    if free.any():

        def narrowed(u: Array) -> Array:
            v = np.tile(low[:, None], (1, u.shape[1]))
            v[free] = u
            return score(v.T)

        told = np.inf

        def stop(*_: object, **__: object) -> bool:
            nonlocal told
            best = _best(template, seen[-1]) if better is not None else None
            if better is not None and best is not None and best.objective < told:
                told = best.objective
                better(best)
            return cancelled is not None and cancelled()

        differential_evolution(
            narrowed,
            list(zip(low[free], high[free], strict=True)),
            init=grid[_spread_pick(seen[0][1], population)][:, free],
            maxiter=generations,
            tol=1e-4,
            seed=request.seed,
            polish=False,
            updating="deferred",
            vectorized=True,
            callback=stop,
        )
    picked = _pick(template, seen, wanted, project.structure.span_m)
    if picked and rough is not project:
        values = scores.in_full(np.array([s.vector for s in picked]))
        picked = [replace(s, objective=float(o)) for s, o in zip(picked, values, strict=True)]
        picked.sort(key=lambda s: s.objective)
    spots = _zoom(template, picked, contacts, scores, WIDE if rough is project else CLOSER, project.structure.span_m)
    if spots:
        last = evaluate(project, request, template, np.array([s.vector for s in spots]))
        spots = [
            replace(s, objective=float(o), shortfall=float(v))
            for s, o, v in zip(spots, last.objective, last.shortfall, strict=True)
        ]
    return tuple(sorted(spots, key=lambda s: s.objective)), sum(len(s[0]) for s in seen) + scores.count


class _Scores:
    """Objectives at the level of the project: in full, or, near to layouts told of, carried over from free sections."""

    def __init__(self, project: Project, request: SearchRequest, template: Template) -> None:
        self.count = 0
        self._of = project, request, template
        self._level = project.structure.level
        self._said: Told | None = None

    def in_full(self, v: Array) -> Array:
        """(n,) of layouts (n, d)."""
        self.count += len(v)
        return evaluate(*self._of, v).objective

    def about(self, v: Array) -> bool:
        """Layouts (n, d) near which is to be looked from now on; whether what is told of others no longer holds."""
        if self._level in LEVELS:
            self.count += len(v)
            self._said = levels_apart(*self._of, v)
        return self._level in LEVELS

    def near(self, v: Array, owner: NDArray[np.intp]) -> Array:
        """(n,) of layouts (n, d), each near to the one told of that it belongs to."""
        self.count += len(v)
        return evaluate(*self._of, v, None if self._said is None else self._said.at(owner)).objective


def _first(template: Template, contacts: Array, population: int, seed: int) -> Array:
    """Where to begin: a Latin hypercube, with starts in contact with what is in the way mixed in."""
    random = np.random.default_rng(seed)
    low, high = np.array(template.low), np.array(template.high)
    is_start = np.arange(len(low)) % 2 == 0 if template.varies_length else np.ones(len(low), dtype=bool)
    n, d = 3 * population, len(low)
    cells = np.stack([random.permutation(n) for _ in range(d)], axis=1)
    v = low + (high - low) * (cells + random.random((n, d))) / n
    if len(contacts):
        some = random.random((n, d)) < 0.3
        places = contacts[random.integers(len(contacts), size=(n, d))]
        v = np.where(some & is_start & (places >= low) & (places <= high), places, v)
    return v


def _spread_pick(objective: Array, count: int) -> NDArray[np.intp]:
    """The better half of a generation by score, the rest as it comes."""
    order = np.argsort(objective, kind="stable")
    half = order[: count // 2]
    rest = [i for i in range(len(objective)) if i not in set(half.tolist())]
    return np.concatenate([half, np.array(rest[: count - len(half)], dtype=np.intp)])


def contact_starts(project: Project, request: SearchRequest, template: Template) -> Array:
    """Starts at which the package just touches a keep-out, from either side, or an end."""
    margins = package_margins(project.package(template.patches[0].package))
    things = obstacles_of(project, request.limits, template)
    free = free_between(things, template.patches[0], margins)
    out = [template.low[0], template.high[0], *(x for ends in free for x in ends)]
    return np.array([x for x in out if template.low[0] <= x <= template.high[0]])


def _best(template: Template, scored: tuple[Array, Array, Array]) -> Spot | None:
    """The best layout of one generation, None where none is within the limits."""
    v, objective, short = scored
    i = int(objective.argmin())
    if objective[i] >= BROKEN:
        return None
    return Spot(template, tuple(map(float, v[i])), float(objective[i]), float(short[i]))


def _pick(
    template: Template, seen: list[tuple[Array, Array, Array]], wanted: int, span_m: float
) -> list[Spot]:
    v, objective, short = (np.concatenate([s[k] for s in seen]) for k in range(3))
    chosen: list[Spot] = []
    away = objective < BROKEN
    for i in np.argsort(objective, kind="stable"):
        if len(chosen) == wanted or objective[i] >= BROKEN:
            break
        if away[i]:
            chosen.append(Spot(template, tuple(map(float, v[i])), float(objective[i]), float(short[i])))
            away &= _distances(template, v, template, v[i], span_m) >= APART
    return chosen


def _zoom(
    template: Template, picked: list[Spot], contacts: Array, scores: _Scores, zoom: Zoom, span: float
) -> list[Spot]:
    """The spots, best first, improved one coordinate after the other in shrinking windows, side by side; none
    comes near a better one. Their shortfall stays what it was. Near means as carried over from the middle of a window."""
    if not picked:
        return []
    best, value = np.array([s.vector for s in picked]), np.array([s.objective for s in picked])
    low, high = np.array(template.low), np.array(template.high)
    movable = np.flatnonzero(high > low).tolist()
    for reach in zoom.windows[1 if len(movable) == 1 else 0 :]:
        going = list(range(len(picked)))
        if scores.about(best):
            value = scores.near(best, np.arange(len(best)))
        for _ in range(zoom.rounds):
            before = value.copy()
            for k in movable:
                is_start = not template.varies_length or k % 2 == 0
                near = contacts if is_start else contacts[:0]
                tries = [_along(best[i], k, reach * span, low, high, near, zoom.places) for i in going]
                each_has = [len(v) for v in tries]
                found = np.split(scores.near(np.concatenate(tries), np.repeat(going, each_has)), np.cumsum(each_has)[:-1])
                for i, v, each in zip(going, tries, found, strict=True):
                    for other in best[:i]:
                        each = np.where(_distances(template, v, template, other, span) < APART, np.inf, each)
                    j = int(each.argmin())
                    if each[j] < value[i]:
                        best[i], value[i] = v[j], each[j]
            going = [i for i in going if value[i] < before[i]]
            if not going or len(movable) == 1:
                break
    return [
        replace(s, vector=tuple(map(float, v)), objective=float(o)) for s, v, o in zip(picked, best, value, strict=True)
    ]


def _along(best: Array, k: int, reach_m: float, low: Array, high: Array, contacts: Array, places: int) -> Array:
    """Layouts along one coordinate of the best one, contacts within reach included."""
    tries = best[k] + reach_m * np.linspace(-1.0, 1.0, places)
    near = contacts[np.abs(contacts - best[k]) <= reach_m]
    v = np.tile(best, (len(tries) + len(near), 1))
    v[:, k] = np.clip(np.concatenate([tries, near]), low[k], high[k])
    return v
