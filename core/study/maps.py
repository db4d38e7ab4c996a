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
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.circuit.registry import CIRCUITS
from core.piezo.layout import solve
from core.project.model import Candidate, Patch, Project
from core.study.chunks import run_chunks, spread
from core.study.damping import present_detune, sweep_damping
from core.study.peaks import loading, peak_heights, points_of
from core.study.places import judge, mm
from core.study.stacked import plan_layouts
from core.study.sweep import Place, Sweep, sweep_layouts

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Axis = Literal["length", "thickness", "width"]
Quantity = Literal["damping", "coupling", "peak change", "strain margin", "electrode use"]

AXES: dict[Axis, str] = {"length": "ceramic length", "thickness": "ceramic thickness", "width": "ceramic width"}
QUANTITIES: dict[Quantity, tuple[str, str]] = {
    "damping": ("damping ratio", "%"),
    "coupling": ("coupling K²", "%"),
    "peak change": ("change of the response peak", "dB"),
    "strain margin": ("static strain margin", "1"),
    "electrode use": ("electrode use", "1"),
}
"""What a map may show: label and display unit (dB is taken as it is)."""

LEAST_USE = 0.7
BAND = 0.05
CHUNK = 100
LARGEST_MARGIN = 100.0
"""Margins are cut here: a ceramic that a force does not reach has any margin."""

OUTSIDE, TOO_MUCH = "outside", "limit"


@dataclass(frozen=True)
class MapRequest:
    """What to map: `weights` per mode (one of them for a single mode); grids in metres.

    `respect_limits` masks layouts whose static strain is beyond the package's allowables, and with
    leads that no direct current can leave also those whose static bend drives too high a field.
    """

    candidate: str
    patch: str
    quantity: Quantity
    weights: tuple[float, ...]
    axis: Axis
    x_start_m: tuple[float, ...]
    size_m: tuple[float, ...]
    respect_limits: bool = True

    @property
    def modes(self) -> int:
        return len(self.weights)


@dataclass(frozen=True)
class PlacementMap:
    """A map, whole or in part: X starts, Y sizes.

    values : (X, Y), nan where not computed or not allowed; reason : (X, Y) index into `reasons`,
    -1 where allowed or still to come; best : indices, None where nothing is allowed; band : (X, Y)
    within 5 % of the best; at_edge : edges of the map the best lies on, in words; share done 0..1.
    """

    request: MapRequest
    label: str
    unit: str
    x_start_m: Array
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
    shape: tuple[int, int] = (120, 30),
) -> MapRequest:
    """A map over every start, and sizes from a quarter to about twice what the patch has now."""
    candidate = project.candidate()
    patch = _patch(candidate, patch_id)
    span, now = project.structure.span_m, size_of(project, patch, axis)
    if axis == "length":
        low, high = 0.25 * now, min(2.5 * now, span)
    elif axis == "thickness":
        low, high = 0.2 * now, 4.0 * now
    else:
        width = project.structure.width_m
        low, high = 0.25 * now, max(np.max(width), now)
    shortest = low if axis == "length" else patch.length_m
    x = np.linspace(0.0, max(span - shortest, 0.0), shape[0])
    weights = tuple(1.0 if m == mode else 0.0 for m in range(1, mode + 1))
    sizes = tuple(float(v) for v in np.linspace(low, high, shape[1]))
    return MapRequest(candidate.id, patch_id, quantity, weights, axis, tuple(float(v) for v in x), sizes)


def size_of(project: Project, patch: Patch, axis: Axis) -> float:
    """The present size of the patch along a map's second axis."""
    if axis == "thickness":
        return project.package(patch.package).ceramic_thickness_m
    return patch.length_m if axis == "length" else patch.width_m


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
    detune = present_detune(project, project.candidate(request.candidate))
    chunks = [free[part] for part in spread(len(free), CHUNK)]
    values, beyond = state.values.ravel().copy(), state.reason.ravel().copy()
    reasons = list(state.reasons)
    jobs = [(map_chunk, (project, request, chunk, detune)) for chunk in chunks]
    finished = 0
    for index, (found, use) in run_chunks(jobs, executor, cancelled):
        chunk = chunks[index]
        finished += len(chunk)
        codes = _limit_codes(use, reasons) if request.respect_limits else np.full(len(chunk), -1)
        beyond[chunk] = codes
        values[chunk] = np.where(codes < 0, found, np.nan)
        if on_partial is not None and finished < len(free):
            on_partial(_finish(state, values, beyond, reasons, finished / len(free)))
    if cancelled is not None and cancelled():
        return None
    return _finish(state, values, beyond, reasons, 1.0)


def check_request(project: Project, request: MapRequest) -> None:
    """ValueError in words where the map cannot be made."""
    _patch(project.candidate(request.candidate), request.patch)
    if request.quantity == "strain margin" and not project.service.static_forces:
        raise ValueError(
            "There is no static force to keep a margin against. State one under Loads, or map something else."
        )
    if request.quantity == "peak change" and solve(project, project.candidate(request.candidate)).n_rigid:
        raise ValueError(
            "This part is free to move as a rigid body, and the map of the response peak does not count that. "
            "Map the damping instead."
        )
    if not any(w > 0.0 for w in request.weights):
        raise ValueError("No mode has a weight. Give at least one mode a weight above 0.")


def _patch(candidate: Candidate, patch_id: str) -> Patch:
    for patch in candidate.patches:
        if patch.id == patch_id:
            return patch
    raise KeyError(patch_id)


def _sizes(request: MapRequest, patch: Patch, cells: NDArray[np.intp]) -> tuple[Array, Array, Array, Array | None]:
    """Start, length, width and thickness of each cell."""
    x = np.asarray(request.x_start_m)[cells // len(request.size_m)]
    size = np.asarray(request.size_m)[cells % len(request.size_m)]
    length, width = np.full(x.shape, patch.length_m), np.full(x.shape, patch.width_m)
    if request.axis == "length":
        return x, size, width, None
    if request.axis == "width":
        return x, length, size, None
    return x, length, width, size


def _start(project: Project, request: MapRequest) -> PlacementMap:
    candidate = project.candidate(request.candidate)
    patch = _patch(candidate, request.patch)
    shape = (len(request.x_start_m), len(request.size_m))
    x, length, width, _ = _sizes(request, patch, np.arange(shape[0] * shape[1]))
    code, reasons = judge(project, candidate, patch, x, length, width)
    label, unit = QUANTITIES[request.quantity]
    return PlacementMap(
        request=request,
        label=label if request.quantity == "strain margin" else f"{label} of {mode_words(request.weights)}",
        unit=unit,
        x_start_m=np.asarray(request.x_start_m),
        size_m=np.asarray(request.size_m),
        values=np.full(shape, np.nan),
        reason=code.reshape(shape),
        reasons=reasons,
        best=None,
        band=np.zeros(shape, dtype=bool),
        at_edge=(),
        present=(patch.x_start_m, size_of(project, patch, request.axis)),
        done=0.0,
    )


def mode_words(weights: tuple[float, ...]) -> str:
    """"mode 2", or "modes 1 and 3 (weights 2 : 1)"."""
    used = [(i + 1, w) for i, w in enumerate(weights) if w > 0.0]
    if len(used) == 1:
        return f"mode {used[0][0]}"
    names = ", ".join(str(n) for n, _ in used[:-1]) + f" and {used[-1][0]}"
    return f"modes {names} (weights {' : '.join(f'{w:g}' for _, w in used)})"


def map_chunk(
    project: Project, request: MapRequest, cells: NDArray[np.intp], detune: tuple[dict[str, float], ...] | None
) -> tuple[Array, Array]:
    """Values and static use (P, 3) of some cells; pure, so any worker may run it."""
    candidate = project.candidate(request.candidate)
    x, length, width, thickness = _sizes(request, _patch(candidate, request.patch), cells)
    found = sweep_layouts(
        project,
        candidate,
        {request.patch: Place(x, length, width, thickness)},
        n_modes=max(request.modes, 5),
        points_m=points_of(project) if request.quantity == "peak change" else (),
        shares=request.quantity == "electrode use",
    )
    values = _quantity(project, candidate, request, found, detune)
    return values, found.static_use * (1.0, 1.0, float(holds_charge(candidate, request.patch)))


def _quantity(
    project: Project,
    candidate: Candidate,
    request: MapRequest,
    found: Sweep,
    detune: tuple[dict[str, float], ...] | None,
) -> Array:
    weights = np.asarray(request.weights)
    if request.quantity == "strain margin":
        worst = found.static_use[:, :2].max(axis=1)
        return np.minimum(1.0 / np.maximum(worst, 1e-12), LARGEST_MARGIN)
    if request.quantity == "damping":
        per_mode = np.nan_to_num(sweep_damping(found, candidate.groups, request.modes, detune))
    elif request.quantity == "peak change":
        per_mode = _peak_change(project, candidate, found, weights > 0.0, detune)
    else:
        group = group_of(candidate, request.patch)
        per_mode = found.coupling(group, request.modes)[0]
        if request.quantity == "electrode use":
            per_mode = per_mode / np.maximum(_ceiling(project, candidate, group, found, request.modes), 1e-30)
    return per_mode @ weights / weights.sum()


def group_of(candidate: Candidate, patch_id: str) -> int:
    """Index of the patch's group; ValueError in words without one."""
    for index, group in enumerate(candidate.groups):
        if any(member.patch == patch_id for member in group.members):
            return index
    raise ValueError(f"Patch {patch_id} is in no group, so nothing hangs on its leads. Put it in a group.")


def holds_charge(candidate: Candidate, patch_id: str) -> bool:
    """Whether a static bend leaves its voltage on the patch: nothing on its leads conducts at rest."""
    for group in candidate.groups:
        if any(member.patch == patch_id for member in group.members):
            kind = CIRCUITS[group.circuit.kind]
            _, b = kind.immittance(kind.complete(group.circuit.values), np.zeros(1, dtype=complex))
            return group.instrument is None and not b.any()
    return False


def _peak_change(
    project: Project, candidate: Candidate, found: Sweep, used: Bools, detune: tuple[dict[str, float], ...] | None
) -> Array:
    """(P, modes) change in dB against the same layout with its leads shorted."""
    plan = plan_layouts(found, candidate.groups, len(used) + 5, detune)
    k2 = sum(found.coupling(g, len(used))[0] for g in range(len(candidate.groups)))
    modes = tuple(int(m) for m in np.flatnonzero(used))
    before, after = peak_heights(plan, loading(project, found, plan), np.asarray(k2), modes)
    out = np.zeros((len(before), len(used)))
    out[:, list(modes)] = 20.0 * np.log10(after / before)
    return out


def _ceiling(project: Project, candidate: Candidate, group: int, found: Sweep, modes: int) -> Array:
    """(P, modes) largest K^2 the strain energy in the group's ceramics allows,
    k31^2/(1 - k31^2) times their share (Cauchy-Schwarz, thin ceramic)."""
    members = {m.patch for m in candidate.groups[group].members}
    plates = solve(project, candidate).plates
    factor = np.array(
        [
            p.coefficients.k31_squared / (1.0 - p.coefficients.k31_squared) if p.patch in members else 0.0
            for p in plates
        ]
    )
    return found.ceramic_share[:, :modes] @ factor


_LIMIT_WORDS = (
    "static strain beyond the package's limit in tension",
    "static strain beyond the package's limit in compression",
    "static bend drives the open leads beyond the package's field limit",
)


def _limit_codes(use: Array, reasons: list[str]) -> NDArray[np.intp]:
    """-1 or the index of the limit that is exceeded most; new reasons are appended."""
    worst = use.argmax(axis=1)
    codes = np.full(len(use), -1, dtype=np.intp)
    for k, words in enumerate(_LIMIT_WORDS):
        hit = (use.max(axis=1) > 1.0) & (worst == k)
        if hit.any():
            if words not in reasons:
                reasons.append(words)
            codes[hit] = reasons.index(words)
    return codes


def _finish(state: PlacementMap, values: Array, beyond: NDArray[np.intp], reasons: list[str], done: float) -> PlacementMap:
    grid = values.reshape(state.values.shape).copy()
    reason = beyond.reshape(grid.shape).copy()
    sign = -1.0 if state.request.quantity == "peak change" else 1.0
    found = replace(state, values=grid, reason=reason, reasons=tuple(reasons), done=done)
    if not np.isfinite(grid).any():
        return found
    score = np.where(np.isfinite(grid), sign * grid, -np.inf)
    flat = int(score.argmax())
    best = (flat // grid.shape[1], flat % grid.shape[1])
    top = float(score[best])
    band = score >= (1.0 - BAND) * top if top > 0.0 else score >= top
    return replace(found, best=best, band=band, at_edge=_edges(found, best), remark=_remark(found, sign * top))


def _edges(found: PlacementMap, best: tuple[int, int]) -> tuple[str, ...]:
    """Edges of the map the best lies on; where the map cannot go further that is no edge."""
    name = AXES[found.request.axis]
    out = []
    if best[0] == len(found.x_start_m) - 1 and found.reason[best] < 0:
        out.append(f"the largest start mapped, {mm(found.x_start_m[-1])}")
    if best[1] == 0:
        out.append(f"the smallest {name} mapped, {mm(found.size_m[0])}")
    if best[1] == len(found.size_m) - 1:
        out.append(f"the largest {name} mapped, {mm(found.size_m[-1])}")
    return tuple(out)


def _remark(found: PlacementMap, best: float) -> str:
    if found.request.quantity == "electrode use" and best < LEAST_USE:
        return (
            "Even the best place leaves the strain changing sign or size under the electrode: "
            "shorten, move or split it."
        )
    return ""


def use_remark(value: float) -> str:
    """What to do about an electrode use; '' at 0.7 and above."""
    if not value < LEAST_USE:
        return ""
    return "The strain changes sign or size under this electrode: shorten, move or split it."
