"""A uniform cantilever in closed form with one patch, for drawings that need no engine."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from core.predict.fields import strain_nodes
from core.predict.prediction import Shapes
from core.project.candidate import Candidate, Circuit, Group, Member, Tuning
from core.project.material import Material
from core.project.model import Project
from core.project.patch import Bond, Ceramic, Package, Patch, PatchLimits, Skin
from core.project.record import Constant
from core.project.service import Service, TipForce
from core.project.structure import CutOut, DatumFeature, KeepOut, Layer, Piece, PointMass, Structure

ROOTS = (1.8751040687, 4.6940911330, 7.8547574382, 10.9955407349, 14.1371683910)
SPAN = 0.3


def shapes(n_modes: int = 5, n_x: int = 151, span: float = SPAN) -> Shapes:
    """Clamped-free shapes (Blevins 1979, table 8-1), tip up, and their curvatures."""
    x = np.linspace(0.0, span, n_x)
    w, c = [], []
    for root in ROOTS[:n_modes]:
        s = (np.cosh(root) + np.cos(root)) / (np.sinh(root) + np.sin(root))
        z = root * x / span
        shape = np.cosh(z) - np.cos(z) - s * (np.sinh(z) - np.sin(z))
        bend = (root / span) ** 2 * (np.cosh(z) + np.cos(z) - s * (np.sinh(z) + np.sin(z)))
        sign = np.sign(shape[-1])
        w.append(sign * shape)
        c.append(sign * bend)
    flat = np.ones_like(x)
    return Shapes(x, np.array(w), np.array(c), flat, flat, 0.0015 * flat, 0.003 * flat, 0.035 * flat)


def prediction(n_modes: int = 5, *, order: tuple[int, ...] | None = None) -> SimpleNamespace:
    """As much of a prediction as the drawing reads; `order` re-orders the shapes."""
    made = shapes(n_modes)
    if order is not None:
        pick = list(order)
        made = Shapes(
            made.x_m, made.deflection[pick], made.curvature[pick], made.bending_stiffness_nm2,
            made.mass_per_length_kg_m, made.neutral_axis_m, made.thickness_m, made.net_width_m,
        )  # fmt: skip
    modes = tuple(
        SimpleNamespace(
            number=n + 1, f_short_hz=27.4 * (ROOTS[n] / ROOTS[0]) ** 2, zeta_inherent=0.003, zeta_before=0.003,
            strain_nodes_m=strain_nodes(made)[n],
        )
        for n in range(n_modes)
    )
    return SimpleNamespace(modes=modes, shapes=made, limits=(), torsion=(), chords={})


def strip(n: int = 60, n_modes: int = 5) -> SimpleNamespace:
    """Damping against position that looks like one."""
    x = np.linspace(0.0, 0.24, n)
    zeta = np.stack(
        [0.003 + 0.04 * np.cos(ROOTS[m] * x / SPAN) ** 2 * (1 - x / 0.3) / (1 + m) for m in range(n_modes)],
        axis=1,
    )
    allowed = (x < 0.17) | (x > 0.20)
    reasons = tuple("" if ok else "over keep clear" for ok in allowed)
    return SimpleNamespace(
        patch="P1",
        x_start_m=x,
        zeta=zeta,
        k2=zeta,
        allowed=allowed,
        reasons=reasons,
        tension=2e-4 * (1 - x / 0.24),
        compression=3e-4 * (1 - x / 0.24),
        held=("",) * n_modes,
        use="damp",
        of_use=None,
    )


def project() -> Project:
    """A lab beam with a patch near the clamp, a keep-out, a datum, a hole and a tip mass."""
    c = Constant
    metal = Material("aluminium", c(70e9), c(2700.0))
    film = Material("film", c(3e9), c(1400.0))
    epoxy = Material("epoxy", c(3e9), c(1200.0))
    limits = PatchLimits(c(5e-4), c(5e-4), c(1e6), c(5e5), c(1e7))
    bond = Bond("epoxy", 5e-5, 1e9)
    skin = Skin("film", 6e-5)
    ceramic = Ceramic("soft", c(-1.8e-10), c(1800.0), c(1.6e-11), c(7700.0))
    package = Package("60 x 30", ceramic, 0.06, 0.03, 3e-4, skin, skin, bond, 0.002, limits)
    structure = Structure(
        name="lab beam",
        stations_m=(0.0, SPAN),
        width_m=0.035,
        layers=(Layer("strip", 0.003, (Piece("aluminium"),)),),
        cut_outs=(CutOut("hole", 0.29, 0.0, diameter_m=0.006),),
        masses=(PointMass("accelerometer", 0.28, 0.002),),
        keep_outs=(KeepOut("keep clear", "top", 0.236, 0.256),),
        datums=(DatumFeature("hole", 0.15),),
        level="section",
    )
    patch = Patch("P1", "60 x 30", 0.02, 0.06, 0.03, bond)
    group = Group("G1", (Member("P1"),), circuit=Circuit("resistor", {"resistance_ohm": 1e5}, Tuning(mode=1)))
    return Project(
        name="lab beam",
        structure=structure,
        materials=(metal, film, epoxy),
        packages=(package,),
        candidates=(Candidate("A", "at the clamp", (patch,), (group,)),),
        active="A",
        service=Service((TipForce("tip", 1.0, (5.0, 500.0)),)),
    )
