"""The bent beam as an operator: unknowns to deflections, and transposed, loads to unknowns.

The unknowns are the curvatures at the Gauss points times sqrt(weight EI), and the deflections of elastic
primary restraints times sqrt(k). In them the strain energy is half the squared length, so

* an element of a micrometre is as harmless as one of a metre,
* the eigenproblem is `S u = mu u` with mu = 1/omega^2 (largest first, which keeps the low modes
  accurate to rounding), S the flexibility under the inertia of the motion,
* a functional of the deflection is a row, and the static compliance between two of them a dot product.

Deflection is the curvature integrated twice plus the straight line a + b x that the primary restraints
leave; further springs, and the inner nodes of series groups, are rank-one updates that are exact for any
stiffness up to infinity; rigid-body motion that nothing holds is taken out mass-orthogonally.

Every array may have leading axes: layouts that differ in sections, boundaries and stiffnesses, with one
set of supports. Vectors are (..., k, n).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.axes import each_ahead, last_ahead
from core.beam.functions import Odd
from core.beam.further import Further
from core.beam.gauss import flattened, integrate, integrate_transposed
from core.beam.mesh import Mesh
from core.beam.motion import Loads, Motion, boundary_of, combined, joined, less, less_window, summed, work_of
from core.beam.narrowed import Narrowed
from core.beam.point_roll import point_inertia
from core.beam.restraint import Primary, Restraint
from core.beam.section import Section
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Bending:
    """One structure, or many (leading axes), ready to bend. Made by `bending_of`."""

    spec: BeamSpec
    mesh: Mesh
    section: Section
    primary: Primary
    supports: tuple[Restraint, ...]
    spring_root: Array
    """(..., s) sqrt(k) of the elastic primary restraints, the first s unknowns."""
    mass_boundary: Array
    """(..., K, e + 1) one at the boundary where each point mass sits."""
    further: Further | Narrowed | None = None
    updates: tuple[tuple[Array, Array], ...] = field(default=())
    """(unit vector (..., n), gamma (...)): vectors become u - gamma (u . v) v."""

    @property
    def n_springs(self) -> int:
        return len(self.primary.elastic)

    def parts(self, vectors: Array) -> tuple[Array, Array, Array]:
        """Of vectors as they are before the updates: springs (..., k, s), points (..., k, e, q), further
        functions (..., k, n)."""
        s, shape = self.n_springs, self.mesh.x_m.shape[-2:]
        end = s + shape[0] * shape[1]
        points = vectors[..., s:end].reshape(*vectors.shape[:-1], *shape)
        return vectors[..., :s], points, vectors[..., end:]

    @property
    def n_rigid(self) -> int:
        return self.primary.free.shape[1]

    @cached_property
    def root(self) -> Array:
        """(..., e, q) sqrt(weight EI): unknowns over curvature."""
        return np.sqrt(self.mesh.weight_m * self.section.centreline_bending)

    @cached_property
    def per_moment(self) -> Array:
        """(..., e, q) unknowns per bending moment, sqrt(weight/EI)."""
        return np.sqrt(self.mesh.weight_m / self.section.centreline_bending)

    @cached_property
    def _per_unknown(self) -> Array:
        """(..., 1, e, q) curvature times dx/ds per unknown."""
        value = np.sqrt(self.mesh.jacobian_m / (self.mesh.rule.weight * self.section.centreline_bending))
        return value[..., None, :, :]

    @cached_property
    def point_mass_kg(self) -> Array:
        """(..., e, q) mass of the span at each point."""
        return self.section.mass * self.mesh.weight_m

    @cached_property
    def _rotary(self) -> Array | None:
        """(..., e, q) inertia of the slope at the points."""
        own = self.section.further
        return None if own is None or own.rotary is None else own.rotary * self.mesh.weight_m

    @cached_property
    def _lines(self) -> tuple[Array, Array]:
        """(2, ...) of the straight lines 1 and x at the points and at the boundaries."""
        x, at = self.mesh.x_m, self.mesh.bounds_m
        return np.stack([np.ones_like(x), x], axis=-3), np.stack([np.ones_like(at), at], axis=-2)

    @cached_property
    def rigid(self) -> Array:
        """(..., 2, n_rigid) coefficients (a, b) of the mass-normalised rigid-body modes."""
        free = self.primary.free
        if free.shape[1] == 0:
            return free
        inside, at = self._lines
        slope = np.zeros_like(inside)
        slope[..., 1, :, :] = 1.0
        slope_at = np.zeros_like(at)
        slope_at[..., 1, :] = 1.0
        lines = Motion(inside, slope, at, slope_at)
        mass = work_of(lines, self._inertia(lines))
        lower = np.linalg.cholesky(free.T @ mass @ free)
        return free @ np.swapaxes(np.linalg.inv(lower), -1, -2)

    @cached_property
    def _rigid_motion(self) -> Motion:
        return self._straight(np.swapaxes(self.rigid, -1, -2))

    def _straight(self, ab: Array) -> Motion:
        """Motion along straight lines (..., k, 2)."""
        a, b = ab[..., 0], ab[..., 1]
        x = self.mesh.x_m[..., None, :, :]
        deflection = a[..., None, None] + b[..., None, None] * x
        slope = np.broadcast_to(b[..., None, None], deflection.shape)
        deflection_at = a[..., None] + b[..., None] * self.mesh.bounds_m[..., None, :]
        return Motion(deflection, slope, deflection_at, np.broadcast_to(b[..., None], deflection_at.shape))

    def _at_restraint(self, r: Restraint, values_at: Array) -> Array:
        """Values at the boundaries (..., k, e + 1) read where a restraint acts: (..., k)."""
        if r.x_m == self.spec.span_m:
            return values_at[..., -1]
        return (values_at * boundary_of(self.mesh, r.x_m)[..., None, :]).sum(axis=-1)

    def updated(self, vectors: Array) -> Array:
        """Vectors (..., k, n) after the rank-one updates by springs and inner nodes."""
        for v, gamma in self.updates:
            along = (vectors * v[..., None, :]).sum(axis=-1, keepdims=True)
            vectors = vectors - gamma[..., None, None] * along * v[..., None, :]
        return vectors

    def before_updates(self, vectors: Array) -> Array:
        """Vectors (..., k, n) as they are before the rank-one updates."""
        for v, gamma in reversed(self.updates):
            along = (vectors * v[..., None, :]).sum(axis=-1, keepdims=True)
            vectors = vectors - gamma[..., None, None] * along * v[..., None, :]
        return vectors

    def curvature(self, vectors: Array) -> Array:
        """(..., k, e, q) curvature at the points of displacement vectors (..., k, n)."""
        _, points, z = self.parts(self.before_updates(vectors))
        root = self.root[..., None, :, :]
        found = points / np.where(root > 0.0, root, np.inf)
        return found if self.further is None else found + self.further.curvature(self.further.window(z))

    def moment(self, vectors: Array) -> Array:
        """(..., k, e, q) bending moment at the points, the centreline's share of further functions included: smooth
        where the section jumps."""
        _, points, _ = self.parts(self.before_updates(vectors))
        safe = np.where(self.per_moment > 0.0, self.per_moment, np.inf)
        return points / safe[..., None, :, :]

    def bent(self, vectors: Array) -> Array:
        """(..., k, e, q) bending moment over EI of the section free across: its curvature where nothing holds it."""
        safe = np.where(self.section.bending > 0.0, self.section.bending, np.inf)
        return self.moment(vectors) / safe[..., None, :, :]

    def bent_rows(self, density: Array) -> Array:
        """(..., k, n) rows that read sum(density bent) of densities (..., k, e, q)."""
        size = self.per_moment * self.section.bending
        flat = flattened(density / np.where(size > 0.0, size, np.inf)[..., None, :, :])
        rest = 0 if self.further is None else self.further.size
        ends = [np.zeros((*flat.shape[:-1], n)) for n in (self.n_springs, rest)]
        return self.updated(joined([ends[0], flat, ends[1]]))

    def strains(self, vectors: Array, s: Array | None = None) -> Array:
        """(..., k, e, R, q) strains of further functions at the points, or at parameters s of every element."""
        assert self.further is not None
        return self.further.strains(self.parts(self.before_updates(vectors))[2], s)

    def move(self, vectors: Array) -> Motion:
        """Motion of displacement vectors (..., k, n), free rigid-body motion taken out."""
        springs, points, z = self.parts(self.before_updates(vectors))
        jacobian, window = self.mesh.jacobian_m[..., None, :, :], None
        bent = points * self._per_unknown
        if self.further is not None:
            window = self.further.window(z)
            bent += self.further.curvature(window) * jacobian
        return self._integrated(springs, bent, window)

    def _integrated(self, springs: Array, bent: Array, window: Array | None) -> Motion:
        """Motion of curvature times dx/ds (..., k, e, q) and springs' unknowns (..., k, s), free rigid-body motion taken out."""
        r, jacobian = self.mesh.rule, self.mesh.jacobian_m[..., None, :, :]
        slope, slope_at = integrate(r, bent)
        deflection, deflection_at = integrate(r, slope * jacobian)
        raw = Motion(deflection, slope, deflection_at, slope_at, window)
        ab = self._held_line(springs, raw)
        if ab is not None:
            raw = summed(raw, self._straight(ab))
        if self.n_rigid:
            share = work_of(raw, self._inertia(self._rigid_motion))
            raw = summed(raw, self._straight(-share @ np.swapaxes(self.rigid, -1, -2)))
        return raw

    def _held_line(self, springs: Array, raw: Motion) -> Array | None:
        """(..., k, 2) straight line that the primary restraints leave; None where there is none."""
        solve, out = self.primary.solve_rigid, None
        for j, i in enumerate(self.primary.chosen):
            r = self.supports[i]
            if r.x_m > 0.0:
                value = self._at_restraint(r, raw.deflection_at if r.order == 0 else raw.slope_at)
                out = (0.0 if out is None else out) - value[..., None] * solve[:, j]
        for k, j in enumerate(self.primary.elastic):
            value = springs[..., k] / self.spring_root[..., None, k]
            out = (0.0 if out is None else out) + value[..., None] * solve[:, j]
        return out

    def rows(self, loads: Loads) -> Array:
        """(..., k, n) what each unknown moves k loads by: their work per unknown."""
        if self.n_rigid:
            share = np.swapaxes(work_of(self._rigid_motion, loads), -1, -2)
            inertia = self._inertia(self._rigid_motion)
            loads = Loads(
                loads.inside - combined(share, inertia.inside, 2),
                loads.force_at - combined(share, inertia.force_at, 1),
                loads.moment_at - combined(share, inertia.moment_at, 1),
                less(loads.moment, share, inertia.moment),
                loads.bend,
                less_window(loads.window, share, inertia.window),
            )
        return self.updated(self._rows(loads))

    def _rows(self, loads: Loads) -> Array:
        r, jacobian = self.mesh.rule, self.mesh.jacobian_m[..., None, :, :]
        force_at, moment_at, springs = self._with_reactions(loads)
        slope = jacobian * integrate_transposed(r, loads.inside, force_at)
        if loads.moment is not None:
            slope = slope + loads.moment
        points = integrate_transposed(r, slope, moment_at)
        if loads.bend is not None:
            points = points + loads.bend
        parts = [springs, flattened(self._per_unknown * points)]
        if self.further is not None:
            parts.append(self.further.rows(points * jacobian, loads.window))
        return joined(parts)

    def _with_reactions(self, loads: Loads) -> tuple[Array, Array, Array]:
        """Forces and moments at the boundaries, reactions of the primary restraints included, and the
        elastic ones' own unknowns (..., k, s)."""
        chosen = [(j, self.supports[i]) for j, i in enumerate(self.primary.chosen)]
        far = [(j, r) for j, r in chosen if r.x_m > 0.0]
        force_at, moment_at = loads.force_at, loads.moment_at
        springs = np.zeros((*force_at.shape[:-1], self.n_springs))
        if not far and not self.n_springs:
            return force_at, moment_at, springs
        total = loads.inside.sum(axis=(-1, -2)) + force_at.sum(axis=-1)
        turn = (loads.inside * self.mesh.x_m[..., None, :, :]).sum(axis=(-1, -2)) + moment_at.sum(axis=-1)
        turn = turn + (force_at * self.mesh.bounds_m[..., None, :]).sum(axis=-1)
        if loads.moment is not None:
            turn = turn + loads.moment.sum(axis=(-1, -2))
        reaction = np.stack([total, turn], axis=-1) @ self.primary.solve_rigid
        for k, j in enumerate(self.primary.elastic):
            springs[..., k] = reaction[..., j] / self.spring_root[..., None, k]
        for j, r in far:
            push = reaction[..., j, None] * boundary_of(self.mesh, r.x_m)[..., None, :]
            if r.order == 0:
                force_at = force_at - push
            else:
                moment_at = moment_at - push
        return force_at, moment_at, springs

    def _inertia(self, motion: Motion, besides: Array | None = None) -> Loads:
        """Mass times motion: the loads of a unit acceleration along it, and of forces on the values of further functions
        (..., k, e, F, q) besides."""
        inside = motion.deflection * self.point_mass_kg[..., None, :, :]
        turning = window = None
        if self._rotary is not None:
            turning = motion.slope * self._rotary[..., None, :, :]
        if self.further is not None:
            pushed, turned, window = self.further.inertia(motion.deflection, motion.slope, motion.window, besides)
            if motion.window is not None:
                inside += pushed
            turning = turning if turned is None or turning is None else turning + turned
        if not len(self.spec.mass_x_m):
            none = np.zeros((*inside.shape[:-2], inside.shape[-2] + 1))
            return Loads(inside, none, none, turning, None, window)
        at, spec = self.mass_boundary, self.spec
        back = np.swapaxes(at, -1, -2)
        turn = motion.slope_at @ back
        deflection = motion.deflection_at @ back + spec.ahead_m * turn
        push = deflection * spec.mass_kg[..., None, :]
        if window is not None and self.rolls is not None:
            push = push + self._pushed_by_masses(motion.window, deflection, window)
        moment = turn * spec.rotary_kg_m2[..., None, :] + spec.ahead_m * push
        return Loads(inside, push @ at, moment @ at, turning, None, window)

    @cached_property
    def rolls(self) -> tuple[Array, Array | None] | None:
        """Inertia of point masses with the functions' values (`point_inertia`); None where none of these twists."""
        own = self.section.further
        if own is None or not len(self.spec.mass_x_m) or not any(isinstance(f, Odd) for f in own.functions):
            return None
        return point_inertia(self.spec, own.functions)

    @cached_property
    def _ends(self) -> tuple[tuple[NDArray[np.intp], Array], ...]:
        """Places in a window of the functions' values at its element's beginning, and at its end, each with (..., K, e) one
        where a point mass sits there."""
        assert isinstance(self.further, Further)
        table, at = self.further.table, self.mass_boundary
        begin = np.array([own[0] for own in table.own])
        end = np.array([own[order] for own, order in zip(table.own, table.slots.orders, strict=True)])
        last = np.arange(at.shape[-1] - 1) == at.shape[-1] - 2
        return (begin, at[..., :-1]), (end, np.where(last, at[..., 1:], 0.0))

    def at_masses(self, window: Array) -> Array:
        """(..., K, k, F) values of the functions at point masses, of windows (..., e, k, m)."""
        return np.asarray(sum(np.einsum("...Ke,...ekf->...Kkf", here, window[..., places]) for places, here in self._ends))

    def _pushed_by_masses(self, moved: Array | None, deflection: Array, loads: Array) -> Array:
        """Of point masses where the centreline has a deflection (..., k, K) and the functions' windows are `moved` (None:
        still): add to the loads on windows; and (..., k, K) forces on the deflection."""
        assert self.rolls is not None
        if isinstance(self.further, Narrowed):
            lever = self.further.lever
            if lever is None:
                return np.zeros(())
            loads += (deflection @ lever)[..., None, :, :]
            return np.zeros(()) if moved is None else moved[..., 0, :, :] @ np.swapaxes(lever, -1, -2)
        beside = self.rolls[1]
        if moved is not None:
            return self._add_rolls(self.at_masses(moved), deflection, loads)
        if beside is not None:
            self._onto_windows(np.swapaxes(deflection, -1, -2)[..., None] * beside[..., None, :], loads)
        return np.zeros(())

    def _add_rolls(self, values: Array, deflection: Array | None, loads: Array) -> Array:
        """The same where the first functions have values (..., K, k, F); a deflection of None is one that counts already."""
        assert self.rolls is not None
        (own, beside), count = self.rolls, values.shape[-1]
        push = values @ own[..., :count, :]
        if beside is not None and deflection is not None:
            push += np.swapaxes(deflection, -1, -2)[..., None] * beside[..., None, :]
        self._onto_windows(push, loads)
        if beside is None:
            return np.zeros(())
        return np.swapaxes((values @ beside[..., :count, None])[..., 0], -1, -2)

    def _onto_windows(self, push: Array, loads: Array) -> None:
        """Add forces (..., K, k, F) on the functions' values at point masses to loads on windows (..., e, k, m)."""
        for places, here in self._ends:
            loads[..., places] += np.einsum("...Ke,...Kkf->...ekf", here, push)

    def mass(self, motion: Motion) -> Array:
        """(..., k, k) kinetic energy matrix of motions."""
        return work_of(motion, self._inertia(motion))

    def flexed(self, motion: Motion) -> Array:
        """(..., k, n) static answer to the inertia of motions: S applied."""
        return self.updated(self._rows(self._inertia(motion)))

    def flexed_so(self, springs: Array, moment: Array, strains: Array) -> Array:
        """(..., k, n) static answer to the inertia of motions told by the forces of springs (..., k, s) as unknowns, bending
        moments (..., e, q, k) and strains (..., e, q, k, R) of the first further functions; the others are still."""
        own, further = self.section.further, self.further
        assert own is not None and isinstance(further, Further)
        # One product: what the strains bend the centreline by, and the forces of the values among them.
        known = strains.shape[-1]
        places = [i for i in own.slots.values if i < known]
        per_value = further.weighed.per_value
        table = np.zeros((*per_value.shape[:-2], known, 1 + per_value.shape[-1]))
        table[..., 0] = np.swapaxes(own.coupling[..., :known, :], -1, -2)
        table[..., places, 1:] = per_value[..., : len(places), :]
        found = np.ascontiguousarray(each_ahead(strains @ table))
        safe = np.where(own.bending > 0.0, own.bending, np.inf)
        bent = (last_ahead(moment) - found[..., 0, :]) * (self.mesh.jacobian_m / safe)[..., None, :, :]
        n = len(own.functions)
        loads = self._inertia(self._integrated(springs, bent, None), found[..., 1 : 1 + n, :])
        turning = loads.moment
        if own.turned is not None:
            turn = found[..., 2 + n, :]
            turning = turn if turning is None else turning + turn
        window = loads.window
        assert window is not None
        if self.rolls is not None:
            ends = np.einsum("...eqkf,qs->...sekf", strains[..., places], self.mesh.rule.to(np.array([0.0, 1.0])))
            at = [np.einsum("...Ke,...ekf->...Kkf", here, ends[..., i, :, :, :]) for i, (_, here) in enumerate(self._ends)]
            loads = self._with_forces_at(loads, self._add_rolls(at[0] + at[1], None, window))
        loads = replace(loads, inside=loads.inside + found[..., 1 + n, :], moment=turning)
        return self.updated(self._rows(loads))

    def _with_forces_at(self, loads: Loads, push: Array) -> Loads:
        """With forces (..., k, K) on the deflection of point masses."""
        if not push.ndim:
            return loads
        at = self.mass_boundary
        moment_at = loads.moment_at + (self.spec.ahead_m * push) @ at
        return replace(loads, force_at=loads.force_at + push @ at, moment_at=moment_at)

    def moment_rows(self, density: Array, strains: Array | None = None, forces: Array | None = None) -> Array:
        """(..., k, n) rows of integral(density w'' dx), densities (..., k, e, q) at the points, of the strains of
        further functions (..., k, e, R, q) and of forces on them (..., k, e, F, q) per length; the same are the
        unknowns of bending moments of that size, and of those forces."""
        flat = flattened(density * self.per_moment[..., None, :, :])
        parts = [np.zeros((*flat.shape[:-1], self.n_springs)), flat]
        if self.further is not None:
            weight = self.mesh.weight_m
            counted, pushed = (
                None if v is None else v * weight[..., None, :, None, :] for v in (strains, forces)
            )
            parts.append(self.further.rows(density * weight[..., None, :, :], values=pushed, strains=counted))
        return joined(parts)

    def base_row(self) -> Array:
        """(..., n) load of unit base acceleration: minus the integral of m w."""
        inside = -self.point_mass_kg[..., None, :, :]
        at = np.zeros((*inside.shape[:-2], inside.shape[-2] + 1))
        turn = np.zeros_like(at)
        if len(self.spec.mass_x_m):
            push = self.spec.mass_kg[..., None, :]
            at, turn = at - push @ self.mass_boundary, turn - (self.spec.ahead_m * push) @ self.mass_boundary
        window = None
        if self.further is not None:
            ones = np.ones_like(inside)
            window = -self.further.inertia(ones, np.zeros_like(ones), None)[2]
            if self.rolls is not None:
                self._pushed_by_masses(None, np.full((*at.shape[:-1], len(self.spec.mass_x_m)), -1.0), window)
        return self.rows(Loads(inside, at, turn, window=window))[..., 0, :]

    def stiffened(self, row: Array, stiffness: Array) -> Bending:
        """With a spring of the stiffness along a row (..., n) before the updates; exact for any, inf
        included: F = 1 - gamma v v^T with F F^T = (1 + k r r^T)^-1."""
        row = self.updated(row[..., None, :])[..., 0, :]
        norm2 = (row**2).sum(axis=-1)
        with np.errstate(divide="ignore", invalid="ignore"):
            gamma = np.where(np.isinf(stiffness), 1.0, 1.0 - 1.0 / np.sqrt(1.0 + stiffness * norm2))
            unit = row / np.sqrt(norm2)[..., None]
        used = (norm2 > 0.0) & (stiffness > 0.0)
        gamma, unit = np.where(used, gamma, 0.0), np.where(used[..., None], unit, 0.0)
        return _replaced(self, (*self.updates, (unit, gamma)))


def _replaced(b: Bending, updates: tuple[tuple[Array, Array], ...]) -> Bending:
    made = Bending(
        b.spec, b.mesh, b.section, b.primary, b.supports, b.spring_root, b.mass_boundary, b.further, updates
    )
    for name in ("_rotary", "root", "per_moment", "_per_unknown", "point_mass_kg", "rolls", "_lines", "rigid", "_rigid_motion"):
        if name in b.__dict__:
            made.__dict__[name] = b.__dict__[name]
    return made
