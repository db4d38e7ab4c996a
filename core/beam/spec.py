"""A structure compiled to arrays: per segment, every layer's thickness and stiffness.

Between two bounds everything is linear in x (thicknesses, widths), so a section anywhere is
one linear interpolation and a few sums. Compiling is a pure function of immutable values and
is remembered for the last few structures, because a drag asks for the same one each time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.outline import net_width
from core.beam.profile import Linear
from core.beam.restraint import Restraint, restraints
from core.project.model import Constant, Layer, Material, PointMass, Structure

Array = NDArray[np.float64]


def at_temperature(constant: Constant, reference_c: float, temperature_c: float | None) -> float:
    """The constant's value at a temperature (None: at its reference)."""
    if temperature_c is None:
        return constant.value
    return constant.value * (1.0 + constant.per_kelvin * (temperature_c - reference_c))


def modulus(material: Material, *, wide_strip: bool, temperature_c: float | None) -> float:
    """Young's modulus in Pa, stiffened to E/(1 - nu^2) in a wide strip."""
    e = at_temperature(material.youngs_modulus_pa, material.reference_temperature_c, temperature_c)
    return e / (1.0 - material.poisson_ratio.value**2) if wide_strip else e


@dataclass(frozen=True, eq=False)
class BeamSpec:
    """The bare structure, ready for the element routines.

    A table's first axis is the left and right end of the segment.
    """

    bounds_m: Array
    tables: Array
    """(2, 3, n_layers, n_segments): thickness, m; sum of E b over the layer's pieces, N/m; sum of
    rho b, kg/m^2."""
    loss_width: Array
    """(2, n_layers, n_segments) sum of eta E b, N/m."""
    width: Linear
    """Net width on the segments."""
    layer_names: tuple[str, ...]
    masses: tuple[PointMass, ...]
    restraints: tuple[Restraint, ...]
    wide_strip: bool
    temperature_c: float | None
    phase: Array
    """(n_segments + 1,) running integral of (m/EI)^(1/4): how many waves fit up to each bound."""
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
    bounds = _bounds(structure, net)
    net = net.on(bounds)
    n_layers, n_segments = len(structure.layers), len(bounds) - 1
    thickness, eb, rb, lb = (np.zeros((2, n_layers, n_segments)) for _ in range(4))
    for i, layer in enumerate(structure.layers):
        t = Linear.through(stations, layer.thickness_m).on(bounds)
        thickness[0, i], thickness[1, i] = t.left, t.right
        for piece, width in zip(layer.pieces, _piece_widths(layer, net, stations), strict=True):
            material = by_name[piece.material]
            e = modulus(material, wide_strip=structure.wide_strip, temperature_c=temperature_c)
            both = np.stack([width.left, width.right])
            eb[:, i] += e * both
            rb[:, i] += material.density_kg_m3.value * both
            lb[:, i] += material.loss_factor.value * e * both
    return BeamSpec(
        bounds_m=bounds,
        tables=np.stack([thickness, eb, rb], axis=1),
        loss_width=lb,
        width=net,
        layer_names=tuple(layer.name for layer in structure.layers),
        masses=structure.masses,
        restraints=restraints(structure),
        wide_strip=structure.wide_strip,
        temperature_c=temperature_c,
        phase=_phase(bounds, thickness, eb, rb),
    )


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
