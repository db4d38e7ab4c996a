"""Maps at the levels 'shear' and 'across': every cell worked with sections free across, and carried over by what the levels differ by.

What they differ by hangs on the place far more gently than what is mapped. So it is found in full at nodes over the starts (or
lengths) and sizes of a map, and read between these by polynomials through the nearest six. Where those through five say something
else (a step of the part, a support, a mode that comes to curve across), cells are worked out in full.

Of every mode: the ratio of frequencies and of inherent damping, and the difference of the roots of K^2, signed as the bare
structure's mode is; of every group the ratio of capacitances; of the patch the ratio of static use.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from core.beam.ritz import SURVEY
from core.piezo.coupled_beam import Carried, CoupledBeam, transposed
from core.piezo.layout import solve
from core.predict.predict import bare
from core.project.candidate import Candidate
from core.project.model import Project
from core.study.carried import STEPS, bending_modes, free_sections, over, ratios, to_all
from core.study.layouts import Layouts, kept_for, layouts

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

NEAREST = 6
ALONG, ALONG_A_MODE = 8, 4
"""Nodes along a map's first axis, and more for every mode."""
BESIDE, BESIDE_A_MODE = 6, 1
"""The same along its second."""
WORTH = 0.3
"""Of the cells: with more nodes than that all are worked out in full."""
AGREE_F, AGREE_ROOT, AGREE_REST = 3e-4, 4e-3, 4e-3
"""How near polynomials through six and five nodes must be: of a frequency, of the largest root of K^2 of a mode, of the rest. A smooth curve
is several times closer to that through six."""
MISSED = 0.25
"""Of these: how near what is found in the middle between nodes must be to what they foretell."""
SETTLED = 2e-6
"""Of roots of K^2 and of capacitances: a thousandth of what is promised of them."""
LEAST_ROOT = 1e-6
"""Of K^2: below it nothing couples."""
FACED = 12
"""Places at which the sign of a mode is told."""
LEAST_USE = 1e-9
CLOSER_AT_ENDS = 0.75
"""Of the way from even steps to those of a cosine: a held end takes hold of a patch that comes near it."""
NEAR_LIMIT = 0.5
"""Of a limit: below it nobody asks how near."""


@dataclass(frozen=True, eq=False)
class Told:
    """What the levels differ by in P layouts, of N modes and G groups: logarithms of ratios (P, N), (P, G) of capacitances (`Carried`), (P, 3) of static
    use, and differences of the roots of K^2 (P, N, G)."""

    frequency: Array
    damping: Array
    capacitance: Array
    lossy: Array
    use: Array
    root: Array

    def at(self, rows: NDArray[np.intp]) -> Told:
        """Of some of the layouts."""
        return Told(*(getattr(self, f.name)[rows] for f in fields(self)))

    def flat(self) -> Array:
        """(P, V)"""
        return np.concatenate([getattr(self, f.name).reshape(len(self.use), -1) for f in fields(self)], axis=-1)


Found = tuple[Told, Array, Array]


@dataclass(frozen=True, eq=False)
class Carrier:
    """What carries the cells of a map over.

    along : (n,) nodes along the first axis; rows : (S, n, V) what is told there of each size of the map; doubtful : (S, n) where
    sizes do not foretell each other; agree : (V,) how near polynomials must be; modes, groups : N and G; lost : (n - 1,) between which
    nodes what is found is not what they foretell.
    """

    along: Array
    rows: Array
    doubtful: Bools
    agree: Array
    modes: int
    groups: int
    lost: Bools

    def read(self, along: Array, size: NDArray[np.intp]) -> tuple[Told, Bools]:
        """What is told of cells at places along the first axis (P,) and sizes (P,), and which can be trusted."""
        start = np.clip(np.searchsorted(self.along, along) - NEAREST // 2, 0, len(self.along) - NEAREST)
        through = start[:, None] + np.arange(NEAREST)
        values = self.rows[size[:, None], through]
        fine, *rough = (
            (lagrange(self.along[through[:, part]], along)[:, None, :] @ values[:, part])[:, 0]
            for part in (slice(None), slice(1, None), slice(-1))
        )
        good = np.all([(np.abs(fine - other) <= self.agree).all(axis=-1) for other in rough], axis=0)
        good &= ~self.doubtful[size[:, None], through].any(axis=-1)
        good &= ~self.lost[np.clip(np.searchsorted(self.along, along) - 1, 0, len(self.lost) - 1)]
        return self._parted(fine), good

    def _parted(self, flat: Array) -> Told:
        n, g = self.modes, self.groups
        *parts, root = np.split(flat, np.cumsum([n, n, g, g, 3]), axis=-1)
        frequency, damping, capacitance, lossy, use = parts
        return Told(frequency, damping, capacitance, lossy, use, root.reshape(-1, n, g))


def lagrange(nodes: Array, at: Array) -> Array:
    """(P, n) weights of the polynomials through nodes (P, n) at places (P,)."""
    own = np.eye(nodes.shape[-1], dtype=bool)
    distance = np.where(own, 1.0, nodes[:, :, None] - nodes[:, None, :])
    return np.asarray(np.where(own, 1.0, (at[:, None] - nodes)[:, None, :] / distance).prod(axis=-1))


@dataclass(frozen=True, eq=False)
class Nodes:
    """Where a map is worked out in full: (n,) along the first axis, (m,) sizes, both in ascending order; between sizes their logarithms
    count."""

    along: Array
    size: Array

    def __len__(self) -> int:
        return len(self.along) * len(self.size)

    @cached_property
    def each(self) -> tuple[Array, Array]:
        """(n m,) both of every node, sizes the faster."""
        return np.repeat(self.along, len(self.size)), np.tile(self.size, len(self.along))


def nodes(along: Array, size: Array, modes: int) -> Nodes | None:
    """For a map of cells that lie at (P,) and (P,); None where all of them cost no more."""
    first = _spaced(along, ALONG + ALONG_A_MODE * modes)
    second = np.exp(_spaced(np.log(size), BESIDE + BESIDE_A_MODE * modes))
    found = Nodes(first, second)
    return found if len(found) <= WORTH * len(along) else None


def _spaced(values: Array, count: int) -> Array:
    """Nodes from the least to the largest, nearer to each other at the ends; the values themselves where they are few."""
    each = np.unique(values)
    if len(each) <= count:
        return each
    t = np.linspace(0.0, 1.0, count)
    s = t + CLOSER_AT_ENDS * (0.5 * (1.0 - np.cos(np.pi * t)) - t)
    return np.asarray(each[0] + (each[-1] - each[0]) * s)


@dataclass(frozen=True, eq=False)
class Gathered:
    """What was found at all nodes of a map, of V columns: flat : (n, m, V); root : (n, m, N, G) in full; use : (n, m, 3) in full."""

    at: Nodes
    flat: Array
    root: Array
    use: Array

    @staticmethod
    def of(at: Nodes, found: Found) -> Gathered:
        said, root, use = found
        lead = len(at.along), len(at.size)
        return Gathered(at, *(v.reshape(*lead, *v.shape[1:]) for v in (said.flat(), root, use)))

    def joined(self, other: Gathered) -> Gathered:
        """With nodes at other places along the first axis."""
        along = np.concatenate([self.at.along, other.at.along])
        order = np.argsort(along)
        arrays = ((self.flat, other.flat), (self.root, other.root), (self.use, other.use))
        return Gathered(Nodes(along[order], self.at.size), *(np.concatenate(pair)[order] for pair in arrays))

    def carrier(self, sizes: Array, modes: int, least_use: float) -> Carrier:
        """For cells of sizes (S,); static use that is nowhere above the least is not looked at."""
        at, (n, groups) = self.at, self.root.shape[2:]
        asked = np.where(np.arange(n) < modes, 1.0, np.inf)  # of those beyond nothing is shown
        use = np.where(np.nanmax(self.use, axis=(0, 1)) > least_use, AGREE_REST, np.inf)
        largest = np.maximum(np.nanmax(np.abs(self.root), axis=(0, 1)), LEAST_ROOT)
        root = AGREE_ROOT * largest * asked[:, None]
        agree = np.concatenate([AGREE_F * asked, AGREE_REST * asked, np.full(2 * groups, AGREE_REST), use, root.ravel()])
        rows = np.moveaxis(self.flat, 0, 1)
        near = min(NEAREST, len(at.size))
        start = np.clip(np.searchsorted(at.size, sizes) - near // 2, 0, len(at.size) - near)
        through, where = start[:, None] + np.arange(near), np.log(sizes)
        fine, *rough = (
            np.einsum("sk,sknv->snv", lagrange(np.log(at.size)[through[:, part]], where), rows[through[:, part]])
            for part in ((slice(None), slice(1, None), slice(-1)) if near > 2 else (slice(None),))
        )
        doubtful = np.zeros(fine.shape[:2], dtype=bool)
        for other in rough:
            doubtful |= ~(np.abs(fine - other) <= agree).all(axis=-1)
        return Carrier(at.along, fine, doubtful, agree, n, groups, np.zeros(len(at.along) - 1, dtype=bool))

    def missed(self, between: NDArray[np.intp], found: Found, modes: int, least_use: float) -> Bools:
        """(k,) of some intervals along the first axis, whether what was found at their `middles` is not what the nodes foretell."""
        along, size = self.middles(between)
        carrier = self.carrier(size, modes, least_use)
        said, _ = carrier.read(along, np.arange(len(size)))
        near = np.abs(said.flat() - found[0].flat()) <= MISSED * carrier.agree
        return np.asarray(~near.all(axis=-1))

    def middles(self, between: NDArray[np.intp]) -> tuple[Array, Array]:
        """(k,) places along the first axis in the middle of intervals, and sizes in the middle of others, one after the other."""
        along, size = self.at.along, self.at.size
        j = between % max(len(size) - 1, 1)
        other = np.minimum(j + 1, len(size) - 1)
        return 0.5 * (along[between] + along[between + 1]), np.sqrt(size[j] * size[other])


def joined(found: Sequence[Found], parts: Sequence[NDArray[np.intp]]) -> Found:
    """Parts of one set of places as a whole."""
    order = np.argsort(np.concatenate(parts))
    said = Told(*(np.concatenate([getattr(said, f.name) for said, _, _ in found])[order] for f in fields(Told)))
    root, use = (np.concatenate([one[k] for one in found])[order] for k in (1, 2))
    return said, root, use


def told(
    project: Project, candidate: Candidate, patches: tuple[str, ...], varied: dict[str, Array], modes: int, kept: int | None = None
) -> Found:
    """What the levels differ by in some layouts, with the roots of K^2 (P, N, G) and the static use of the patches (P, 3) in full; nan
    where a mode among those asked does more than sections free across know. `kept` modes, or as many as such a question carries."""
    rough = free_sections(project)
    kept = kept_for(project, modes) if kept is None else kept
    full = solve(project, candidate, kept, variation=varied, accuracy=SURVEY)
    free = solve(rough, candidate, kept, variation=varied, accuracy=SURVEY)
    bends, known = bending_modes(full, free.n_kept, modes)
    ratio = ratios(full, free, bends)
    n, groups = free.n_kept, len(free.group_ids)
    count = bends.shape[-1]
    wanted = np.take_along_axis(signed(full, facing(full, project)), bends[..., None], axis=-2)
    modal = np.take_along_axis(full.modal_capacitance_f, bends[..., :1, None], axis=-2)[:, 0]
    facing_free = facing(free, rough)
    root = np.zeros((len(known), n, groups))
    for _ in range(STEPS):
        found = free.carried_over(with_added(ratio, free, root, facing_free))
        missing = wanted - signed(found, facing_free)[:, :count]
        root[:, :count] += missing
        # that of the first mode, which what hangs on the leads is tuned to, sooner than that at rest
        off = over(modal, found.modal_capacitance_f[:, 0])
        ratio = replace(ratio, capacitance=ratio.capacitance * off)
        if max(np.abs(missing[known]).max(initial=0.0), np.abs(off[known] - 1.0).max(initial=0.0)) < SETTLED:
            break
    used, rough_use = (Layouts(p, candidate, varied, b).static_use(patches) for p, b in ((project, full), (rough, free)))
    use = np.maximum(used, LEAST_USE) / np.maximum(rough_use, LEAST_USE)
    frequency, damping = np.log(ratio.frequency[:, :n]), np.log(ratio.damping[:, :n])
    out = Told(frequency, damping, np.log(ratio.capacitance), np.log(ratio.lossy), np.log(use), root)
    every = np.concatenate([wanted, np.zeros((len(known), n - count, groups))], axis=1)
    for array in (out.frequency, root):
        array[~known] = np.nan
    return out, every, used


def carried_layouts(
    project: Project, candidate: Candidate, varied: dict[str, Array], modes: int, said: Told, kept: int | None = None
) -> Layouts:
    """Layouts worked with free sections as they are at the level of the project; their static use is still to be taken times that told."""
    kept = kept_for(project, modes) if kept is None else kept
    over = partial(carry, project=project, said=said)
    return layouts(free_sections(project), candidate, varied, modes, kept=kept, carry=over)


def carry(beam: CoupledBeam, project: Project, said: Told) -> CoupledBeam:
    """Layouts worked with free sections, (P,), as they are at the level of the project."""
    frequency, damping = (to_all(np.exp(v), beam) for v in (said.frequency, said.damping))
    plain = Carried(frequency, np.ones_like(frequency), damping, np.exp(said.capacitance), np.exp(said.lossy))
    return beam.carried_over(with_added(plain, beam, said.root, facing(beam, free_sections(project))))


def with_added(ratio: Carried, beam: CoupledBeam, root: Array, sign: Array) -> Carried:
    """With a difference of the signed roots of K^2, (P, N, G), added; `sign` (P, N) of the modes of the beam."""
    own = np.diagonal(beam.group_blocked_f, axis1=-2, axis2=-1) * ratio.capacitance
    added = np.zeros((*ratio.frequency.shape, root.shape[-1]))
    added[..., : root.shape[-2], :] = root * sign[..., None] * np.sqrt(np.maximum(own, 0.0))[..., None, :]
    return replace(ratio, added=added)


def signed(beam: CoupledBeam, sign: Array) -> Array:
    """(P, N, G) root of K^2 of each group, others shorted, with the sign of the charge at a deflection like the bare structure's; `sign`
    (P, N) is that of `facing`."""
    return np.asarray(np.sqrt(beam.group_k2) * np.sign(beam.group_theta) * sign[..., None])


def facing(beam: CoupledBeam, project: Project) -> Array:
    """(P, N) 1 where a mode's deflection is like that of the bare structure's, -1 where it is turned over."""
    places = beam.spec.span_m * (np.arange(FACED) + 0.5) / FACED
    alone = bare(free_sections(project), beam.n_kept)
    reference = alone.units @ transposed(alone.deflection_row(places))
    own = beam.units @ transposed(beam.deflection_row(places))
    n = min(len(reference), own.shape[-2])
    out = np.ones(own.shape[:-1])
    out[..., :n] = np.where((own[..., :n, :] * reference[:n]).sum(axis=-1) < 0.0, -1.0, 1.0)
    return out
