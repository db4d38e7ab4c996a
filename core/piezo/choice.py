"""Which further functions a layout asks for at the level of its structure."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.askew import APART
from core.beam.functions import Aslant, Beside, Function, Lag, Odd, Power, Warp
from core.beam.section_further import warping_of
from core.beam.spec import WARPING, BeamSpec
from core.piezo.package import Plates

Array = NDArray[np.float64]

SLIGHT = 1e-6
"""Share of the frequency of mode `LOOKED_AT` that shear takes, below which it is left out, and rotary inertia with it: films and
strings remain. What it takes of K^2 is far more (a metal strip 2 mm thick: 1 to 2 %), for it eases the ceramic's ends."""
LOOKED_AT = 5
SLANTS = 5 * APART
"""Of the span: how far the ends of a turned ceramic run before a function of x alone does not tell of them."""
NEARLY_WHOLE = 0.93
"""Of the part's largest width: a ceramic as wide leaves nothing beside it."""
SLENDER = 5.0
"""Span over largest width above which strain in plane does not lag behind across the width, unless pieces lie side by side."""
BROAD = (LOOKED_AT - 0.5) * np.pi / 4.7300
"""Span over largest width below which a section's first curving across, as a free-free beam, is below mode `LOOKED_AT`."""


@lru_cache(maxsize=16)
def bare_functions(spec: BeamSpec, mixed: bool = False) -> tuple[Function, ...]:
    """Functions of the part without patches; those of torsion too where it is mixed with bending."""
    if spec.level not in WARPING:
        return ()
    found: list[Function] = [Warp()] if warps(spec) else []
    if spec.level == "across":
        half = spec.half_width_m
        if spec.lane_width_m.shape[1] > 1 or spec.span_m < SLENDER * 2.0 * half:
            found.append(Lag(half))
        found += [Power(2, half), Power(4, half)]
        if spec.span_m < BROAD * 2.0 * half:
            found.append(Power(6, half))
        if mixed:
            found += [Odd(1, half), Odd(3, half)]
    return tuple(found)


LAYERS = (0.6,)
"""Of half the width: boundaries so far from where the section changes or is held."""
BESIDE_HOLE = 1.0
"""The same of the diameter of a round hole, on either side of it."""
WARPED, WARPED_SOFT = (5.0,), (2.0, 6.0)
"""The same of the length over which warping dies away; where that is a soft core's, much depends on it."""
SOFT = 0.3
"""Of the thickness: a longer length is a soft core's (a metal's is 0.056)."""


def marks_m(spec: BeamSpec, plates: Plates, functions: tuple[Function, ...]) -> Array:
    """(..., k) every x at which elements should end for the functions' sake: where they begin, and in the
    layers beside a ceramic's end or a support over which they settle."""
    found = [np.asarray(v) for f in functions if f.reach_m is not None for v in f.reach_m]
    steps = [share * spec.half_width_m for share in LAYERS] if any(f.bows for f in functions) else []
    if any(isinstance(f, Warp) for f in functions):
        steps += [share * warping_length_m(spec) for share in (WARPED_SOFT if is_soft(spec) else WARPED)]
    if any(f.bows for f in functions) and spec.round.any():
        start, end = spec.bounds_m[:-1][spec.round], spec.bounds_m[1:][spec.round]
        beside = BESIDE_HOLE * (end - start)
        aside = np.concatenate([start - beside, end + beside])
        found.append(np.broadcast_to(aside, (*plates.works_m[0].shape[:-1], len(aside))))
    if steps:
        ends = np.concatenate(np.broadcast_arrays(*plates.works_m), axis=-1)
        held = np.array(sorted({r.x_m for r in spec.restraints} | set(spec.mass_x_m.tolist())))
        aside = np.clip(np.concatenate([held - step for step in steps] + [held + step for step in steps]), 0.0, spec.span_m)
        found.append(np.broadcast_to(aside, (*ends.shape[:-1], len(aside))))
        for step in steps:
            found += [ends - step, ends + step]
    return np.concatenate(found, axis=-1) if found else np.zeros(0)


@lru_cache(maxsize=16)
def warps(spec: BeamSpec) -> bool:
    """Whether the part's sections warp so much that it is seen."""
    middle = 0.5 * (spec.bounds_m[1:] + spec.bounds_m[:-1])
    softness = warping_of(spec, middle[:, None], np.arange(len(middle)))[1]
    # Waves along the part: their number squared times EI/S is what shear adds to the flexibility, halved in f.
    waves = np.diff(spec.phase) / np.diff(spec.bounds_m) * (LOOKED_AT - 0.5) * np.pi / spec.phase[-1]
    share = np.diff(spec.phase) / spec.phase[-1]
    return bool(0.5 * (softness[:, 0] * waves**2 * share).sum() > SLIGHT)


@lru_cache(maxsize=16)
def warping_length_m(spec: BeamSpec) -> float:
    """The longest length over which the bare part's warping dies away."""
    middle = 0.5 * (spec.bounds_m[1:] + spec.bounds_m[:-1])[:, None]
    return float(warping_of(spec, middle, np.arange(len(middle)))[0].max())


@lru_cache(maxsize=16)
def is_soft(spec: BeamSpec) -> bool:
    """Whether a soft core lets the faces bend by themselves."""
    thickest = float(spec.total_thickness_m(0.5 * (spec.bounds_m[1:] + spec.bounds_m[:-1])).max())
    return warping_length_m(spec) > SOFT * thickest


def functions_of(spec: BeamSpec, plates: Plates) -> tuple[Function, ...]:
    """Functions of a layout, or of many: those of the part, and one beside each width of narrow ceramics."""
    found = list(bare_functions(spec, plates.is_askew))
    if spec.level != "across":
        return tuple(found)
    if plates.is_askew:
        return (*found, *_aslant(spec, plates))
    half = spec.half_width_m
    seen: list[tuple[np.ndarray, list[int]]] = []
    for j in range(len(plates)):
        side = 0.5 * plates.width_m[..., j]
        if np.all(side >= NEARLY_WHOLE * half):
            continue
        same = next((own for known, own in seen if np.array_equal(known, side)), None)
        if same is None:
            seen.append((side, [j]))
        else:
            same.append(j)
    for side, own in seen:
        reach = 0.5 * (plates.x_b_m - plates.x_a_m)[..., own]
        felt = (plates.x_a_m[..., own] - reach, plates.x_b_m[..., own] + reach)
        found.append(Beside(np.asarray(side), half, felt))
    return tuple(found)


def _aslant(spec: BeamSpec, plates: Plates) -> list[Function]:
    """Functions beside ceramics of a layout in which some lie off the centreline or are turned: between the sides of each, or
    at every edge of a turned one, for there no function of x tells of its ends."""
    found: list[Function] = []
    half, works = spec.half_width_m, plates.working
    seen: list[tuple[Array, ...]] = []
    for j in range(len(plates)):
        c, s, x, y = (v[..., j] for v in (works.cosine, works.sine, works.x_m, works.y_m))
        side, run = works.eta1_m[..., j], 0.5 * (works.xi1_m - works.xi0_m)[..., j]
        own = (x, y, c, s, side, run)
        if any(all(np.array_equal(a, b) for a, b in zip(own, known, strict=True)) for known in seen):
            continue
        seen.append(own)
        least = SLANTS * spec.span_m
        if np.all(2.0 * np.minimum(side * np.abs(s), run * np.abs(c)) < least):
            # Straight, or so little turned that it counts as such; by a quarter too.
            along, across = np.where(np.abs(c) > np.abs(s), run, side), np.where(np.abs(c) > np.abs(s), side, run)
            if np.any(across < NEARLY_WHOLE * half):
                turned = np.abs(c) < np.abs(s)
                axes = np.where(turned, s, c), np.where(turned, -c, s)
                found.append(Aslant(x, y, *axes, across, half, _felt(x, 2.0 * along)))
            continue
        for axis, far, length in (((c, s), side, run), ((s, -c), run, side)):
            for way in (-1.0, 1.0):
                middle = x - way * far * axis[1]
                edge = (middle, y + way * far * axis[0], *axis)
                found.append(Aslant(*edge, None, half, _felt(middle, length * (1.0 + np.abs(axis[0])))))
    return found


def _felt(middle: Array, reach: Array) -> tuple[Array, Array]:
    return (middle - reach)[..., None], (middle + reach)[..., None]
