"""The customer's part: stations, lay-up, supports, what hangs on it and what is forbidden on it."""

from __future__ import annotations

from typing import Literal

from core.project.record import Face, Profile, Record

SupportKind = Literal["clamped", "pinned", "guided", "free", "elastic"]
Level = Literal["plain", "section", "shear", "across"]


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
    """A mass bonded or bolted at x, with its own rotary inertia about its centre: across the part, and along it, which counts
    in torsion (0: as of the mass spread evenly over the width, as far on both sides of it as the nearer edge). `y_m` is how
    far its centre lies off the centreline, on an arm where that is beyond the part's edge; `ahead_m` how far it lies from
    where it is fixed, towards the tip; backwards negative."""

    name: str
    x_m: float
    mass_kg: float
    rotary_inertia_kg_m2: float = 0.0
    roll_inertia_kg_m2: float = 0.0
    ahead_m: float = 0.0
    y_m: float = 0.0


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
    service_ratios: tuple[float, ...] = ()
    """The same at the swing of service, where it is larger and known; the prediction tells both."""


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
    """Bottom first; empty for a part that is ceramics only."""
    root: Support = Support("clamped")
    tip: Support = Support("free")
    cut_outs: tuple[CutOut, ...] = ()
    masses: tuple[PointMass, ...] = ()
    springs: tuple[GroundSpring, ...] = ()
    level: Level = "across"
    """Of the mechanics: 'plain' frees each layer across by itself, 'section' holds them to contract together, 'shear' lets
    sections warp, too, and 'across' curve across as supports and patches let them."""
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
