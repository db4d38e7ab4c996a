"""A laminated plate with bonded ceramics, built from a project's own inputs.

The beam model is held against this one. Classical lamination (no transverse shear) in two dimensions: every
point (x, y) has its own stack of layers in plane stress with its in-plane displacements u, v; the deflection
is a quintic C1 triangle (Argyris), u and v quartic (as its slopes are, or it locks). Nothing is said of how the section deforms across. The
ceramic's field varies linearly through its thickness about the mean V/t. Of the bond only its length of
build-up is taken, from the beam model: within it the ceramic is weight and electrode, no more.

Half of the width is meshed: y = 0 is a plane of symmetry (bending) or of antisymmetry (torsion); all of it for patches off
the centreline or turned, where bending and torsion meet.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import bmat, diags
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from scipy.spatial import Delaunay
from skfem import (
    Basis,
    BilinearForm,
    ElementTriArgyris,
    ElementTriP3,
    ElementVector,
    FacetBasis,
    LinearForm,
    MeshTri,
)

from core.beam.spec import beam_spec
from core.piezo.package import plates_of
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Package, Patch
from tests.reference.elasticity_strip import EPS0, graded


class LocalArgyris(ElementTriArgyris):
    """Argyris with powers of coordinates counted from the triangle's own middle: powers of global ones lose all
    digits in a small triangle far from the origin."""

    def gdof(self, F, w, i):
        middle = w["v"].mean(axis=0)
        return super().gdof(F, {**w, "v": w["v"] - middle, "e": w["e"] - middle}, i)

    def gbasis(self, mapping, X, i, tind=None):
        return super().gbasis(_FromMiddle(mapping), X, i, tind)


class _FromMiddle:
    """A mapping whose points are counted from the middle of their triangle."""

    def __init__(self, mapping) -> None:
        self.mesh, self._map = mapping.mesh, mapping
        self._middle = mapping.mesh.p[:, mapping.mesh.t].mean(axis=1)

    def F(self, X, tind=None):
        points = self._map.F(X, tind=tind)
        middle = self._middle if tind is None else self._middle[:, tind]
        return points - middle.reshape(2, -1, *(1,) * (points.ndim - 2))


@dataclass(frozen=True)
class PlateResult:
    """(n,) natural frequencies shorted [Hz], K^2 with every patch in one parallel group, free capacitance [F]."""

    f_short_hz: np.ndarray
    k2: np.ndarray
    free_capacitance_f: float
    unknowns: int


def solve_plate(
    project: Project,
    candidate: Candidate | None = None,
    *,
    modes: int = 4,
    torsion: bool = False,
    along: tuple[float, float, float] = (4e-3, 2.0, 40e-3),
    across: int = 3,
) -> PlateResult:
    """The candidate's plate; straight, centred patches, clamped or elastic root, free tip."""
    if candidate is None:
        candidate = project.candidate()
    mesh = _mesh(project, candidate, along, across)
    return _System(project, candidate, mesh, torsion).solve(modes)


def solve_whole_plate(
    project: Project, candidate: Candidate | None = None, *, modes: int = 6, size_m: float = 10e-3
) -> PlateResult:
    """The same over the whole width, in triangles of about that size: patches may lie off the centreline or be turned."""
    if candidate is None:
        candidate = project.candidate()
    return _System(project, candidate, _whole_mesh(project, candidate, size_m), None).solve(modes)


# ---- the part ----------------------------------------------------------------------------


def _along(project: Project, profile, x: np.ndarray) -> np.ndarray:
    stations = np.asarray(project.structure.stations_m)
    values = np.broadcast_to(np.asarray(profile, dtype=float), stations.shape)
    return np.interp(x, stations, values)


def _half_width(project: Project, x: np.ndarray) -> np.ndarray:
    return 0.5 * _along(project, project.structure.width_m, x)


def _edge_strip_m(project: Project) -> float:
    """Width of strips that lie half at each edge (steel edges); 0 without."""
    found = [p.width_m for layer in project.structure.layers for p in layer.pieces if p.count == 2]
    return float(found[0]) if found else 0.0


def _mesh(project: Project, candidate: Candidate, along: tuple, across: int) -> MeshTri:
    xs = {*project.structure.stations_m}
    marks: list[float] = []
    for patch, package, plate in _ceramics(project, candidate):
        # not at the ceramic's very ends: what lies beyond the build-up is weight only
        xs |= {plate.x_a_eff_m, plate.x_b_eff_m}
        ends = (patch.x_start_m - package.margin_m, patch.x_end_m + package.margin_m)
        xs |= {x for x in ends if 0.0 < x < project.structure.span_m}
        marks += [patch.width_m / 2, patch.width_m / 2 + package.beside_m]
    lines = graded(sorted({round(float(x), 9) for x in xs}), *along)
    half, edge = _half_width(project, lines), _edge_strip_m(project)
    inner = half - edge
    marks = sorted({round(m, 9) for m in marks if m < inner.max() - 1e-6})
    zones = [np.zeros_like(lines)]
    for i, mark in enumerate(marks):
        room = inner - 1e-3 * (len(marks) - i)
        zones.append(np.minimum(mark, room))
    zones.append(inner)
    if edge > 0.0:
        zones.append(half)
    columns = [zones[0]]
    widest = half.max()
    for low, high in pairwise(zones):
        cells = max(1, round(across * 2.0 * float((high - low).max()) / widest))
        columns += [low + (high - low) * (k + 1) / cells for k in range(cells)]
    y = np.array(columns)
    nx, ny = len(lines), len(columns)
    points = np.array([np.broadcast_to(lines, y.shape).ravel(), y.ravel()])
    triangles = []
    for j in range(ny - 1):
        for i in range(nx - 1):
            a, b, c, d = j * nx + i, j * nx + i + 1, (j + 1) * nx + i + 1, (j + 1) * nx + i
            triangles += [(a, b, c), (a, c, d)] if (i + j) % 2 else [(a, b, d), (b, c, d)]
    return MeshTri(points, np.array(triangles).T)


def _whole_mesh(project: Project, candidate: Candidate, size: float) -> MeshTri:
    """Delaunay's triangles of points along the part's edges, along the sides of what works of every ceramic, and between."""
    span, edge = project.structure.stations_m[-1], _edge_strip_m(project)

    def between(p, q) -> np.ndarray:
        count = max(2, int(np.ceil(np.hypot(*(np.array(q) - p)) / size)) + 1)
        return np.linspace(p, q, count)

    lines = [np.array([[x, s * float(_half_width(project, np.array([x]))[0])] for x in np.linspace(0.0, span, round(span / size))])
             for s in (-1.0, 1.0)]  # fmt: skip
    lines += [v - np.array([0.0, s * edge]) for v, s in zip(lines[:2], (-1.0, 1.0), strict=True) if edge > 0.0]
    lines += [between(lines[0][i], lines[1][i]) for i in (0, -1)]
    for patch, _, plate in _ceramics(project, candidate):
        middle = 0.5 * (plate.x_a_m + plate.x_b_m)
        half = 0.5 * plate.working_width_m
        c, s = np.cos(patch.angle_rad), np.sin(patch.angle_rad)
        own = [(plate.x_a_eff_m, -half), (plate.x_b_eff_m, -half), (plate.x_b_eff_m, half), (plate.x_a_eff_m, half)]
        corners = [(middle + (x - middle) * c - y * s, patch.y_m + (x - middle) * s + y * c) for x, y in own]
        lines += [between(corners[i], corners[(i + 1) % 4]) for i in range(4)]
    fixed = np.unique(np.round(np.concatenate(lines), 9), axis=0)
    kept: list[np.ndarray] = []
    for p in fixed:  # points of different lines that all but meet are one
        if not kept or np.min(np.hypot(*(np.array(kept) - p).T)) > 0.05 * size:
            kept.append(p)
    fixed = np.array(kept)
    height = 0.5 * np.sqrt(3.0) * size
    grid = np.array([(x + 0.5 * size * (j % 2), y) for j, y in enumerate(np.arange(-2.0, 2.0, height)) if abs(y) < span
                     for x in np.arange(0.5 * size, span, size)])  # fmt: skip
    grid = grid[np.abs(grid[:, 1]) < _half_width(project, grid[:, 0])]
    away = np.array([np.min(np.hypot(*(fixed - p).T)) for p in grid]) > 0.7 * size
    points = np.concatenate([fixed, grid[away]])
    triangles = Delaunay(points).simplices
    corner = points[triangles]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = 0.5 * np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    middle = corner.mean(axis=1)
    inside = (area > 1e-4 * size * size) & (np.abs(middle[:, 1]) < _half_width(project, middle[:, 0]))
    return MeshTri(points.T, triangles[inside].T)


def _ceramics(project: Project, candidate: Candidate):
    """(patch, package, ceramic plate of the model for its build-up length) for every ceramic."""
    spec = beam_spec(project.structure, project.materials)
    by_id = {p.id: p for p in candidate.patches}
    plates = plates_of(project, candidate, spec)
    for j in range(len(plates)):
        plate = plates.plate(j)
        patch = by_id[plate.patch]
        yield patch, project.package(patch.package), plate


# ---- stiffness of the stack at points ------------------------------------------------------


class _Stack:
    """A, B, D (3, 3, ...), mass per area and the ceramics' columns at points (x, y)."""

    def __init__(self, project: Project, candidate: Candidate, x: np.ndarray, y: np.ndarray) -> None:
        self.x, self.y, self.across = x, np.abs(y), y
        self.a, self.b, self.d = (np.zeros((3, 3, *x.shape)) for _ in range(3))
        self.mass = np.zeros(x.shape)
        self.piezo: list[tuple[np.ndarray, np.ndarray]] = []
        """Per ceramic: force and moment per volt over unit width, both ways alike."""
        self.capacity_f: list[float] = []
        """Per ceramic, of half the width."""
        top = self._structure(project)
        for patch, package, plate in _ceramics(project, candidate):
            self._package(project, patch, package, plate, top)

    def _layer(self, e, nu, rho, low, high, there) -> None:
        q = np.zeros((3, 3))
        q[:2, :2] = e / (1 - nu**2) * np.array([[1, nu], [nu, 1]])
        q[2, 2] = e / (2 * (1 + nu))
        for power, into in ((1, self.a), (2, self.b), (3, self.d)):
            into += q[:, :, None, None] * np.where(there, (high**power - low**power) / power, 0.0)
        self.mass += np.where(there, rho * (high - low), 0.0)

    def _structure(self, project: Project) -> np.ndarray:
        z = np.zeros(self.x.shape)
        half = _half_width(project, self.x)
        for layer in project.structure.layers:
            upper = z + _along(project, layer.thickness_m, self.x)
            edges = [p for p in layer.pieces if p.count == 2]
            (middle,) = [p for p in layer.pieces if p.count == 1]
            side = half - (_along(project, edges[0].width_m, self.x) if edges else 0.0)
            if middle.width_m is not None:
                side = 0.5 * _along(project, middle.width_m, self.x)
            for piece, there in [(middle, self.y <= side), *((p, self.y > side) for p in edges)]:
                m = project.material(piece.material)
                self._layer(
                    m.youngs_modulus_pa.value, m.poisson_ratio.value, m.density_kg_m3.value, z, upper, there
                )
            z = upper
        return z

    def _package(self, project: Project, patch: Patch, package: Package, plate, top: np.ndarray) -> None:
        margin, side = package.margin_m, package.beside_m
        middle, c, s = patch.x_start_m + 0.5 * patch.length_m, np.cos(patch.angle_rad), np.sin(patch.angle_rad)
        d, t = self.x - middle, self.across - patch.y_m
        x, y = middle + d * c + t * s, np.abs(t * c - d * s)  # in its own axes
        foot = (x > patch.x_start_m - margin) & (x < patch.x_end_m + margin)
        foot &= y < patch.width_m / 2 + side
        over = (x > patch.x_start_m) & (x < patch.x_end_m) & (y < patch.width_m / 2)
        works = over & (x > plate.x_a_eff_m) & (x < plate.x_b_eff_m) & (y < plate.working_width_m / 2)
        face, way = (top, 1.0) if plate.on_top else (np.zeros_like(top), -1.0)

        def put(e, nu, rho, start, thickness, there):
            ends = (face + way * start, face + way * (start + thickness))
            self._layer(e, nu, rho, np.minimum(*ends), np.maximum(*ends), there)

        at = 0.0
        for name, thickness in (
            (patch.bond.material, patch.bond.thickness_m),
            (package.lower_skin.material, package.lower_skin.thickness_m),
        ):
            m = project.material(name)
            put(m.youngs_modulus_pa.value, m.poisson_ratio.value, m.density_kg_m3.value, at, thickness, foot)
            at += thickness
        c, t = package.ceramic, package.ceramic_thickness_m
        s11, nu, d31 = c.s11e_1_pa.value, c.poisson_ratio.value, c.d31_c_n.value
        put(1.0 / s11, nu, 0.0, at, t, works)
        put(0.0, 0.0, c.density_kg_m3.value, at, t, over)
        e_p = d31 / (s11 * (1 - nu))
        eps_t = c.eps33t_relative.value * EPS0
        eps = eps_t - 2 * d31**2 / (s11 * (1 - nu))
        self.d[:2, :2] += np.where(works, e_p**2 / eps * t**3 / 12, 0.0)
        skin = project.material(package.upper_skin.material)
        constants = (skin.youngs_modulus_pa.value, skin.poisson_ratio.value, skin.density_kg_m3.value)
        put(*constants, at + t, package.upper_skin.thickness_m, over)
        put(*constants, at, package.upper_skin.thickness_m, foot & ~over)
        sign = -1.0 if plate.paired and not plate.on_top else 1.0
        force = np.where(works, sign * e_p, 0.0)
        self.piezo.append((force, force * (face + way * (at + 0.5 * t))))
        inside = (plate.x_b_eff_m - plate.x_a_eff_m) * plate.working_width_m / patch.width_m
        per_length = 0.5 * patch.width_m / t
        self.capacity_f.append(per_length * (eps * inside + eps_t * (patch.length_m - inside)))


# ---- forms ---------------------------------------------------------------------------------


def _bends(w):
    return -w.hess[0, 0], -w.hess[1, 1], -2.0 * w.hess[0, 1]


def _stretch(u):
    return u.grad[0, 0], u.grad[1, 1], u.grad[0, 1] + u.grad[1, 0]


def _product(matrix, left, right):
    return sum(matrix[i, j] * right[j] * left[i] for i in range(3) for j in range(3))


@BilinearForm
def _bending(u, v, w):
    return _product(w.d, _bends(v), _bends(u))


@BilinearForm
def _membrane(u, v, w):
    return _product(w.a, _stretch(v), _stretch(u))


@BilinearForm
def _coupled(u, v, w):
    return _product(w.b, _stretch(v), _bends(u))


@BilinearForm
def _inertia(u, v, w):
    return w.mass * u * v


@LinearForm
def _moment(v, w):
    k = _bends(v)
    return w.p * (k[0] + k[1])


@LinearForm
def _force(v, w):
    s = _stretch(v)
    return w.p * (s[0] + s[1])


@BilinearForm
def _level(u, v, w):
    return u * v


@BilinearForm
def _slope(u, v, w):
    return u.grad[0] * v.grad[0]


@BilinearForm
def _uneven_slope(u, v, w):
    return u.hess[0, 1] * v.hess[0, 1]


@BilinearForm
def _bowed(u, v, w):
    return u.hess[1, 1] * v.hess[1, 1]


STIFF = 1e3
"""Against curvature and twist along the line of something stiff across [N m^2, N m^3]: ten times that changes nothing."""


class _System:
    """Assembled half plate, even or odd over y, or whole (None): deflection and in-plane displacements, one voltage."""

    def __init__(self, project: Project, candidate: Candidate, mesh: MeshTri, torsion: bool | None) -> None:
        bend = Basis(mesh, LocalArgyris(), intorder=9)
        flat = Basis(mesh, ElementVector(ElementTriP3()), intorder=9)
        x, y = np.asarray(bend.global_coordinates())
        stack = _Stack(project, candidate, x, y)
        k_ww = _bending.assemble(bend, d=stack.d)
        k_uu = _membrane.assemble(flat, a=stack.a)
        k_uw = _coupled.assemble(bend, flat, b=stack.b)
        mass = _inertia.assemble(bend, mass=stack.mass)
        self.halves = 1.0 if torsion is None else 2.0
        force, moment, capacity = np.zeros(flat.N), np.zeros(bend.N), 2.0 / self.halves * sum(stack.capacity_f)
        for n, m in stack.piezo:
            force = force + _force.assemble(flat, p=n)
            moment = moment + _moment.assemble(bend, p=m)
        k_ww, mass = self._attached(project, bend, k_ww, mass)
        keep_w = np.setdiff1d(np.arange(bend.N), self._held_w(project, bend, mesh, torsion))
        keep_u = np.setdiff1d(np.arange(flat.N), self._held_u(flat, mesh, torsion))
        self.k_ww, self.k_uu = k_ww[keep_w][:, keep_w], k_uu[keep_u][:, keep_u]
        self.k_uw, self.mass = k_uw[keep_u][:, keep_w], mass[keep_w][:, keep_w].tocsc()
        self.n_v, self.m_v, self.capacity = force[keep_u], moment[keep_w], capacity
        whole = bmat([[self.k_ww, self.k_uw.T], [self.k_uw, self.k_uu]], format="csc")
        self.size = self.k_ww.shape[0]
        self.lu = splu(whole)

    @staticmethod
    def _held_w(project: Project, bend: Basis, mesh: MeshTri, torsion: bool | None) -> np.ndarray:
        root = mesh.facets_satisfying(lambda p: np.isclose(p[0], 0.0, atol=1e-9), boundaries_only=True)
        line = mesh.facets_satisfying(lambda p: np.isclose(p[1], 0.0, atol=1e-9), boundaries_only=True)
        zero = ["u", "u_x", "u_xx", "u_yy"] if torsion else ["u_y", "u_xy", "u_n"]
        held = [] if torsion is None else [bend.get_dofs(line).all(zero)]
        if project.structure.root.kind == "clamped":
            held.append(bend.get_dofs(root).all(["u", "u_x", "u_y", "u_xy", "u_yy", "u_n"]))
        return np.unique(np.concatenate(held)) if held else np.zeros(0, dtype=int)

    @staticmethod
    def _held_u(flat: Basis, mesh: MeshTri, torsion: bool | None) -> np.ndarray:
        root = mesh.facets_satisfying(lambda p: np.isclose(p[0], 0.0, atol=1e-9), boundaries_only=True)
        line = mesh.facets_satisfying(lambda p: np.isclose(p[1], 0.0, atol=1e-9), boundaries_only=True)
        if torsion is None:
            return np.unique(flat.get_dofs(root).all())
        middle = flat.get_dofs(line).all(["u^1" if torsion else "u^2"])
        return np.unique(np.concatenate([flat.get_dofs(root).all(), middle]))

    @staticmethod
    def _attached(project: Project, bend: Basis, k_ww, mass):
        """Point masses and an elastic root's springs, spread evenly over the line across at their x; a mass off the
        centreline at the corner of a triangle nearest to it.

        What turns with the section, a foot with rotary inertia or a root's spring, is stiff across: it turns as one at every y
        and stays straight. Spread softly instead, each y by itself, a bracket's T1 falls by 4 % and its K^2 by 4 and 10 % in
        modes 1 and 2."""
        s = project.structure
        for m in s.masses:
            if m.y_m:
                node = int(np.hypot(bend.mesh.p[0] - m.x_m, bend.mesh.p[1] - m.y_m).argmin())
                at = bend.get_dofs(nodes=np.array([node]))
                own = np.zeros(bend.N)
                own[at.all(["u"])], own[at.all(["u_y"])] = m.mass_kg, m.roll_inertia_kg_m2
                own[at.all(["u_x"])] = m.rotary_inertia_kg_m2
                mass = mass + diags(own)
                continue
            line, width = _edge(bend.mesh, m.x_m), 2.0 * float(_half_width(project, np.array([m.x_m]))[0])
            mass = mass + m.mass_kg / width * _level.assemble(line)
            mass = mass + m.rotary_inertia_kg_m2 / width * _slope.assemble(line)
            if m.rotary_inertia_kg_m2 > 0.0:
                k_ww = k_ww + STIFF * (_uneven_slope.assemble(line) + _bowed.assemble(line))
        if s.root.kind == "elastic":
            line, width = _edge(bend.mesh, 0.0), 2.0 * float(_half_width(project, np.zeros(1))[0])
            k_ww = k_ww + s.root.k_t_n_m / width * _level.assemble(line)
            k_ww = k_ww + s.root.k_r_nm_rad / width * _slope.assemble(line)
            k_ww = k_ww + STIFF * (_uneven_slope.assemble(line) + _bowed.assemble(line))
        return k_ww, mass

    def _respond(self, moment: np.ndarray, force: np.ndarray) -> np.ndarray:
        return self.lu.solve(np.concatenate([moment, force]))

    def solve(self, count: int) -> PlateResult:
        none = np.zeros(self.k_uu.shape[0])
        inverse = LinearOperator(self.k_ww.shape, matvec=lambda f: self._respond(f, none)[: self.size])
        values, shapes = eigsh(self.k_ww, k=count + 6, M=self.mass, sigma=0.0, OPinv=inverse, tol=1e-11,
                               v0=np.ones(self.size))  # fmt: skip
        order = np.argsort(values)
        values, shapes = values[order], shapes[:, order]
        unit = self._respond(self.m_v, self.n_v)  # static displacement per volt, sign turned
        free = self.capacity + float(self.m_v @ unit[: self.size] + self.n_v @ unit[self.size :])
        theta = values * (shapes.T @ (self.mass @ unit[: self.size]))
        k2 = _secular(values, theta, free)
        return PlateResult(np.sqrt(values[:count]) / (2 * np.pi), k2[:count], self.halves * free, self.mass.shape[0])


def _edge(mesh: MeshTri, x_m: float) -> FacetBasis:
    facets = mesh.facets_satisfying(lambda p: np.isclose(p[0], x_m, atol=1e-9))
    return FacetBasis(mesh, LocalArgyris(), facets=facets, intorder=9)


def _secular(values: np.ndarray, theta: np.ndarray, free: float) -> np.ndarray:
    """K^2 of each mode from theta and the static free capacitance (modes left out count statically)."""
    if not theta.any():
        return np.zeros(len(values))
    blocked = free - float((theta**2 / values).sum())  # of what the modes kept here do not tell
    k2 = np.zeros(len(values))
    for n in range(len(values)):
        r = theta**2 / values
        others = np.delete(np.arange(len(values)), n)
        k = r[n] / blocked
        for _ in range(50):
            c = blocked + float((r[others] / (1.0 - (1.0 + k) * values[n] / values[others])).sum())
            k = r[n] / c
        k2[n] = k
    return k2
