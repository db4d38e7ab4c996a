"""Sections told along the part once for every way its packages lie over each other.

What such a section is depends on where it lies and on what is bonded over it, not on where a package begins. Of every
set of sheets over each other the sections are worked out at a few points of every element of the bare structure's mesh,
where they are smooth, and kept as Legendre polynomials; a layout's elements lie inside those and read them off. Where the
structure or the packages differ from layout to layout every section is worked out by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.beam.across import FurtherSection
from core.beam.functions import Function, Odd
from core.beam.gauss import legendre, rule
from core.beam.mesh import Mesh, at_points, width_crossings
from core.beam.section import Covered, Section, base_section, covered_at, section
from core.beam.section_further import everywhere
from core.beam.spec import BeamSpec
from core.piezo.per_volt import Volts, volts_of
from core.piezo.sheets import BondedStrips

Array = NDArray[np.float64]

POINTS = 10
"""In every element of the bare structure's mesh: its linear dimensions change by less than a factor of 1.7 there, so that
what is left out is 1e-9."""
PLAIN = 5
"""Arrays of a section free across (`Section.values`)."""
NOTHING = 1e-10
"""Polynomials of which no section has more than this share are left out."""


@dataclass(frozen=True)
class _Told:
    """Legendre coefficients (e, v, points): `own` of a section, array by array (from, to, shape) of its further functions and
    last what it is without them; then those of the volts of some ceramic sheets, what `pairs` of them share last."""

    coefficients: Array
    section: FurtherSection | None
    own: int
    arrays: dict[str, tuple[int, int, tuple[int, ...]]]
    sheets: list[int]
    pairs: list[tuple[int, int]]

    def volts(self, index: tuple[NDArray[np.intp], ...], found: Array) -> Volts:
        """Of elements `index`, from the numbers found (n, v, q) beyond `own`."""
        k, (n, _, q) = len(self.sheets), found.shape
        strains, start = None, found.shape[1] - len(self.pairs)
        if self.section is not None:
            strains = found[:, k:start].reshape(n, k, -1, q)
        return Volts(index, self.sheets, found[:, :k], strains, {pair: found[:, start + i] for i, pair in enumerate(self.pairs)})


@dataclass(frozen=True, eq=False)
class _Table:
    """By which sheets lie over an element, as bytes."""

    told: dict[bytes, _Told] = field(default_factory=dict)


@lru_cache(maxsize=24)
def _table(spec: BeamSpec, base: Mesh, key: tuple[Any, ...]) -> _Table:
    """Filled by those who ask; all it depends on is in the key."""
    return _Table()


def is_one(spec: BeamSpec, functions: tuple[Function, ...], bonded: BondedStrips | None) -> bool:
    """Whether structure, functions and packages are the same in every layout, and lie straight along the centreline, and
    sections are smooth along the part: where it comes to be as narrow as a ceramic, what lies beside it goes to nothing, and
    a function of it with it."""
    sides = [getattr(f, "side_m", 0.0) for f in functions]
    if spec.stacked or any(np.ndim(side) for side in sides):
        return False
    if width_crossings(spec, tuple(2.0 * float(side) for side in sides if side)).size:
        return False
    if bonded is not None and bonded.strips.askew is not None:
        return False
    return bonded is None or not any(v.ndim > own for v, own in _of_sheets(bonded))


def _twist(functions: tuple[Function, ...]) -> bool:
    """Whether the functions are those of torsion alone, which ceramics on the centreline do not drive."""
    return any(isinstance(f, Odd) for f in functions[:1])


def _of_sheets(bonded: BondedStrips) -> list[tuple[Array, int]]:
    """What sections take from sheets, and the axes of one layout."""
    s = bonded.strips
    which = (s.on_top.astype(float), bonded.is_ceramic.astype(float))
    flat = (*which, s.offset_m, s.thickness_m, s.inner_m, s.outer_m, s.mass_width)
    return [*((v, 1) for v in flat), (s.stiffness_pa, 2), (s.electrode, 2)]


def _key(functions: tuple[Function, ...], bonded: BondedStrips | None) -> tuple[Any, ...]:
    shapes = tuple(
        (type(f), *(float(getattr(f, n)) for n in ("power", "side_m", "half_m") if hasattr(f, n))) for f in functions
    )
    return shapes if bonded is None else (*shapes, *(v.tobytes() for v, _ in _of_sheets(bonded)))


def told(
    spec: BeamSpec, mesh: Mesh, base: Mesh, functions: tuple[Function, ...], bonded: BondedStrips | None,
    active: NDArray[np.bool_] | None,
) -> tuple[Section, list[Volts]]:
    """`section_on` of a mesh, or `core.beam.section_further.with_functions` of it, and volts at the elements covered (none that
    twist the part), of layouts that are `is_one`."""
    table = _table(spec, base, _key(functions, bonded))
    shape, bare = mesh.middle_m.shape, base_section(spec, base)
    on = np.zeros((*shape, 0), dtype=bool) if active is None else np.swapaxes(active, -1, -2)
    # Without functions an element that no package changes is the bare structure's.
    read = np.nonzero(np.ones(shape, dtype=bool) if functions else (mesh.of_base < 0) | on.any(axis=-1))
    x = mesh.x_m[read]
    element, q = np.searchsorted(base.bounds_m[1:-1], mesh.middle_m[read]), 1 if spec.is_even else x.shape[-1]
    steps = None
    if not spec.is_even:
        steps = np.ascontiguousarray(np.swapaxes(legendre(base.parameters(x, element), POINTS), -1, -2))
    groups = [(rows, _told_of(table, spec, base, functions, bonded, row)) for row, rows in _patterns(on[read])]
    whole, volts = np.empty((len(x), groups[0][1].own if groups else PLAIN, q)), []
    for rows, own in groups:
        found = own.coefficients[element[rows]]
        if steps is not None:
            found = found @ steps[rows][:, : found.shape[-1]]
        whole[rows] = found[:, : own.own]
        if own.sheets:
            volts.append(own.volts(tuple(i[rows] for i in read), found[:, own.own :]))

    def cover() -> Covered | None:
        return covered_at(spec, mesh.x_m, mesh.segment, None if bonded is None else bonded.strips, active)

    values = [v[mesh.of_base] for v in bare.values]
    for i, value in enumerate(values):
        value[read] = whole[:, whole.shape[1] - PLAIN + i]
    section = replace(bare.with_values(values), cover=cover)
    if functions:
        first = groups[0][1]
        assert first.section is not None
        arrays = {n: whole[:, a:b].reshape(*shape, *each, q) for n, (a, b, each) in first.arrays.items()}
        section = replace(section, further=replace(first.section, functions=functions, covered=None, **arrays))
    return section, volts


def _told_of(
    table: _Table, spec: BeamSpec, base: Mesh, functions: tuple[Function, ...], bonded: BondedStrips | None, row: NDArray[np.bool_]
) -> _Told:
    key = row.tobytes()
    if key not in table.told:
        table.told[key] = _tell(spec, base, functions, bonded, row)
    return table.told[key]


def _patterns(rows: NDArray[np.bool_]) -> list[tuple[NDArray[np.bool_], NDArray[np.intp]]]:
    """Every distinct row of (n, k), and which are so."""
    if not len(rows):
        return []
    code = np.zeros(len(rows), dtype=np.intp)
    for byte in np.packbits(rows, axis=-1).T:
        code = code * 256 + byte
        if rows.shape[-1] > 8:
            ordered = np.sort(code)
            code = np.searchsorted(ordered[np.concatenate([[True], ordered[1:] != ordered[:-1]])], code)
    order = np.argsort(code, kind="stable")
    rising = code[order]
    ends = [0, *(np.flatnonzero(rising[1:] != rising[:-1]) + 1).tolist(), len(order)]
    return [(rows[order[a]], order[a:b]) for a, b in pairwise(ends)]


def _tell(
    spec: BeamSpec, base: Mesh, functions: tuple[Function, ...], bonded: BondedStrips | None, row: NDArray[np.bool_]
) -> _Told:
    """Sections of the whole part with the sheets of a row over it everywhere."""
    r = rule(1 if spec.is_even else POINTS)
    mesh = at_points(base, r)
    active = np.broadcast_to(row[:, None], (len(row), len(mesh.segment)))
    strips = None if bonded is None or not row.any() else bonded.strips
    plain = section(spec, mesh.x_m, mesh.segment, strips, None if strips is None else active)
    found, arrays, start = None, {}, 0
    values = [np.stack(plain.values, axis=-2)]
    if functions:
        found = everywhere(spec, mesh, plain, functions, strips)
        values = [*found.arrays().values(), *values]
        for name, v in found.arrays().items():
            size = int(np.prod(v.shape[1:-1]))
            arrays[name] = (start, start + size, v.shape[1:-1])
            start += size
    sheets: list[int] = []
    pairs: list[tuple[int, int]] = []
    if bonded is not None and plain.covered is not None and not _twist(functions):
        sheets = np.flatnonzero(bonded.is_ceramic & row).tolist()
        volts = volts_of(replace(plain, further=found), bonded, sheets)
        pairs = list(volts.shared)
        values += [volts.moment, *([] if volts.strains is None else [volts.strains]), *(v[:, None] for v in volts.shared.values())]
    flat = [v.reshape(len(v), int(np.prod(v.shape[1:-1])), v.shape[-1]) for v in values]
    every = np.concatenate([np.broadcast_to(v, (*v.shape[:-1], len(r.s))) for v in flat], axis=1)
    return _Told(_told_by(every @ r.to_legendre), found, start + PLAIN, arrays, sheets, pairs)


def _told_by(coefficients: Array) -> Array:
    """The polynomials that tell something."""
    most = np.abs(coefficients).max(axis=(0, 2), keepdims=True)
    share = (np.abs(coefficients) / np.where(most > 0.0, most, 1.0)).max(axis=(0, 1))
    return np.ascontiguousarray(coefficients[..., : int(np.flatnonzero(share > NOTHING)[-1]) + 1])

