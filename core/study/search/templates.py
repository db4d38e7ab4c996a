"""The discrete choices of a search: packages, faces, circuits, numbers of patches, wiring, tuning."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement, product

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.circuit.registry import CIRCUITS
from core.predict.forcing import active_load
from core.predict.predict import bare
from core.project.candidate import Candidate, Circuit, CircuitName, Group, Member, Tuning
from core.project.model import Project
from core.project.patch import Package, Patch
from core.project.plan import package_margins
from core.project.record import Face
from core.study.search.goals import Goal, Limits, SearchRequest

Array = NDArray[np.float64]

MOST_BAND_MODES = 3


@dataclass(frozen=True)
class Template:
    """One set of discrete choices; a layout is it with a vector (start, length or not, per patch).

    `low`, `high` bound the vector. `kind` tells clearly different choices apart.
    """

    candidate: Candidate
    low: tuple[float, ...]
    high: tuple[float, ...]
    varies_length: bool
    kind: tuple[object, ...]

    @property
    def patches(self) -> tuple[Patch, ...]:
        return self.candidate.patches

    def starts(self, v: Array) -> Array:
        """(S, patches) from vectors (S, d)."""
        return v[:, ::2] if self.varies_length else v

    def lengths(self, v: Array) -> Array:
        """(S, patches)"""
        if self.varies_length:
            return v[:, 1::2]
        return np.broadcast_to([p.length_m for p in self.patches], (len(v), len(self.patches)))

    def layout(self, v: Array) -> Candidate:
        """The candidate of one vector (d,)."""
        starts, lengths = self.starts(v[None])[0], self.lengths(v[None])[0]
        placed = tuple(
            replace(p, x_start_m=float(x), length_m=float(n))
            for p, x, n in zip(self.patches, starts, lengths, strict=True)
        )
        return replace(self.candidate, patches=placed)


def modes_of(project: Project, goal: Goal) -> tuple[int, ...]:
    """Modes (from 1) that the goal looks at, in falling weight."""
    if goal.kind == "damping":
        return (goal.mode,)
    if goal.kind == "weighted":
        order = sorted(range(len(goal.weights)), key=lambda i: -goal.weights[i])
        return tuple(i + 1 for i in order if goal.weights[i] > 0.0)
    if goal.kind == "targets":
        return tuple(t.mode for t in goal.targets)
    low, high = active_load(project).band_hz
    frequency = bare(project).omega_rad_s / (2.0 * np.pi)
    inside = [n + 1 for n, f in enumerate(frequency) if low <= f <= high]
    return tuple((inside or [1])[:MOST_BAND_MODES])


def templates(project: Project, request: SearchRequest) -> tuple[Template, ...]:
    """Every set of choices the limits allow. Raises KeyError for an unknown package or circuit."""
    limits, modes = request.limits, modes_of(project, request.goal)
    out = []
    for name, face, circuit, count in product(limits.packages, limits.faces, limits.circuits, limits.patches):
        for tuned, signs in _wirings(limits, circuit, count, modes):
            out.append(_template(project, request, name, face, circuit, count, tuned, signs))
    return tuple(out)


def _wirings(
    limits: Limits, circuit: str, count: int, modes: tuple[int, ...]
) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """(mode each group is tuned to, polarity of each patch)."""
    able = modes if CIRCUITS[circuit].closed_form is not None else modes[:1]
    if count == 1:
        return [((m,), (1,)) for m in able]
    if limits.joined:
        return [((m,), (1, sign)) for m in able for sign in (1, -1)]
    return [(pair, (1, 1)) for pair in combinations_with_replacement(able, 2)]


def reach_m(limits: Limits, package: Package, span_m: float) -> tuple[float, float]:
    """Where ceramics of a package may lie: within the limits, and its margins on the span."""
    low, high = limits.range_m(span_m)
    end = package_margins(package)[0]
    return max(low, end), min(high, span_m - end)


def _template(
    project: Project,
    request: SearchRequest,
    name: str,
    face: Face,
    circuit: CircuitName,
    count: int,
    tuned: tuple[int, ...],
    signs: tuple[int, ...],
) -> Template:
    limits, package, span = request.limits, project.package(name), project.structure.span_m
    low, high = reach_m(limits, package, span)
    size = limits.length_m or (package.length_m, package.length_m)
    varies = size[1] > size[0]
    patches = tuple(
        Patch(f"P{i + 1}", name, low, size[0], package.width_m, package.bond, face) for i in range(count)
    )
    if len(tuned) == count:
        members: list[tuple[Member, ...]] = [(Member(p.id, 1),) for p in patches]
    else:
        members = [tuple(Member(p.id, 1 if s > 0 else -1) for p, s in zip(patches, signs, strict=True))]
    groups = tuple(
        Group(f"G{i + 1}", m, "parallel", Circuit(circuit, {}, _tuning(request.goal, mode, circuit)))
        for i, (m, mode) in enumerate(zip(members, tuned, strict=True))
    )
    one_low = (low, size[0]) if varies else (low,)
    one_high = (max(high - size[0], low), size[1]) if varies else (max(high - size[0], low),)
    return Template(
        Candidate("", "", patches, groups),
        one_low * count,
        one_high * count,
        varies,
        (name, face, circuit, count),
    )


def _tuning(goal: Goal, mode: int, circuit: str) -> Tuning | None:
    if CIRCUITS[circuit].closed_form is None:
        return None
    return Tuning(mode, "closed form", "peak" if goal.kind == "band" else "damping")
