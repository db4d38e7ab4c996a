"""Why a layout found is not better: which limit, keep-out or edge holds it, in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core import units
from core.project.model import Project
from core.project.placement.many import lies_over
from core.project.plan import package_margins
from core.study.search.goals import Limits, SearchRequest
from core.study.search.scoring import obstacles_of, out_of_place, solved_score
from core.study.search.templates import Template, reach_m
from core.units import words

Array = NDArray[np.float64]

NUDGE_M = 3e-4
"""A patch that cannot go this far is in contact."""
STEP_M = 1e-3
"""How far it is moved, limits aside, to see whether it would gain."""
NEARLY = 0.97
"""A limit used to this share counts as binding."""


APART_WORDS = "only being kept clearly apart from a better layout"


@dataclass(frozen=True)
class Binding:
    """What holds a layout, in words, and whether any of it is the edge of what was searched."""

    words: tuple[str, ...]
    at_edge: bool


def binding(
    project: Project,
    request: SearchRequest,
    template: Template,
    vector: tuple[float, ...],
    *,
    mass_kg: float,
    strain_margin: float,
    inductance_h: float,
    voltage_v: float = 0.0,
) -> Binding:
    """The constraints that bind a layout: in contact, and it would gain by going further.

    vector : the layout in the coordinates of its template, m (start, or start and length, of each patch);
    mass_kg : what it adds; strain_margin : allowable over static strain; inductance_h : its largest one;
    voltage_v : the peak at its leads under the active load.
    """
    v = np.array(vector)
    found = [
        _sideways(project, request, template, v, i, way)
        for i in range(len(template.patches))
        for way in (-1, 1)
    ]
    if template.varies_length:
        found += [_length(project, request, template, v, i) for i in range(len(template.patches))]
    words = [text for text, _ in found if text]
    if not any(text for text, _ in found) and _still_rises(project, request, template, v):
        words.append(APART_WORDS)
    words += _used_up(request.limits, mass_kg, strain_margin, inductance_h)
    limit = request.limits.largest_voltage_v
    if limit is not None and voltage_v > NEARLY * limit:
        words.append(f"the largest voltage at the leads, {units.show_with_unit(limit, 'V')}")
    return Binding(tuple(dict.fromkeys(words)), any(edge for text, edge in found if text))


def _sideways(
    project: Project, request: SearchRequest, template: Template, v: Array, patch: int, way: int
) -> tuple[str, bool]:
    """What keeps a patch from moving one way, if it would gain there."""
    k = 2 * patch if template.varies_length else patch
    blocker, edge = _blocker(project, request.limits, template, v, patch, way)
    if not blocker or not _gains(project, request, template, v, k, way):
        return "", False
    side = "nearer the root" if way < 0 else "nearer the tip"
    name = f"patch {template.patches[patch].id} " if len(template.patches) > 1 else ""
    return f"{blocker} forbids {name}starting {side}", edge


def _blocker(
    project: Project, limits: Limits, template: Template, v: Array, patch: int, way: int
) -> tuple[str, bool]:
    """What stands right beside a patch of the layout `v`, nearer the root (`way` -1) or the tip (+1), and
    whether it is the edge of what is searched; '' for nothing."""
    x = float(template.starts(v[None])[0, patch])
    length = float(template.lengths(v[None])[0, patch])
    span = project.structure.span_m
    package = project.package(template.patches[0].package)
    low, high = reach_m(limits, package, span)
    moved = x + way * NUDGE_M
    if moved < low or moved + length > high:
        end = package_margins(package)[0]
        if low > end if way < 0 else high < span - end:
            return f"the edge of the search at {_mm(low if way < 0 else high)}", True
    one = template.patches[patch]
    at, size, width = np.array([moved]), np.array([length]), np.array([one.width_m])
    for thing in obstacles_of(project, limits, template):
        if lies_over(thing, one, package_margins(package), at, size, width)[0]:
            return thing.name, False
    if len(template.patches) == 2:
        other = float(template.starts(v[None])[0, 1 - patch])
        other_length = float(template.lengths(v[None])[0, 1 - patch])
        end = 2.0 * package_margins(package)[0]
        gap = (x - other - other_length if way < 0 else other - x - length) - end
        if 0.0 - NUDGE_M < gap < NUDGE_M:
            return f"patch {template.patches[1 - patch].id}", False
    return "", False


def _gains(project: Project, request: SearchRequest, template: Template, v: Array, k: int, way: int) -> bool:
    """Whether the goal would gain by a step along one coordinate, what is in the way aside."""
    span = project.structure.span_m
    there = v.copy()
    there[k] += way * STEP_M
    start = 2 * (k // 2) if template.varies_length else k
    length = there[start + 1] if template.varies_length else template.patches[k].length_m
    if there[start] < 0.0 or there[start] + length > span:
        # Nothing lies outside the span: whether it would gain is read from the other side.
        there[k] = v[k] - way * STEP_M
        value = solved_score(project, request, template, np.stack([v, there]))[0]
        return bool(value[1] > value[0])
    value = solved_score(project, request, template, np.stack([v, there]))[0]
    return bool(value[1] < value[0])


def _still_rises(project: Project, request: SearchRequest, template: Template, v: Array) -> bool:
    """Whether a free step along some start gains more than a finer search would find."""
    if request.goal.kind == "targets":
        return False
    steps = range(0, len(v), 2 if template.varies_length else 1)
    moved = np.repeat(v[None], 1 + 2 * len(steps), axis=0)
    for i, k in enumerate(steps):
        moved[1 + 2 * i, k] += 5.0 * STEP_M
        moved[2 + 2 * i, k] -= 5.0 * STEP_M
    free = np.concatenate([[True], out_of_place(project, request.limits, template, moved[1:]) <= 0.0])
    value = solved_score(project, request, template, moved[free])[0]
    return bool((value[1:] < value[0] - 1e-3 * abs(value[0])).any())


def _length(
    project: Project, request: SearchRequest, template: Template, v: Array, patch: int
) -> tuple[str, bool]:
    """The bound of the ceramic's length it lies at, if it would gain beyond."""
    k = 2 * patch + 1
    for bound, way, word in ((template.low[k], -1, "shortest"), (template.high[k], 1, "longest")):
        if abs(v[k] - bound) < NUDGE_M and _gains(project, request, template, v, k, way):
            return f"the {word} ceramic searched, {_mm(bound)}", True
    return "", False


def _used_up(limits: Limits, mass_kg: float, strain_margin: float, inductance_h: float) -> list[str]:
    out = []
    if limits.added_mass_kg is not None and mass_kg > NEARLY * limits.added_mass_kg:
        out.append(f"the added mass allowed, {units.show_with_unit(limits.added_mass_kg, 'g')}")
    if limits.strain_margin > 0.0 and strain_margin * NEARLY < limits.strain_margin:
        out.append(f"the static strain of the ceramic (margin {words.times(strain_margin)})")
    if limits.largest_inductance_h is not None and inductance_h > NEARLY * limits.largest_inductance_h:
        out.append(f"the largest inductance, {units.show_with_unit(limits.largest_inductance_h, 'H')}")
    return out


def _mm(value_m: float) -> str:
    return units.show_with_unit(value_m, "mm")
