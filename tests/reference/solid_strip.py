"""A three-dimensional piezoelectric solid: a strip with packages bonded to its faces.

The beam model is held against this one. Nothing of the beam model is assumed here: no plane sections,
nothing said of what happens across the width, no shear-lag length. The ceramic obeys the full linear law of
IEEE Std 176-1987 (poled along z, isotropic across the poling); every layer of the package is elastic and
resolved. Only half of the width is meshed: y = 0 is a plane of symmetry, so that torsion is left out.
Bricks of 27 nodes; all capacitances and K^2 are those of the whole strip.

Electrodes are equipotential: the lower one of each ceramic is ground, the upper ones are joined (a ceramic
entered with `polarity` -1 is poled the other way) and carry one unknown V.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import block_diag, bmat, csc_matrix, vstack
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from skfem import Basis, BilinearForm, ElementHex2, ElementVector, MeshHex

from tests.reference.elasticity_strip import EPS0, Isotropic, graded

VOIGT = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))


@dataclass(frozen=True)
class SolidCeramic:
    """Constants of a ceramic poled along z. Defaults: typical Type II, from memory, the set of
    Jaffe, Cook & Jaffe 1971 / Berlincourt, Curran & Jaffe 1964."""

    s11: float = 16.4e-12
    s12: float = -5.74e-12
    s13: float = -7.22e-12
    s33: float = 18.8e-12
    s55: float = 47.5e-12
    s66: float = 44.3e-12
    d31: float = -171e-12
    d32: float = -171e-12
    d33: float = 374e-12
    d15: float = 584e-12
    eps11t: float = 1700 * EPS0
    eps33t: float = 1730 * EPS0
    density_kg_m3: float = 7750.0
    polarity: int = 1

    def stiffness_form(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """c (6, 6) at constant field, e (3, 6) and eps (3, 3) at constant strain: T = c S - e^T E,
        D = e S + eps E."""
        s = np.zeros((6, 6))
        s[:3, :3] = [[self.s11, self.s12, self.s13], [self.s12, self.s11, self.s13],
                     [self.s13, self.s13, self.s33]]  # fmt: skip
        s[3:, 3:] = np.diag([self.s55, self.s55, self.s66])
        d = np.zeros((3, 6))
        d[2, :3] = self.d31, self.d32, self.d33
        d[0, 4] = d[1, 3] = self.d15
        d = d * self.polarity
        c = np.linalg.inv(s)
        return c, d @ c, np.diag([self.eps11t, self.eps11t, self.eps33t]) - d @ c @ d.T


@dataclass(frozen=True)
class Box:
    """A block of one material; y0, y1 are counted from the plane of symmetry [m]."""

    material: Isotropic | SolidCeramic
    x0: float
    x1: float
    y0: float
    y1: float
    z0: float
    z1: float
    cells: int = 1
    """Cells through the thickness."""


@dataclass(frozen=True)
class SolidResult:
    """Natural frequencies (n,) [Hz] with the electrodes shorted, K^2 (n,), static free capacitance [F],
    unknowns."""

    f_short_hz: np.ndarray
    k2: np.ndarray
    free_capacitance_f: float
    unknowns: int


def solve_solid(
    boxes: list[Box],
    *,
    modes: int = 3,
    along: tuple[float, float, float] = (1.5e-3, 2.0, 12e-3),
    across: tuple[float, float, float] = (1.5e-3, 2.0, 6e-3),
    free_to_contract: bool = False,
) -> SolidResult:
    """The body made of `boxes`, clamped at x = 0 over its whole section.

    `along` and `across` are the finest cell beside an end, the growth and the coarsest cell.
    `free_to_contract` holds at x = 0 only what a beam's clamp holds: no motion along x, none along z on
    the lowest line."""
    mesh, owner = _mesh(boxes, along, across)
    system = _System(mesh, owner, boxes, free_to_contract)
    short, shapes_short, charge, _ = system.modes(modes, is_open=False)
    opened, shapes_open, _, volts = system.modes(modes, is_open=True)
    overlap = np.einsum("in,in->n", shapes_short, system.mass @ shapes_open)
    k2 = charge * volts / overlap / short  # no difference of two eigenvalues
    assert np.allclose(opened / short - 1.0, k2, rtol=1e-2, atol=1e-7)
    return SolidResult(
        np.sqrt(short) / (2 * np.pi), k2, 2.0 * system.static_capacitance(), system.mass.shape[0]
    )


def _mesh(boxes: list[Box], along: tuple, across: tuple) -> tuple[MeshHex, np.ndarray]:
    xs = sorted({x for b in boxes for x in (b.x0, b.x1)})
    ys = sorted({y for b in boxes for y in (b.y0, b.y1)})
    zs = sorted({z for b in boxes for z in (b.z0, b.z1)})
    z = [zs[0]]
    for low, high in pairwise(zs):
        cells = max(round(b.cells * (high - low) / (b.z1 - b.z0)) or 1
                    for b in boxes if b.z0 <= low and high <= b.z1)  # fmt: skip
        z.extend(np.linspace(low, high, cells + 1)[1:])
    mesh = MeshHex.init_tensor(graded(xs, *along), graded(ys, *across), np.array(z))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    owner = np.full(mesh.nelements, -1)
    for i, b in enumerate(boxes):
        x, y, z = middle
        owner[(x > b.x0) & (x < b.x1) & (y > b.y0) & (y < b.y1) & (z > b.z0) & (z < b.z1)] = i
    kept = np.flatnonzero(owner >= 0)
    return mesh.restrict(kept), owner[kept]


def _strain(u):
    g = u.grad
    return [g[i, j] if i == j else g[i, j] + g[j, i] for i, j in VOIGT]


@BilinearForm
def _elastic(u, v, w):
    s, t = _strain(u), _strain(v)
    return sum(w.c[i, j] * s[j] * t[i] for i in range(6) for j in range(6) if w.c[i, j])


@BilinearForm
def _inertia(u, v, w):
    return u[0] * v[0] + u[1] * v[1] + u[2] * v[2]


@BilinearForm
def _piezo(u, psi, w):
    s = _strain(u)
    return sum(w.e[i, j] * s[j] * psi.grad[i] for i in range(3) for j in range(6) if w.e[i, j])


@BilinearForm
def _dielectric(phi, psi, w):
    return sum(w.eps[i, i] * phi.grad[i] * psi.grad[i] for i in range(3))


class _System:
    """Displacements, potentials inside the ceramics, one voltage V (last)."""

    def __init__(self, mesh: MeshHex, owner: np.ndarray, boxes: list[Box], free_to_contract: bool) -> None:
        element = ElementHex2()
        whole = Basis(mesh, ElementVector(element), intorder=4)
        stiffness, mass = 0.0, 0.0
        inner, tops, inner_c, top_c = [], [], [], []
        for i, box in enumerate(boxes):
            part = np.flatnonzero(owner == i)
            basis = Basis(mesh, ElementVector(element), elements=part, intorder=4)
            material = box.material
            if isinstance(material, SolidCeramic):
                c, e, eps = material.stiffness_form()
                field = Basis(mesh, element, elements=part, intorder=4)
                coupling = _piezo.assemble(basis, field, e=e).tocsr()
                capacity = _dielectric.assemble(field, eps=eps).tocsr()
                inside = np.unique(field.element_dofs)
                z = field.doflocs[2]
                top = inside[np.isclose(z[inside], box.z1, atol=1e-9, rtol=0)]
                bottom = inside[np.isclose(z[inside], box.z0, atol=1e-9, rtol=0)]
                within = np.setdiff1d(inside, np.concatenate([top, bottom]))
                one = np.ones(len(top))
                tie = csc_matrix((one, (top, np.zeros(len(top), int))), shape=(capacity.shape[0], 1))
                inner.append(coupling[within])
                tops.append(tie.T @ coupling)
                inner_c.append((capacity[within][:, within], (capacity[within] @ tie)))
                top_c.append(tie.T @ capacity @ tie)
            else:
                nu = material.poisson_ratio
                lame = material.youngs_modulus_pa / (1 + nu)
                c = np.zeros((6, 6))
                c[:3, :3] = lame * nu / (1 - 2 * nu)
                c += np.diag([lame] * 3 + [lame / 2] * 3)
            stiffness = stiffness + _elastic.assemble(basis, c=c)
            mass = mass + material.density_kg_m3 * _inertia.assemble(basis)
        tied = vstack([sum(tops)])
        self_block = block_diag([block for block, _ in inner_c])
        to_top = vstack([column for _, column in inner_c])
        capacity = bmat([[self_block, to_top], [to_top.T, sum(top_c)]], format="csr")
        coupling = vstack([*inner, tied], format="csr")
        moving = np.setdiff1d(np.arange(whole.N), self._held(whole, free_to_contract))
        self.stiffness = stiffness[moving][:, moving]
        self.mass = mass[moving][:, moving].tocsc()
        self.coupling, self.capacity = coupling[:, moving], capacity
        self._factors = {state: self._factor(state) for state in (False, True)}

    @staticmethod
    def _held(whole: Basis, free_to_contract: bool) -> np.ndarray:
        way = np.empty(whole.N, int)
        for dofs in (whole.nodal_dofs, whole.edge_dofs, whole.facet_dofs, whole.interior_dofs):
            for i, row in enumerate(dofs):
                way[row] = i % 3
        x, y, z = whole.doflocs
        wall, middle = np.isclose(x, 0.0, atol=1e-9), np.isclose(y, 0.0, atol=1e-9) & (way == 1)
        if free_to_contract:
            wall = wall & ((way == 0) | ((way == 2) & np.isclose(z, z.min(), atol=1e-9)))
        return np.flatnonzero(wall | middle)

    def _factor(self, is_open: bool):
        n = self.capacity.shape[0] if is_open else self.capacity.shape[0] - 1
        p, c = self.coupling[:n], self.capacity[:n][:, :n]
        # Potentials in units that bring the blocks to the same size, for the factorisation only.
        scale = np.sqrt(abs(self.stiffness.diagonal()).mean() / abs(c.diagonal()).mean())
        whole = bmat([[self.stiffness, scale * p.T], [scale * p, -(scale**2) * c]], format="csc")
        return splu(whole, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.01,
                    options={"SymmetricMode": True}), scale  # fmt: skip

    def _respond(self, force: np.ndarray, charge: np.ndarray, is_open: bool) -> tuple[np.ndarray, np.ndarray]:
        lu, scale = self._factors[is_open]
        x = lu.solve(np.concatenate([force, scale * charge]))
        return x[: len(force)], scale * x[len(force) :]

    def modes(self, count: int, is_open: bool) -> tuple[np.ndarray, ...]:
        """omega^2, shapes, charge on the shorted electrode, voltage of the open one, per mode."""
        size, n = self.mass.shape[0], self.capacity.shape[0] - (0 if is_open else 1)
        none = np.zeros(n)
        inverse = LinearOperator((size, size), matvec=lambda f: self._respond(f, none, is_open)[0])
        values, shapes = eigsh(
            self.stiffness, k=count, M=self.mass, sigma=0.0, OPinv=inverse, tol=1e-12, v0=np.ones(size)
        )
        order = np.argsort(values)
        values, shapes = values[order], shapes[:, order]
        volts, charges = np.zeros(count), np.zeros(count)
        for k in range(count):
            _, phi = self._respond(self.mass @ shapes[:, k] * values[k], none, is_open)
            if is_open:
                volts[k] = phi[-1]
            else:
                charges[k] = (self.coupling[-1] @ shapes[:, k])[0] - (self.capacity[-1, :-1] @ phi)[0]
        return values, shapes, charges, volts

    def static_capacitance(self) -> float:
        """Charge per volt of the half with nothing but the root held."""
        n, size = self.capacity.shape[0], self.mass.shape[0]
        charge = np.zeros(n)
        charge[-1] = 1.0
        _, phi = self._respond(np.zeros(size), charge, True)
        return abs(1.0 / phi[-1])
