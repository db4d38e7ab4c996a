"""A quantity over the place of one patch and one of its sizes, with the band within 5 % of the best.

The map is worked out in chunks of pure functions with picklable arguments, so that any
`concurrent.futures.Executor` serves: threads, processes, or a cluster. The order of the chunks
never changes a value. Early chunks are spread over the whole map, so that a partial map already
shows where it is good.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from msgspec.structs import replace as replaced
from numpy.typing import NDArray

from core import units
from core.beam.spec import WARPING
from core.predict.electrics.electrode import LEAST_USE
from core.project.model import Project
from core.project.placement.many import judge
from core.project.placement.obstacles import TOUCHING_M
from core.project.placement.room import blocker_beside
from core.project.plan import package_margins
from core.study.executors import run_chunks
from core.study.layouts import why_no_peaks
from core.study.placement.map_nodes import carrier_for, spread
from core.study.placement.map_values import (
    AXES,
    IN_FULL,
    OVER,
    QUANTITIES,
    Axis,
    MapRequest,
    Over,
    Quantity,
    cell_sizes,
    map_chunk,
    present_place,
    size_of,
)

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
BAND = 0.05
CHUNK = 300
"""Cells solved together: few calls for each, and the arrays still near the processor."""


@dataclass(frozen=True)
class PlacementMap:
    """A map, whole or in part: X starts (or lengths, see `MapRequest`), Y sizes.

    values : (X, Y), nan where not computed or not allowed; reason : (X, Y) index into `reasons`,
    -1 where allowed or still to come; best : indices, None where nothing is allowed; band : (X, Y)
    within 5 % of the best; at_edge : edges of the map the best lies on, in words; held : what
    forbids a place right beside the best; share done 0..1.
    """

    request: MapRequest
    label: str
    unit: str
    across_m: Array
    """Along the first axis."""
    size_m: Array
    values: Array
    reason: NDArray[np.intp]
    reasons: tuple[str, ...]
    best: tuple[int, int] | None
    band: Bools
    at_edge: tuple[str, ...]
    present: tuple[float, float]
    done: float
    remark: str = ""
    held: str = ""

    def reason_at(self, i: int, j: int) -> str:
        """Why a cell is not allowed, '' where it is."""
        return self.reasons[self.reason[i, j]] if self.reason[i, j] >= 0 else ""

    @property
    def best_value(self) -> float:
        return float("nan") if self.best is None else float(self.values[self.best])


def default_request(
    project: Project,
    patch_id: str,
    *,
    quantity: Quantity = "damping",
    mode: int = 1,
    axis: Axis = "length",
    over: Over = "start",
    shape: tuple[int, int] = (120, 30),
) -> MapRequest:
    """A map over every start at which the package's margins stay on the span, and sizes from a quarter
    to about twice what the patch has now; `over` "length" maps lengths at the patch's start instead of starts."""
    candidate = project.candidate()
    patch = candidate.patch(patch_id)
    span, now = project.structure.span_m, size_of(project, patch, axis)
    if axis == "length":
        low, high = 0.25 * now, min(2.5 * now, span)
    elif axis == "thickness":
        low, high = 0.2 * now, 4.0 * now
    else:
        width = project.structure.width_m
        low, high = 0.25 * now, max(np.max(width), now)
    shortest = low if axis == "length" else patch.length_m
    margin = package_margins(project.package(patch.package))[0]
    first = min(margin, 0.5 * (span - shortest))
    x = np.linspace(first, max(span - shortest - margin, first), shape[0])
    weights = tuple(1.0 if m == mode else 0.0 for m in range(1, mode + 1))
    sizes = tuple(float(v) for v in np.linspace(low, high, shape[1]))
    request = MapRequest(candidate.id, patch_id, quantity, weights, axis, tuple(float(v) for v in x), sizes)
    if over == "start":
        return request
    longest = max(span - patch.x_start_m - margin, patch.length_m)
    lengths = np.linspace(0.25 * patch.length_m, min(2.5 * patch.length_m, longest), shape[0])
    return replace(request, x_start_m=(patch.x_start_m,), length_m=tuple(float(v) for v in lengths))


def placement_map(
    project: Project,
    request: MapRequest,
    *,
    executor: Executor | None = None,
    on_partial: Callable[[PlacementMap], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> PlacementMap | None:
    """The whole map; None when cancelled. `on_partial` gets the map so far after each chunk.

    Raises KeyError for an unknown candidate or patch, ValueError in words for a structure whose
    peaks the map does not know.
    """
    check_request(project, request)
    state = _start(project, request)
    free = np.flatnonzero(state.reason.ravel() < 0)
    carrier = carrier_for(project, request, free, executor, cancelled)
    at_once = IN_FULL if project.structure.level in WARPING and carrier is None else CHUNK
    chunks = [free[part] for part in spread(len(free), at_once)]
    values, beyond = state.values.ravel().copy(), state.reason.ravel().copy()
    reasons = (*state.reasons, *(LIMIT_WORDS if request.respect_limits else ()), RUNS_AWAY)
    jobs = [(map_chunk, (project, request, chunk, carrier)) for chunk in chunks]
    finished = 0
    for index, (found, use) in run_chunks(jobs, executor, cancelled):
        chunk = chunks[index]
        finished += len(chunk)
        codes = _limit_codes(use, len(state.reasons)) if request.respect_limits else np.full(len(chunk), -1)
        beyond[chunk] = np.where((codes < 0) & np.isnan(found), len(reasons) - 1, codes)
        values[chunk] = np.where(codes < 0, found, np.nan)
        if on_partial is not None and finished < len(free):
            on_partial(_finish(project, state, values, beyond, reasons, finished / len(free)))
    if cancelled is not None and cancelled():
        return None
    sign = _sign(request)
    exact: set[int] = set()
    while carrier is not None and (best := _best_of(sign * values)) is not None and best not in exact:
        top = np.argsort(np.where(np.isfinite(values), -sign * values, np.inf), kind="stable")[:IN_FULL]
        top = top[np.isfinite(values[top])]
        values[top] = map_chunk(project, request, top)[0]
        exact.update(top.tolist())
    return _finish(project, state, values, beyond, reasons, 1.0)


def _sign(request: MapRequest) -> float:
    """1 where more is better, -1 where less is."""
    return -1.0 if request.quantity == "peak change" else 1.0


def _best_of(score: Array) -> int | None:
    """Index of the largest, None where there is none."""
    return int(np.where(np.isfinite(score), score, -np.inf).argmax()) if np.isfinite(score).any() else None


def check_request(project: Project, request: MapRequest) -> None:
    """ValueError in words where the map cannot be made."""
    project.candidate(request.candidate).patch(request.patch)
    if request.quantity == "strain margin" and not project.service.static_forces:
        raise ValueError(
            "There is no static force to keep a margin against. State one under Loads, or map something else."
        )
    why = why_no_peaks(project) if request.quantity == "peak change" else ""
    if why:
        raise ValueError(f"{why} Map the damping instead.")
    if not any(w > 0.0 for w in request.weights):
        raise ValueError("No mode has a weight. Give at least one mode a weight above 0.")


def _start(project: Project, request: MapRequest) -> PlacementMap:
    candidate = project.candidate(request.candidate)
    patch = candidate.patch(request.patch)
    shape = (len(request.across_m), len(request.size_m))
    x, length, width, _ = cell_sizes(request, patch, np.arange(shape[0] * shape[1]))
    judged = judge(project, candidate, patch, x, length, width)
    label, unit = QUANTITIES[request.quantity]
    return PlacementMap(
        request=request,
        label=label if request.quantity == "strain margin" else f"{label} of {mode_words(request.weights)}",
        unit=unit,
        across_m=np.asarray(request.across_m),
        size_m=np.asarray(request.size_m),
        values=np.full(shape, np.nan),
        reason=judged.code.reshape(shape),
        reasons=judged.reasons,
        best=None,
        band=np.zeros(shape, dtype=bool),
        at_edge=(),
        present=present_place(project, patch, request.over, request.axis),
        done=0.0,
    )


def mode_words(weights: tuple[float, ...]) -> str:
    """ "mode 2", or "modes 1 and 3 (weights 2 : 1)"."""
    used = [(i + 1, w) for i, w in enumerate(weights) if w > 0.0]
    if len(used) == 1:
        return f"mode {used[0][0]}"
    names = ", ".join(str(n) for n, _ in used[:-1]) + f" and {used[-1][0]}"
    return f"modes {names} (weights {' : '.join(f'{w:g}' for _, w in used)})"


LIMIT_WORDS = (
    "static strain beyond the package's limit in tension",
    "static strain beyond the package's limit in compression",
    "static bend drives the leads beyond the package's field limit",
)


RUNS_AWAY = "where its circuit runs away"
"""Why a layout has no damping and no peak."""


def _limit_codes(use: Array, first: int) -> NDArray[np.intp]:
    """-1, or `first` and up for the limit that is exceeded most."""
    return np.where(use.max(axis=1) > 1.0, first + use.argmax(axis=1), -1).astype(np.intp)


def _finish(
    project: Project,
    state: PlacementMap,
    values: Array,
    beyond: NDArray[np.intp],
    reasons: tuple[str, ...],
    done: float,
) -> PlacementMap:
    grid = values.reshape(state.values.shape).copy()
    reason = beyond.reshape(grid.shape).copy()
    sign = _sign(state.request)
    found = replace(state, values=grid, reason=reason, reasons=reasons, done=done)
    flat = _best_of(sign * grid)
    if flat is None:
        return found
    score = np.where(np.isfinite(grid), sign * grid, -np.inf)
    columns = len(state.size_m)
    best = (flat // columns, flat % columns)
    top = float(score[best[0], best[1]])
    band = score >= (1.0 - BAND) * top if top > 0.0 else score >= top
    return replace(
        found,
        best=best,
        band=band,
        at_edge=_edges(project, found, best),
        held=_held(project, found, best),
        remark=_remark(found, sign * top),
    )


def _held(project: Project, found: PlacementMap, best: tuple[int, int]) -> str:
    """What lies right beyond the best place, where the next start mapped is forbidden: as the map has no
    value there, it says what is in the way and not that it would gain."""
    request, x = found.request, found.across_m
    if request.over == "length":
        return ""
    candidate = project.candidate(request.candidate)
    patch = candidate.patch(request.patch)
    if request.axis != "thickness":
        patch = replaced(patch, **{f"{request.axis}_m": float(found.size_m[best[1]])})
    placed = replaced(patch, x_start_m=float(x[best[0]]))
    for way, side in ((-1, "root"), (1, "tip")):
        beside = best[0] + way
        outside = not 0 <= beside < len(x)
        if not outside and found.reason[beside, best[1]] < 0:
            continue
        reach = float(x[1] - x[0]) if len(x) > 1 else TOUCHING_M
        thing = blocker_beside(project, candidate, placed, way, reach)
        if thing is not None:
            return f"{thing.name} forbids starting much nearer the {side}"
    return ""


def _edges(project: Project, found: PlacementMap, best: tuple[int, int]) -> tuple[str, ...]:
    """Edges of the map the best lies on, in words; where the package just fits on the span is
    no edge."""
    request, name = found.request, AXES[found.request.axis]
    patch = project.candidate(request.candidate).patch(request.patch)
    x, size = found.across_m, found.size_m
    if request.over == "length":
        return _size_edges(OVER["length"], x, best[0]) + _size_edges(name, size, best[1])
    length = float(size[best[1]]) if request.axis == "length" else patch.length_m
    margin = package_margins(project.package(patch.package))[0]
    out = []
    if best[0] == 0 and x[0] > margin + TOUCHING_M:
        out.append(f"the smallest start mapped, {_mm(x[0])}")
    if best[0] == len(x) - 1 and x[-1] + length + margin < project.structure.span_m - 1e-6:
        out.append(f"the largest start mapped, {_mm(x[-1])}")
    return (*out, *_size_edges(name, size, best[1]))


def _size_edges(name: str, size: Array, at: int) -> tuple[str, ...]:
    if at == 0:
        return (f"the smallest {name} mapped, {_mm(size[0])}",)
    return (f"the largest {name} mapped, {_mm(size[-1])}",) if at == len(size) - 1 else ()


def _mm(value_m: float) -> str:
    return units.show_with_unit(value_m, "mm")


def _remark(found: PlacementMap, best: float) -> str:
    if found.request.quantity == "electrode use" and best < LEAST_USE:
        return (
            "Even the best place leaves the strain changing sign or size under the electrode: "
            "shorten, move or split it."
        )
    return ""
