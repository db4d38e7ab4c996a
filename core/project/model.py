"""What a person saves: structure, patches, circuits, loads, candidates, sheet data.

Every value is immutable and in SI; a unit stands in every field name whose type does not
tell it. `x` runs along the span from the support at x = 0 to the tip, `z` is up from the
underside, `y` is across, measured from the centreline, positive to the left when looking
from the root to the tip. Nothing here computes: validation is in `problems.py`, reading
and writing in `store.py`, editing in `edit.py`.
"""

from __future__ import annotations

from typing import Literal

import msgspec

FORMAT_VERSION = 2

Status = Literal["measured", "data sheet", "assumed"]
CircuitName = Literal[
    "shorted",
    "open",
    "resistor",
    "series R-L",
    "parallel R-L",
    "resistor + C",
    "series R-L + C",
    "parallel R-L + C",
]
Face = Literal["top", "underside", "both"]
SupportKind = Literal["clamped", "pinned", "guided", "free", "elastic"]
Level = Literal["plain", "section"]
Profile = float | tuple[float, ...]
"""A single value for the whole span, or one value per station (linear in between)."""


class Record(msgspec.Struct, frozen=True, forbid_unknown_fields=True, cache_hash=True):
    """Base of all saved values: immutable, compared by value, unknown fields refused."""


class Constant(Record, frozen=True):
    """A material constant with its standing.

    `tolerance` and `per_kelvin` are relative (0.2 means +/- 20 %; 0.003 means +0.3 %/K,
    about the reference temperature of the material it belongs to).
    """

    value: float
    tolerance: float | None = None
    per_kelvin: float = 0.0
    status: Status = "assumed"
    source: str = ""


class Material(Record, frozen=True):
    """An elastic material of the structure, of a skin or of a bond line."""

    name: str
    youngs_modulus_pa: Constant
    density_kg_m3: Constant
    loss_factor: Constant = Constant(0.0)
    poisson_ratio: Constant = Constant(0.3)
    """Contraction across per strain along the span."""
    reference_temperature_c: float = 20.0
    temperature_range_c: tuple[float, float] = (-40.0, 80.0)
    youngs_modulus_across_pa: Constant | None = None
    """Across the span, of wood and laminates; None: as along."""


class Piece(Record, frozen=True):
    """One material strip within a layer; several lie side by side.

    `width_m` None takes what the fixed pieces leave of the net width; `count` equal strips
    (two steel edges) share one entry. The piece exists from `start_m` to `end_m` (None: tip).
    """

    material: str
    width_m: Profile | None = None
    count: int = 1
    start_m: float = 0.0
    end_m: float | None = None


class Layer(Record, frozen=True):
    """A layer of the lay-up with its thickness along the span and its pieces."""

    name: str
    thickness_m: Profile
    pieces: tuple[Piece, ...]


class CutOut(Record, frozen=True):
    """Material removed through every layer: a round hole or a rectangular slot.

    `x_m`, `y_m` is the centre; a hole uses `diameter_m`, a slot `length_m` (along x) and
    `width_m` (across).
    """

    kind: Literal["hole", "slot"]
    x_m: float
    y_m: float = 0.0
    diameter_m: float = 0.0
    length_m: float = 0.0
    width_m: float = 0.0


class Support(Record, frozen=True):
    """One end of the span. `k_t` and `k_r` count for the elastic kind only."""

    kind: SupportKind = "clamped"
    k_t_n_m: float = 0.0
    k_r_nm_rad: float = 0.0


class PointMass(Record, frozen=True):
    """A mass bonded or bolted at x, with its own rotary inertia about its centre."""

    name: str
    x_m: float
    mass_kg: float
    rotary_inertia_kg_m2: float = 0.0


class GroundSpring(Record, frozen=True):
    """Springs from the beam to ground at x."""

    name: str
    x_m: float
    k_t_n_m: float = 0.0
    k_r_nm_rad: float = 0.0


class Damping(Record, frozen=True):
    """Inherent damping: `ratios` per mode (the last one serves all higher modes), or by
    modal strain energy from the materials' loss factors when `from_loss_factors`."""

    ratios: tuple[float, ...] = (0.003,)
    from_loss_factors: bool = False


class KeepOut(Record, frozen=True):
    """A zone of a face where no part of a package may lie.

    `polygon_m` gives (x, y) corners; None means the full width from `x_start_m` to `x_end_m`.
    """

    name: str
    face: Face
    x_start_m: float
    x_end_m: float
    polygon_m: tuple[tuple[float, float], ...] | None = None


class DatumFeature(Record, frozen=True):
    """A feature a person can touch, from which the shop measures along x.

    `touchable` False marks a reference (the support line) that the sheet must not use. With a
    `diameter_m` it is a round hole with its middle at (`x_m`, `y_m`): drawn as one, and no ceramic
    may lie over it. The beam is weakened only by cut-outs.
    """

    name: str
    x_m: float
    touchable: bool = True
    y_m: float = 0.0
    diameter_m: float | None = None


Ring = tuple[tuple[float, float], ...]
"""Corners (x, y) of a closed line in beam axes, m; the last one joins the first."""


class Outline(Record, frozen=True):
    """The true plan outline of the part, as it came from a drawing: edge and holes.

    The beam is calculated from `Structure.width_m` and `cut_outs`; the true outline is for
    drawing and for whether a package lies on the part.
    """

    exterior: Ring
    holes: tuple[Ring, ...] = ()
    source: str = ""

    def __hash__(self) -> int:
        # A structure is hashed on every mouse move; a thousand corners would cost more than they tell.
        return hash((len(self.exterior), self.exterior[:1], len(self.holes), self.source))


class Structure(Record, frozen=True):
    """The customer's part as a straight layered beam of variable section."""

    name: str
    stations_m: tuple[float, ...]
    width_m: Profile
    layers: tuple[Layer, ...]
    root: Support = Support("clamped")
    tip: Support = Support("free")
    cut_outs: tuple[CutOut, ...] = ()
    masses: tuple[PointMass, ...] = ()
    springs: tuple[GroundSpring, ...] = ()
    level: Level = "section"
    """Of the mechanics: 'section' holds layers to contract across together, 'plain' frees each by itself."""
    damping: Damping = Damping()
    keep_outs: tuple[KeepOut, ...] = ()
    datums: tuple[DatumFeature, ...] = ()
    weighed_mass_kg: float | None = None
    dead_weight_stiffness_n_m: float | None = None
    outline: Outline | None = None
    """The true outline where it was taken from a drawing; None: what the stations say."""

    @property
    def span_m(self) -> float:
        return self.stations_m[-1]


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


class Patch(Record, frozen=True):
    """A package bonded to the structure.

    `x_start_m` is the root-side end of the ceramic. Length and width start as the package's
    and may be changed here; `y_m` is the offset of its centreline from the part's and
    `angle_rad` its turn (counter-clockwise seen from above), both for drawing and keep-outs
    (the beam model takes a straight, centred patch and says so). A patch on both faces is a
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
    def x_end_m(self) -> float:
        return self.x_start_m + self.length_m


class Tuning(Record, frozen=True):
    """How circuit values follow the model: closed form, or the optimum of the coupled model.

    `mode` counts from 1. `goal`: largest damping of that mode; lowest peak of the response at
    the load case's output near that mode; lowest mean-square response over the load's band;
    or the weighted sum of damping over modes with `weights`.
    """

    mode: int = 1
    rule: Literal["closed form", "optimum"] = "closed form"
    goal: Literal["damping", "peak", "mean square", "weighted"] = "damping"
    weights: tuple[float, ...] = ()


class Circuit(Record, frozen=True):
    """What is connected to a group. `kind` names an entry of the circuit registry, `values`
    its parameters by the registry's names (SI); `tuning` None keeps the values fixed."""

    kind: CircuitName = "shorted"
    values: dict[str, float] = {}
    tuning: Tuning | None = None


class Instrument(Record, frozen=True):
    """An input that hangs on a group in parallel with its circuit."""

    name: str = "instrument input"
    resistance_ohm: float = 1e6
    capacitance_f: float = 0.0


class Member(Record, frozen=True):
    """A patch in a group; `polarity` +1 connects the dot to the group's positive lead."""

    patch: str
    polarity: Literal[1, -1] = 1


class Group(Record, frozen=True):
    """Patches wired together and what hangs on their leads."""

    id: str
    members: tuple[Member, ...]
    wiring: Literal["parallel", "series"] = "parallel"
    circuit: Circuit = Circuit()
    instrument: Instrument | None = None


class Candidate(Record, frozen=True):
    """One layout: patches, groups and circuits on the project's structure."""

    id: str
    name: str
    patches: tuple[Patch, ...] = ()
    groups: tuple[Group, ...] = ()
    note: str = ""


class TipForce(Record, frozen=True, tag="force"):
    """A harmonic point force of amplitude `force_n` at `x_m` (None: tip) over `band_hz`."""

    name: str
    force_n: float
    band_hz: tuple[float, float]
    x_m: float | None = None


class RootAcceleration(Record, frozen=True, tag="root acceleration"):
    """Base motion: `level_m_s2` is the amplitude of a sine swept over the band, or with
    `random` the root-mean-square of a flat spectrum over the band."""

    name: str
    level_m_s2: float
    band_hz: tuple[float, float]
    random: bool = False


class Release(Record, frozen=True, tag="release"):
    """Let go from the static bend that a force at `x_m` (None: tip) makes, sized to give
    `deflection_m` there."""

    name: str
    deflection_m: float
    band_hz: tuple[float, float]
    x_m: float | None = None


class Impact(Record, frozen=True, tag="impact"):
    """A half-sine force of impulse `impulse_n_s` and `duration_s` at `x_m` (None: tip)."""

    name: str
    impulse_n_s: float
    duration_s: float
    band_hz: tuple[float, float]
    x_m: float | None = None


class BaseShock(Record, frozen=True, tag="base shock"):
    """A half-sine of base acceleration, `peak_m_s2` high (up positive) and `duration_s` long."""

    name: str
    peak_m_s2: float
    duration_s: float
    band_hz: tuple[float, float]


class RandomBase(Record, frozen=True, tag="random base"):
    """Random base acceleration by its spectral density: `spectrum_hz_m2_s3` lists frequency in Hz and
    density in (m/s2)^2/Hz, between which it runs straight in the logarithms of both; nothing outside."""

    name: str
    spectrum_hz_m2_s3: tuple[tuple[float, float], ...]

    @property
    def band_hz(self) -> tuple[float, float]:
        """From the first to the last frequency of the table."""
        return self.spectrum_hz_m2_s3[0][0], self.spectrum_hz_m2_s3[-1][0]


class BaseStep(Record, frozen=True, tag="base step"):
    """Base acceleration that jumps to `level_m_s2` (up positive) and stays, as a machine that starts to
    brake; when it stops again the part swings out as after the jump."""

    name: str
    level_m_s2: float
    band_hz: tuple[float, float]


BaseLoad = RootAcceleration | BaseShock | RandomBase | BaseStep
"""Loads that move the supports; they have no place on the span."""
PointLoad = TipForce | Release | Impact
"""Loads at a point of the span, `x_m` (None: the tip)."""
Load = PointLoad | BaseLoad


class StaticForce(Record, frozen=True):
    """A static service force, up positive, at `x_m` (None: tip): the bend the ceramic must survive."""

    name: str
    force_n: float
    x_m: float | None = None


class Asked(Record, frozen=True):
    """What the customer wants of the vibration of some modes (from 1); without a mode nothing is asked.

    `values` holds one value per mode, the last one serves the rest. What they are goes with
    `quantity`: "peak", change of the highest response near the mode as a share of what it was (-0.4
    is 40 % less); "damping", the least damping ratio; "settling", the longest time in s until the
    ring-down stays within `Service.settle_to` (the first value; the modes only say what it is about).
    """

    modes: tuple[int, ...] = ()
    quantity: Literal["peak", "damping", "settling"] = "peak"
    values: tuple[float, ...] = (-0.4,)
    temperature_c: float | None = None
    """At which it is wanted; None: the reference temperature."""
    load: int | None = None
    """Number of the load (from 0) under which it is wanted; None: the active one."""

    def value(self, mode: int) -> float:
        """What is wanted of a mode that is asked for."""
        return self.values[min(self.modes.index(mode), len(self.values) - 1)]


class Service(Record, frozen=True):
    """Loads, temperatures, what to look at and what is asked for."""

    loads: tuple[Load, ...]
    active_load: int = 0
    static_forces: tuple[StaticForce, ...] = ()
    cold_c: float = 0.0
    reference_c: float = 20.0
    hot_c: float = 40.0
    settle_to: float = 0.05
    asked: Asked = Asked()


class View(Record, frozen=True):
    """What is shown; it changes no model, only which results are asked for."""

    modes_shown: int = 5
    before: Literal["patch shorted", "bare structure"] = "patch shorted"
    output_x_m: float | None = None
    output: Literal["receptance", "mobility", "accelerance", "strain", "voltage", "current"] = "receptance"
    """Motion at the output point, or strain of a patch's ceramic, or voltage or current of its leads."""
    output_patch: str | None = None
    """The patch for strain, voltage and current; None (or one that is gone): the first."""

    def looked_at(self, candidate: Candidate) -> Patch | None:
        """The patch whose strain, voltage or current is looked at; None where the output is a motion."""
        if self.output not in ("strain", "voltage", "current") or not candidate.patches:
            return None
        named = [patch for patch in candidate.patches if patch.id == self.output_patch]
        return (named or candidate.patches)[0]


class Revision(Record, frozen=True):
    """A line of the sheet's revision table."""

    index: str
    date: str
    reason: str


class Sheet(Record, frozen=True):
    """Title block, datum and shop data of the placement diagram (fields after ISO 7200)."""

    paper: Literal["A4", "A3", "Letter"] = "A4"
    title: str = ""
    number: str = ""
    owner: str = ""
    creator: str = ""
    approver: str = ""
    date: str = ""
    part_drawing: str = ""
    patch_specification: str = ""
    datum: str | None = None
    tolerance_x_m: float = 1e-3
    tolerance_y_m: float = 2e-3
    tolerance_angle_rad: float = 0.017453292519943295
    face_note: str = ""
    surface_preparation: str = "Degrease, abrade P320, degrease, water-break check; bond within 30 min."
    adhesive: str = "Stiff two-part epoxy"
    cure: str = "Press 50-100 kPa through a soft pad; cure 60 \N{DEGREE SIGN}C 2 h, ramp 2 K/min."
    revisions: tuple[Revision, ...] = ()
    underside_note: str = ""
    """What the shop calls the underside; `face_note` says it of the top."""
    tolerance_source: str = ""
    """Where the placement tolerances are from ("allowed placement error, mode 1, 5 % loss")."""
    connector_place: str = ""
    """Where the connector lands; a line to write on where empty."""
    parts: int = 0
    """Parts of the batch, for the purchase; 0 leaves it open."""
    alternates: str = ""
    """Packages that purchasing may take instead."""
    question: str = ""
    """What the customer asked, for the decision record."""
    choice: str = ""
    """Why this candidate was chosen, and which is the reserve."""
    tolerance_x_root_m: float | None = None
    """Placement tolerance towards the root; None: as `tolerance_x_m`, which then goes both ways."""
    mirrored_number: str = ""
    """Identification number of the sheet of the mirrored part; empty: the sheet's own with "-M"."""

    @property
    def tolerances_x_m(self) -> tuple[float, float]:
        """Placement tolerance (towards the tip, towards the root)."""
        root = self.tolerance_x_m if self.tolerance_x_root_m is None else self.tolerance_x_root_m
        return self.tolerance_x_m, root


class Released(Record, frozen=True):
    """A frozen copy of what a released revision was made from.

    Enough to make its documents again: the whole input that placement and circuit follow from.
    `fingerprint` is the one printed on the sheet.
    """

    index: str
    date: str
    reason: str
    fingerprint: str
    structure: Structure
    materials: tuple[Material, ...]
    packages: tuple[Package, ...]
    candidate: Candidate
    service: Service
    sheet: Sheet


class Origin(Record, frozen=True):
    """Where an input is from. Keyed in `Project.origins` by its path ("structure.width_m")."""

    status: Status
    source: str = ""
    tolerance: float | None = None


class Tolerance(Record, frozen=True):
    """How far an input may be off, keyed in `Project.tolerances` by its path.

    `plus_minus` is relative to the value (for places, `..._m` of a patch, in metres); 0 takes the
    input as exact. `unknown` is the range in SI of an input nobody knows: any value in it is as
    likely as any other, and `plus_minus` is then not used.
    """

    plus_minus: float = 0.0
    unknown: tuple[float, float] | None = None


class Project(Record, frozen=True):
    """Everything a `.quietspan` file holds."""

    name: str
    structure: Structure
    materials: tuple[Material, ...]
    packages: tuple[Package, ...]
    candidates: tuple[Candidate, ...]
    active: str
    service: Service
    view: View = View()
    sheet: Sheet = Sheet()
    origins: dict[str, Origin] = {}
    notes: str = ""
    format_version: int = FORMAT_VERSION
    tolerances: dict[str, Tolerance] = {}
    """What a person said of an input's tolerance; where nothing stands, the constant's own counts."""
    releases: tuple[Released, ...] = ()
    """Released revisions, oldest first."""

    def candidate(self, id: str | None = None) -> Candidate:
        """The candidate of that id, or the active one; KeyError if there is none."""
        wanted = self.active if id is None else id
        for candidate in self.candidates:
            if candidate.id == wanted:
                return candidate
        raise KeyError(wanted)

    def at_c(self, temperature_c: float | None = None) -> float:
        """The temperature a result is for: the one given, else the reference temperature of the service."""
        return self.service.reference_c if temperature_c is None else temperature_c

    def material(self, name: str) -> Material:
        for material in self.materials:
            if material.name == name:
                return material
        raise KeyError(name)

    def package(self, name: str) -> Package:
        for package in self.packages:
            if package.name == name:
                return package
        raise KeyError(name)
