"""The sheets a package is glued on as: bond, skins and ceramic of every plate, as strips of the section.

`core.piezo.package` says which plates there are and places their sheets along the part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from core.beam.askew import Askew
from core.beam.free_strip import MODULI
from core.beam.functions import Aslant, Function
from core.beam.section import Strips
from core.beam.varied import Number
from core.piezo.ceramic import Coefficients

Array = NDArray[np.float64]

CERAMIC = 2
"""The ceramic's place among the kinds of strips in a package."""


class Stock(NamedTuple):
    """A sheet of material in a package; numbers or arrays (..., J) of them."""

    thickness_m: Number
    q_x_pa: Number
    q_xy_pa: Number
    q_y_pa: Number
    shear_pa: Number
    shear_through_pa: Number
    density_kg_m3: Number
    loss_factor: Number


@dataclass(frozen=True)
class BondedStrips:
    """All strips of a layout, or of many, with what each belongs to."""

    strips: Strips
    plate: NDArray[np.intp]
    """(k,) index of the ceramic plate each strip belongs to."""
    is_ceramic: NDArray[np.bool_]
    loss_factor: Array


def sheets_of(
    on_top: NDArray[np.bool_],
    width: Array,
    thickness: Array,
    side_margin: Array,
    c: Coefficients[Array],
    bond: Stock,
    lower: Stock,
    upper: Stock,
) -> BondedStrips:
    """Every sheet of every plate, kind by kind as `bonded_strips` places them.

    on_top : (J,) which face; width, thickness, side_margin : (..., J) of the ceramics, m; c : their constants;
    bond, lower, upper : the sheets below and above, with thickness and moduli.
    """
    half = 0.5 * width
    full = half + side_margin
    over, none, count = bond.thickness_m + lower.thickness_m, np.zeros(len(on_top)), len(on_top)

    def plies(s: Stock, offset: Number, electrode: tuple[Number, ...] = (0.0, 0.0, 0.0)) -> tuple[Number, ...]:
        return offset, s.thickness_m, s.loss_factor, *_moduli(s), *electrode

    def sides(s: Stock, inner: Array, outer: Array) -> tuple[Number, ...]:
        return inner, outer, s.density_kg_m3 * 2.0 * (outer - inner)

    ceramic = Stock(thickness, c.q_x_pa, c.q_xy_pa, c.q_y_pa, c.shear_pa, c.shear_pa, c.density_kg_m3, c.loss_factor)
    electrode = (c.e_x_c_m2, c.e_y_c_m2, c.permittivity_blocked)
    # What works of the ceramic has stiffness and no mass; the whole of it has its mass.
    rows: tuple[tuple[tuple[Number, ...], tuple[Number, ...]], ...] = (
        (plies(bond, 0.0), sides(bond, none, full)),
        (plies(lower, bond.thickness_m), sides(lower, none, full)),
        (plies(ceramic, over, electrode), (none, half, 0.0)),
        ((over, thickness, *(0.0,) * (MODULI + 4)), sides(ceramic, none, half)),
        (plies(upper, over + thickness), sides(upper, none, half)),
        (plies(upper, over), sides(upper, half, full)),
        (plies(upper, over), sides(upper, none, full)),
        (plies(upper, over), sides(upper, none, full)),
    )
    ply, side = (_tabled([row[i] for row in rows], count) for i in range(2))
    nowhere = np.zeros(count * len(rows))
    strips = Strips(
        on_top=np.tile(on_top, len(rows)),
        offset_m=ply[..., 0],
        thickness_m=ply[..., 1],
        inner_m=side[..., 0],
        outer_m=side[..., 1],
        stiffness_pa=ply[..., 3 : 3 + MODULI],
        electrode=ply[..., 3 + MODULI :],
        mass_width=side[..., 2],
        x0_m=nowhere,
        x1_m=nowhere,
    )
    index = np.tile(np.arange(count), len(rows))
    return BondedStrips(strips, index, np.repeat(np.arange(len(rows)) == CERAMIC, count), ply[..., 2])


def _moduli(s: Stock) -> tuple[Number, ...]:
    return s.q_x_pa, s.q_xy_pa, s.q_y_pa, s.shear_pa, s.shear_through_pa


def _tabled(rows: list[tuple[Number, ...]], plates: int) -> Array:
    """(..., kinds * J, columns) of rows of numbers (..., J), with the axis of layouts only where one has it."""
    shapes = {np.shape(v) for row in rows for v in row}
    out = np.empty((*np.broadcast_shapes((plates,), *shapes)[:-1], len(rows), plates, len(rows[0])))
    for kind, row in enumerate(rows):
        for column, value in enumerate(row):
            out[..., kind, :, column] = value
    return out.reshape(*out.shape[:-3], len(rows) * plates, len(rows[0]))


FAR = 4.0
"""Of the reach of a function: how far the lines along which it jumps are drawn."""


def marked(bonded: BondedStrips, functions: tuple[Function, ...]) -> BondedStrips:
    """With sheets of no thickness between the lines along which functions jump, so that strips end there."""
    lines = [f for f in functions if isinstance(f, Aslant)]
    if not lines or bonded.strips.askew is None:
        return bonded

    def stacked(values: Sequence[Array]) -> Array:
        return np.stack(np.broadcast_arrays(*values), axis=-1)

    strips, own, count = bonded.strips, bonded.strips.askew, len(lines)
    ends = [stacked([f.reach_m[i][..., 0] for f in lines]) for i in range(2)]
    far, side = FAR * (ends[1] - ends[0]), stacked([np.zeros(()) if f.side_m is None else f.side_m for f in lines])
    x, y, c, s = (stacked([getattr(f, name) for f in lines]) for name in ("x_m", "y_m", "cosine", "sine"))
    bands = Askew(x, y, c, s, -far, far, -side, side)
    askew = Askew(*(_besides(a, b) for a, b in zip(own.arrays(), bands.arrays(), strict=True)))
    none = np.zeros_like(side)
    added = (none, none, none, side, none, *ends)
    names = ("offset_m", "thickness_m", "inner_m", "outer_m", "mass_width", "x0_m", "x1_m")
    flat = {name: _besides(getattr(strips, name), value) for name, value in zip(names, added, strict=True)}
    tall = (
        np.concatenate([v, np.zeros((*v.shape[:-2], count, v.shape[-1]))], axis=-2)
        for v in (strips.stiffness_pa, strips.electrode)
    )
    stiffness, electrode = tall
    on_top = np.concatenate([strips.on_top, np.ones(count, dtype=bool)])
    skew = None if strips.skew is None else np.concatenate([strips.skew, np.zeros((*strips.skew.shape[:-2], count, 3))], axis=-2)
    made = Strips(on_top=on_top, stiffness_pa=stiffness, electrode=electrode, askew=askew, skew=skew, **flat)
    plate = np.concatenate([bonded.plate, np.full(count, -1, dtype=np.intp)])
    ceramic = np.concatenate([bonded.is_ceramic, np.zeros(count, dtype=bool)])
    return BondedStrips(made, plate, ceramic, _besides(bonded.loss_factor, none))


def _besides(one: Array, other: Array) -> Array:
    lead = np.broadcast_shapes(one.shape[:-1], other.shape[:-1])
    return np.concatenate([np.broadcast_to(v, (*lead, v.shape[-1])) for v in (one, other)], axis=-1)
