"""A structure compiled to arrays: per segment, every layer's thickness and stiffness.

Between two bounds everything is linear in x (thicknesses, widths) but the chords of round holes, so a
section anywhere is one linear interpolation, a chord and a few sums. Compiling is a pure function of immutable values and
is remembered for the last few structures, because a drag asks for the same one each time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.outline import NetWidth, net_width
from core.beam.profile import Linear
from core.beam.restraint import Restraint, restraints
from core.project.model import Constant, Layer, Material, Structure

Array = NDArray[np.float64]


def warming(constant: Constant, reference_c: float, temperature_c: float | None) -> float:
    """The constant at a temperature over that at its reference; 1 for a temperature of None."""
    return 1.0 if temperature_c is None else 1.0 + constant.per_kelvin * (temperature_c - reference_c)


def at_temperature(constant: Constant, reference_c: float, temperature_c: float | None) -> float:
    """The constant's value at a temperature (None: at its reference)."""
    return constant.value * warming(constant, reference_c, temperature_c)


def modulus(material: Material, *, wide_strip: bool, temperature_c: float | None) -> float:
    """Young's modulus in Pa, stiffened to E/(1 - nu^2) in a wide strip."""
    e = at_temperature(material.youngs_modulus_pa, material.reference_temperature_c, temperature_c)
    return e / (1.0 - material.poisson_ratio.value**2) if wide_strip else e


@dataclass(frozen=True, eq=False)
class BeamSpec:
    """The bare structure, ready for the element routines; or many of them that differ in their numbers.

    A table's first axis is the left and right end of the segment, and what a metre of hole takes away.
    """

    bounds_m: Array
    tables: Array
    """(3, 3, n_layers, n_segments): thickness, m; sum of E b over the layer's pieces, N/m; sum of
    rho b, kg/m^2."""
    loss_width: Array
    """(3, n_layers, n_segments) sum of eta E b, N/m."""
    width: NetWidth
    layer_names: tuple[str, ...]
    mass_x_m: Array
    """(K,) where point masses sit."""
    mass_kg: Array
    """(..., K)"""
    rotary_kg_m2: Array
    """(..., K)"""
    restraints: tuple[Restraint, ...]
    stiffness: Array
    """(..., R) of the restraints, inf where one holds."""
    wide_strip: bool
    temperature_c: float | None
    phase: Array
    """(n_segments + 1,) running integral of (m/EI)^(1/4): how many waves fit up to each bound."""
    round: NDArray[np.bool_]
    """(n_segments,) whether a round hole takes width away."""
    stacked: bool = False
    """Whether the tables hold many structures: an axis of P before that of the segments."""

    @property
    def span_m(self) -> float:
        return float(self.bounds_m[-1])

    @cached_property
    def _thickness(self) -> Linear:
        total = self.tables[:, 0].sum(axis=1)
        return Linear(self.bounds_m, total[0], total[1])

    def total_thickness_m(self, x: Array) -> Array:
        """Thickness of the bare lay-up at x."""
        return self._thickness.at(x)

    def taper_at(self, x: Array, segment: NDArray[np.intp]) -> Array:
        """(n,) steepest ratio of a thickness or a width between x[i] and x[i + 1], in segment[i]."""
        left, right = self.bounds_m[segment], self.bounds_m[segment + 1]
        sums = self.tables[:2, :2].sum(axis=2)[..., segment]
        slope = (sums[1] - sums[0]) / (right - left)
        start, end = (np.maximum(sums[0] + slope * (at - left), 0.0) for at in (x[:-1], x[1:]))
        tiny = 1e-9 * np.maximum(start, end) + 1e-300
        ratio = (end + tiny) / (start + tiny)
        steepest = np.abs(np.log(ratio)).argmax(axis=0)
        return np.asarray(ratio[steepest, np.arange(len(segment))])


def _piece_widths(layer: Layer, net: Linear, stations: Array) -> list[Linear]:
    """Width of each piece on the net width's segments; an open piece takes what is left."""
    widths: list[Linear | None] = []
    rest = net
    for piece in layer.pieces:
        if piece.width_m is None:
            widths.append(None)
            continue
        end = stations[-1] if piece.end_m is None else piece.end_m
        width = Linear.through(stations, piece.width_m).on(net.bounds).masked(piece.start_m, end)
        width = Linear(net.bounds, piece.count * width.left, piece.count * width.right)
        widths.append(width)
        rest = rest.minus(width)
    n_open = sum(1 for w in widths if w is None)
    out = []
    for piece, w in zip(layer.pieces, widths, strict=True):
        if w is None:
            end = stations[-1] if piece.end_m is None else piece.end_m
            share = Linear(net.bounds, rest.left / n_open, rest.right / n_open)
            w = share.masked(piece.start_m, end)
        out.append(w)
    return out


def _bounds(structure: Structure, net: Linear) -> Array:
    """Every x where a linear piece may end: stations, cut-outs, and ends of layer pieces."""
    span = structure.stations_m[-1]
    extra = [
        x
        for layer in structure.layers
        for piece in layer.pieces
        for x in (piece.start_m, piece.end_m)
        if x is not None and 0.0 < x < span
    ]
    bounds = np.unique(np.concatenate([net.bounds, np.asarray(extra, dtype=float)]))
    return bounds[np.concatenate([[True], np.diff(bounds) > 1e-12 * span])]


@lru_cache(maxsize=16)
def beam_spec(
    structure: Structure, materials: tuple[Material, ...], temperature_c: float | None = None
) -> BeamSpec:
    """Compile a valid structure; KeyError if a piece names an unknown material."""
    by_name = {m.name: m for m in materials}
    stations = np.asarray(structure.stations_m, dtype=float)
    net = net_width(structure)
    bounds = _bounds(structure, net.linear)
    net = NetWidth(net.linear.on(bounds), net.centre_m, net.radius_m)
    n_layers, n_segments = len(structure.layers), len(bounds) - 1
    thickness, eb, rb, lb = (np.zeros((3, n_layers, n_segments)) for _ in range(4))
    for i, layer in enumerate(structure.layers):
        t = Linear.through(stations, layer.thickness_m).on(bounds)
        thickness[0, i], thickness[1, i] = t.left, t.right
        shares = _hole_shares(layer, bounds)
        widths = _piece_widths(layer, net.linear, stations)
        for piece, width, share in zip(layer.pieces, widths, shares, strict=True):
            material = by_name[piece.material]
            e = modulus(material, wide_strip=structure.wide_strip, temperature_c=temperature_c)
            all_three = np.stack([width.left, width.right, share])
            eb[:, i] += e * all_three
            rb[:, i] += material.density_kg_m3.value * all_three
            lb[:, i] += material.loss_factor.value * e * all_three
    found = restraints(structure)
    return BeamSpec(
        bounds_m=bounds,
        tables=np.stack([thickness, eb, rb], axis=1),
        loss_width=lb,
        width=net,
        layer_names=tuple(layer.name for layer in structure.layers),
        mass_x_m=np.array([m.x_m for m in structure.masses]),
        mass_kg=np.array([m.mass_kg for m in structure.masses], dtype=float),
        rotary_kg_m2=np.array([m.rotary_inertia_kg_m2 for m in structure.masses], dtype=float),
        restraints=found,
        stiffness=np.array([r.stiffness for r in found], dtype=float),
        wide_strip=structure.wide_strip,
        temperature_c=temperature_c,
        phase=_phase(bounds, thickness, eb, rb),
        round=net.in_hole(),
    )


def _hole_shares(layer: Layer, bounds: Array) -> list[Array]:
    """(segments,) per piece, how much of a metre of hole it loses: open pieces share it alike where
    they lie."""
    middle = 0.5 * (bounds[1:] + bounds[:-1])
    n_open = sum(1 for p in layer.pieces if p.width_m is None)
    return [
        np.where(
            (middle > p.start_m) & (middle < (bounds[-1] if p.end_m is None else p.end_m)), 1.0 / n_open, 0.0
        )
        if p.width_m is None
        else np.zeros(len(middle))
        for p in layer.pieces
    ]


def _phase(bounds: Array, thickness: Array, eb: Array, rb: Array) -> Array:
    """Running integral of (m/EI)^(1/4), trapezoidal per segment; a tip that vanishes counts as
    its segment's middle."""
    t, e, r = (0.5 * (a[0] + a[1]) for a in (thickness, eb, rb))
    top = np.cumsum(t, axis=0)
    bottom = top - t
    a1 = (e * t).sum(axis=0)
    b1 = (e * (top**2 - bottom**2)).sum(axis=0) / 2
    d1 = (e * (top**3 - bottom**3)).sum(axis=0) / 3
    density = ((r * t).sum(axis=0) / np.maximum(d1 - b1**2 / a1, 1e-300)) ** 0.25
    return np.concatenate([[0.0], np.cumsum(density * np.diff(bounds))])
