"""What a tuning makes small, of one layout or many: minus the damping, the highest peak, the mean square in a band.

The systems that a search looks at differ in the values of one circuit, so that a response over frequency costs no more
than that circuit's own immittance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number
from core.circuit import open as open_leads
from core.circuit import resistor, shorted
from core.circuit.band import band_quadrature, clustered, highest
from core.circuit.damping import damping_of, mode_damping
from core.circuit.kind import CircuitKind
from core.circuit.system import CoupledSystem
from core.circuit.transfer import Functional, answers

if TYPE_CHECKING:
    from core.circuit.optimum import Search

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Objective = Callable[[CoupledSystem], Array]
"""What is to become small, of each layout."""


@dataclass(frozen=True)
class Aim:
    """What 'peak' and 'mean square' look at: a load, an output, the band, and whether the output
    is a displacement (0), velocity (1) or acceleration (2)."""

    load: Functional
    output: Functional
    residual: Array | float
    band_rad_s: tuple[float, float]
    derivative: int = 0

    def squared(self, system: CoupledSystem, omega_rad_s: Array) -> Array:
        """|H|^2 with the circuits at each frequency (..., F), per unit of the load squared."""
        answer = answers(system, self.load, self.output, self.residual, omega_rad_s)[1]
        return np.asarray((answer.real**2 + answer.imag**2) * omega_rad_s ** (2 * self.derivative))

    def at(self, rows: NDArray[np.intp]) -> Aim:
        """Of some of many layouts; of one layout itself."""

        def part(f: Functional) -> Functional:
            modal, electric, rigid = (a[rows] if a.ndim > 1 else a for a in (f.modal, f.electric, f.rigid))
            return Functional(modal, electric, rigid, f.base)

        residual = self.residual[rows] if np.ndim(self.residual) else self.residual  # type: ignore[index]
        return Aim(part(self.load), part(self.output), residual, self.band_rad_s, self.derivative)


def objective_of(search: Search, mode: int, goal: str, weights: Sequence[float], aim: Aim | None) -> Objective:
    """For the layouts of a search and a mode (from 0); 'peak' and 'mean square' are those of an aim."""
    system = search.system
    if goal == "peak" and aim is not None:
        at = clustered(*_window(system, mode, search.k2), 120)
        seen = _squared(search, aim, at)
        return lambda s: 0.5 * np.log(highest(at, seen(s))[1])
    if goal == "mean square" and aim is not None:
        at, weight = _band(system, mode, aim, search.k2)
        seen = _squared(search, aim, at)
        return lambda s: 0.5 * np.log((weight * seen(s)).sum(axis=-1) + 1e-300)
    if goal == "weighted" and any(weights):
        share = np.array(weights[: system.n_modes], dtype=float)
        return lambda s: -(np.nan_to_num(mode_damping(s, len(share))) @ share)
    return lambda s: -np.nan_to_num(damping_of(s, mode))


def _squared(search: Search, aim: Aim, at: Array) -> Callable[[CoupledSystem], Array]:
    """|H|^2 at frequencies (P, F) of the systems of a search, which differ in the values of one circuit only.

    On one lead the answer is H_0 + (H_1 - H_0) a Y/(b + a Y), H_0 with the leads shorted, H_1 open, Y what the circuit meets
    there; Y follows from a third answer, with a resistor. So each further circuit costs no more than its own (a, b).
    """
    system, group = search.system, search.group
    own = system.connections[group]
    if own.kind.hangs_on != "leads" or len(system.leads(group)) > 1:
        return lambda s: aim.squared(s, at)

    def answer(kind: CircuitKind, **values: Number) -> ComplexArray:
        hung = replace(own, kind=kind, values=values, wanted=None)
        return answers(system.with_connection(group, hung), aim.load, aim.output, aim.residual, at)[1]

    c = np.abs(system.capacitance_f[..., group, group])
    middle = np.broadcast_to(1.0 / np.maximum(c * system.omega_rad_s[..., 0], 1e-300), (search.count,)).copy()
    short, opened, loaded = answer(shorted.KIND), answer(open_leads.KIND), answer(resistor.KIND, resistance_ohm=middle)
    whole, part = opened - short, loaded - short
    none = (np.abs(whole) <= 1e-14 * np.abs(short)) | (part == 0.0) | (part == whole)
    y = np.where(none, 1.0, part / middle[:, None] / np.where(none, 1.0, whole - part))
    size, s = at ** (2 * aim.derivative), (1j * at).astype(complex)

    def squared(other: CoupledSystem) -> Array:
        a, b = other.connections[group].immittance(s)
        h = short + np.where(none, 0.0, whole) * (a * y) / (b + a * y)
        return np.asarray((h.real**2 + h.imag**2) * size)

    return squared


def _window(system: CoupledSystem, mode: int, k2: Array) -> tuple[Array, Array, Array]:
    """(centre, lowest, highest) frequency at which the circuit shapes this mode's peaks."""
    omega = system.omega_rad_s
    own = omega[:, mode]
    centre = own * (1 + k2 / 4)
    reach = own * np.maximum(np.maximum(3 * np.sqrt(k2), 20 * system.zeta[:, mode]), 1e-3)
    below, above = centre - np.minimum(reach, 0.7 * centre), centre + reach
    if mode > 0:
        below = np.maximum(below, 0.5 * (omega[:, mode - 1] + own))
    if mode + 1 < omega.shape[1]:
        above = np.minimum(above, np.maximum(0.5 * (omega[:, mode + 1] + own), centre * 1.001))
    return centre, below, above


def _band(system: CoupledSystem, mode: int, aim: Aim, k2: Array) -> tuple[Array, Array]:
    omega = system.omega_rad_s
    own = omega[:, mode] * (1 + k2 / 4)
    narrow = np.maximum(system.zeta, 1e-4) * omega
    narrow[:, mode] += 0.15 * k2 * own
    # The target's panels serve both widths its peaks may have: K^2/4 (resistor) and K/2 (R-L).
    centres = np.concatenate([omega, own[:, None], own[:, None]], axis=1)
    broad = np.stack([narrow[:, mode], 0.3 * np.sqrt(k2) * own], axis=1)
    return band_quadrature(*aim.band_rad_s, centres, np.concatenate([narrow, broad], axis=1))
