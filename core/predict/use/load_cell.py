"""A patch squeezed through its thickness between two stiff faces: a thin load cell, loose from any beam.

A force F on the electrodes' area charges them with d33 F (IEEE Std 176). Behind an input it fades with R C as every
other push.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.piezo.ceramic import free_capacitance_f
from core.project.candidate import Instrument
from core.project.patch import Ceramic, Package, Patch

D33_OVER_D31 = -2.2
"""Of soft ceramics (types II and VI), where nobody gave d33; from memory, 2.1 to 2.2 in published sets."""


@dataclass(frozen=True)
class LoadCell:
    """Coulombs and volts per newton squeezed, the time in which a steady squeeze fades to 37 %, and the stress per
    newton. `d33_is_assumed` where it follows from d31."""

    c_per_n: float
    v_per_n: float
    fade_s: float
    pa_per_n: float
    d33_is_assumed: bool


def d33_c_n(ceramic: Ceramic) -> tuple[float, bool]:
    """d33, and whether it is only the class's."""
    given = ceramic.d33_c_n
    return (D33_OVER_D31 * ceramic.d31_c_n.value, True) if given is None else (given.value, False)


def load_cell(patch: Patch, package: Package, input_: Instrument, gain: float = 1.0) -> LoadCell:
    """One ceramic of the patch, its leads on the input; `gain` is volts read per volt across them."""
    d33, assumed = d33_c_n(package.ceramic)
    stored = free_capacitance_f(patch, package) + input_.capacitance_f
    return LoadCell(
        c_per_n=d33,
        v_per_n=abs(gain) * d33 / stored,
        fade_s=input_.resistance_ohm * stored,
        pa_per_n=1.0 / (patch.length_m * patch.width_m),
        d33_is_assumed=assumed,
    )
