"""The values of a placement map, chunk by chunk: pure functions with picklable arguments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.circuit.at_rest import stored_f
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch
from core.study.layouts import Layouts, layouts, placed
from core.study.placement.carrying import Carrier, Found, Told, carried_layouts, told
from core.units import words

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Axis = Literal["length", "thickness", "width"]
Over = Literal["start", "length"]
Quantity = Literal["damping", "coupling", "peak change", "strain margin", "electrode use"]

AXES: dict[Axis, str] = {
    "length": "ceramic length",
    "thickness": "ceramic thickness",
    "width": "ceramic width",
}
OVER: dict[Over, str] = {"start": "start", "length": "ceramic length"}
"""What runs along the first axis of a map."""
QUANTITIES: dict[Quantity, tuple[str, str]] = {
    "damping": ("damping ratio", "%"),
    "coupling": ("coupling K²", "%"),
    "peak change": ("change of the response peak", "dB"),
    "strain margin": ("static strain margin", "1"),
    "electrode use": ("electrode use", "1"),
}
"""What a map may show: label and display unit (dB is taken as it is)."""

CARRIED: tuple[Quantity, ...] = ("damping", "coupling", "peak change", "strain margin")
"""What is carried over: all that hangs on frequencies, couplings, capacitances and damping of the modes, and static use."""
IN_FULL = 30
"""Cells worked out in full together: where further functions move, arrays are ten times as large."""
NO_ROOM_M = 1e-9
LARGEST_MARGIN = 100.0
"""Margins are cut here: a ceramic that a force does not reach has any margin."""


def value_text(value: float, unit: str) -> str:
    """A value of a map with its unit."""
    if unit == "%":
        return words.percent(value)
    if unit == "dB":
        return words.decibel(value)
    return words.times(value) if value < LARGEST_MARGIN else f"over {words.plain(LARGEST_MARGIN)}"


@dataclass(frozen=True)
class MapRequest:
    """What to map: `weights` per mode (one of them for a single mode); grids in metres.

    The first axis are the starts, or, where `length_m` is not empty, the lengths of the ceramic at the one
    start given. The second axis is the size named by `axis`.

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
    length_m: tuple[float, ...] = ()

    @property
    def over(self) -> Over:
        """What runs along the first axis."""
        return "length" if self.length_m else "start"

    @property
    def across_m(self) -> tuple[float, ...]:
        """Values along the first axis."""
        return self.length_m or self.x_start_m

    @property
    def modes(self) -> int:
        return len(self.weights)


def size_of(project: Project, patch: Patch, axis: Axis) -> float:
    """The present size of the patch along a map's second axis."""
    if axis == "thickness":
        return project.package(patch.package).ceramic_thickness_m
    return patch.length_m if axis == "length" else patch.width_m


def present_place(project: Project, patch: Patch, over: Over, axis: Axis) -> tuple[float, float]:
    """Where the patch is now on a map of these axes."""
    return (patch.length_m if over == "length" else patch.x_start_m), size_of(project, patch, axis)


def cell_sizes(
    request: MapRequest, patch: Patch, cells: NDArray[np.intp]
) -> tuple[Array, Array, Array, Array | None]:
    """Start, length, width and thickness of each cell."""
    across = np.asarray(request.across_m)[cells // len(request.size_m)]
    over_length = request.over == "length"
    x = np.full(across.shape, request.x_start_m[0]) if over_length else across
    size = np.asarray(request.size_m)[cells % len(request.size_m)]
    length, width = across if over_length else np.full(x.shape, patch.length_m), np.full(x.shape, patch.width_m)
    if request.axis == "length":
        return x, size, width, None
    if request.axis == "width":
        return x, length, size, None
    return x, length, width, size


def map_chunk(
    project: Project, request: MapRequest, cells: NDArray[np.intp], carrier: Carrier | None = None
) -> tuple[Array, Array]:
    """Values and static use (P, 3) of some cells, in full or carried over where that can be trusted; pure, so any worker may run it."""
    if carrier is None:
        return _worked(project, request, cells, None)
    along, _ = along_axes(project, request, cells)
    said, good = carrier.read(along, cells % len(request.size_m))
    values, use = np.zeros(len(cells)), np.zeros((len(cells), 3))
    trusted, rest = np.flatnonzero(good), np.flatnonzero(~good)
    if len(trusted):
        values[trusted], use[trusted] = _worked(project, request, cells[trusted], said.at(trusted))
    for k in range(0, len(rest), IN_FULL):
        part = rest[k : k + IN_FULL]
        values[part], use[part] = _worked(project, request, cells[part], None)
    return values, use


def node_chunk(
    project: Project, request: MapRequest, along: Array, size: Array
) -> Found:
    """What carries cells over, at some nodes; pure."""
    candidate = project.candidate(request.candidate)
    sizes = _sizes_at(project, request, along, size)
    return told(project, candidate, (request.patch,), _varied(candidate, request, *sizes), request.modes)


def along_axes(project: Project, request: MapRequest, cells: NDArray[np.intp]) -> tuple[Array, Array]:
    """(P,) where cells lie along the axes of a map in between: the start over the room that the length leaves, or the length;
    and the size."""
    patch = project.candidate(request.candidate).patch(request.patch)
    x, length, _, _ = cell_sizes(request, patch, cells)
    size = np.asarray(request.size_m)[cells % len(request.size_m)]
    if request.over == "length":
        return length, size
    return x / np.maximum(project.structure.span_m - length, NO_ROOM_M), size


def _sizes_at(project: Project, request: MapRequest, along: Array, size: Array) -> tuple[Array, Array, Array, Array | None]:
    """Start, length, width and thickness where `along_axes` says."""
    patch = project.candidate(request.candidate).patch(request.patch)
    over = request.over == "length"
    length = along if over else size if request.axis == "length" else np.full(len(size), patch.length_m)
    x = np.full(len(size), request.x_start_m[0]) if over else along * np.maximum(project.structure.span_m - length, NO_ROOM_M)
    width = size if request.axis == "width" else np.full(len(size), patch.width_m)
    return x, length, width, size if request.axis == "thickness" else None


def _varied(
    candidate: Candidate, request: MapRequest, x: Array, length: Array, width: Array, thickness: Array | None
) -> dict[str, Array]:
    patch = candidate.patch(request.patch)
    # What is the same in every cell is left as it is: sections are then told once for all of them.
    long, wide = (None if (v == own).all() else v for v, own in ((length, patch.length_m), (width, patch.width_m)))
    return placed(candidate, request.patch, x, long, wide, thickness)


def _worked(project: Project, request: MapRequest, cells: NDArray[np.intp], said: Told | None) -> tuple[Array, Array]:
    candidate = project.candidate(request.candidate)
    varied = _varied(candidate, request, *cell_sizes(request, candidate.patch(request.patch), cells))
    if said is None:
        found = layouts(project, candidate, varied, request.modes)
    else:
        found = carried_layouts(project, candidate, varied, request.modes, said)
    use = np.zeros((len(cells), 3))
    if request.respect_limits or request.quantity == "strain margin":
        use = found.static_use((request.patch,)) * (1.0 if said is None else np.exp(said.use))
    values = _quantity(request, found, use)
    return values, use * (1.0, 1.0, float(holds_charge(candidate, request.patch)))


def _quantity(request: MapRequest, found: Layouts, use: Array) -> Array:
    weights = np.asarray(request.weights)
    if request.quantity == "strain margin":
        return np.minimum(1.0 / np.maximum(use[:, :2].max(axis=1), 1e-12), LARGEST_MARGIN)
    if request.quantity == "damping":
        per_mode = np.nan_to_num(found.damping(request.modes))
    elif request.quantity == "peak change":
        per_mode = _peak_change(found, weights > 0.0)
    else:
        group = group_of(found.candidate, request.patch)
        per_mode = found.beam.coupling(group, request.modes)[0]
        if request.quantity == "electrode use":
            members = {m.patch for m in found.candidate.groups[group].members}
            mine = np.array([patch in members for patch in found.beam.ceramics.patches])
            per_mode = per_mode / np.maximum(found.beam.use_ceiling(mine)[:, : request.modes], 1e-30)
    if request.quantity == "damping":
        per_mode = np.where(found.runs_away[:, None], np.nan, per_mode)
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
            blocks = stored_f(Connection(kind, kind.complete(group.circuit.values))) is not None
            return group.instrument is None and group.bleed_ohm is None and blocks
    return False


def _peak_change(found: Layouts, used: Bools) -> Array:
    """(P, modes) change in dB against the same layout with its leads shorted."""
    modes = tuple(int(m) for m in np.flatnonzero(used))
    before, after = found.peaks(modes)
    out = np.zeros((len(before), len(used)))
    out[:, list(modes)] = 20.0 * np.log10(after / before)
    return np.where(np.isfinite(out), out, np.nan)
