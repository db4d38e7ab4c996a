"""How far a loop is from growing: margins, the gain at which it grows first and what grows then, locus data,
and whether poles and zeros alternate.

A structure with passive circuits and a control whose own poles decay is stable with the loop open. Raised from
nothing, the gain first makes a pole grow where L crosses the negative real axis furthest out: at -1/Re L of the
crossing with the largest -Re L, at rest included. That counts the delay exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from math import copysign, inf

import numpy as np
from numpy.typing import NDArray

from core.circuit.fast_states import fast_ones
from core.circuit.loop.law import Amplifier, Control, polynomials
from core.circuit.loop.loop import Loop
from core.circuit.loop.plant import Plant
from core.circuit.spectrum import spectrum_at
from core.circuit.states import full_matrices

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

DRIFTS = 0.25
"""Below so much of mode 1's frequency what grows only drifts to one side."""
SETTLED, ROUNDING = 1e-10, 1e-12
LEAST = 1e-300


@dataclass(frozen=True)
class Crossing:
    """A place where the loop grows if its gain is `times` as large: frequency in Hz, the mode (from 1) whose it is;
    None where it drifts to one side."""

    times: float
    frequency_hz: float
    mode: int | None


@dataclass(frozen=True)
class Margins:
    """`first` is what grows first as the gain rises (None: nothing ever). Phase in rad and the delay in s that may
    still be added, with the frequency; inf where |L| stays below 1. `nearest` is the least |1 + L|, at Hz."""

    first: Crossing | None
    phase_rad: float
    phase_hz: float | None
    delay_s: float
    delay_hz: float | None
    nearest: float
    nearest_hz: float

    @property
    def gain_db(self) -> float:
        """How much the gain may rise; inf without a limit."""
        return inf if self.first is None else float(20 * np.log10(self.first.times))


def margins(loop: Loop) -> Margins:
    """Margins of the loop as it is."""
    w, gain = loop.plant.grid_rad_s, loop.gain_on_grid
    phase, phase_hz, delay, delay_hz = inf, None, inf, None
    crossed = _crossings(w, np.log(np.abs(gain) + LEAST), lambda x: np.log(np.abs(loop.gain(x)) + LEAST))
    # from -1, counter-clockwise positive
    for at, angle in zip(crossed.tolist(), np.angle(-loop.gain(crossed)).tolist(), strict=True):
        if abs(angle) < phase:
            phase, phase_hz = abs(angle), at / (2 * np.pi)
        # delay turns L clockwise; what lies less than a turn ahead of -1 is reached
        turn = angle if angle > 0 else angle + 2 * np.pi
        if turn / at < delay:
            delay, delay_hz = turn / at, at / (2 * np.pi)
    distance = np.abs(1.0 + gain)
    least = int(np.argmin(distance))
    return Margins(largest_gain(loop), phase, phase_hz, delay, delay_hz, float(distance[least]), float(w[least]) / (2 * np.pi))


def largest_gain(loop: Loop) -> Crossing | None:
    """What grows first as the gain rises, and at how many times the present gain; None where nothing does."""
    return _first_of(loop, False)


def safe_gain(loop: Loop) -> Crossing | None:
    """The same, where the poles agree too: below mode 1 they take the dielectric to conduct as at mode 1, more than it
    does, and a loop that only one of both calls stable is not called so."""
    found = [one for one in (_first_of(loop, False), _first_of(loop, True)) if one is not None]
    return min(found, key=lambda one: one.times) if found else None


def _first_of(loop: Loop, as_poles: bool) -> Crossing | None:
    amplifier = loop.control.amplifier
    size = abs(amplifier.gain)
    if not size:
        return None
    # however large the gain is, it is the same crossing
    unit = Amplifier(copysign(1.0, amplifier.gain), amplifier.bandwidth_hz, amplifier.output_ohm)
    found = _first(loop.plant, replace(loop.control, amplifier=unit), as_poles)
    return None if found is None else replace(found, times=found.times / size)


@lru_cache(maxsize=8)
def _first(plant: Plant, control: Control, as_poles: bool) -> Crossing | None:
    w, loss = plant.grid_rad_s, plant.at_mode_rad_s if as_poles else None
    gain = -(plant.on_grid_as_poles if as_poles else plant.on_grid) * control.at(w)

    def of(x: Array) -> ComplexArray:
        return np.asarray(-plant.response(x, loss) * control.at(x))

    at = _crossings(w, gain.imag, lambda x: of(x).imag, _far_out(gain))
    real = of(at).real
    found = [(-1.0 / r, x) for r, x in zip(real.tolist(), at.tolist(), strict=True) if r < 0.0]
    # below the lowest frequency the gain is that at rest
    if gain[0].real < 0.0 and abs(gain[0].imag) < 0.05 * abs(gain[0].real):
        found.append((-1.0 / float(gain[0].real), 0.0))
    if not found:
        return None
    times, lowest = min(found)
    omega = plant.system.omega_rad_s
    mode = None if lowest < DRIFTS * float(omega[0]) else int(np.argmin(np.abs(np.log(omega / lowest)))) + 1
    return Crossing(times, lowest / (2 * np.pi), mode)


def _far_out(gain: ComplexArray) -> NDArray[np.bool_]:
    """(F - 1,) between which points the negative real axis may be crossed furthest out: where, on a straight line from
    one to the other, it is crossed a third as far out as anywhere, and where the line is too long to tell."""
    a, b = gain[:-1], gain[1:]
    rise = b.imag - a.imag
    steep = np.where(rise != 0.0, rise, 1.0)
    straight = -(a.real - a.imag * (b.real - a.real) / steep)
    turned = np.abs(b - a) > 0.5 * np.minimum(np.abs(a), np.abs(b))
    reach = np.where(turned, np.maximum(np.abs(a), np.abs(b)), straight)
    crossed = np.sign(a.imag) * np.sign(b.imag) < 0.0
    furthest = float(straight[crossed].max(initial=0.0))
    return np.asarray(crossed & (reach > 0.33 * furthest) & (reach > 0.0))


def _crossings(
    w: Array, values: Array, of: Callable[[Array], Array], where: NDArray[np.bool_] | None = None
) -> Array:
    """Where values change sign (only between the points named, if any), sharpened by the false-position rule."""
    change = np.flatnonzero(np.sign(values[:-1]) * np.sign(values[1:]) < 0 if where is None else where)
    a, b, fa, fb = w[change], w[change + 1], values[change], values[change + 1]
    if not len(change):
        return np.zeros(0)
    x, tiny = a, ROUNDING * np.maximum(np.abs(fa), np.abs(fb))
    was = np.zeros(len(a))
    for _ in range(40):
        before, x = x, (a * fb - b * fa) / (fb - fa)
        fx = of(x)
        left = np.sign(fx) == np.sign(fa)
        side = np.where(left, 1.0, -1.0)
        # the end that stays a second time counts half (Illinois), so that both ends move
        half = np.where(side == was, 0.5, 1.0)
        a, fa, fb = np.where(left, x, a), np.where(left, fx, fa * half), np.where(left, fb * half, fb)
        b, fb, was = np.where(left, b, x), np.where(left, fb, fx), side
        if ((np.abs(x - before) <= SETTLED * x) | (np.abs(fx) <= tiny)).all():
            break
    return np.asarray(x)


def law_decays(control: Control) -> bool:
    """Whether the law's own poles decay. Where they do not, the first crossing is no limit, and the amplifier goes to its
    rail as soon as a lead is off."""
    bottom = np.trim_zeros(polynomials(control.law)[1], "f")
    return bool((np.roots(bottom).real < 0.0).all()) if len(bottom) > 1 else True


def locus(loop: Loop, times: Array, loss_hz: float | None = None) -> ComplexArray:
    """(K, P) poles with the gain so many times as large, positive imaginary part or real, nan to fill. The dielectric
    conducts as at `loss_hz`, by default at mode 1."""
    at = float(loop.system.omega_rad_s[0]) if loss_hz is None else 2 * np.pi * loss_hz
    many = loop.closed(np.asarray(times, dtype=float))
    matrices = full_matrices(many, np.array([at]))[0]
    if fast_ones(matrices, many).any():
        values = [spectrum_at(many.one(k), at).value_rad_s for k in range(len(times))]
    else:
        values = [row[row.imag >= 0] for row in np.linalg.eigvals(matrices)]
    out = np.full((len(times), max(map(len, values))), np.nan + 0j)
    for row, found in zip(out, values, strict=True):
        row[: len(found)] = found
    return out


@dataclass(frozen=True)
class Alternation:
    """Whether a zero lies between each mode and the next: `up_to` is the mode (from 1) up to which it does, from
    mode 1 on; `broken` the modes after which none lies, because sensor and driver see these two modes with
    different signs."""

    up_to: int
    broken: tuple[int, ...]

    @property
    def collocated(self) -> bool:
        return not self.broken


def alternation(loop: Loop) -> Alternation:
    """From the signs of the modes' shares theta_sense theta_drive: a zero lies between two modes where they agree."""
    share = loop.system.theta[:, loop.sensing] * loop.system.theta[:, loop.driven]
    agree = share[:-1] * share[1:] > 0.0
    broken = tuple(int(i) + 1 for i in np.flatnonzero(~agree))
    return Alternation(broken[0] if broken else len(share), broken)
