"""A patch as the section sees it: strips of bond, skins and ceramic on one face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from core.beam.section import Strips
from core.beam.spec import BeamSpec, modulus
from core.piezo.bond import BondStack, bare_sections, shear_lag_m
from core.piezo.ceramic import Coefficients, coefficients
from core.project.model import Candidate, Material, Package, Patch, Project

Size = Any
"""A float, or an array (P,) where one value stands for many layouts."""


def per_layout(value: Size, axes: int) -> Size:
    """An array (P,) with `axes` more axes behind, to go with arrays over elements; a number as it is."""
    return value if np.ndim(value) == 0 else np.reshape(value, (-1,) + (1,) * axes)


@dataclass(frozen=True)
class CeramicPlate:
    """One ceramic on one face; a pair on both faces makes two.

    `x_a_eff`, `x_b_eff` bound the part the bond lets work; equal when nothing is left.
    """

    patch: str
    on_top: bool
    paired: bool
    x_a_m: Size
    x_b_m: Size
    x_a_eff_m: Size
    x_b_eff_m: Size
    width_m: Size
    thickness_m: Size
    mid_offset_m: Size
    """Distance of the ceramic's mid-plane from the bonded face."""
    shear_lag_m: tuple[Size, Size]
    """Build-up length at the root-side and tip-side end; 0 for a rigid bond or a held end."""
    coefficients: Coefficients
    package: Package

    @property
    def face(self) -> str:
        return "top" if self.on_top else "underside"


@dataclass(frozen=True)
class _Strip:
    offset_m: Size
    thickness_m: Size
    stiffness_width: Size
    mass_width: Size
    x0_m: Size
    x1_m: Size
    extra_ei_nm2: Size = 0.0
    loss_width: Size = 0.0
    is_ceramic: bool = False


@dataclass(frozen=True)
class BondedStrips:
    """All strips of a layout, with what each belongs to."""

    strips: Strips
    plate: np.ndarray
    """(k,) index of the ceramic plate each strip belongs to."""
    is_ceramic: np.ndarray
    loss_width: np.ndarray


def side_margin_m(package: Package) -> float:
    """How far skins and bond run past the ceramic at its long sides."""
    return package.margin_m if package.side_margin_m is None else package.side_margin_m


def plates_of(project: Project, candidate: Candidate, spec: BeamSpec) -> tuple[CeramicPlate, ...]:
    """The candidate's ceramics, a pair counted as two (top first)."""
    out: list[CeramicPlate] = []
    for patch in candidate.patches:
        out += plates_of_patch(project, patch, spec, patch.x_start_m, patch.length_m, patch.width_m)
    return tuple(out)


def plates_of_patch(
    project: Project,
    patch: Patch,
    spec: BeamSpec,
    x_start_m: Size,
    length_m: Size,
    width_m: Size,
    thickness_m: Size | None = None,
) -> list[CeramicPlate]:
    """The ceramics of one patch with its place and size given; arrays of them make one value that
    stands for many layouts (every size in it is then an array too). `thickness_m` None takes the
    package's ceramic."""
    materials = {m.name: m for m in project.materials}
    package = project.package(patch.package)
    thickness = package.ceramic_thickness_m if thickness_m is None else thickness_m
    faces = {"top": (True,), "underside": (False,), "both": (True, False)}[patch.face]
    return [
        _plate(package, patch, on_top, spec, materials, x_start_m, x_start_m + length_m, width_m, thickness)
        for on_top in faces
    ]


def _plate(
    package: Package,
    patch: Patch,
    on_top: bool,
    spec: BeamSpec,
    materials: dict[str, Material],
    x_a: Size,
    x_b: Size,
    width: Size,
    thickness: Size,
) -> CeramicPlate:
    coeff = coefficients(package.ceramic, wide_strip=spec.wide_strip, temperature_c=spec.temperature_c)
    paired = patch.face == "both" and patch.pair_bending
    skin = materials[package.lower_skin.material]
    e_skin = modulus(skin, wide_strip=False, temperature_c=spec.temperature_c)
    shear = (package.lower_skin.thickness_m, e_skin / (2.0 * (1.0 + skin.poisson_ratio.value)))
    stack = BondStack((patch.bond.thickness_m, patch.bond.shear_modulus_pa), shear)

    lag_a, lag_b = 0.0 * x_a, 0.0 * x_b
    if not patch.bond.rigid:
        ends = np.array([x_a, x_b]).reshape(2, -1).T
        lag = shear_lag_m(
            bare_sections(spec, ends),
            on_top=on_top,
            paired=paired,
            width_m=per_layout(width, 2),
            thickness_m=per_layout(thickness, 2),
            modulus_pa=per_layout(coeff.modulus_pa, 2),
            stack=BondStack(
                (per_layout(stack.bond[0], 2), per_layout(stack.bond[1], 2)),
                (per_layout(stack.skin[0], 2), per_layout(stack.skin[1], 2)),
            ),
        )
        lag = np.where(_slope_held(spec, ends), 0.0, lag[..., 0]).T
        lag_a, lag_b = (float(v[0]) for v in lag) if np.ndim(x_a) == 0 else lag
    middle = 0.5 * (x_a + x_b)
    gone = lag_a + lag_b >= x_b - x_a
    a_eff, b_eff = np.where(gone, middle, x_a + lag_a), np.where(gone, middle, x_b - lag_b)
    return CeramicPlate(
        patch=patch.id,
        on_top=on_top,
        paired=paired,
        x_a_m=x_a,
        x_b_m=x_b,
        x_a_eff_m=a_eff if np.ndim(x_a) else float(a_eff),
        x_b_eff_m=b_eff if np.ndim(x_a) else float(b_eff),
        width_m=width,
        thickness_m=thickness,
        mid_offset_m=stack.thickness_m + 0.5 * thickness,
        shear_lag_m=(lag_a, lag_b),
        coefficients=coeff,
        package=package,
    )


def _slope_held(spec: BeamSpec, x: np.ndarray) -> np.ndarray:
    """Whether the section at x is an end held in rotation: a ceramic end there cannot slide."""
    held = np.zeros(x.shape, dtype=bool)
    for r in spec.restraints:
        if r.order == 1 and np.all(np.isinf(r.stiffness)) and r.x_m in (0.0, spec.span_m):
            # Typed and snapped ends carry rounding; the mesh takes them as the end itself.
            held |= np.abs(x - r.x_m) <= 1e-10 * spec.span_m
    return held


def _strips_of(
    plate: CeramicPlate, patch: Patch, materials: dict[str, Material], spec: BeamSpec
) -> list[_Strip]:
    package = plate.package
    margin, side = package.margin_m, side_margin_m(package)
    full = plate.width_m + 2.0 * side
    xa, xb = plate.x_a_m, plate.x_b_m
    p0, p1 = xa - margin, xb + margin

    def layer(name: str, offset: float, t: float, width: Size, x0: Size, x1: Size) -> _Strip:
        m = materials[name]
        e = modulus(m, wide_strip=spec.wide_strip, temperature_c=spec.temperature_c)
        return _Strip(
            offset,
            t,
            e * width,
            m.density_kg_m3.value * width,
            x0,
            x1,
            loss_width=m.loss_factor.value * e * width,
        )

    tb, t1 = patch.bond.thickness_m, package.lower_skin.thickness_m
    tp, t2 = plate.thickness_m, package.upper_skin.thickness_m
    c, upper = plate.coefficients, package.upper_skin.material
    over = tb + t1
    strips = [
        layer(patch.bond.material, 0.0, tb, full, p0, p1),
        layer(package.lower_skin.material, tb, t1, full, p0, p1),
        _Strip(
            over,
            tp,
            c.modulus_pa * plate.width_m,
            0.0,
            plate.x_a_eff_m,
            plate.x_b_eff_m,
            extra_ei_nm2=c.field_stiffening_pa * plate.width_m * tp**3 / 12.0,
            loss_width=c.loss_factor * c.modulus_pa * plate.width_m,
            is_ceramic=True,
        ),
        _Strip(over, tp, 0.0, c.density_kg_m3 * plate.width_m, xa, xb),
        layer(upper, over + tp, t2, plate.width_m, xa, xb),
    ]
    if side > 0.0:
        strips.append(layer(upper, over, t2, 2.0 * side, xa, xb))
    if margin > 0.0:
        strips += [layer(upper, over, t2, full, p0, xa), layer(upper, over, t2, full, xb, p1)]
    return [s for s in strips if _some(s.thickness_m > 0.0) and _some(s.x1_m > s.x0_m)]


def bonded_strips(
    project: Project, candidate: Candidate, plates: tuple[CeramicPlate, ...], spec: BeamSpec
) -> BondedStrips | None:
    """Strips of every plate of the candidate; None without patches."""
    if not plates:
        return None
    materials = {m.name: m for m in project.materials}
    patches = {p.id: p for p in candidate.patches}
    found = [
        (i, s)
        for i, plate in enumerate(plates)
        for s in _strips_of(plate, patches[plate.patch], materials, spec)
    ]

    shape = max((np.shape(s.x0_m) for _, s in found), key=len)
    rows = [
        (
            s.offset_m,
            s.thickness_m,
            s.stiffness_width,
            s.mass_width,
            s.extra_ei_nm2,
            s.x0_m,
            s.x1_m,
            s.loss_width,
        )
        for _, s in found
    ]
    if shape:
        columns = [np.stack([np.broadcast_to(v, shape) for v in c], axis=-1) for c in zip(*rows, strict=True)]
    else:
        columns = list(np.array(rows).T)
    on_top = np.array([plates[i].on_top for i, _ in found])
    ceramic = np.array([s.is_ceramic for _, s in found])
    return BondedStrips(Strips(on_top, *columns[:7]), np.array([i for i, _ in found]), ceramic, columns[7])


def _some(condition: Any) -> bool:
    """Whether it holds anywhere; quick for the plain numbers of a single layout."""
    return bool(condition.any()) if isinstance(condition, np.ndarray) else bool(condition)
