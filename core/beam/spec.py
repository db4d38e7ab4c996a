"""A structure compiled to arrays: per segment, every layer's thickness and stiffness.

Between two bounds everything is linear in x (thicknesses, widths) but the chords of round holes, so a
section anywhere is one linear interpolation, a chord and a few sums. Compiling is a pure function of immutable values and
is remembered for the last few structures, because a drag asks for the same one each time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.beam.distinct import distinct
from core.beam.free_strip import FREE, MODULI, Number, plane_stress
from core.beam.lanes import crossings_m, lanes_of
from core.beam.outline import NetWidth, net_width
from core.beam.profile import Linear
from core.beam.restraint import Restraint, restraints
from core.project.material import Material
from core.project.record import Constant
from core.project.structure import Layer, Level, Piece, Structure

Array = NDArray[np.float64]


def warming(constant: Constant, reference_c: float, temperature_c: float | None) -> float:
    """The constant at a temperature over that at its reference; 1 for a temperature of None."""
    return 1.0 if temperature_c is None else 1.0 + constant.per_kelvin * (temperature_c - reference_c)


def at_temperature(constant: Constant, reference_c: float, temperature_c: float | None) -> float:
    """The constant's value at a temperature (None: at its reference)."""
    return constant.value * warming(constant, reference_c, temperature_c)


WARPING: tuple[Level, ...] = ("shear", "across")
"""Levels at which sections warp, and a soft sheet under a patch shears with the bond."""


def moduli(
    material: Material, level: Level, modulus_pa: Number
) -> tuple[Number, Number, Number, Number, Number]:
    """Q_x, Q_xy, Q_y and the shear moduli in plane and through the thickness, Pa, of a material of that modulus
    along; without a hold across at the level 'plain'. A shear modulus that is not given is E/(2 (1 + nu))."""
    nominal, nu = material.youngs_modulus_pa.value, material.poisson_ratio.value
    in_plane = material.shear_modulus_pa
    through = material.shear_modulus_through_pa or in_plane

    def shear(given: Constant | None) -> Number:
        return modulus_pa * (1.0 / (2.0 * (1.0 + nu)) if given is None else given.value / nominal)

    if level == "plain":
        return (*plane_stress(modulus_pa, 0.0), shear(in_plane), shear(through))
    across = material.youngs_modulus_across_pa
    ratio = 1.0 if across is None else across.value / nominal
    return (*plane_stress(modulus_pa, nu, ratio), shear(in_plane), shear(through))


def warm_modulus(material: Material, temperature_c: float | None) -> float:
    """Young's modulus along the span, Pa."""
    return at_temperature(material.youngs_modulus_pa, material.reference_temperature_c, temperature_c)


@dataclass(frozen=True, eq=False)
class BeamSpec:
    """The bare structure, ready for the element routines; or many of them that differ in their numbers.

    A table's first axis is the left and right end of the segment, and what a metre of hole takes away.
    """

    bounds_m: Array
    tables: Array
    """(3, 2, n_layers, n_segments): thickness, m; sum of rho b over the layer's pieces, kg/m^2."""
    lane_width_m: Array
    """(3, n_lanes, n_segments) of both halves together, from the middle outward."""
    stiffness_pa: Array
    """(5, n_lanes, n_layers, n_segments) moduli (`moduli`) of each layer in each lane."""
    loss_pa: Array
    """(5, n_lanes, n_layers, n_segments) the same times the loss factor."""
    density_kg_m3: Array
    """(1, n_lanes, n_layers, n_segments)"""
    width: NetWidth
    layer_names: tuple[str, ...]
    """Empty for a part that is ceramics only."""
    mass_x_m: Array
    """(K,) where point masses sit."""
    mass_kg: Array
    """(..., K)"""
    rotary_kg_m2: Array
    roll_kg_m2: Array
    """(K,) about the span, for torsion; 0 where the mass counts as spread over the width."""
    ahead_m: Array
    """(K,) how far the centres of the masses lie from where these are fixed, towards the tip."""
    aside_m: Array
    """(K,) how far they lie off the centreline."""
    restraints: tuple[Restraint, ...]
    stiffness: Array
    """(..., R) of the restraints, inf where one holds."""
    level: Level
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
    def ends_of_segments(self) -> Array:
        """(..., n_segments, 3, 2 L + lanes): layers' thicknesses, their sums of rho b, lanes' widths, at the left
        end, what they gain to the right one, and what a metre of hole takes away; many structures first."""
        own = np.moveaxis(self.tables.reshape(3, -1, *self.tables.shape[3:]), 1, -1)
        lanes = np.moveaxis(self.lane_width_m, 1, -1)
        if self.stacked:
            lanes = np.broadcast_to(lanes[:, None], (*own.shape[:-1], lanes.shape[-1]))
        out = np.moveaxis(np.concatenate([own, lanes], axis=-1), 0, -2)
        out[..., 1, :] -= out[..., 0, :]
        return np.ascontiguousarray(out)

    @cached_property
    def stiffness_rows(self) -> Array:
        """(..., n_segments, lanes * 5, L): what a layer's moments add to the moduli of each lane."""
        rows = np.moveaxis(self.stiffness_pa, (1, 0, 2), (-3, -2, -1))
        return rows.reshape(*rows.shape[:-3], -1, rows.shape[-1])

    @cached_property
    def half_width_m(self) -> float:
        """Half the largest width."""
        return 0.5 * float(self.lane_width_m[:2].sum(axis=1).max())

    @cached_property
    def free_rows(self) -> Array:
        """(..., n_segments, lanes * 3, L): of these, what a strip free across needs."""
        each = self.stiffness_rows.reshape(*self.stiffness_rows.shape[:-2], -1, MODULI, self.stiffness_rows.shape[-1])
        return each[..., :FREE, :].reshape(*each.shape[:-3], -1, each.shape[-1])

    @cached_property
    def is_even(self) -> bool:
        """Whether nothing varies within a segment: one point of an element tells of all."""
        varies = (self.tables[0] != self.tables[1]).any() or (self.lane_width_m[0] != self.lane_width_m[1]).any()
        return not (varies or self.round.any())

    @cached_property
    def density_rows(self) -> Array:
        """(..., n_segments, lanes, L): the same of density."""
        return np.ascontiguousarray(np.moveaxis(self.density_kg_m3[0], (0, 1), (-2, -1)))

    @cached_property
    def _thickness(self) -> Linear:
        total = self.tables[:, 0].sum(axis=1)
        return Linear(self.bounds_m, total[0], total[1])

    @cached_property
    def holds_roll(self) -> bool:
        """Whether an end keeps the part from rolling about its axis."""
        return any(r.order == 0 and r.x_m in (0.0, self.span_m) for r in self.restraints)

    @cached_property
    def leans(self) -> bool:
        """Whether a mass off the centreline makes the part twist as it bends, and that is calculated."""
        return self.level == "across" and self.holds_roll and bool(self.aside_m.any())

    @property
    def has_lay_up(self) -> bool:
        """False where ceramics alone make the part."""
        return bool(self.layer_names)

    def lane_edges_m(self, x: Array) -> Array:
        """(lanes, *x.shape) |y| of the outer edges of the lanes."""
        segment = np.searchsorted(self.bounds_m[1:-1], x)
        left, right, hole = 0.5 * self.lane_width_m.cumsum(axis=1)[..., segment]
        start = self.bounds_m[segment]
        share = (x - start) / (self.bounds_m[segment + 1] - start)
        return np.asarray(left + (right - left) * share - hole * self.width.chord_m(x))

    def total_thickness_m(self, x: Array) -> Array:
        """Thickness of the bare lay-up at x."""
        return self._thickness.at(x)

    def taper_at(self, x: Array, segment: NDArray[np.intp]) -> Array:
        """(n,) steepest ratio of a thickness or a width between x[i] and x[i + 1], in segment[i]."""
        left, right = self.bounds_m[segment], self.bounds_m[segment + 1]
        sums = np.stack([self.tables[:2, 0].sum(axis=1), self.lane_width_m[:2].sum(axis=1)], axis=1)[..., segment]
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
    return _merged(np.concatenate([net.bounds, np.asarray(extra, dtype=float)]), span)


def _merged(bounds: Array, span: float) -> Array:
    bounds = distinct(bounds)
    return bounds[np.concatenate([[True], np.diff(bounds) > 1e-12 * span])]


VANISHING = Layer("", 1e-12, (Piece(""),))
NOTHING = Material("", Constant(1e9), Constant(1e3))
"""Stands between the ceramics of a part without a lay-up: the limit of a layer whose stiffness and mass vanish, here
to 1e-8 of two films of 0.1 mm, so that the part alone has moments and modes at all."""


@lru_cache(maxsize=16)
def beam_spec(
    structure: Structure, materials: tuple[Material, ...], temperature_c: float | None = None
) -> BeamSpec:
    """Compile a valid structure; KeyError if a piece names an unknown material."""
    by_name = {m.name: m for m in materials}
    if not structure.layers:
        structure, by_name = replace(structure, layers=(VANISHING,)), {"": NOTHING}
    stations = np.asarray(structure.stations_m, dtype=float)
    net = net_width(structure)
    net = _on(net, _bounds(structure, net.linear))
    crossed = crossings_m(structure, net, _all_widths(structure, net, stations))
    if crossed.size:
        net = _on(net, _merged(np.concatenate([net.bounds, crossed]), structure.span_m))
    widths = _all_widths(structure, net, stations)
    lanes = lanes_of(structure, net, widths)
    n_layers, n_segments = len(structure.layers), len(net.bounds) - 1
    thickness, rb = (np.zeros((3, n_layers, n_segments)) for _ in range(2))
    stiffness, loss = (np.zeros((MODULI, len(lanes.piece), n_layers, n_segments)) for _ in range(2))
    density = np.zeros((1, *stiffness.shape[1:]))
    for i, layer in enumerate(structure.layers):
        t = Linear.through(stations, layer.thickness_m).on(net.bounds)
        thickness[0, i], thickness[1, i] = t.left, t.right
        for k, (piece, width) in enumerate(zip(layer.pieces, widths[i], strict=True)):
            material = by_name[piece.material]
            q = moduli(material, structure.level, warm_modulus(material, temperature_c))
            rb[:, i] += material.density_kg_m3.value * width
            there = (lanes.piece[:, i] == k) * 1.0
            own = np.multiply.outer(np.array(q, dtype=float), there)
            density[0, :, i] += material.density_kg_m3.value * there
            stiffness[:, :, i] += own
            loss[:, :, i] += material.loss_factor.value * own
    found = restraints(structure)
    return BeamSpec(
        bounds_m=net.bounds,
        tables=np.stack([thickness, rb], axis=1),
        lane_width_m=lanes.width_m,
        stiffness_pa=stiffness,
        loss_pa=loss,
        density_kg_m3=density,
        width=net,
        layer_names=tuple(layer.name for layer in structure.layers if layer is not VANISHING),
        mass_x_m=np.array([m.x_m for m in structure.masses]),
        mass_kg=np.array([m.mass_kg for m in structure.masses], dtype=float),
        rotary_kg_m2=np.array([m.rotary_inertia_kg_m2 for m in structure.masses], dtype=float),
        roll_kg_m2=np.array([m.roll_inertia_kg_m2 for m in structure.masses], dtype=float),
        ahead_m=np.array([m.ahead_m for m in structure.masses], dtype=float),
        aside_m=np.array([m.y_m for m in structure.masses], dtype=float),
        restraints=found,
        stiffness=np.array([r.stiffness for r in found], dtype=float),
        level=structure.level,
        temperature_c=temperature_c,
        phase=_phase(net.bounds, thickness, rb, lanes.width_m, stiffness),
        round=net.in_hole(),
    )


def _on(net: NetWidth, bounds: Array) -> NetWidth:
    return NetWidth(net.linear.on(bounds), net.centre_m, net.radius_m)


def _all_widths(structure: Structure, net: NetWidth, stations: Array) -> list[list[Array]]:
    """(3, segments) of every piece, layer by layer: at both ends, and what a metre of hole takes away."""
    return [
        [
            np.stack([width.left, width.right, share])
            for width, share in zip(
                _piece_widths(layer, net.linear, stations), _hole_shares(layer, net.bounds), strict=True
            )
        ]
        for layer in structure.layers
    ]


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


def _phase(bounds: Array, thickness: Array, rb: Array, lane_width: Array, stiffness: Array) -> Array:
    """Running integral of (m/EI)^(1/4), each layer's Q_x b taken for its stiffness, trapezoidal per segment;
    a tip that vanishes counts as its segment's middle."""
    t, r, b = (0.5 * (a[0] + a[1]) for a in (thickness, rb, lane_width))
    e = (stiffness[0] * b[:, None]).sum(axis=0)
    top = np.cumsum(t, axis=0)
    bottom = top - t
    a1 = (e * t).sum(axis=0)
    b1 = (e * (top**2 - bottom**2)).sum(axis=0) / 2
    d1 = (e * (top**3 - bottom**3)).sum(axis=0) / 3
    density = ((r * t).sum(axis=0) / np.maximum(d1 - b1**2 / a1, 1e-300)) ** 0.25
    return np.concatenate([[0.0], np.cumsum(density * np.diff(bounds))])
