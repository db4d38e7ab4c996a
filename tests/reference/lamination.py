"""EI(x), m(x), g(x) and blocked capacitance of a saved project, written without the core's engine.

Reads the saved values (`core.project.model`) and nothing else of the core. One group of patches
in parallel, straight edges, no cut-outs, no wide strip: what the shipped examples need.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Package, Patch
from tests.reference.hermite_route import PatchedBeam

EPS0 = 8.8541878128e-12
HELD = {"clamped": ("u", "u_x"), "pinned": ("u",), "guided": ("u_x",), "free": (), "elastic": ()}


@dataclass(frozen=True)
class _Plate:
    """A ceramic on one face: where it works, its sign in the group, its stack heights."""

    patch: Patch
    package: Package
    on_top: bool
    sign: float
    x_a: float
    x_b: float

    @property
    def below_ceramic(self) -> float:
        return self.patch.bond.thickness_m + self.package.lower_skin.thickness_m

    @property
    def e31(self) -> float:
        return self.package.ceramic.d31_c_n.value / self.package.ceramic.s11e_1_pa.value

    @property
    def eps_free(self) -> float:
        return self.package.ceramic.eps33t_relative.value * EPS0

    @property
    def eps_blocked(self) -> float:
        return self.eps_free - self.package.ceramic.d31_c_n.value * self.e31


class Lamination:
    """Section functions of one candidate; every method takes x [m] as an array of any shape."""

    def __init__(self, project: Project, candidate: Candidate) -> None:
        self.structure = project.structure
        self._last_x, self._last_section = None, None
        self.materials = {m.name: m for m in project.materials}
        self.plates = [
            self._plate(patch, project.package(patch.package), on_top, candidate)
            for patch in candidate.patches
            for on_top in {"top": (True,), "underside": (False,), "both": (True, False)}[patch.face]
        ]

    def ei(self, x: np.ndarray) -> np.ndarray:
        return self._section(x)[2]

    def mass(self, x: np.ndarray) -> np.ndarray:
        return self._section(x)[3]

    def g(self, x: np.ndarray) -> np.ndarray:
        z_n, top = self._section(x)[1], self._top(x)
        out = np.zeros_like(x)
        for p in self.plates:
            t = p.package.ceramic_thickness_m
            middle = top + p.below_ceramic + t / 2 if p.on_top else -(p.below_ceramic + t / 2)
            out += p.sign * p.e31 * p.patch.width_m * (middle - z_n) * _inside(x, p.x_a, p.x_b)
        return out

    def blocked_capacitance(self) -> float:
        """s^T C s: own capacitance of each plate, and the axial strain they share."""
        own = 0.0
        for p in self.plates:
            works = p.x_b - p.x_a
            per_length = p.patch.width_m / p.package.ceramic_thickness_m
            own += per_length * (p.eps_blocked * works + p.eps_free * (p.patch.length_m - works))
        x, w = _gauss(self.breaks())
        force = sum(p.sign * p.e31 * p.patch.width_m * _inside(x, p.x_a, p.x_b) for p in self.plates)
        return own + float(np.sum(w * force**2 / self._section(x)[0]))

    def breaks(self) -> tuple[float, ...]:
        s = self.structure
        at = {*s.stations_m, *(m.x_m for m in s.masses), *(k.x_m for k in s.springs)}
        pieces = [piece for layer in s.layers for piece in layer.pieces]
        at |= {end for piece in pieces for end in (piece.start_m, piece.end_m) if end}
        for p in self.plates:
            a, b, margin = p.patch.x_start_m, p.patch.x_end_m, p.package.margin_m
            at |= {a - margin, a, p.x_a, p.x_b, b, b + margin}
        inside = sorted(x for x in at if 0.0 <= x <= s.span_m)
        return tuple(x for x, before in zip(inside, [-1.0, *inside], strict=False) if x - before > 1e-9)

    def as_beam(self) -> PatchedBeam:
        s = self.structure
        bodies = [(m.x_m, m.mass_kg, m.rotary_inertia_kg_m2, 0.0, 0.0) for m in s.masses]
        springs = [(k.x_m, 0.0, 0.0, k.k_t_n_m, k.k_r_nm_rad) for k in s.springs]
        ends = [(x, 0.0, 0.0, end.k_t_n_m, end.k_r_nm_rad)
                for x, end in ((0.0, s.root), (s.span_m, s.tip)) if end.kind == "elastic"]  # fmt: skip
        return PatchedBeam(
            self.breaks(), self.ei, self.mass, self.g, self.blocked_capacitance(),
            tan_delta=max((p.package.ceramic.tan_delta.value for p in self.plates), default=0.0),
            held=(HELD[s.root.kind], HELD[s.tip.kind]), attachments=(*bodies, *springs, *ends),
        )  # fmt: skip

    def _along(self, profile, x):
        stations = self.structure.stations_m
        return np.interp(x, stations, np.broadcast_to(profile, len(stations)))

    def _top(self, x):
        return sum(self._along(layer.thickness_m, x) for layer in self.structure.layers)

    def _bare(self, x):
        """(E b, rho b, z0, z1) of the structure's pieces."""
        z = np.zeros_like(x)
        net = self._along(self.structure.width_m, x)
        for layer in self.structure.layers:
            t = self._along(layer.thickness_m, x)
            fixed = sum(p.count * self._along(p.width_m, x) for p in layer.pieces if p.width_m is not None)
            for piece in layer.pieces:
                m = self.materials[piece.material]
                width = net - fixed if piece.width_m is None else piece.count * self._along(piece.width_m, x)
                width = width * _inside(x, piece.start_m, piece.end_m or self.structure.span_m)
                yield m.youngs_modulus_pa.value * width, m.density_kg_m3.value * width, z, z + t
            z = z + t

    def _bonded(self, x):
        """(E b, rho b, z0, z1) of bond, skins and ceramic of every plate."""
        top = self._top(x)
        for p in self.plates:
            package, patch = p.package, p.patch
            a, b = patch.x_start_m, patch.x_end_m
            side = package.margin_m if package.side_margin_m is None else package.side_margin_m
            full = patch.width_m + 2 * side
            over_all = _inside(x, a - package.margin_m, b + package.margin_m)
            over_ceramic = _inside(x, a, b)
            c, foil, t_u = package.ceramic, package.upper_skin.material, package.upper_skin.thickness_m
            glue, t_l = patch.bond.thickness_m, package.lower_skin.thickness_m
            tall = p.below_ceramic + package.ceramic_thickness_m
            e_p = 1 / c.s11e_1_pa.value
            layers = [
                (patch.bond.material, 0.0, glue, full * over_all),
                (package.lower_skin.material, glue, t_l, full * over_all),
                (foil, tall, t_u, patch.width_m * over_ceramic),
                (foil, p.below_ceramic, t_u, full * over_all - patch.width_m * over_ceramic),
            ]
            for name, low, t, width in layers:
                m = self.materials[name]
                yield (m.youngs_modulus_pa.value * width, m.density_kg_m3.value * width,
                       *_heights(p.on_top, top, low, t))  # fmt: skip
            z = _heights(p.on_top, top, p.below_ceramic, package.ceramic_thickness_m)
            yield e_p * patch.width_m * _inside(x, p.x_a, p.x_b), 0.0 * x, *z
            yield 0.0 * x, c.density_kg_m3.value * patch.width_m * over_ceramic, *z

    def _section(self, x, *, bare: bool = False):
        """A1, z_n, EI, m; remembered for the points asked for last."""
        if bare:
            return self._evaluated(x, bare=True)
        if x is not self._last_x:
            self._last_x, self._last_section = x, self._evaluated(x)
        return self._last_section

    def _evaluated(self, x, *, bare: bool = False):
        x = np.asarray(x, dtype=float)
        slabs = list(self._bare(x)) + ([] if bare else list(self._bonded(x)))
        a = sum(eb * (z1 - z0) for eb, _, z0, z1 in slabs)
        z_n = sum(eb * (z1**2 - z0**2) / 2 for eb, _, z0, z1 in slabs) / a
        ei = sum(eb * ((z1 - z_n) ** 3 - (z0 - z_n) ** 3) / 3 for eb, _, z0, z1 in slabs)
        m = sum(rb * (z1 - z0) for _, rb, z0, z1 in slabs)
        if not bare:
            for p in self.plates:
                field = p.e31**2 / p.eps_blocked * p.patch.width_m * p.package.ceramic_thickness_m**3 / 12
                ei = ei + field * _inside(x, p.x_a, p.x_b)
        return a, z_n, ei, m

    def _plate(self, patch: Patch, package: Package, on_top: bool, candidate: Candidate) -> _Plate:
        sign = next((m.polarity for g in candidate.groups for m in g.members if m.patch == patch.id), 0)
        paired = patch.face == "both" and patch.pair_bending
        if paired and not on_top:
            sign = -sign
        at = [patch.x_start_m, patch.x_end_m]
        if not patch.bond.rigid:
            at[0] += self._lag(patch, package, on_top, paired, at[0])
            at[1] -= self._lag(patch, package, on_top, paired, patch.x_end_m)
        return _Plate(patch, package, on_top, float(sign), *at)

    def _lag(self, patch: Patch, package: Package, on_top: bool, paired: bool, x: float) -> float:
        ends = ((0.0, self.structure.root), (self.structure.span_m, self.structure.tip))
        if any(abs(x - end) < 1e-9 and "u_x" in HELD[held.kind] for end, held in ends):
            return 0.0
        x = min(max(x, 1e-9), self.structure.span_m - 1e-9)
        a, z_n, ei, _ = (float(v[0]) for v in self._section(np.array([x]), bare=True))
        skin = self.materials[package.lower_skin.material]
        shear = skin.youngs_modulus_pa.value / 2 / (1 + skin.poisson_ratio.value)
        t_s, t_p = package.lower_skin.thickness_m, package.ceramic_thickness_m
        slip = patch.bond.thickness_m / patch.bond.shear_modulus_pa + t_s / shear
        c_s = float(self._top(np.array([x]))[0]) - z_n if on_top else z_n
        c_p = c_s + patch.bond.thickness_m + t_s + t_p / 2
        base = 2 * c_s * c_p / ei if paired else 1 / a + c_s * c_p / ei
        stiff = package.ceramic.s11e_1_pa.value / (patch.width_m * t_p)
        return (patch.width_m / slip * (stiff + base)) ** -0.5


def _inside(x, a, b):
    return ((x > a) & (x < b)).astype(float)


def _heights(on_top, top, low, thickness):
    return (top + low, top + low + thickness) if on_top else (-low - thickness + 0 * top, -low + 0 * top)


def _gauss(breaks):
    s, w = np.polynomial.legendre.leggauss(12)
    left, h = np.array(breaks[:-1])[:, None], np.diff(breaks)[:, None]
    return (left + h * (s + 1) / 2).ravel(), (h * w / 2 * np.ones_like(left)).ravel()
