"""A patch as the section sees it: strips of bond, skins and ceramic on one face.

`Plates` holds the ceramics of one layout, or of many, as arrays (..., J); `plate` gives one of them in
plain numbers. A pair on both faces counts as two plates, top first.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from core.beam.mesh import Mesh
from core.beam.section import Section, Strips
from core.beam.spec import BeamSpec, plane_stiffness, warming
from core.beam.varied import Number, Variation, number, size_of
from core.piezo.bond import BondStack, bare_sections, shear_lag_m
from core.piezo.ceramic import Coefficients, coefficients
from core.project.candidate import Candidate
from core.project.material import Material
from core.project.model import Project
from core.project.patch import Package, Patch, Skin

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CeramicPlate:
    """One ceramic on one face; a pair on both faces makes two.

    `x_a_eff`, `x_b_eff` bound the part the bond lets work; equal when nothing is left.
    """

    patch: str
    on_top: bool
    paired: bool
    x_a_m: float
    x_b_m: float
    x_a_eff_m: float
    x_b_eff_m: float
    width_m: float
    thickness_m: float
    mid_offset_m: float
    """Distance of the ceramic's mid-plane from the bonded face."""
    shear_lag_m: tuple[float, float]
    """Build-up length at the root-side and tip-side end; 0 for a rigid bond or a held end."""
    coefficients: Coefficients[float]
    package: Package

    @property
    def face(self) -> str:
        return "top" if self.on_top else "underside"


class Stock(NamedTuple):
    """A sheet of material in a package; numbers or arrays (..., J) of them."""

    thickness_m: Number
    q_x_pa: Number
    q_xy_pa: Number
    q_y_pa: Number
    density_kg_m3: Number
    loss_factor: Number


@dataclass(frozen=True)
class Plates:
    """The ceramics of a layout, or of many (leading axes); numbers are (..., J)."""

    patches: tuple[str, ...]
    packages: tuple[Package, ...]
    on_top: NDArray[np.bool_]
    paired: NDArray[np.bool_]
    x_a_m: Array
    x_b_m: Array
    x_a_eff_m: Array
    x_b_eff_m: Array
    width_m: Array
    thickness_m: Array
    mid_offset_m: Array
    shear_lag_m: Array
    """(..., J, 2) at the root-side and tip-side end."""
    coefficients: Coefficients[Array]
    margin_m: Array
    """(J,) package past the ceramic at its ends, and beside it."""
    side_margin_m: Array
    bond: Stock
    lower_skin: Stock
    upper_skin: Stock

    def __len__(self) -> int:
        return len(self.patches)

    def plate(self, j: int) -> CeramicPlate:
        """One ceramic of one layout in plain numbers."""
        c = self.coefficients
        constants = Coefficients(**{f.name: float(getattr(c, f.name)[j]) for f in fields(c)})
        return CeramicPlate(
            patch=self.patches[j],
            on_top=bool(self.on_top[j]),
            paired=bool(self.paired[j]),
            x_a_m=float(self.x_a_m[j]),
            x_b_m=float(self.x_b_m[j]),
            x_a_eff_m=float(self.x_a_eff_m[j]),
            x_b_eff_m=float(self.x_b_eff_m[j]),
            width_m=float(self.width_m[j]),
            thickness_m=float(self.thickness_m[j]),
            mid_offset_m=float(self.mid_offset_m[j]),
            shear_lag_m=(float(self.shear_lag_m[j, 0]), float(self.shear_lag_m[j, 1])),
            coefficients=constants,
            package=self.packages[j],
        )

    def ends_m(self) -> Array:
        """(..., k) every x where a part of a package ends, each once."""
        columns = [self.x_a_m, self.x_b_m, self.x_a_eff_m, self.x_b_eff_m]
        if self.margin_m.any():
            columns += [self.x_a_m - self.margin_m, self.x_b_m + self.margin_m]
        ends = np.concatenate(np.broadcast_arrays(*columns), axis=-1)
        kept: list[int] = []
        for i in range(ends.shape[-1]):
            if not any(np.array_equal(ends[..., i], ends[..., k]) for k in kept):
                kept.append(i)
        return ends[..., kept]


@dataclass(frozen=True)
class BondedStrips:
    """All strips of a layout, or of many, with what each belongs to."""

    strips: Strips
    plate: NDArray[np.intp]
    """(k,) index of the ceramic plate each strip belongs to."""
    is_ceramic: NDArray[np.bool_]
    loss_factor: Array


def side_margin_m(package: Package) -> float:
    """How far skins and bond run past the ceramic at its long sides."""
    return package.margin_m if package.side_margin_m is None else package.side_margin_m


class _Row(NamedTuple):
    """What one plate puts into `Plates`, before stacking."""

    x_a: Number
    length: Number
    width: Number
    thickness: Number
    bond_shear: Number
    skin_shear: Number
    constants: tuple[Number, ...]
    bond: Stock
    lower: Stock
    upper: Stock


def plates_of(
    project: Project, candidate: Candidate, spec: BeamSpec, variation: Variation | None = None
) -> Plates:
    """The candidate's ceramics, a pair counted as two (top first); leading axes where inputs vary."""
    varied = variation or {}
    rows: list[_Row] = []
    patches: list[Patch] = []
    faces: list[bool] = []
    for patch in candidate.patches:
        row = _row(project, candidate, patch, spec, varied)
        for upper in {"top": (True,), "underside": (False,), "both": (True, False)}[patch.face]:
            rows.append(row)
            patches.append(patch)
            faces.append(upper)
    packages = tuple(project.package(p.package) for p in patches)
    on_top = np.array(faces, dtype=bool)
    paired = np.array([p.face == "both" and p.pair_bending for p in patches], dtype=bool)
    x_a, length, width, thickness, bond_shear, skin_shear = (
        _column([getattr(row, name) for row in rows]) for name in _Row._fields[:6]
    )
    constants = [_column([row.constants[i] for row in rows]) for i in range(len(_CONSTANTS))]
    coeff = Coefficients(**dict(zip(_CONSTANTS, constants, strict=True)))
    bond, lower_skin, upper_skin = (
        Stock(*(_column([getattr(row, name)[i] for row in rows]) for i in range(len(Stock._fields))))
        for name in _Row._fields[7:]
    )
    stack = BondStack((np.asarray(bond.thickness_m), bond_shear), (np.asarray(lower_skin.thickness_m), skin_shear))
    count = size_of(varied)
    if count is not None:
        x_a = np.broadcast_to(x_a, (count, len(patches)))
    x_b = x_a + length
    rigid = np.array([p.bond.rigid for p in patches], dtype=bool)
    lag = _lags(spec, x_a, x_b, on_top, paired, rigid, width, thickness, coeff.modulus_pa, stack)
    middle = 0.5 * (x_a + x_b)
    gone = lag.sum(axis=-1) >= x_b - x_a
    return Plates(
        patches=tuple(p.id for p in patches),
        packages=packages,
        on_top=on_top,
        paired=paired,
        x_a_m=x_a,
        x_b_m=x_b,
        x_a_eff_m=np.where(gone, middle, x_a + lag[..., 0]),
        x_b_eff_m=np.where(gone, middle, x_b - lag[..., 1]),
        width_m=width,
        thickness_m=thickness,
        mid_offset_m=stack.thickness_m + 0.5 * thickness,
        shear_lag_m=lag,
        coefficients=coeff,
        margin_m=np.array([p.margin_m for p in packages], dtype=float),
        side_margin_m=np.array([side_margin_m(p) for p in packages], dtype=float),
        bond=bond,
        lower_skin=lower_skin,
        upper_skin=upper_skin,
    )


_CONSTANTS = tuple(f.name for f in fields(Coefficients))


def _column(values: list[Number]) -> Array:
    """(..., J) from one number, or one array (P,), per plate."""
    if any(isinstance(v, np.ndarray) for v in values):
        return np.stack(np.broadcast_arrays(*values), axis=-1)
    return np.array(values, dtype=float)


def _row(project: Project, candidate: Candidate, patch: Patch, spec: BeamSpec, varied: Variation) -> _Row:
    package = project.package(patch.package)
    path, of_package = f"candidates[{candidate.id}].patches[{patch.id}]", f"packages[{package.name}]"

    def own(name: str, nominal: float) -> Number:
        return number(varied, f"{path}.{name}", nominal)

    thickness = number(varied, f"{of_package}.ceramic_thickness_m", package.ceramic_thickness_m)
    if f"{path}.ceramic_thickness_m" in varied:
        thickness = varied[f"{path}.ceramic_thickness_m"]
    coeff = coefficients(
        package.ceramic,
        level=spec.level,
        temperature_c=spec.temperature_c,
        variation=varied,
        path=f"{of_package}.ceramic",
    )
    materials = {m.name: m for m in project.materials}
    skin = materials[package.lower_skin.material]
    e_skin = _modulus(skin, spec.temperature_c, varied)
    return _Row(
        own("x_start_m", patch.x_start_m),
        own("length_m", patch.length_m),
        own("width_m", patch.width_m),
        thickness,
        own("bond.shear_modulus_pa", patch.bond.shear_modulus_pa),
        e_skin / (2.0 * (1.0 + skin.poisson_ratio.value)),
        tuple(getattr(coeff, name) for name in _CONSTANTS),
        _stock(materials[patch.bond.material], own("bond.thickness_m", patch.bond.thickness_m), spec, varied),
        _skin(package.lower_skin, f"{of_package}.lower_skin", materials, spec, varied),
        _skin(package.upper_skin, f"{of_package}.upper_skin", materials, spec, varied),
    )


def _skin(
    skin: Skin, path: str, materials: dict[str, Material], spec: BeamSpec, varied: Variation
) -> Stock:
    thickness = number(varied, f"{path}.thickness_m", skin.thickness_m)
    return _stock(materials[skin.material], thickness, spec, varied)


def _stock(material: Material, thickness: Number, spec: BeamSpec, varied: Variation) -> Stock:
    path = f"materials[{material.name}]"
    return Stock(
        thickness,
        *plane_stiffness(material, spec.level, _modulus(material, spec.temperature_c, varied)),
        number(varied, f"{path}.density_kg_m3", material.density_kg_m3.value),
        number(varied, f"{path}.loss_factor", material.loss_factor.value),
    )


def _modulus(material: Material, temperature_c: float | None, varied: Variation) -> Number:
    constant = material.youngs_modulus_pa
    e = number(varied, f"materials[{material.name}].youngs_modulus_pa", constant.value)
    return e * warming(constant, material.reference_temperature_c, temperature_c)


def _lags(
    spec: BeamSpec,
    x_a: Array,
    x_b: Array,
    on_top: NDArray[np.bool_],
    paired: NDArray[np.bool_],
    rigid: NDArray[np.bool_],
    width: Array,
    thickness: Array,
    modulus_pa: Array,
    stack: BondStack,
) -> Array:
    """(..., J, 2) build-up length at both ends of every ceramic."""
    ends = np.stack(np.broadcast_arrays(x_a, x_b), axis=-1)
    if rigid.all():
        return np.zeros_like(ends)
    flat = ends.reshape(*ends.shape[:-2], -1)
    lag = shear_lag_m(
        bare_sections(spec, flat),
        on_top=np.repeat(on_top, 2),
        paired=np.repeat(paired, 2),
        width_m=np.repeat(width, 2, axis=-1),
        thickness_m=np.repeat(thickness, 2, axis=-1),
        modulus_pa=np.repeat(modulus_pa, 2, axis=-1),
        stack=BondStack(_at_ends(stack.bond), _at_ends(stack.skin)),
    )
    lag = np.where(np.repeat(rigid, 2) | _slope_held(spec, flat), 0.0, lag)
    return lag.reshape(*lag.shape[:-1], -1, 2)


def _at_ends(pair: tuple[Array, Array]) -> tuple[Array, Array]:
    return np.repeat(pair[0], 2, axis=-1), np.repeat(pair[1], 2, axis=-1)


def _slope_held(spec: BeamSpec, x: Array) -> NDArray[np.bool_]:
    """Whether the section at x is an end held in rotation: a ceramic end there cannot slide."""
    held = np.zeros(x.shape, dtype=bool)
    for i, r in enumerate(spec.restraints):
        if r.order == 1 and r.x_m in (0.0, spec.span_m) and np.isinf(spec.stiffness[..., i]).all():
            # Typed and snapped ends carry rounding; the mesh takes them as the end itself.
            held |= np.abs(x - r.x_m) <= 1e-10 * spec.span_m
    return held


def working(mesh: Mesh, plates: Plates) -> NDArray[np.bool_]:
    """(..., J, e) elements under each plate's working part."""
    middle = mesh.middle_m[..., None, :]
    return (middle > plates.x_a_eff_m[..., None]) & (middle < plates.x_b_eff_m[..., None])


def mid_height_m(section: Section, plates: Plates) -> Array:
    """(..., J, e, q) height of each ceramic's mid-plane above the underside."""
    offset = plates.mid_offset_m[..., None, None]
    on_top = plates.on_top[:, None, None]
    return np.where(on_top, section.top_m[..., None, :, :] + offset, -offset)


def bonded_strips(plates: Plates) -> BondedStrips | None:
    """Strips of every plate; None without patches."""
    if not len(plates):
        return None
    p, c = plates, plates.coefficients
    x_a, x_b, start, end = p.x_a_m, p.x_b_m, p.x_a_m - p.margin_m, p.x_b_m + p.margin_m
    half = 0.5 * p.width_m
    full = half + p.side_margin_m
    over, t, none = p.bond.thickness_m + p.lower_skin.thickness_m, p.thickness_m, np.zeros(len(plates))

    def plies(s: Stock, offset: Number, electrode: tuple[Number, ...] = (0.0, 0.0, 0.0)) -> tuple[Number, ...]:
        return offset, s.thickness_m, s.loss_factor, s.q_x_pa, s.q_xy_pa, s.q_y_pa, *electrode

    def sides(s: Stock, inner: Array, outer: Array) -> tuple[Number, ...]:
        return inner, outer, s.density_kg_m3 * 2.0 * (outer - inner)

    ceramic = Stock(t, c.q_x_pa, c.q_xy_pa, c.q_y_pa, c.density_kg_m3, c.loss_factor)
    electrode = (c.e_x_c_m2, c.e_y_c_m2, c.permittivity_blocked)
    # What works of the ceramic has stiffness and no mass; the whole of it has its mass.
    rows = (
        (plies(p.bond, 0.0), sides(p.bond, none, full), (start, end)),
        (plies(p.lower_skin, p.bond.thickness_m), sides(p.lower_skin, none, full), (start, end)),
        (plies(ceramic, over, electrode), (none, half, 0.0), (p.x_a_eff_m, p.x_b_eff_m)),
        ((over, t, *(0.0,) * 7), sides(ceramic, none, half), (x_a, x_b)),
        (plies(p.upper_skin, over + t), sides(p.upper_skin, none, half), (x_a, x_b)),
        (plies(p.upper_skin, over), sides(p.upper_skin, half, full), (x_a, x_b)),
        (plies(p.upper_skin, over), sides(p.upper_skin, none, full), (start, x_a)),
        (plies(p.upper_skin, over), sides(p.upper_skin, none, full), (x_b, end)),
    )
    ply, side, place = (_tabled([row[i] for row in rows], len(plates)) for i in range(3))
    used = (ply[..., 1] > 0.0) & (place[..., 1] > place[..., 0]) & (side[..., 1] > side[..., 0])
    used &= (ply[..., 3] > 0.0) | (side[..., 2] > 0.0)
    kept = np.flatnonzero(used.reshape(-1, used.shape[-1]).any(axis=0))
    index = np.tile(np.arange(len(plates)), len(rows))[kept]
    is_ceramic = np.repeat(np.arange(len(rows)) == CERAMIC, len(plates))[kept]
    ply, side, place = ply[..., kept, :], side[..., kept, :], place[..., kept, :]
    strips = Strips(
        on_top=plates.on_top[index],
        offset_m=ply[..., 0],
        thickness_m=ply[..., 1],
        inner_m=side[..., 0],
        outer_m=side[..., 1],
        stiffness_pa=ply[..., 3:6],
        electrode=ply[..., 6:9],
        mass_width=side[..., 2],
        x0_m=place[..., 0],
        x1_m=place[..., 1],
    )
    return BondedStrips(strips, index, is_ceramic, ply[..., 2])


def _tabled(rows: list[tuple[Number, ...]], plates: int) -> Array:
    """(..., kinds * J, columns) of rows of numbers (..., J), with the axis of layouts only where one has it."""
    shapes = {np.shape(v) for row in rows for v in row}
    out = np.empty((*np.broadcast_shapes((plates,), *shapes)[:-1], len(rows), plates, len(rows[0])))
    for kind, row in enumerate(rows):
        for column, value in enumerate(row):
            out[..., kind, :, column] = value
    return out.reshape(*out.shape[:-3], len(rows) * plates, len(rows[0]))


CERAMIC = 2
"""The ceramic's place among the kinds of strips in a package."""
