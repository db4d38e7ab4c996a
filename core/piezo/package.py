"""A patch as the section sees it: strips of bond, skins and ceramic on one face.

`Plates` holds the ceramics of one layout, or of many, as arrays (..., J); `plate` gives one of them in
plain numbers. A pair on both faces counts as two plates, top first.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace as replaced
from numpy.typing import NDArray

from core.beam.askew import Askew
from core.beam.spec import WARPING, BeamSpec, moduli, warming
from core.beam.varied import Number, Variation, number, size_of
from core.piezo.bond import BondStack, bare_sections, shear_lag_m, soft_sheet_m_pa
from core.piezo.ceramic import Coefficients, coefficients
from core.piezo.lags_along import LagsAlong
from core.piezo.sheets import BondedStrips, Stock, sheets_of
from core.piezo.turned_moduli import turned
from core.project.candidate import Candidate
from core.project.material import Material
from core.project.model import Project
from core.project.patch import Package, Patch, Skin
from core.project.structure import Level

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
    works_m: tuple[float, float]
    """The least and the largest x under the part that works."""
    working_width_m: float

    @property
    def face(self) -> str:
        return "top" if self.on_top else "underside"


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
    sheets: BondedStrips
    """Every sheet there may be, over no range of x yet."""
    y_m: Array
    """Of the middle; nothing of it and of the turn where they are left out."""
    angle_rad: Array
    working_width_m: Array
    is_askew: bool = False
    """Whether some patch or point mass lies off the centreline or a patch is turned, and that is calculated."""

    @cached_property
    def working(self) -> Askew:
        """(..., J) the part of each ceramic that works."""
        side, middle = 0.5 * self.working_width_m, 0.5 * (self.x_a_m + self.x_b_m)
        start, end = self.x_a_eff_m - middle, self.x_b_eff_m - middle
        return Askew(middle, self.y_m, np.cos(self.angle_rad), np.sin(self.angle_rad), start, end, -side, side)

    @cached_property
    def works_m(self) -> tuple[Array, Array]:
        """(..., J) the least and the largest x under what works of each ceramic."""
        return self.working.reach_m() if self.is_askew else (self.x_a_eff_m, self.x_b_eff_m)

    def __len__(self) -> int:
        return len(self.patches)

    @property
    def unbonded_f(self) -> Array:
        """(..., J) capacitance before bonding: eps33T l b / t."""
        area = (self.x_b_m - self.x_a_m) * self.width_m
        return np.asarray(self.coefficients.permittivity_free * area / self.thickness_m)

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
            works_m=(float(self.works_m[0][j]), float(self.works_m[1][j])),
            working_width_m=float(self.working_width_m[j]),
        )

    def ends_m(self) -> Array:
        """(..., k) every x where a part of a package ends, each once."""
        if self.is_askew:
            return self._corners_m()
        columns = [self.x_a_m, self.x_b_m, self.x_a_eff_m, self.x_b_eff_m]
        if self.margin_m.any():
            columns += [self.x_a_m - self.margin_m, self.x_b_m + self.margin_m]
        if self.x_b_m.ndim == 1:
            return np.array(sorted({x for column in columns for x in column.tolist()}))
        ends = np.concatenate(np.broadcast_arrays(*columns), axis=-1)
        kept: list[int] = []
        for i in range(ends.shape[-1]):
            if not any(np.array_equal(ends[..., i], ends[..., k]) for k in kept):
                kept.append(i)
        return ends[..., kept]


    def _corners_m(self) -> Array:
        """(..., k) x of every corner of a sheet."""
        bonded = bonded_strips(self)
        if bonded is None or bonded.strips.askew is None:
            return np.zeros(0)
        x = bonded.strips.askew.corners()[0]
        x = x.reshape(*x.shape[:-2], -1)
        return np.array(sorted(set(x.tolist()))) if x.ndim == 1 else x


class _Row(NamedTuple):
    """What one plate puts into `Plates`, before stacking."""

    length: Number
    width: Number
    thickness: Number
    bond_shear: Number
    skin_shear: Number
    constants: tuple[Number, ...]
    bond: Stock
    lower: Stock
    upper: Stock


class _Make(NamedTuple):
    """Plates with all that does not depend on where they lie, every place 0."""

    plates: Plates
    length_m: Array
    rigid: NDArray[np.bool_]
    stack: BondStack


def plates_of(
    project: Project, candidate: Candidate, spec: BeamSpec, variation: Variation | None = None
) -> Plates:
    """The candidate's ceramics, a pair counted as two (top first); leading axes where inputs vary."""
    varied = variation or {}
    patches = tuple(p for p in candidate.patches for _ in FACES_OF[p.face])
    count = size_of(varied)
    if count is None:
        kinds = tuple(replaced(p, x_start_m=0.0) for p in candidate.patches)
        make, along = _remembered(project.packages, project.materials, candidate.id, kinds, spec)
    else:
        along = None
        make = _make(
            project.packages, project.materials, candidate.id, candidate.patches, spec.level, spec.temperature_c, varied
        )
    path = f"candidates[{candidate.id}].patches"
    x_a = _column([number(varied, f"{path}[{p.id}].x_start_m", p.x_start_m) for p in patches])
    if count is not None:
        x_a = np.broadcast_to(x_a, (count, len(patches)))
    x_b = x_a + make.length_m
    asked = [[number(varied, f"{path}[{p.id}].{name}", getattr(p, name)) for p in patches] for name in ("y_m", "angle_rad")]
    y, angle = (_column(v) if spec.level == "across" and spec.holds_roll else np.zeros(len(patches)) for v in asked)
    is_askew = bool(y.any() or np.sin(angle).any()) or spec.leans
    lag = _lags(spec, x_a, x_b, make, along, angle if is_askew else None)
    # It is strain along the part that builds up: at an edge with its normal aslant, by the square of the cosine.
    ends, sides = (lag, 0.0) if not is_askew else (lag * np.cos(angle)[..., None] ** 2, lag.mean(axis=-1) * np.sin(angle) ** 2)
    middle, gone = 0.5 * (x_a + x_b), ends.sum(axis=-1) >= x_b - x_a
    return replace(
        make.plates,
        x_a_m=x_a,
        x_b_m=x_b,
        x_a_eff_m=np.where(gone, middle, x_a + ends[..., 0]),
        x_b_eff_m=np.where(gone, middle, x_b - ends[..., 1]),
        working_width_m=np.maximum(make.plates.width_m - 2.0 * sides, 0.0),
        shear_lag_m=lag,
        y_m=y,
        angle_rad=angle,
        is_askew=is_askew,
    )


FACES_OF = {"top": (True,), "underside": (False,), "both": (True, False)}
"""Whether each ceramic of a patch lies on top, by the patch's face."""


@lru_cache(maxsize=32)
def _remembered(
    packages: tuple[Package, ...],
    materials: tuple[Material, ...],
    candidate_id: str,
    patches: tuple[Patch, ...],
    spec: BeamSpec,
) -> tuple[_Make, LagsAlong | None]:
    """While a patch is dragged only its place changes."""
    make = _make(packages, materials, candidate_id, patches, spec.level, spec.temperature_c, {})
    along = None if make.rigid.all() else LagsAlong.of(spec, lambda x: _lag_at(spec, np.broadcast_to(x, (len(make.plates), x.size)), make))
    return make, along if along is not None and along.is_smooth else None


def _make(
    packages: tuple[Package, ...],
    materials: tuple[Material, ...],
    candidate_id: str,
    patches: tuple[Patch, ...],
    level: Level,
    temperature_c: float | None,
    varied: Variation,
) -> _Make:
    by_name, stuff = {p.name: p for p in packages}, {m.name: m for m in materials}
    rows: list[_Row] = []
    every: list[Patch] = []
    faces: list[bool] = []
    for patch in patches:
        path = f"candidates[{candidate_id}].patches[{patch.id}]"
        row = _row(by_name[patch.package], stuff, path, patch, level, temperature_c, varied)
        for upper in FACES_OF[patch.face]:
            rows.append(row)
            every.append(patch)
            faces.append(upper)
    own = tuple(by_name[p.package] for p in every)
    length, width, thickness, bond_shear, skin_shear = (
        _column([getattr(row, name) for row in rows]) for name in _Row._fields[:5]
    )
    constants = [_column([row.constants[i] for row in rows]) for i in range(len(_CONSTANTS))]
    coeff = Coefficients(**dict(zip(_CONSTANTS, constants, strict=True)))
    bond, lower_skin, upper_skin = (
        Stock(*(_column([getattr(row, name)[i] for row in rows]) for i in range(len(Stock._fields))))
        for name in _Row._fields[6:]
    )
    stack = BondStack((np.asarray(bond.thickness_m), bond_shear), (np.asarray(lower_skin.thickness_m), skin_shear))
    on_top, nowhere = np.array(faces, dtype=bool), np.zeros(len(every))
    sides = np.array([p.beside_m for p in own], dtype=float)
    plates = Plates(
        patches=tuple(p.id for p in every),
        packages=own,
        on_top=on_top,
        paired=np.array([p.face == "both" and p.pair_bending for p in every], dtype=bool),
        x_a_m=nowhere,
        x_b_m=nowhere,
        x_a_eff_m=nowhere,
        x_b_eff_m=nowhere,
        width_m=width,
        thickness_m=thickness,
        mid_offset_m=stack.thickness_m + 0.5 * thickness,
        shear_lag_m=np.zeros((len(every), 2)),
        coefficients=coeff,
        margin_m=np.array([p.margin_m for p in own], dtype=float),
        side_margin_m=sides,
        bond=bond,
        lower_skin=lower_skin,
        upper_skin=upper_skin,
        sheets=sheets_of(on_top, width, thickness, sides, coeff, bond, lower_skin, upper_skin),
        y_m=nowhere,
        angle_rad=nowhere,
        working_width_m=width,
    )
    return _Make(plates, length, np.array([p.bond.rigid for p in every], dtype=bool), stack)


_CONSTANTS = tuple(f.name for f in fields(Coefficients))


def _column(values: list[Number]) -> Array:
    """(..., J) from one number, or one array (P,), per plate."""
    if any(isinstance(v, np.ndarray) for v in values):
        return np.stack(np.broadcast_arrays(*values), axis=-1)
    return np.array(values, dtype=float)


def _row(
    package: Package,
    materials: dict[str, Material],
    path: str,
    patch: Patch,
    level: Level,
    temperature_c: float | None,
    varied: Variation,
) -> _Row:
    """What one patch is made of, in SI at a temperature (None: the constants' own).

    materials : by name; path : of the patch in the project, under which `varied` may give (P,) values; level :
    of the mechanics, by which moduli are reduced.
    """
    of_package = f"packages[{package.name}]"

    def own(name: str, nominal: float) -> Number:
        return number(varied, f"{path}.{name}", nominal)

    def stock(name: str, thickness: Number) -> Stock:
        return _stock(materials[name], thickness, level, temperature_c, varied)

    def skin(s: Skin, name: str) -> Stock:
        return stock(s.material, number(varied, f"{of_package}.{name}.thickness_m", s.thickness_m))

    thickness = number(varied, f"{of_package}.ceramic_thickness_m", package.ceramic_thickness_m)
    if f"{path}.ceramic_thickness_m" in varied:
        thickness = varied[f"{path}.ceramic_thickness_m"]
    coeff = coefficients(
        package.ceramic,
        level=level,
        temperature_c=temperature_c,
        variation=varied,
        path=f"{of_package}.ceramic",
    )
    lower = materials[package.lower_skin.material]
    e_skin = _modulus(lower, temperature_c, varied)
    return _Row(
        own("length_m", patch.length_m),
        own("width_m", patch.width_m),
        thickness,
        own("bond.shear_modulus_pa", patch.bond.shear_modulus_pa),
        e_skin / (2.0 * (1.0 + lower.poisson_ratio.value)),
        tuple(getattr(coeff, name) for name in _CONSTANTS),
        stock(patch.bond.material, own("bond.thickness_m", patch.bond.thickness_m)),
        skin(package.lower_skin, "lower_skin"),
        skin(package.upper_skin, "upper_skin"),
    )


def _stock(
    material: Material, thickness: Number, level: Level, temperature_c: float | None, varied: Variation
) -> Stock:
    path = f"materials[{material.name}]"
    return Stock(
        thickness,
        *moduli(material, level, _modulus(material, temperature_c, varied)),
        number(varied, f"{path}.density_kg_m3", material.density_kg_m3.value),
        number(varied, f"{path}.loss_factor", material.loss_factor.value),
    )


def _modulus(material: Material, temperature_c: float | None, varied: Variation) -> Number:
    constant = material.youngs_modulus_pa
    e = number(varied, f"materials[{material.name}].youngs_modulus_pa", constant.value)
    return e * warming(constant, material.reference_temperature_c, temperature_c)


def _lags(spec: BeamSpec, x_a: Array, x_b: Array, make: _Make, along: LagsAlong | None, angle: Array | None = None) -> Array:
    """(..., J, 2) build-up length at both ends of every ceramic; the ends of a turned one are where its middle line
    leaves it. Told `along` the part where it is known."""
    if angle is not None:
        middle, half = 0.5 * (x_a + x_b), 0.5 * (x_b - x_a) * np.abs(np.cos(angle))
        x_a, x_b = middle - half, middle + half
    ends = np.empty((*x_b.shape, 2))
    ends[..., 0], ends[..., 1] = x_a, x_b
    if make.rigid.all():
        return np.zeros_like(ends)
    lag = _lag_at(spec, ends, make) if along is None else along.at(ends)
    return np.where(make.rigid[:, None] | _slope_held(spec, ends), 0.0, lag)


def _lag_at(spec: BeamSpec, x: Array, make: _Make) -> Array:
    """(..., J, k) build-up length of every ceramic were its end at x (..., J, k) and the bond not rigid."""
    flat, p, count = x.reshape(*x.shape[:-2], -1), make.plates, x.shape[-1]
    top = np.repeat(p.on_top, count)
    width, thickness, modulus_pa = (
        np.repeat(v, count, axis=-1) for v in (p.width_m, p.thickness_m, p.coefficients.modulus_pa)
    )
    sheet: Array | float = 0.0
    if spec.level in WARPING:
        sheet = soft_sheet_m_pa(spec, flat, top, thickness, modulus_pa)
    bond, skin = ((np.repeat(v, count, axis=-1), np.repeat(g, count, axis=-1)) for v, g in (make.stack.bond, make.stack.skin))
    lag = shear_lag_m(
        bare_sections(spec, flat),
        on_top=top,
        paired=np.repeat(p.paired, count),
        width_m=width,
        thickness_m=thickness,
        modulus_pa=modulus_pa,
        stack=BondStack(bond, skin, sheet),
    )
    return lag.reshape(*lag.shape[:-1], -1, count)


def _slope_held(spec: BeamSpec, x: Array) -> NDArray[np.bool_]:
    """Whether the section at x is an end held in rotation: a ceramic end there cannot slide."""
    held = np.zeros(x.shape, dtype=bool)
    for end in _held_ends_m(spec):
        # Typed and snapped ends carry rounding; the mesh takes them as the end itself.
        held |= np.abs(x - end) <= 1e-10 * spec.span_m
    return held


@lru_cache(maxsize=32)
def _held_ends_m(spec: BeamSpec) -> tuple[float, ...]:
    """Ends held in rotation."""
    stiff = (np.isinf(spec.stiffness[..., i]).all() for i in range(len(spec.restraints)))
    return tuple(r.x_m for r, s in zip(spec.restraints, stiff, strict=True) if s and r.order == 1 and r.x_m in (0.0, spec.span_m))


def bonded_strips(plates: Plates) -> BondedStrips | None:
    """Strips of every plate; None without patches."""
    if not len(plates):
        return None
    p, every = plates, plates.sheets.strips
    x_a, x_b, start, end = p.x_a_m, p.x_b_m, p.x_a_m - p.margin_m, p.x_b_m + p.margin_m
    whole = (start, end)
    over = (whole, whole, (p.x_a_eff_m, p.x_b_eff_m), (x_a, x_b), (x_a, x_b), (x_a, x_b), (start, x_a), (x_b, end))
    x0, x1 = (np.concatenate([ends[i] for ends in over], axis=-1) for i in range(2))
    used = (every.thickness_m > 0.0) & (x1 > x0) & (every.outer_m > every.inner_m)
    used &= (every.stiffness_pa[..., 0] > 0.0) | (every.mass_width > 0.0)
    kept = np.flatnonzero(used.reshape(-1, used.shape[-1]).any(axis=0))
    own = plates.sheets
    if plates.is_askew:
        kept, askew = _askew(plates, kept, x0, x1)
        strips = replace(every.placed(kept, *askew.reach_m()), askew=askew)
        side = 0.5 * (askew.eta1_m - askew.eta0_m)
        mass = strips.mass_width * side / (strips.outer_m - strips.inner_m)
        moduli_pa, electrode, skew = turned(strips.stiffness_pa, strips.electrode, askew.cosine, askew.sine)
        strips = replace(
            strips, inner_m=np.zeros_like(side), outer_m=side, mass_width=mass, stiffness_pa=moduli_pa, electrode=electrode, skew=skew
        )
        return BondedStrips(strips, own.plate[kept], own.is_ceramic[kept], own.loss_factor[..., kept])
    strips = every.placed(kept, x0[..., kept], x1[..., kept])
    return BondedStrips(strips, own.plate[kept], own.is_ceramic[kept], own.loss_factor[..., kept])


def _askew(plates: Plates, kept: NDArray[np.intp], x0: Array, x1: Array) -> tuple[NDArray[np.intp], Askew]:
    """Some sheets as rectangles, those that lie beside the ceramic twice; with which sheet each is."""
    every = plates.sheets.strips
    inner = every.inner_m[..., kept]
    twice = (inner > 0.0).reshape(-1, len(kept)).any(axis=0)
    other_side = np.concatenate([np.zeros(len(kept), dtype=bool), np.ones(int(twice.sum()), dtype=bool)])
    beside = np.concatenate([twice, np.ones(int(twice.sum()), dtype=bool)])
    kept = np.concatenate([kept, kept[twice]])
    inner, j = every.inner_m[..., kept], plates.sheets.plate[kept]
    outer = np.where(plates.sheets.is_ceramic[kept], 0.5 * plates.working_width_m[..., j], every.outer_m[..., kept])
    middle = (0.5 * (plates.x_a_m + plates.x_b_m))[..., j]
    angle = plates.angle_rad[..., j]
    low = np.where(other_side | ~beside, -outer, inner)
    high = np.where(other_side, -inner, outer)
    y = plates.y_m[..., j]
    return kept, Askew(middle, y, np.cos(angle), np.sin(angle), x0[..., kept] - middle, x1[..., kept] - middle, low, high)
