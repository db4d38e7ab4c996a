"""Where elements begin and end, and the points inside them.

Boundaries lie on every station, jump and attachment, and on every end of a strip; long elements are
divided so that the highest mode asked for turns through a limited phase in each, tapered ones so that
the stiffness changes by a limited ratio. Where a round hole takes width away the parameter of an
element runs with the angle of the chord, in which everything is smooth; but where further functions of x are
polynomials over the elements (`core.beam.further`) it runs with x, as it must for their derivatives.

Meshes of many layouts are stacked: leading axes, the same number of elements in each. An element of
no length does no harm.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.distinct import distinct
from core.beam.gauss import Rule, rule
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

MAX_PHASE = 2.9
"""Largest phase (radians of the highest mode's wave) per element."""
POINTS = ((0.3, 4), (0.8, 5), (1.5, 6), (np.inf, 7))
"""Largest phase of any element up to which so many points suffice (q points integrate and represent
a wave of phase a to about (a/2)^(2q)/(2q)!, Gauss's double order), with a section that varies."""
LEAST_POINTS = 3
MAX_TAPER = 1.7
"""Largest ratio of thicknesses or widths over one element."""
LEAST_RATIO = 1e-3
"""Of thickness to that at the other end: divisions towards a tip that vanishes stop there."""
CROSSING_STEPS = 8
"""Of every segment, to see where the net width passes a given one."""
HOLE_SHARES = np.array([0.067, 0.933])
"""Of a hole's diameter: between its edge and there the chord rises to half of it."""
SAME = 1e-10
"""Of the span: a patch end so near another boundary is that boundary."""
NEAR, NEAR_DIVISION = 3e-4, 5e-3
"""Of the span: a mark so near another boundary, and what only divides so near one, is that boundary. Polynomials over a sliver lose the
digits of their derivatives, the third power of its length."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """Elements: bounds (..., e + 1), segment of the spec (..., e), points x and dx/ds (..., e, q)."""

    bounds_m: Array
    segment: NDArray[np.intp]
    rule: Rule
    x_m: Array
    jacobian_m: Array
    arc: tuple[Array, Array, Array, Array] | None
    """Of elements along round holes: start and length of their segment, angle at the start and angle
    spanned, (..., e) each, angle nan elsewhere; None where the part has no hole."""
    of_base: NDArray[np.intp]
    """(..., e) which element of the structure without patches each is; -1 for what a patch's end divides."""
    divides: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))
    """(e + 1,) of the structure without patches, which boundaries only divide what is long or tapers."""

    @cached_property
    def length_m(self) -> Array:
        return self.bounds_m[..., 1:] - self.bounds_m[..., :-1]

    @cached_property
    def is_one(self) -> NDArray[np.bool_]:
        """(..., e) whether an element is more than what rounding leaves between ends that are the same: one mesh of many
        layouts keeps such slivers, which the mesh of one layout drops."""
        return np.asarray(_apart(self.bounds_m))

    @cached_property
    def middle_m(self) -> Array:
        return 0.5 * (self.bounds_m[..., 1:] + self.bounds_m[..., :-1])

    @cached_property
    def weight_m(self) -> Array:
        """(..., e, q) integration weights in x."""
        return self.jacobian_m * self.rule.weight

    def at(self, s: Array) -> Array:
        """x at parameters s of every element, (..., e, len(s))."""
        return _points(self.bounds_m, self.arc, s)[0]

    def parameters(self, x: Array, element: NDArray[np.intp]) -> Array:
        """s of places x (..., e, q) in the elements (..., e) of one mesh."""
        if self.arc is not None:
            return self.parameter(x, np.broadcast_to(element[..., None], x.shape))
        return np.asarray((x - self.bounds_m[element][..., None]) / self.length_m[element][..., None])

    def parameter(self, x: Array, element: NDArray[np.intp]) -> Array:
        """s of places x in the elements given, of any shape; (..., k) for many layouts."""
        start, h = _of(self.bounds_m, element), _of(self.length_m, element)
        s = np.asarray((x - start) / np.where(h > 0.0, h, 1.0))
        if self.arc is None:
            return s
        a, width, first, turned = (_of(v, element) for v in self.arc)
        angle = _angle(x, a, width)
        return np.where(np.isnan(first), s, (angle - first) / np.where(turned == 0.0, 1.0, turned))


def _of(values: Array, element: NDArray[np.intp]) -> Array:
    """Values (..., e) of the elements given."""
    return values[element] if values.ndim == 1 else np.take_along_axis(values, element, axis=-1)


def _angle(x: Array, start: Array, width: Array) -> Array:
    """Angle whose cosine runs from 1 at the start of a segment to -1 at its end."""
    return 2.0 * np.arcsin(np.sqrt(np.clip((x - start) / width, 0.0, 1.0)))


def _arc(spec: BeamSpec, bounds: Array, segment: NDArray[np.intp]) -> tuple[Array, Array, Array, Array] | None:
    if not spec.round.any():
        return None
    start, width = spec.bounds_m[segment], (spec.bounds_m[1:] - spec.bounds_m[:-1])[segment]
    first, last = (_angle(b, start, width) for b in (bounds[..., :-1], bounds[..., 1:]))
    first = np.where(spec.round[segment], first, np.nan)
    return start, width, first, last - first


def _points(bounds: Array, arc: tuple[Array, Array, Array, Array] | None, s: Array) -> tuple[Array, Array]:
    """x and dx/ds at parameters s of every element."""
    h = (bounds[..., 1:] - bounds[..., :-1])[..., None]
    x = bounds[..., :-1, None] + h * s
    # of one layout copied, which is quicker than a view
    jacobian = h.repeat(len(s), axis=1) if h.ndim == 2 else np.broadcast_to(h, x.shape)
    if arc is None:
        return x, jacobian
    start, width, first, turned = (v[..., None] for v in arc)
    angle = first + turned * s
    on = ~np.isnan(first)
    x = np.where(on, start + width * np.sin(0.5 * angle) ** 2, x)
    return x, np.where(on, 0.5 * width * np.sin(angle) * turned, jacobian)


def _scale(spec: BeamSpec, n_modes: int) -> float:
    """Radians per unit of the spec's phase for the highest mode: about (n + 1/2) pi over the span."""
    return (n_modes + 0.5) * np.pi / float(spec.phase[-1])


@lru_cache(maxsize=64)
def base_bounds(spec: BeamSpec, n_modes: int, refine: int = 1) -> tuple[Array, int]:
    """Boundaries of the structure without patches, and how many points each element wants."""
    span = spec.span_m
    inner = [r.x_m for r in spec.restraints if 0.0 < r.x_m < span]
    inner += [x for x in spec.mass_x_m.tolist() if 0.0 < x < span]
    points = distinct(np.concatenate([spec.bounds_m, np.asarray(inner, dtype=float)]))
    points = points[np.concatenate([[True], np.diff(points) > 1e-11 * span])]
    phase = np.diff(np.interp(points, spec.bounds_m, spec.phase)) * _scale(spec, n_modes)
    middle = 0.5 * (points[1:] + points[:-1])
    pieces = np.maximum(1, np.ceil(refine * phase / MAX_PHASE - 1e-9)).astype(int)
    segment = segments_at(spec, middle)
    taper = spec.taper_at(points, segment)
    arcs = spec.round[segment]
    parts, most = [], 0.0
    for i, (a, b, n) in enumerate(zip(points[:-1], points[1:], pieces.tolist(), strict=True)):
        least = 2 * refine if arcs[i] else 1
        inside = _division(a, b, max(n, least), float(taper[i]))
        parts.append(inside)
        most = max(most, float(phase[i]) / len(inside))
    counts = np.array([q for _, q in POINTS])
    q = int(counts[np.searchsorted([limit for limit, _ in POINTS], most)])
    return np.concatenate([*parts, [span]]), q


def _division(a: float, b: float, pieces: int, ratio: float) -> Array:
    """Starts of the pieces of [a, b]: equal, or in a geometric series where a linear dimension goes
    from 1 to `ratio` over it."""
    equal = np.linspace(a, b, pieces, endpoint=False)
    steep = np.log(max(ratio, LEAST_RATIO)) if ratio < 1.0 else np.log(min(ratio, 1.0 / LEAST_RATIO))
    if abs(steep) <= np.log(MAX_TAPER):
        return equal
    marks = np.exp(np.linspace(0.0, steep, int(np.ceil(abs(steep) / np.log(MAX_TAPER))) + 1))[:-1]
    graded = a + (b - a) * (marks - 1.0) / (ratio - 1.0)
    both = distinct(np.concatenate([equal, graded]))
    return both[np.concatenate([[True], np.diff(both) > 1e-6 * (b - a)])]


@lru_cache(maxsize=32)
def base_mesh(
    spec: BeamSpec, n_modes: int, fewer_points: int = 0, finer: int = 0, widths_m: tuple[float, ...] = ()
) -> Mesh:
    """The mesh of the structure without patches, remembered, with boundaries also where it is as wide as
    `widths_m`.

    `fewer_points` takes points from every element, `finer` divides further and adds points (for convergence
    studies).
    """
    bounds, points = base_bounds(spec, n_modes, 1 + finer)
    r = rule(max(points - fewer_points, LEAST_POINTS) + 2 * finer)
    crossings = width_crossings(spec, widths_m)
    found = _mesh(spec, r, _merged(spec, bounds, crossings), None)
    held = [0.0, spec.span_m, *(one.x_m for one in spec.restraints), *spec.mass_x_m.tolist()]
    firm = np.concatenate([spec.bounds_m, crossings, held])
    divides = (np.abs(found.bounds_m[:, None] - firm) > SAME * spec.span_m).all(axis=1)
    return replace(found, divides=divides)


def mesh_on(spec: BeamSpec, base: Mesh, ends_m: Array, marks_m: Array | None = None) -> Mesh:
    """The base mesh with boundaries at `ends_m` (..., k) too; leading axes are layouts. marks_m : (..., k) where further
    functions want boundaries; the parameter of every element runs with x then, also along round holes, which are divided further,
    and beside marks no two boundaries lie near each other but where something happens at both."""
    ends, bounds = np.clip(ends_m, 0.0, spec.span_m), base.bounds_m
    if marks_m is not None:
        ends = _with_holes(spec, ends)
    if marks_m is not None and marks_m.shape[-1]:
        lead, divides = ends.shape[:-1], base.divides
        firm = np.broadcast_to(bounds[~divides], (*lead, int((~divides).sum())))
        marks = _drawn_to(np.clip(marks_m, 0.0, spec.span_m), np.concatenate([firm, ends], axis=-1), NEAR * spec.span_m)
        ends = np.concatenate([ends, one_of_several(marks, NEAR * spec.span_m)], axis=-1)
        bounds = np.broadcast_to(bounds, (*lead, len(bounds))).copy()
        shorter = np.minimum(base.length_m[:-1], base.length_m[1:])[divides[1:-1]]
        bounds[..., divides] = _drawn_to(bounds[..., divides], ends, np.minimum(NEAR_DIVISION * spec.span_m, 0.25 * shorter))
    return _mesh(spec, base.rule, _merged(spec, bounds, ends), base.bounds_m, marks_m is not None)


def _drawn_to(places: Array, others: Array, least: Array | float) -> Array:
    """(..., k) places, or of others (..., n) the nearest one where that is nearer than `least` (k,)."""
    if not others.shape[-1] or not places.shape[-1]:
        return places
    apart = np.abs(places[..., :, None] - others[..., None, :])
    nearest = apart.argmin(axis=-1)
    there = np.take_along_axis(others, nearest, axis=-1)
    return np.where(apart.min(axis=-1) < least, there, places)


def one_of_several(places: Array, least: float) -> Array:
    """Places (..., k) in order, those nearer to the one before than `least` at the place of the first of them."""
    ordered = np.sort(places, axis=-1)
    apart = ordered[..., 1:] - ordered[..., :-1] >= least
    first = np.zeros(ordered.shape, dtype=np.intp)
    first[..., 1:] = np.maximum.accumulate(np.where(apart, np.arange(1, ordered.shape[-1]), 0), axis=-1)
    return np.take_along_axis(ordered, first, axis=-1)


def _with_holes(spec: BeamSpec, ends: Array) -> Array:
    """Also where the chords of round holes, smooth in the angle, are divided."""
    start, width = spec.bounds_m[:-1][spec.round], np.diff(spec.bounds_m)[spec.round]
    inside = (start[:, None] + width[:, None] * HOLE_SHARES).ravel()
    return np.concatenate([ends, np.broadcast_to(inside, (*ends.shape[:-1], inside.size))], axis=-1)


def at_points(mesh: Mesh, r: Rule) -> Mesh:
    """The same elements with other points."""
    x, jacobian = _points(mesh.bounds_m, mesh.arc, r.s)
    return Mesh(mesh.bounds_m, mesh.segment, r, x, jacobian, mesh.arc, mesh.of_base)


def _apart(bounds: Array) -> NDArray[np.bool_]:
    """(..., e) whether each boundary (..., e + 1) is another one than the next."""
    return np.asarray((bounds[..., 1:] - bounds[..., :-1]) > SAME * bounds[..., -1:])


def _merged(spec: BeamSpec, base: Array, extra: Array) -> Array:
    lead, span = extra.shape[:-1], spec.span_m
    base = np.broadcast_to(base, (*lead, base.shape[-1])) if lead else base
    bounds = np.concatenate([base, extra], axis=-1)
    bounds.sort(axis=-1)
    step = _apart(bounds)
    used = step.reshape(-1, step.shape[-1]).any(axis=0)
    if not used.all():
        bounds = bounds[..., np.concatenate([[True], used])]
    bounds[..., 0], bounds[..., -1] = 0.0, span
    return bounds


def _mesh(spec: BeamSpec, r: Rule, bounds: Array, base: Array | None, along_x: bool = False) -> Mesh:
    segment = segments_at(spec, 0.5 * (bounds[..., 1:] + bounds[..., :-1]))
    if base is None:
        of_base = np.arange(len(segment))
    else:
        first = np.searchsorted(base[:-1], bounds[..., :-1], side="right") - 1
        own = (base[first] == bounds[..., :-1]) & (base[first + 1] == bounds[..., 1:])
        if along_x:
            own &= ~spec.round[segment]
        of_base = np.where(own, first, -1)
    arc = None if along_x else _arc(spec, bounds, segment)
    x, jacobian = _points(bounds, arc, r.s)
    return Mesh(bounds, segment, r, x, jacobian, arc, of_base)


@lru_cache(maxsize=64)
def width_crossings(spec: BeamSpec, widths_m: tuple[float, ...]) -> Array:
    """(k,) every x at which the edge of a lane passes one of some widths: what lies beside or over a package
    as wide changes there, and its section bends."""
    edges = spec.lane_width_m.cumsum(axis=1)
    a, b = spec.bounds_m[:-1], spec.bounds_m[1:]

    def over(share: Array, lane: NDArray[np.intp], segment: NDArray[np.intp], width: Array) -> NDArray[np.bool_]:
        left, right, hole = edges[:, lane, segment]
        chord = spec.width.chord_m(a[segment] + (b - a)[segment] * share)
        return left + (right - left) * share - hole * chord > width

    inset = np.concatenate([[1e-9], np.arange(1, CROSSING_STEPS) / CROSSING_STEPS, [1.0 - 1e-9]])
    w, lane, segment, j = np.indices((len(widths_m), *edges.shape[1:], len(inset) - 1)).reshape(4, -1)
    wanted = np.array(widths_m)[w]
    before, after = (over(inset[k], lane, segment, wanted) for k in (j, j + 1))
    hit = before != after
    lane, segment, wanted, rising = lane[hit], segment[hit], wanted[hit], after[hit]
    start, end = inset[j[hit]], inset[j[hit] + 1]
    for _ in range(60):
        middle = 0.5 * (start + end)
        beyond = over(middle, lane, segment, wanted) == rising
        start, end = np.where(beyond, start, middle), np.where(beyond, middle, end)
    return distinct(a[segment] + (b - a)[segment] * 0.5 * (start + end))


def segments_at(spec: BeamSpec, x: Array) -> NDArray[np.intp]:
    """Segment of the spec in which each x lies; at a bound the one before."""
    return np.searchsorted(spec.bounds_m[1:-1], x)
