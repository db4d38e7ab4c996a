"""What there is to read of a group of patches and of its ceramics: capacitance, circuit in effect, electrical load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from core.units import words

if TYPE_CHECKING:
    from core.circuit.switching import Switching
    from core.predict.electrics.impedance import OverFrequency
    from core.predict.electrics.price import Price, Ranges
    from core.predict.electrics.safety import GroupSafety
    from core.predict.electrics.stability import StabilityRegion
    from core.predict.use.drive import Driving
    from core.predict.use.sense import Sensing

Array = NDArray[np.float64]
VoltageMeaning = Literal["peak", "3 sigma"]
PowerMeaning = Literal["mean at the worst frequency", "mean", "peak"]


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
    def leads_capacitance_f(self) -> float:
        """What the modes kept meet across the leads at rest, what the circuit and a cable add included; its size where a
        negative capacitance takes more than there is."""
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
