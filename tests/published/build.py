"""Small structures and patches for the published cases.

`unit_beam` has EI = 1 N m^2, m = 1 kg/m and L = 1 m, so that omega = lambda^2 and every
dimensionless ratio of a paper goes in as it stands.
"""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.project.candidate import Candidate, Circuit, Group, Member
from core.project.material import Material
from core.project.model import Project
from core.project.patch import Bond, Ceramic, Package, Patch, PatchLimits, Skin
from core.project.record import Constant
from core.project.service import Service, TipForce
from core.project.structure import Damping, GroundSpring, Layer, Level, Piece, PointMass, Structure, Support

EPS0 = 8.854187813e-12
NOTHING = Skin("no skin", 0.0)
RIGID = Bond("no skin", 0.0, 1e12, rigid=True)
LIMITS = PatchLimits(*(Constant(value) for value in (5e-4, 2e-3, 1.5e6, 4e5, 2e7)))
UNIT = ("unit", 12.0, 1.0)


def material(name: str, e_pa: float, rho: float, nu: float = 0.3) -> Material:
    return Material(name, Constant(e_pa), Constant(rho), poisson_ratio=Constant(nu))


def support(kind: str, k_t: float = 0.0, k_r: float = 0.0) -> Support:
    return Support(kind, k_t, k_r)


def elastic(k_t: float, k_r: float) -> Support:
    return Support("elastic", k_t, k_r)


def strip(
    span: float,
    width,
    layers,
    *,
    stations=None,
    root: Support | None = None,
    tip: Support | None = None,
    masses=(),
    springs=(),
    level: Level = "plain",
    zeta: float = 0.003,
) -> Structure:
    """A structure of (material, thickness profile) layers, or (name, thickness, pieces)."""
    made = tuple(
        Layer(f"{layer[0]} {i}", layer[1], layer[2] if len(layer) > 2 else (Piece(layer[0]),))
        for i, layer in enumerate(layers)
    )
    return Structure(
        "test piece",
        stations or (0.0, span),
        width,
        made,
        root or Support("clamped"),
        tip or Support("free"),
        masses=tuple(PointMass(f"mass {i}", *m) for i, m in enumerate(masses)),
        springs=tuple(GroundSpring(f"spring {i}", *s) for i, s in enumerate(springs)),
        level=level,
        damping=Damping((zeta,)),
    )


def unit_beam(*, width=1.0, depth=1.0, **options) -> Structure:
    """EI = 1, m = 1, L = 1 at the root; a pair (root, tip) tapers linearly."""
    return strip(1.0, width, [("unit", depth)], **options)


def ceramic(
    *,
    s11e: float = 16.4e-12,
    d31: float = -171e-12,
    eps_r: float = 1700.0,
    rho: float = 7750.0,
    nu: float = 0.31,
) -> Ceramic:
    """Typical Type II by default (set of Jaffe, Cook & Jaffe 1971, from memory)."""
    constants = (Constant(value) for value in (d31, eps_r, s11e, rho))
    return Ceramic("test ceramic", *constants, poisson_ratio=Constant(nu))


def package(
    made_of: Ceramic,
    length: float,
    width: float,
    thickness: float,
    *,
    bond: Bond = RIGID,
    skin: Skin = NOTHING,
    margin: float = 0.0,
    name: str = "bare",
) -> Package:
    layers = (thickness, skin, skin, bond, margin, LIMITS)
    return Package(name, made_of, length, width, *layers, side_margin_m=0.0)


def place(
    of: Package, x_start: float, *, face: str = "top", id: str = "P1", length: float | None = None, **options
) -> Patch:
    return Patch(id, of.name, x_start, length or of.length_m, of.width_m, of.bond, face=face, **options)


def group(*members, wiring: str = "parallel", circuit: Circuit | None = None, id: str = "G1") -> Group:
    """A group of (patch id, polarity) members, or plain ids."""
    pairs = [m if isinstance(m, tuple) else (m, 1) for m in members]
    return Group(id, tuple(Member(*pair) for pair in pairs), wiring, circuit or Circuit("open"))


def project(structure: Structure, materials, packages=(), patches=(), groups=None, loads=None) -> Project:
    """A project with one candidate; each patch in its own group unless told otherwise."""
    if groups is None:
        groups = tuple(group(p.id, id=f"G{i + 1}") for i, p in enumerate(patches))
    known = [m if isinstance(m, Material) else material(*m) for m in materials]
    names = {m.name for m in known}
    known += [material(*m) for m in (UNIT, ("no skin", 1.0, 1e-9)) if m[0] not in names]
    candidate = Candidate("A", "as tested", tuple(patches), tuple(groups))
    service = Service(loads or (TipForce("tip force", 1.0, (1.0, 1000.0)),))
    return Project("test", structure, tuple(known), tuple(packages), (candidate,), "A", service)


def plain(made: Project) -> Project:
    """The project at the level at which every layer is free across by itself, as textbooks have it."""
    return replace(made, structure=replace(made.structure, level="plain"))


def solved(made: Project, n_modes: int = 12) -> CoupledBeam:
    return solve(made, made.candidate(), n_modes=n_modes)


def with_patch(structure: Structure, materials, plate: Package, patch: Patch, polarity=1) -> CoupledBeam:
    """A structure with one patch in a group of its own, solved."""
    return solved(project(structure, materials, [plate], [patch], [group((patch.id, polarity))]))


def bare(structure: Structure, materials=(), n_modes: int = 12) -> CoupledBeam:
    """Modes of a structure without patches."""
    return solved(project(structure, materials), n_modes)


def shape(beam: CoupledBeam, rows: np.ndarray) -> np.ndarray:
    """Modal values of functionals: rows (..., n) -> (modes, ...), mass-normalised."""
    return np.moveaxis(np.asarray(rows) @ (beam.units * beam.omega_rad_s[:, None]).T, -1, 0)


def lambdas(structure: Structure, count: int, materials=()) -> np.ndarray:
    """sqrt(omega) of the first elastic modes: lambda of a unit beam."""
    return np.sqrt(bare(structure, materials).omega_rad_s[:count])
