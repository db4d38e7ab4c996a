"""The result of a prediction: plain immutable values, SI, ready to be drawn or printed.

Nothing here computes. `core.predict.predict.predict` makes a `Prediction`; the window, the
command line and the hand-over documents read it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from core.units import words

if TYPE_CHECKING:
    from core.predict.leads import Leads

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
class ModeResult:
    """One mode of the candidate."""

    number: int
    f_short_hz: float
    f_open_hz: float
    k2: float
    """(f_oc^2 - f_sc^2)/f_sc^2 of all groups open together."""
    k_eff2: float
    group_k2: tuple[float, ...]
    """K^2 of each group with the other groups shorted."""
    ceramic_share: float
    package_share: float
    """Share of the mode's strain energy in all ceramics / all packages, short circuit."""
    electrode_use: float | None
    """K^2 over its ceiling k31^2/(1-k31^2) times the ceramic's share; None without a patch."""
    zeta_inherent: float
    zeta: float
    """Damping ratio with the circuit (lowest qualifying pole); nan when unstable."""
    zeta_before: float
    poles: tuple[Pole, ...]
    peak_change_db: float | None
    """Highest response near this mode, after over before; None where the response has no peak there."""
    layer_shares: tuple[tuple[str, float], ...]
    strain_nodes_m: tuple[float, ...]
    electric_share: float
    """Share of the mode's energy in the floating nodes of series groups; it, the layers' and the
    packages' make the whole."""


@dataclass(frozen=True)
class PartValue:
    """A circuit value in effect, after tuning."""

    name: str
    label: str
    unit: str
    value: float


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


@dataclass(frozen=True)
class GroupResult:
    """A patch group: capacitance, the circuit in effect and its electrical load."""

    id: str
    blocked_capacitance_f: float
    free_capacitance_f: float
    circuit: str
    circuit_label: str
    values: tuple[PartValue, ...]
    remarks: tuple[str, ...]
    voltage_peak_v: float
    """Largest voltage across the group's leads under the active load; what that is says `voltage_meaning`."""
    power_w: float
    """Power into the circuit under the active load; what that is says `power_meaning`."""
    modal_capacitance_f: tuple[float, ...]
    """Capacitance that goes with K^2, per mode shown."""
    metered: tuple[Metered, ...]
    """What a meter reads on the bonded part at its usual frequencies."""
    open_v_per_n: float
    """Static voltage of the open leads per force up at the tip."""
    tip_m_per_v: float
    """Static deflection of the tip per volt; per coulomb it is `open_v_per_n` (reciprocity)."""
    current_peak_a: float
    """Largest current in the leads, as the voltage."""
    energy_j: float | None
    """Energy the circuit turns into heat in all where the load happens once; None otherwise."""
    voltage_meaning: VoltageMeaning
    power_meaning: PowerMeaning

    @property
    def under_load(self) -> str:
        """Voltage, current, power and energy under the active load, each said as what it is."""
        parts = [
            f"{words.voltage(self.voltage_peak_v)} {self.voltage_meaning}",
            f"{words.engineering(self.current_peak_a, 'A')} {self.voltage_meaning}",
            f"{words.power(self.power_w)} {self.power_meaning}",
        ]
        if self.energy_j is not None:
            parts.append(f"{words.engineering(self.energy_j, 'J')} in all")
        return ", ".join(parts)


@dataclass(frozen=True)
class Limit:
    """One check against an allowable."""

    name: str
    patch: str | None
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


@dataclass(frozen=True)
class Prediction:
    """Everything one candidate of one project is expected to do."""

    candidate: str
    modes: tuple[ModeResult, ...]
    groups: tuple[GroupResult, ...]
    response: Response
    ring_down: RingDown
    limits: tuple[Limit, ...]
    """Worst margin first."""
    remarks: tuple[Remark, ...]
    shapes: Shapes
    before_label: str
    total_mass_kg: float
    added_mass_kg: float
    tip_stiffness_n_m: float | None
    """Static force over deflection at the tip, bare structure; None where the tip cannot move
    or the structure is not held."""
    bare_mass_kg: float
    unstable: tuple[str, ...]
    """Sentences naming every unstable pole; empty when stable."""
    assumed_inputs: tuple[str, ...]
    """Inputs that nobody measured or read from a data sheet and the result leans on, the constants of
    one material in one line."""
    plates: tuple[PlateResult, ...]
    circuit_poles: tuple[Pole, ...]
    """Poles that hold less than half of their energy in motion: the circuits' own."""
    find_leads: Callable[[], Leads | None] = field(repr=False, compare=False)

    @cached_property
    def leads(self) -> Leads | None:
        """The largest voltages at the leads under everything the service knows, computed when first
        asked for; None without a patch or where nothing makes a voltage."""
        return self.find_leads()
