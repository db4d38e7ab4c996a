"""Coupling K^2 from frequencies measured with the leads shorted and open, and from an impedance sweep."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from core.measured.poles import Complex, Poles, fit_poles, response_shapes
from core.measured.record import Array, Block, MeasuredError
from core.measured.runs import Run, few_runs, means
from core.measured.where import NEAR
from core.predict.use.metered import METER_HZ

STANDS_OUT = 4.0


@dataclass(frozen=True)
class Coupling:
    """K^2 of a mode with its standard deviation, from (f_oc^2 - f_sc^2)/f_sc^2."""

    mode: int
    k2: float
    u_k2: float
    f_short_hz: float
    f_open_hz: float
    alternating: bool = False
    """Whether differences of neighbouring runs were averaged, so that a drift is out of it."""


def coupling(f_short: float, u_short: float, f_open: float, u_open: float) -> tuple[float, float]:
    """K^2 and its standard deviation: u = 2 sqrt(1 + K^2) sqrt(u_oc^2 + u_sc^2)/f_sc to first order."""
    k2 = (f_open**2 - f_short**2) / f_short**2
    return k2, 2.0 * math.sqrt(max(1.0 + k2, 0.0)) * math.hypot(u_open, u_short) / f_short


def couplings(runs: tuple[Run, ...]) -> tuple[Coupling, ...]:
    """K^2 of every mode found in shorted and in open runs; alternating runs are differenced in time."""
    shorted, opened = means(runs, "shorted"), means(runs, "open")
    out = []
    for n in sorted(set(shorted) & set(opened)):
        s, o = shorted[n], opened[n]
        differenced = _differenced(runs, n)
        k2, u = differenced or coupling(s.f_hz, s.u_f_hz, o.f_hz, o.u_f_hz)
        out.append(Coupling(n, k2, u, s.f_hz, o.f_hz, differenced is not None))
    return tuple(out)


def _differenced(runs: tuple[Run, ...], mode: int) -> tuple[float, float] | None:
    """K^2 and its standard deviation from each run between two of the other state, against their mean: a
    steady drift falls out. None with fewer than two of those.

    Neighbouring differences share runs, so their scatter understates what they have in common: they are
    averaged with their covariance, that of equally unsure runs (generalised least squares). The deviation
    is what the scatter over the runs tells, or what the runs' own say where that is more.
    """
    line = [
        (r.leads, m)
        for r in sorted(runs, key=lambda r: r.order)
        if r.leads in ("shorted", "open") and (m := r.found.mode(mode)) is not None
    ]
    steps, shares = [], []
    for k in range(1, len(line) - 1):
        (a, before), (b, at), (c, after) = line[k - 1 : k + 2]
        if a == c != b:
            other = 0.5 * (before.f_hz + after.f_hz)
            f_open, f_short = (at.f_hz, other) if b == "open" else (other, at.f_hz)
            k2 = coupling(f_short, 0.0, f_open, 0.0)[0]
            per_hertz = math.copysign(coupling(f_short, 1.0, f_open, 0.0)[1], 1.0 if b == "open" else -1.0)
            share = np.zeros(len(line))
            share[k - 1 : k + 2] = per_hertz * np.array([-0.5, 1.0, -0.5])
            steps.append(k2)
            shares.append(share)
    if len(steps) < 2:
        return None
    differences, share_of = np.array(steps), np.array(shares)
    inverse = np.linalg.inv(share_of @ share_of.T)
    total = float(inverse.sum())
    weights = inverse.sum(axis=0) / total
    k2 = float(weights @ differences)
    off, freedom = differences - k2, len(steps) - 1
    scatter = few_runs(freedom) * math.sqrt(max(float(off @ inverse @ off), 0.0) / freedom / total)
    own = float(np.linalg.norm((weights @ share_of) * [m.best.u_f_hz for _, m in line]))
    return k2, max(scatter, own)


# ---- impedance ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Sweep:
    """What an impedance sweep says: K^2 by mode, and capacitance and loss away from the modes.

    `capacitance_f` and `loss` are at `at_hz`, 1 kHz where the sweep has it clear of a mode; `zeta_short`
    the damping of each mode by its conductance peak.
    """

    couplings: tuple[Coupling, ...]
    zeta_short: dict[int, float]
    capacitance_f: float
    loss: float
    at_hz: float


def read_sweep(block: Block, expected_hz: tuple[float, ...] = ()) -> Sweep:
    """Modes, coupling, capacitance and loss of an impedance sweep.

    Y/(j omega) has its poles at the shorted modes, j omega/Y at the open ones (IEEE Std 176, f_s and f_p);
    each is fitted with the loss of both. MeasuredError where the sweep holds no capacitance.
    """
    hertz, y = block.axis, np.asarray(block.channels[0].values, dtype=complex)
    good = (hertz > 0.0) & np.isfinite(y) & (np.abs(y) > 0.0)
    hertz, y = hertz[good], y[good]
    if len(hertz) < 5:
        raise MeasuredError("The sweep has fewer than five lines that are numbers. Export the whole sweep.")
    omega = 2.0 * np.pi * hertz
    capacity = y / (1j * omega)
    if not float(np.median(capacity.real)) > 0.0:
        raise MeasuredError("The sweep shows no capacitance: its phase has the wrong sign, or a lead is off. Look at the unit of the phase.")
    found, zeta = [], {}
    for n, f in _resonances(hertz, capacity, expected_hz):
        short, opened = _pole(hertz, capacity, f), _pole(hertz, 1.0 / capacity, f)
        if short is None or opened is None:
            continue
        k2, u = coupling(
            float(short.natural_hz[0]), float(short.u_natural_hz[0]), float(opened.natural_hz[0]), float(opened.u_natural_hz[0])
        )
        if not 0.0 < float(short.zeta[0]) < 0.3:
            continue
        found.append(Coupling(n, k2, u, float(short.natural_hz[0]), float(opened.natural_hz[0])))
        zeta[n] = float(short.zeta[0])
    at = _clear_of(hertz, [c.f_short_hz for c in found])
    value = complex(np.interp(at, hertz, capacity.real), np.interp(at, hertz, capacity.imag))
    return Sweep(tuple(found), zeta, value.real, -value.imag / value.real, at)


def _resonances(hertz: Array, capacity: Complex, expected_hz: tuple[float, ...]) -> list[tuple[int, float]]:
    """(number, frequency) where the conductance peaks."""
    loss = -capacity.imag
    rough = float(np.median(np.abs(np.diff(loss)))) + 1e-300
    tops = [k for k in range(1, len(loss) - 1) if loss[k] > loss[k - 1] and loss[k] >= loss[k + 1]]

    def height(k: int) -> float:
        near = np.abs(hertz / hertz[k] - 1.0) < 0.2
        return float(loss[k] - np.median(loss[near]))

    if expected_hz:
        out = []
        for n, f in enumerate(expected_hz):
            mine = [k for k in tops if abs(hertz[k] / f - 1.0) < NEAR and height(k) > STANDS_OUT * rough]
            if mine:
                out.append((n + 1, float(hertz[max(mine, key=height)])))
        return out
    lively = sorted((k for k in tops if height(k) > 10.0 * STANDS_OUT * rough), key=height, reverse=True)[:3]
    return [(n + 1, float(hertz[k])) for n, k in enumerate(sorted(lively))]


def _pole(hertz: Array, values: Complex, f: float) -> Poles | None:
    """The pole of a mode in the lines about it, beside a straight line for all else."""
    inside = np.flatnonzero(np.abs(hertz / f - 1.0) < 0.12)
    if len(inside) < 12:
        inside = np.argsort(np.abs(hertz - f))[:15]
        inside.sort()
    start = np.array([2.0 * np.pi * f * complex(-0.004, 1.0)])
    return fit_poles(
        response_shapes(2.0 * np.pi * hertz[inside]), values[inside], np.zeros(len(inside), dtype=np.int64), start
    )


def _clear_of(hertz: Array, modes_hz: list[float]) -> float:
    """The frequency to read the capacitance at: a meter's where it is swept and clear of every mode."""
    clear = np.ones(len(hertz), dtype=bool)
    for f in modes_hz:
        clear &= np.abs(hertz / f - 1.0) > 0.1
    for f in reversed(METER_HZ):
        if hertz[0] <= f <= hertz[-1] and all(abs(f / m - 1.0) > 0.1 for m in modes_hz):
            return f
    return float(hertz[np.flatnonzero(clear)[-1]]) if clear.any() else float(hertz[-1])
