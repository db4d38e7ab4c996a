"""What the factory delivers (ceramic, package, bond) and a patch: a package bonded at a place."""

from __future__ import annotations

from typing import Literal

from core.project.record import Constant, Face, Record


class Ceramic(Record, frozen=True):
    """Constants of a piezoceramic (or film) in one-dimensional transverse use, poled along z."""

    name: str
    d31_c_n: Constant
    eps33t_relative: Constant
    s11e_1_pa: Constant
    density_kg_m3: Constant
    tan_delta: Constant = Constant(0.02)
    poisson_ratio: Constant = Constant(0.31)
    loss_factor: Constant = Constant(0.0)
    curie_temperature_c: float | None = None
    reference_temperature_c: float = 20.0
    temperature_range_c: tuple[float, float] = (-40.0, 85.0)
    pyroelectric_c_m2_k: Constant = Constant(
        -3.3e-4,
        tolerance=0.4,
        source="class value of a poled soft ceramic, -200 to -450 uC/(m2 K), from memory: ask the supplier",
    )
    """Charge per electrode area and kelvin at constant stress; it says how much heat charges open leads."""
    d32_c_n: Constant | None = None
    """Strain across per field, of fibre composites and drawn films; None: as d31."""
    s22e_1_pa: Constant | None = None
    """Compliance across; None: as along."""
    d33_c_n: Constant | None = None
    """Charge per force squeezed through the thickness; only a load cell asks for it. None: that of soft ceramics."""


class PatchLimits(Record, frozen=True):
    """Allowable values of a package; each constant carries its source."""

    tensile_strain: Constant
    compressive_strain: Constant
    field_along_v_m: Constant
    field_against_v_m: Constant
    bond_shear_pa: Constant
    temperature_c: tuple[float, float] = (-40.0, 85.0)


class Skin(Record, frozen=True):
    """A cover foil of the package."""

    material: str
    thickness_m: float


class Bond(Record, frozen=True):
    """The adhesive line. `rigid` switches the shear lag off, and is said wherever used."""

    material: str
    thickness_m: float
    shear_modulus_pa: float
    rigid: bool = False


class Package(Record, frozen=True):
    """A patch as the factory makes it; length and width are those of the ceramic."""

    name: str
    ceramic: Ceramic
    length_m: float
    width_m: float
    ceramic_thickness_m: float
    lower_skin: Skin
    upper_skin: Skin
    bond: Bond
    margin_m: float
    limits: PatchLimits
    side_margin_m: float | None = None
    """Skins and bond past the ceramic's long sides; None: as at its ends."""
    lead_length_m: float = 0.12
    lead_bend_radius_m: float = 0.005
    note: str = ""

    @property
    def beside_m(self) -> float:
        """How far skins and bond run past the ceramic at its long sides."""
        return self.margin_m if self.side_margin_m is None else self.side_margin_m


class Patch(Record, frozen=True):
    """A package bonded to the structure.

    `x_start_m` is the root-side end of the ceramic. Length and width start as the package's
    and may be changed here; `y_m` is the offset of its centreline from the part's and
    `angle_rad` its turn about its middle (counter-clockwise seen from above); below the level 'across' they count
    for drawing and keep-outs only, and the prediction says so. A patch on both faces is a
    pair: two ceramics at the same place; `pair_bending` wires them with opposite signs.
    """

    id: str
    package: str
    x_start_m: float
    length_m: float
    width_m: float
    bond: Bond
    face: Face = "top"
    pair_bending: bool = True
    y_m: float = 0.0
    angle_rad: float = 0.0
    lead_exit: Literal["towards root", "towards tip", "left", "right"] = "towards root"

    @property
    def ceramics(self) -> int:
        """A pair is two."""
        return 2 if self.face == "both" else 1

    @property
    def x_end_m(self) -> float:
        return self.x_start_m + self.length_m
