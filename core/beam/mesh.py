"""Where elements begin and end, and how many curvature terms each one carries.

Boundaries lie on every station, jump and attachment, and on every end of a strip; long
elements are divided so that the highest mode asked for turns through a limited phase in each.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

MAX_PHASE = 2.9
"""Largest phase (radians of the highest mode's wave) per element; with it a term count below."""
TERMS = ((0.6, 3), (1.5, 4), (2.3, 5), (np.inf, 6))
"""Element phase up to which so many curvature terms suffice. For n terms the relative error of
omega^2 is about (n!/(2n)!)^2 phase^(2n)/(2n + 1) (Strang & Fix 1973, the Rayleigh quotient's
double order); one term is kept in hand for sections that vary inside an element."""
_LIMITS = np.array([limit for limit, _ in TERMS])
_COUNTS = np.array([count for _, count in TERMS])


@dataclass(frozen=True)
class Mesh:
    """Elements: bounds (..., e + 1), segment of the spec (..., e), terms (e,) or None for all."""

    bounds_m: Array
    segment: NDArray[np.intp]
    terms: NDArray[np.intp]

    @cached_property
    def length_m(self) -> Array:
        return self.bounds_m[..., 1:] - self.bounds_m[..., :-1]

    @cached_property
    def middle_m(self) -> Array:
        return 0.5 * (self.bounds_m[..., 1:] + self.bounds_m[..., :-1])


def _phase_at(spec: BeamSpec, x: Array) -> Array:
    return np.interp(x, spec.bounds_m, spec.phase)


def _scale(spec: BeamSpec, n_modes: int) -> float:
    """Radians per unit of the spec's phase for the highest mode: about (n + 1/2) pi over the span."""
    return (n_modes + 0.5) * np.pi / float(spec.phase[-1])


@lru_cache(maxsize=64)
def base_bounds(spec: BeamSpec, n_modes: int, refine: int = 1) -> Array:
    """Boundaries of the structure without patches: its own bounds, attachments, and equal
    divisions of whatever is longer than the phase allows."""
    span = spec.span_m
    inner = [r.x_m for r in spec.restraints if 0.0 < r.x_m < span]
    inner += [m.x_m for m in spec.masses if 0.0 < m.x_m < span]
    points = np.unique(np.concatenate([spec.bounds_m, np.asarray(inner, dtype=float)]))
    points = points[np.concatenate([[True], np.diff(points) > 1e-11 * span])]
    phase = np.diff(_phase_at(spec, points)) * _scale(spec, n_modes) * refine / MAX_PHASE
    pieces = np.maximum(1, np.ceil(phase - 1e-9)).astype(int)
    parts = [
        np.linspace(a, b, n, endpoint=False) for a, b, n in zip(points[:-1], points[1:], pieces, strict=True)
    ]
    return np.concatenate([*parts, [span]])


def build_mesh(spec: BeamSpec, extra_m: Array, n_modes: int, *, refine: int = 1, more_terms: int = 0) -> Mesh:
    """Mesh with boundaries at `extra_m` too. `refine` divides further, `more_terms` adds terms
    (both for convergence studies)."""
    span = spec.span_m
    extra = np.asarray(extra_m, dtype=float)
    extra = extra[(extra > 0.0) & (extra < span)]
    bounds = np.sort(np.concatenate([base_bounds(spec, n_modes, refine), extra]))
    # A patch end within a tenth of a nanometre of another boundary is that boundary.
    bounds = bounds[np.concatenate([[True], np.diff(bounds) > 1e-10 * span])]
    bounds[-1] = span
    running = _phase_at(spec, bounds)
    phase = (running[1:] - running[:-1]) * _scale(spec, n_modes)
    terms = _COUNTS[np.searchsorted(_LIMITS, phase)] + more_terms
    return Mesh(bounds, segments(spec, bounds), terms)


def segments(spec: BeamSpec, bounds: Array) -> NDArray[np.intp]:
    """Segment of the spec in which each element lies, from the elements' middles."""
    return segments_at(spec, 0.5 * (bounds[..., 1:] + bounds[..., :-1]))


def segments_at(spec: BeamSpec, x: Array) -> NDArray[np.intp]:
    """Segment of the spec in which each x lies; at a bound the one before."""
    return np.searchsorted(spec.bounds_m[1:-1], x)
