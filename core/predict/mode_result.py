"""What there is to read of one mode of a prediction: bending, curving across, twisting; and of its poles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


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


def names_told(modes: Sequence[ModeResult], twists: Sequence[TorsionMode] = ()) -> tuple[str, ...]:
    """The modes' names where they say more than the rank does: "" for each as long as all of them bend, and none that is
    shown with them twists."""
    names = tuple(mode.name for mode in modes)
    return names if twists or any(not name.startswith("B") for name in names) else ("",) * len(names)


@dataclass(frozen=True)
class AtService:
    """A mode at the swing of service: its inherent damping ratio there, that with the circuits, and the change
    of its peak with the circuits against small swing, dB (None where one of both has no peak)."""

    mode: int
    zeta_inherent: float
    zeta: float
    peak_change_db: float | None
