"""The result of a prediction: what there is to read of it, immutable, SI, ready to be drawn or printed.

Nothing here computes. `core.predict.predict.predict` makes a `Prediction` (`core.predict.parts`); the
window, the command line and the hand-over documents read it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from core.predict.absorber_result import AbsorberResult
from core.predict.group_result import GroupResult, PlateResult
from core.predict.mode_result import AtService, ModeResult, Pole, TorsionMode

if TYPE_CHECKING:
    from core.predict.electrics.clipping import ClipSign
    from core.predict.electrics.leads import Leads
    from core.predict.electrics.stop import StopSign
    from core.predict.solved import Solved
    from core.predict.use.driven import DrivenLeads

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def group_of(prediction: Prediction, patch_id: str | None) -> GroupResult | None:
    """Of the group that holds a patch, else of the first; None without a group."""
    groups = prediction.solved.candidate.groups
    own = [g for g, group in enumerate(groups) if any(member.patch == patch_id for member in group.members)]
    return prediction.groups[next(iter(own), 0)] if groups else None


def twists_among(prediction: Prediction, shown: int | None = None) -> tuple[TorsionMode, ...]:
    """Modes of torsion below the highest of the modes shown, which stand among these."""
    highest = max((m.f_short_hz for m in prediction.modes[:shown]), default=0.0)
    return tuple(t for t in prediction.torsion if t.f_hz < highest)


@dataclass(frozen=True)
class Limit:
    """One check against an allowable."""

    name: str
    patch: str | None
    """Whose it is: a patch's, or a tuned mass's."""
    value: float
    allowable: float
    unit: str
    """SI unit of value and allowable ("1" for strain)."""
    margin: float
    """allowable / |value|; inf when nothing loads it."""
    x_m: float | None
    load: str
    load_at_limit: str
    """The load at which the allowable would be reached, in words with unit."""
    source: str


@dataclass(frozen=True)
class Remark:
    """A doubt about validity, or a finding the reader must not miss."""

    code: str
    text: str
    severity: Literal["note", "caution", "error"] = "note"
    x_m: float | None = None
    reverse: str | None = None
    """The patch whose leads to exchange, where that cures it."""
    for_designer: bool = False
    """Something to settle before the layout leaves the desk: not for the shop or the customer."""


@dataclass(frozen=True)
class Response:
    """Frequency response at the output, before and after, to the active load's forcing."""

    frequency_hz: Array
    before: ComplexArray
    after: ComplexArray
    label: str
    unit: str
    before_label: str
    peak_before: float
    peak_after: float
    mean_square_change_db: float


@dataclass(frozen=True)
class RingDown:
    """Free decay at the output after the load's release, impact, or a release of mode 1."""

    time_s: Array
    before: Array
    after: Array
    unit: str
    settle_to: float
    settle_before_s: float
    settle_after_s: float
    half_life_before_s: float
    half_life_after_s: float
    start: str = ""
    """What the decay follows, in words: "release by 5 mm", "mode 2 let go"."""


@dataclass(frozen=True)
class Shapes:
    """What is drawn over x: mode shapes (mass-normalised, short circuit), section, static strain."""

    x_m: Array
    deflection: Array
    """(n_modes, n_x) 1/sqrt(kg)."""
    curvature: Array
    """(n_modes, n_x) 1/(m^2 sqrt(kg)); two values at a jump, x repeated."""
    bending_stiffness_nm2: Array
    mass_per_length_kg_m: Array
    neutral_axis_m: Array
    thickness_m: Array
    net_width_m: Array


class Prediction(Protocol):
    """Everything one candidate of one project is expected to do.

    Solved already; each part is worked out when it is first asked for and kept. Parts never change,
    whoever asks for them, when, and in which order.
    """

    @property
    def candidate(self) -> str: ...
    @property
    def solved(self) -> Solved:
        """The layout as solved: what netlist and parts list are made from."""
    @property
    def modes(self) -> tuple[ModeResult, ...]: ...
    @property
    def groups(self) -> tuple[GroupResult, ...]: ...
    @property
    def absorbers(self) -> tuple[AbsorberResult, ...]:
        """The tuned masses."""
    @property
    def at_service(self) -> tuple[AtService, ...]:
        """Damping at the swing of service; empty where nobody gave the inherent one there."""
    @property
    def response(self) -> Response: ...
    @property
    def ring_down(self) -> RingDown: ...
    @property
    def limits(self) -> tuple[Limit, ...]:
        """Worst margin first."""
    @property
    def remarks(self) -> tuple[Remark, ...]:
        """Errors first."""
    @property
    def errors(self) -> tuple[Remark, ...]:
        """The errors among the remarks, which are found at less cost than all."""
    @property
    def shapes(self) -> Shapes: ...
    @property
    def chords(self) -> dict[int, tuple[Array, Array]]:
        """By number, of every mode that curves across, the deflection (n_x,) of its left and its right edge, as in `shapes`."""
    @property
    def before_label(self) -> str: ...
    @property
    def total_mass_kg(self) -> float: ...
    @property
    def added_mass_kg(self) -> float: ...
    @property
    def torsion_hz(self) -> tuple[float, ...]:
        """Frequencies of T1, T2 ... of the part without patches; none where nothing keeps it from rolling, or sections stay flat."""
    @property
    def torsion(self) -> tuple[TorsionMode, ...]:
        """Modes of torsion with the packages, at the level 'across', where modes are told by what they do."""
    @property
    def torsion_is_apart(self) -> bool:
        """Whether torsion is a solution of its own, which no patch reaches, so that a frame of a drag can do without."""
    @property
    def tip_stiffness_n_m(self) -> float | None:
        """Static force over deflection at the tip, bare structure; None where the tip cannot move
        or the structure is not held."""
    @property
    def bare_mass_kg(self) -> float: ...
    @property
    def unstable(self) -> tuple[str, ...]:
        """Sentences naming every unstable pole; empty when stable."""
    @property
    def stop(self) -> StopSign | None:
        """What grows, how fast, and the nearest setting that holds; None when stable."""
    @property
    def clips(self) -> ClipSign | None:
        """The amplifier that goes to its rail under a load that was stated, and the supply that holds; None where all hold."""
    @property
    def assumed_inputs(self) -> tuple[str, ...]:
        """Inputs that nobody measured or read from a data sheet and the result leans on, the constants of
        one material in one line."""
    @property
    def plates(self) -> tuple[PlateResult, ...]: ...
    @property
    def circuit_poles(self) -> tuple[Pole, ...]:
        """Poles that hold less than half of their energy in motion: the circuits' own."""
    @property
    def leads(self) -> Leads | None:
        """The largest voltages at the leads under everything the service knows; None without a patch or
        where nothing makes a voltage."""

    @property
    def driven(self) -> tuple[DrivenLeads, ...]:
        """The leads that amplifiers drive: of a closed loop, and of patches looked at as shakers."""

    @property
    def asked_for(self) -> frozenset[str]:
        """Names of the parts worked out so far."""

    def whole(self) -> Prediction:
        """Itself with every part worked out, so that what cannot be solved fails here and not where it is
        shown."""
