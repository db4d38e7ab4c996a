"""Circuit values at the numerical optimum of the full coupled model.

Parameters are varied in the logarithm, starting at the closed form. The largest damping with
two free values is where the two poles of the mode fall together, found by Newton steps on
((s1 - s2)/2)^2, an analytic function of the values although the poles themselves are not;
a simplex search then has the last word, for every goal.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.band import band_quadrature, clustered, highest
from core.circuit.kind import Target
from core.circuit.spectrum import LEAST_MECHANICAL, Spectrum, mode_damping, spectra_of
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import Functional, forced

Array = NDArray[np.float64]
Objective = Callable[[Sequence[CoupledSystem]], list[float]]
"""What is to become small, for each of some systems that differ in circuit values alone."""

SEARCH_SPAN = 5.0
"""Natural logarithm of how far a value may go from its closed form."""


@dataclass(frozen=True)
class Aim:
    """What 'peak' and 'mean square' look at: a load, an output, the band, and whether the output
    is a displacement (0), velocity (1) or acceleration (2)."""

    load: Functional
    output: Functional
    residual: float
    band_rad_s: tuple[float, float]
    derivative: int = 0

    def squared(self, system: CoupledSystem, omega_rad_s: Array) -> Array:
        """|H|^2 with the circuits at each frequency, per unit of the load squared."""
        answer = forced(system, self.load, omega_rad_s).output(self.output, self.residual)[1]
        return (answer.real**2 + answer.imag**2) * omega_rad_s ** (2 * self.derivative)


def optimise(
    system: CoupledSystem,
    group: int,
    target: Target,
    *,
    mode: int,
    goal: str,
    weights: Sequence[float] = (),
    aim: Aim | None = None,
) -> dict[str, float]:
    """Values of the group's circuit that serve the goal best, the other groups held.

    `system` carries the group at its closed form (the start). `mode` counts from 0. 'peak' and
    'mean square' need an aim and fall back on 'damping' without one.
    """
    start = system.connections[group]
    names = [
        name for name, value in start.values.items() if value > 0 and _is_tuned(start.kind, name, target)
    ]
    if not names or target.k2 <= 0:
        return dict(start.values)
    if goal == "damping":
        quick = _largest_damping(system, group, names, mode)
        if quick is not None:
            return quick
    search = _Search(system, group, names, _objective(system, mode, goal, weights, aim, target))
    width = np.array([min(max(target.k2**0.5, 1e-3), 0.3) if n == "inductance_h" else 0.2 for n in names])
    if len(names) == 1:
        search.line()
    else:
        met = goal in ("damping", "weighted") and search.coalesce(mode)
        search.simplex(width * (0.05 if met else 1.0), 50 if met else 90)
        if not met:
            search.simplex(width * 0.02, 40)
    return search.best_values()


def _largest_damping(
    system: CoupledSystem, group: int, names: list[str], mode: int
) -> dict[str, float] | None:
    """The quick way for one or two values: on the modes near the one tuned first, then on all.

    One value: the damping is smooth and flat in its logarithm, so parabolas find the top. Two: the
    top is where the mode's two poles meet. None where neither settles.
    """
    near = focused(system, mode)
    search = _Search(near, group, names, _damping_objective(near, mode))
    if len(names) == 1:
        return search.best_values() if search.parabola() else None
    if not search.coalesce(mode):
        return None
    full = _Search(system, group, names, _damping_objective(system, mode), start=search.best_x)
    return full.best_values() if full.coalesce(mode) else None


def focused(system: CoupledSystem, mode: int) -> CoupledSystem:
    """The system with the modes up to three above `mode`; the static effect of the others goes into
    the capacitance, as the truncation correction puts it."""
    n = min(mode + 4, system.n_modes)
    dropped = system.theta[n:] / system.omega_rad_s[n:, None]
    return replace(
        system,
        omega_rad_s=system.omega_rad_s[:n],
        zeta=system.zeta[:n],
        theta=system.theta[:n],
        capacitance_f=system.capacitance_f + dropped.T @ dropped,
    )


def _damping_objective(system: CoupledSystem, mode: int) -> Objective:
    omega = float(system.omega_rad_s[mode])
    return lambda systems: [_undamped(found, mode) for found in spectra_of(systems, omega)]


def _undamped(found: Spectrum, mode: int) -> float:
    """Minus the mode's damping ratio; 0 where it has none."""
    damping = found.damping_of(mode)
    return 0.0 if math.isnan(damping) else -damping


def _is_tuned(kind: object, name: str, target: Target) -> bool:
    rule = getattr(kind, "closed_form", None)
    return rule is not None and name in rule("damping", target)


def _objective(
    system: CoupledSystem, mode: int, goal: str, weights: Sequence[float], aim: Aim | None, target: Target
) -> Objective:
    if goal == "peak" and aim is not None:
        return _peak_objective(system, mode, aim, target)
    if goal == "mean square" and aim is not None:
        return _mean_square_objective(system, mode, aim, target)
    if goal == "weighted" and any(weights):
        share = np.array(weights[: system.n_modes], dtype=float)
        return lambda systems: [-float(share @ np.nan_to_num(mode_damping(s, len(share)))) for s in systems]
    return _damping_objective(system, mode)


def _window(system: CoupledSystem, mode: int, target: Target) -> tuple[float, float, float]:
    """(centre, lowest, highest) frequency at which the circuit shapes this mode's peaks."""
    omega = system.omega_rad_s
    centre = float(omega[mode]) * (1 + target.k2 / 4)
    reach = float(omega[mode]) * max(3 * target.k2**0.5, 20 * float(system.zeta[mode]), 1e-3)
    below = centre - min(reach, 0.7 * centre)
    above = centre + reach
    if mode > 0:
        below = max(below, 0.5 * float(omega[mode - 1] + omega[mode]))
    if mode + 1 < len(omega):
        above = min(above, max(0.5 * float(omega[mode + 1] + omega[mode]), centre * 1.001))
    return centre, below, above


def _peak_objective(system: CoupledSystem, mode: int, aim: Aim, target: Target) -> Objective:
    at = clustered(*_window(system, mode, target), 120)
    return lambda systems: [0.5 * float(np.log(highest(at, aim.squared(s, at))[1])) for s in systems]


def _mean_square_objective(system: CoupledSystem, mode: int, aim: Aim, target: Target) -> Objective:
    omega = system.omega_rad_s
    own = omega[mode] * (1 + target.k2 / 4)
    narrow = np.maximum(system.zeta, 1e-4) * omega
    narrow[mode] += 0.15 * target.k2 * own
    # The target's panels serve both widths its peaks may have: K^2/4 (resistor) and K/2 (R-L).
    centres = np.concatenate([omega, [own, own]])
    widths = np.concatenate([narrow, [narrow[mode], 0.3 * target.k2**0.5 * own]])
    at, weight = band_quadrature(*aim.band_rad_s, centres, widths)
    return lambda systems: [0.5 * float(np.log(weight @ aim.squared(s, at) + 1e-300)) for s in systems]


class _Search:
    """The best values met so far; every evaluation counts, whoever asked for it."""

    def __init__(
        self,
        system: CoupledSystem,
        group: int,
        names: list[str],
        objective: Objective,
        start: Array | None = None,
    ) -> None:
        self._system, self._group, self._names, self._objective = system, group, names, objective
        values = system.connections[group].values
        self._origin = np.log([values[name] for name in names])
        self.best_x = np.zeros(len(names)) if start is None else start
        self.best = math.inf

    def system_at(self, x: Array) -> CoupledSystem:
        start = self._system.connections[self._group]
        values = dict(start.values)
        values.update(zip(self._names, np.exp(self._origin + x).tolist(), strict=True))
        return self._system.with_connection(self._group, Connection(start.kind, values, start.instrument_s))

    def best_values(self) -> dict[str, float]:
        return self.system_at(self.best_x).connections[self._group].values

    def evaluate(self, x: Array) -> float:
        if np.abs(x).max() > SEARCH_SPAN:
            return 1e3 + float(np.abs(x).max())
        return self._evaluate_all([x])[0]

    def _evaluate_all(self, places: list[Array]) -> list[float]:
        values = self._objective([self.system_at(x) for x in places])
        for x, value in zip(places, values, strict=True):
            self._note(x, value)
        return values

    def _note(self, x: Array, value: float) -> None:
        if value < self.best:
            self.best, self.best_x = value, np.array(x)

    def parabola(self) -> bool:
        """One value: the vertex of parabolas of shrinking width; False if the top is not near.

        A vertex is as a rule the best so far, so it is tried together with the next pair about it.
        """
        x = self.best_x
        for width in (0.4, 0.08):
            best, best_x = self.best, self.best_x
            middle, left, right = self._evaluate_all([x, x - width, x + width])
            if middle > best:
                x, middle = best_x, best
                left, right = self._evaluate_all([x - width, x + width])
            bend = left - 2.0 * middle + right
            if not (left > middle and right > middle and bend > 0.0):
                return False
            x = x + 0.5 * width * (left - right) / bend
        self.evaluate(x)
        return True

    def line(self) -> None:
        """One value: a bounded search about the closed form, wider when it ends at a bound."""
        from scipy.optimize import minimize_scalar  # slow to import, needed only here

        self.evaluate(self.best_x)
        for reach in (0.6, SEARCH_SPAN):
            minimize_scalar(
                lambda x: self.evaluate(np.array([x])),
                bounds=(-reach, reach),
                method="bounded",
                options={"xatol": 2e-5 * reach},
            )
            if abs(float(self.best_x[0])) < 0.95 * reach:
                return

    def simplex(self, width: Array, evaluations: int) -> None:
        from scipy.optimize import minimize  # slow to import, needed only here

        corner = self.best_x + np.vstack([np.zeros(len(width)), np.diag(width)])
        options = {"initial_simplex": corner, "maxfev": evaluations, "xatol": 1e-6, "fatol": 1e-9}
        minimize(self.evaluate, self.best_x, method="Nelder-Mead", options=options)

    def coalesce(self, mode: int) -> bool:
        """Newton steps to the values at which the mode's two poles fall together; True if met."""
        if len(self._names) != 2:
            return False
        omega = float(self._system.omega_rad_s[mode])
        x, step = self.best_x, 1e-5
        for _ in range(8):
            places = [x, *(x + step * np.eye(2))]
            found = spectra_of([self.system_at(place) for place in places], omega)
            here, *ahead = (_split(spectrum, mode, omega) for spectrum in found)
            met = [c for c in ahead if c is not None]
            if here is None or len(met) < 2:
                return False
            slope = np.array([(c - here) / step for c in met])
            jacobian = np.array([slope.real, slope.imag])
            if abs(np.linalg.det(jacobian)) < 1e-14 * np.abs(jacobian).max() ** 2:
                return False
            move = np.linalg.solve(jacobian, [-here.real, -here.imag])
            x = x + move * min(1.0, 0.5 / max(float(np.abs(move).max()), 1e-300))
            if np.abs(move).max() < 1e-7:
                self._evaluate_all([self.best_x, x])
                return True
        return False


def _split(found: Spectrum, mode: int, omega: float) -> complex | None:
    """((s1 - s2)/2)^2 of the mode's two poles, relative to its frequency; None without two."""
    own = [i for i in found.poles_of(mode) if found.mechanical_share[i] >= LEAST_MECHANICAL]
    if len(own) != 2:
        return None
    first, second = found.value_rad_s[own] / omega
    return complex(0.25 * (first - second) ** 2)
