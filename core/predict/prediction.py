"""The result of a prediction: what there is to read of it, immutable, SI, ready to be drawn or printed.

Nothing here computes. `core.predict.predict.predict` makes a `Prediction` (`core.predict.parts`); the
window, the command line and the hand-over documents read it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from core.units import words

if TYPE_CHECKING:
    from core.circuit.switching import Switching
    from core.predict.clipping import ClipSign
    from core.predict.drive import Driving
    from core.predict.impedance import OverFrequency
    from core.predict.leads import Leads
    from core.predict.price import Price, Ranges
    from core.predict.safety import GroupSafety
    from core.predict.sense import Sensing
    from core.predict.solved import Solved
    from core.predict.stability import StabilityRegion
    from core.predict.stop import StopSign

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


VoltageMeaning = Literal["peak", "3 sigma"]
PowerMeaning = Literal["mean at the worst frequency", "mean", "peak"]


@dataclass(frozen=True)
class Pole:
    """An eigenvalue of the coupled system (modes, circuits) with positive imaginary part or real."""

    value_rad_s: complex
    frequency_hz: float
    damping_ratio: float
    mechanical_share: float
    """Share of the pole's energy that is mechanical, 0 to 1."""
    mode: int | None
    """Mode (from 1) holding most of the mechanical energy; None for a real pole."""


@dataclass(frozen=True)
class TorsionMode:
    """A mode in which the part twists, its packages on it; x_m (n,) and the deflections (n,) of its edges at +y and -y, the
    largest 1. k2 and zeta, the damping ratio with the circuit, are told where patches lie off the centreline or are turned;
    None where all are centred, which reach no torsion."""

    rank: int
    f_hz: float
    x_m: Array
    edge: Array
    other_edge: Array
    k2: float | None = None
    zeta: float | None = None

    @property
    def name(self) -> str:
        return f"T{self.rank}"

    @property
    def is_reached(self) -> bool:
        return self.k2 is not None and self.k2 > NO_REACH


NO_REACH = 1e-8
"""A K^2 of less is what is left of charges that cancel."""


def group_of(prediction: Prediction, patch_id: str | None) -> GroupResult | None:
    """Of the group that holds a patch, else of the first; None without a group."""
    groups = prediction.solved.candidate.groups
    own = [g for g, group in enumerate(groups) if any(member.patch == patch_id for member in group.members)]
    return prediction.groups[next(iter(own), 0)] if groups else None


def names_told(modes: Sequence[ModeResult], twists: Sequence[TorsionMode] = ()) -> tuple[str, ...]:
    """The modes' names where they say more than the rank does: "" for each as long as all of them bend, and none that is
    shown with them twists."""
    names = tuple(mode.name for mode in modes)
    return names if twists or any(not name.startswith("B") for name in names) else ("",) * len(names)


def twists_among(prediction: Prediction, shown: int | None = None) -> tuple[TorsionMode, ...]:
    """Modes of torsion below the highest of the modes shown, which stand among these."""
    highest = max((m.f_short_hz for m in prediction.modes[:shown]), default=0.0)
    return tuple(t for t in prediction.torsion if t.f_hz < highest)


class ModeResult(Protocol):
    """One mode of the candidate."""

    @property
    def number(self) -> int:
        """Rank by frequency, from 1."""
    @property
    def name(self) -> str:
        """What it does, and its rank among those: "B2" bends along the span, "C1" curves across it."""
    @property
    def f_short_hz(self) -> float: ...
    @property
    def f_open_hz(self) -> float: ...
    @property
    def k2(self) -> float:
        """(f_oc^2 - f_sc^2)/f_sc^2 of all groups open together."""
    @property
    def k_eff2(self) -> float: ...
    @property
    def group_k2(self) -> tuple[float, ...]:
        """K^2 of each group with the other groups shorted."""
    @property
    def ceramic_share(self) -> float:
        """Share of the mode's strain energy in all ceramics, short circuit."""
    @property
    def package_share(self) -> float:
        """The same in all packages."""
    @property
    def electrode_use(self) -> float | None:
        """K^2 over its ceiling k31^2/(1-k31^2) times the ceramic's share; None without a patch."""
    @property
    def zeta_inherent(self) -> float: ...
    @property
    def zeta(self) -> float:
        """Damping ratio with the circuit (lowest qualifying pole); nan when unstable."""
    @property
    def zeta_before(self) -> float: ...
    @property
    def poles(self) -> tuple[Pole, ...]: ...
    @property
    def peak_change_db(self) -> float | None:
        """Highest response near this mode, after over before; None where the response has no peak there."""
    @property
    def layer_shares(self) -> tuple[tuple[str, float], ...]: ...
    @property
    def strain_nodes_m(self) -> tuple[float, ...]: ...
    @property
    def electric_share(self) -> float:
        """Share of the mode's energy in the floating nodes of series groups; it, the layers' and the
        packages' make the whole."""


@dataclass(frozen=True)
class AtService:
    """A mode at the swing of service: its inherent damping ratio there, that with the circuits, and the change
    of its peak with the circuits against small swing, dB (None where one of both has no peak)."""

    mode: int
    zeta_inherent: float
    zeta: float
    peak_change_db: float | None


@dataclass(frozen=True)
class PartValue:
    """A circuit value in effect, after tuning."""

    name: str
    label: str
    unit: str
    value: float
    wanted: float | None = None
    """What was tuned, where another part is taken for it."""

    @property
    def told(self) -> str:
        """With its unit; a ratio as a share: "12.34 kΩ", "60 %"."""
        return words.part(self.value, self.unit) if self.unit else words.share(self.value)


@dataclass(frozen=True)
class Metered:
    """A capacitance read at a test frequency, and the mode (from 1) so near that it bends the reading."""

    frequency_hz: float
    capacitance_f: float
    near_mode: int | None


@dataclass(frozen=True)
class PlateResult:
    """One ceramic under the active load: extremes (lowest, highest) of strain and voltage, the largest
    shear stress of its bond and the length over which the bond builds up strain at its two ends."""

    patch: str
    face: str
    blocked_capacitance_f: float
    free_capacitance_f: float
    strain: tuple[float, float]
    voltage_v: tuple[float, float]
    bond_shear_pa: float
    bond_length_m: tuple[float, float]


class GroupResult(Protocol):
    """A patch group: capacitance, the circuit in effect and its electrical load."""

    @property
    def id(self) -> str: ...
    @property
    def blocked_capacitance_f(self) -> float: ...
    @property
    def free_capacitance_f(self) -> float: ...
    @property
    def unbonded_capacitance_f(self) -> float:
        """As wired, every package loose."""
    @property
    def circuit(self) -> str: ...
    @property
    def circuit_label(self) -> str: ...
    @property
    def branches(self) -> int:
        """Branches of the circuit, each on a mode of its own."""
    @property
    def values(self) -> tuple[PartValue, ...]: ...
    @property
    def remarks(self) -> tuple[str, ...]: ...
    def over_frequency(self, frequency_hz: Array) -> OverFrequency:
        """Impedance and capacitance of the patches, the circuit's impedance and the voltage across the leads at frequencies (F,)
        above zero, Hz."""
    @property
    def prices(self) -> tuple[Price, ...]:
        """What it costs to miss each value of the circuit, the capacitance on the leads last; none for shorted and
        open leads."""
    def prices_over(self, ranges: Ranges, *, with_tuned: bool = True) -> tuple[Price, ...]:
        """The same along these ranges, of the values in them alone; `with_tuned` False leaves out what costs a tuning."""
    @property
    def switching(self) -> Switching | None:
        """A switched circuit simulated in time, steady and in a decay, against what stands for it; None for others."""
    @property
    def stability(self) -> StabilityRegion | None:
        """Where a negative capacitance holds, from cold to hot; None in a circuit without one."""
    @property
    def voltage_peak_v(self) -> float:
        """Largest voltage across the group's leads under the active load; what that is says `voltage_meaning`."""
    @property
    def safety(self) -> GroupSafety:
        """What its open leads may do to a person, and the resistor that bleeds them."""
    @property
    def power_w(self) -> float:
        """Power into the circuit under the active load; what that is says `power_meaning`."""
    @property
    def modal_capacitance_f(self) -> tuple[float, ...]:
        """Capacitance that goes with K^2, per mode shown."""
    @property
    def metered(self) -> tuple[Metered, ...]:
        """What a meter reads on the bonded part at its usual frequencies."""
    @property
    def open_v_per_n(self) -> float:
        """Static voltage of the open leads per force up at the tip: negative where a voltage lifts the tip."""
    @property
    def tip_m_per_v(self) -> float:
        """Static deflection of the tip per volt; per coulomb it is `open_v_per_n` with the other sign (reciprocity)."""
    @property
    def sensing(self) -> Sensing:
        """The group as a pick-up of the motion at the output point."""
    @property
    def driving(self) -> Driving:
        """The group as a shaker of the output point."""
    @property
    def blocked_n_per_v(self) -> float | None:
        """Force up with which a tip that is held pushes, per volt; None where it cannot move or nothing holds the part."""
    @property
    def per_volt(self) -> str:
        """What the group does as an actuator and a sensor at the tip, static: motion, force and voltage."""
    @property
    def current_peak_a(self) -> float:
        """Largest current in the leads, as the voltage."""
    @property
    def energy_j(self) -> float | None:
        """Energy the circuit turns into heat in all where the load happens once; None otherwise."""
    @property
    def voltage_meaning(self) -> VoltageMeaning: ...
    @property
    def power_meaning(self) -> PowerMeaning: ...
    @property
    def under_load(self) -> str:
        """Voltage, current, power and energy under the active load, each said as what it is."""


class AbsorberResult(Protocol):
    """A tuned mass: the values in effect and what the active load does to it."""

    @property
    def id(self) -> str: ...
    @property
    def x_m(self) -> float: ...
    @property
    def mass_kg(self) -> float: ...
    @property
    def frequency_hz(self) -> float:
        """Of the mass on its spring alone."""
    @property
    def damping_ratio(self) -> float:
        """Of the mass on its spring alone."""
    @property
    def stiffness_n_m(self) -> float: ...
    @property
    def damper_n_s_m(self) -> float: ...
    @property
    def mass_ratios(self) -> tuple[float, ...]:
        """Its mass over the modal mass at its place, per mode shown."""
    @property
    def stroke_m(self) -> float:
        """Largest motion against the structure under the active load; what that is says `size_meaning`."""
    @property
    def allowed_stroke_m(self) -> float | None: ...
    @property
    def force_n(self) -> float:
        """Largest force on the structure, as the stroke."""
    @property
    def power_w(self) -> float:
        """Turned into heat in the damper; what that is says `power_meaning`."""
    @property
    def energy_j(self) -> float | None:
        """Turned into heat in all where the load happens once; None otherwise."""
    @property
    def size_meaning(self) -> VoltageMeaning: ...
    @property
    def power_meaning(self) -> PowerMeaning: ...
    @property
    def briefly(self) -> str:
        """Mass, frequency and damping: "M1 2.0 g, 17.3 Hz, 12.0 %"."""
    @property
    def values_told(self) -> str:
        """Mass, place, frequency, damping, spring and damper in words."""
    @property
    def under_load(self) -> str:
        """Stroke, force and heat under the active load, each said as what it is."""
    @property
    def remarks(self) -> tuple[str, ...]: ...


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
    def asked_for(self) -> frozenset[str]:
        """Names of the parts worked out so far."""

    def whole(self) -> Prediction:
        """Itself with every part worked out, so that what cannot be solved fails here and not where it is
        shown."""
