"""Plane elasticity with the electric field: a strip with a ceramic bonded to its top face.

The beam model is held against this one. Nothing of the beam model is assumed here: no plane
sections, no shear-lag length, no linear field. The strip lies in the x-z plane with plane
stress in y: every layer is free across by itself, as at the level 'plain'; the ceramic obeys the full linear law
of IEEE Std 176-1987 in the 1-3 plane (poled along z, strain and field of both directions); the
bond is an elastic layer.
Quadratic quadrilaterals on a grid graded towards the ends of the patch.

Electrodes are equipotential: the lower one is ground, the upper one a single unknown V.
Short circuit holds V = 0; open circuit leaves V free with no charge on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import bmat, csc_matrix
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from skfem import Basis, BilinearForm, ElementQuad2, ElementVector, MeshQuad

EPS0 = 8.8541878128e-12


@dataclass(frozen=True)
class Isotropic:
    """An elastic layer: modulus [Pa], Poisson's ratio, density [kg/m^3]."""

    youngs_modulus_pa: float
    poisson_ratio: float
    density_kg_m3: float


@dataclass(frozen=True)
class PoledCeramic:
    """Constants of a ceramic poled along z. Defaults: typical Type II, from memory, the set of
    Jaffe, Cook & Jaffe 1971 / Berlincourt, Curran & Jaffe 1964."""

    s11: float = 16.4e-12
    s12: float = -5.74e-12
    s13: float = -7.22e-12
    s33: float = 18.8e-12
    s55: float = 47.5e-12
    d31: float = -171e-12
    d33: float = 374e-12
    d15: float = 584e-12
    eps11t: float = 1730 * EPS0
    eps33t: float = 1700 * EPS0
    density_kg_m3: float = 7750.0

    def stiffness_form(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """c (3, 3) at constant field, e (2, 3) and eps (2, 2) at constant strain, for
        T = (T1, T3, T5), S = (S1, S3, S5), E = (E1, E3): T = c S - e^T E, D = e S + eps E,
        with T2 = 0."""
        s = np.array([
            [self.s11, self.s12, self.s13, 0.0], [self.s12, self.s11, self.s13, 0.0],
            [self.s13, self.s13, self.s33, 0.0], [0.0, 0.0, 0.0, self.s55],
        ])  # fmt: skip
        d = np.array([[0.0, 0.0, 0.0, self.d15], [self.d31, self.d31, self.d33, 0.0]])
        kept = [0, 2, 3]
        s, d = s[np.ix_(kept, kept)], d[:, kept]
        c = np.linalg.inv(s)
        e, eps = d @ c, np.diag([self.eps11t, self.eps33t]) - d @ c @ d.T
        return c, e, eps


@dataclass(frozen=True)
class Slab:
    """A rectangle of one material from x0 to x1 and z0 to z1 [m]."""

    material: Isotropic | PoledCeramic
    x0: float
    x1: float
    z0: float
    z1: float
    cells: int
    """Cells through the thickness."""


@dataclass(frozen=True)
class StripResult:
    """Natural frequencies (n,) [Hz] with the electrode shorted and open, K^2 (n,), the static capacitance of the
    clamped-free strip [F], and how far the lower corner of its tip moves up per volt [m/V]."""

    f_short_hz: np.ndarray
    f_open_hz: np.ndarray
    k2: np.ndarray
    free_capacitance_f: float
    tip_m_per_v: float


def graded(points: list[float], finest: float, growth: float, coarsest: float) -> np.ndarray:
    """Grid lines through `points`: `finest` beside each, growing by `growth` up to `coarsest`."""
    lines = [points[0]]
    for left, right in pairwise(points):
        steps, reach, step = [], 0.0, finest
        while reach + step < (right - left) / 2:
            steps.append(step)
            reach += step
            step = min(step * growth, coarsest)
        scale = (right - left) / 2 / (reach + step)
        steps = np.array([*steps, step]) * scale
        lines.extend(left + np.cumsum(np.concatenate([steps, steps[::-1]])))
    return np.array(lines)


def solve_strip(slabs: list[Slab], width_m: float, *, modes: int = 2, finest: float = 2e-5,
                growth: float = 1.5, coarsest: float = 4e-3) -> StripResult:
    """The strip made of `slabs` (one of them ceramic), held at x = 0 over its whole section."""
    mesh, owner = _mesh(slabs, finest, growth, coarsest)
    system = _System(mesh, owner, slabs, width_m)
    lambda_sc, shapes_sc, charge_sc, _ = system.modes(modes, is_open=False)
    lambda_oc, shapes_oc, _, volts_oc = system.modes(modes, is_open=True)
    # From K_oc - K_sc = p p^T / C between a short and an open shape: no difference of eigenvalues.
    overlap = np.einsum("in,in->n", shapes_sc, system.mass @ shapes_oc)
    return StripResult(
        np.sqrt(lambda_sc) / (2 * np.pi), np.sqrt(lambda_oc) / (2 * np.pi),
        charge_sc * volts_oc / overlap / lambda_sc, *system.static())


def _mesh(slabs: list[Slab], finest: float, growth: float, coarsest: float) -> tuple[MeshQuad, np.ndarray]:
    ends = sorted({x for slab in slabs for x in (slab.x0, slab.x1)})
    levels = sorted({z for slab in slabs for z in (slab.z0, slab.z1)})
    z = [levels[0]]
    for low, high in pairwise(levels):
        cells = max(round(s.cells * (high - low) / (s.z1 - s.z0)) or 1
                    for s in slabs if s.z0 <= low and high <= s.z1)
        z.extend(np.linspace(low, high, cells + 1)[1:])
    mesh = MeshQuad.init_tensor(graded(ends, finest, growth, coarsest), np.array(z))
    x_mid, z_mid = mesh.p[:, mesh.t].mean(axis=1)
    owner = np.full(mesh.nelements, -1)
    for i, s in enumerate(slabs):
        owner[(x_mid > s.x0) & (x_mid < s.x1) & (z_mid > s.z0) & (z_mid < s.z1)] = i
    kept = np.flatnonzero(owner >= 0)
    return mesh.restrict(kept), owner[kept]


def _strain(u):
    return u.grad[0, 0], u.grad[1, 1], u.grad[0, 1] + u.grad[1, 0]


@BilinearForm
def _elastic(u, v, w):
    s, t = _strain(u), _strain(v)
    return sum(w.c[i, j] * s[j] * t[i] for i in range(3) for j in range(3) if w.c[i, j])


@BilinearForm
def _inertia(u, v, w):
    return u[0] * v[0] + u[1] * v[1]


@BilinearForm
def _piezo(u, psi, w):
    s = _strain(u)
    return sum(w.e[i, j] * s[j] * psi.grad[i] for i in range(2) for j in range(3) if w.e[i, j])


@BilinearForm
def _dielectric(phi, psi, w):
    return w.eps[0, 0] * phi.grad[0] * psi.grad[0] + w.eps[1, 1] * phi.grad[1] * psi.grad[1]


class _System:
    """The assembled strip: displacements, potentials inside the ceramic, one voltage V (last)."""

    def __init__(self, mesh: MeshQuad, owner: np.ndarray, slabs: list[Slab], width: float) -> None:
        element = ElementQuad2()
        whole = Basis(mesh, ElementVector(element), intorder=4)
        stiffness, mass = 0.0, 0.0
        for i, slab in enumerate(slabs):
            part = np.flatnonzero(owner == i)
            basis = Basis(mesh, ElementVector(element), elements=part, intorder=4)
            if isinstance(slab.material, PoledCeramic):
                c, e, eps = slab.material.stiffness_form()
                field = Basis(mesh, element, elements=part, intorder=4)
                coupling = width * _piezo.assemble(basis, field, e=e)
                capacity = width * _dielectric.assemble(field, eps=eps)
                inside = np.unique(field.element_dofs)
                z = field.doflocs[1]
                top = np.flatnonzero(np.isclose(z, slab.z1, atol=1e-9, rtol=0))
                bottom = np.flatnonzero(np.isclose(z, slab.z0, atol=1e-9, rtol=0))
            else:
                c = _isotropic(slab.material)
            stiffness = stiffness + width * _elastic.assemble(basis, c=c)
            mass = mass + width * slab.material.density_kg_m3 * _inertia.assemble(basis)
        held = whole.get_dofs(lambda x: np.isclose(x[0], slabs[0].x0)).all()
        moving = np.setdiff1d(np.arange(whole.N), held)
        top, bottom = np.intersect1d(top, inside), np.intersect1d(bottom, inside)
        within = np.setdiff1d(inside, np.concatenate([top, bottom]))
        # One column for the interior potentials each, one for the common potential of the top electrode.
        tie = csc_matrix(
            (np.ones(len(within) + len(top)),
             (np.concatenate([within, top]),
              np.concatenate([np.arange(len(within)), np.full(len(top), len(within))]))),
            shape=(capacity.shape[0], len(within) + 1))
        x, z = whole.doflocs
        up = np.setdiff1d(whole.nodal_dofs[1], held)
        corner = up[np.lexsort((z[up], -x[up]))[0]]
        self.tip = int(np.searchsorted(moving, corner))
        self.stiffness = stiffness[moving][:, moving]
        self.mass = mass[moving][:, moving].tocsc()
        self.coupling = (tie.T @ coupling)[:, moving]
        self.capacity = tie.T @ capacity @ tie
        self._factors = {state: self._factor(state) for state in (False, True)}

    def _factor(self, is_open: bool):
        n = self.capacity.shape[0] if is_open else self.capacity.shape[0] - 1
        p, c = self.coupling[:n], self.capacity[:n][:, :n]
        # Potentials in units that bring the blocks to the same size, for the factorisation only.
        scale = np.sqrt(abs(self.stiffness.diagonal()).mean() / abs(c.diagonal()).mean())
        return splu(bmat([[self.stiffness, scale * p.T], [scale * p, -scale**2 * c]], format="csc")), scale

    def _respond(self, force: np.ndarray, charge: np.ndarray, is_open: bool) -> tuple[np.ndarray, np.ndarray]:
        """u and phi with K u + P^T phi = force, P u - C phi = charge."""
        lu, scale = self._factors[is_open]
        x = lu.solve(np.concatenate([force, scale * charge]))
        return x[: len(force)], scale * x[len(force):]

    def modes(self, count: int, is_open: bool) -> tuple[np.ndarray, ...]:
        """omega^2, shapes, charge on the shorted electrode, voltage of the open one, per mode."""
        size, n = self.mass.shape[0], self.capacity.shape[0] - (0 if is_open else 1)
        none = np.zeros(n)
        inverse = LinearOperator((size, size), matvec=lambda f: self._respond(f, none, is_open)[0])
        values, shapes = eigsh(self.stiffness, k=count, M=self.mass, sigma=0.0, OPinv=inverse, tol=1e-13,
                               v0=np.ones(size))
        order = np.argsort(values)
        values, shapes = values[order], shapes[:, order]
        volts, charges = np.zeros(count), np.zeros(count)
        for k in range(count):
            _, phi = self._respond(self.mass @ shapes[:, k] * values[k], none, is_open)
            if is_open:
                volts[k] = phi[-1]
            else:
                row = self.coupling[-1] @ shapes[:, k] - self.capacity[-1, :-1] @ phi
                charges[k] = row[0]
        return values, shapes, charges, volts

    def static(self) -> tuple[float, float]:
        """Charge per volt with nothing but the root held, and the tip's motion."""
        n, size = self.capacity.shape[0], self.mass.shape[0]
        charge = np.zeros(n)
        charge[-1] = 1.0
        u, phi = self._respond(np.zeros(size), charge, True)
        return abs(1.0 / phi[-1]), float(u[self.tip] / phi[-1])


def _isotropic(m: Isotropic) -> np.ndarray:
    e, nu = m.youngs_modulus_pa, m.poisson_ratio
    return e / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
