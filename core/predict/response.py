"""Frequency response before and after, the peaks of each mode, the mean square over the band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.spectrum import Spectrum
from core.circuit.system import CoupledSystem
from core.circuit.transfer import Forced, forced
from core.predict.forcing import Forcing
from core.predict.grid import clusters, find_peaks, mode_windows, response_grid
from core.predict.loads.random_load import density, is_random
from core.predict.prediction import Response
from core.project.service import Load

Array = NDArray[np.float64]

_GAUSS, _GAUSS_WEIGHTS = (0.5 * v for v in np.polynomial.legendre.leggauss(4))
_GAUSS = _GAUSS + 0.5

EXTRA_POINTS = 240
"""Frequencies outside the load's band, about modes shown whose peak is there."""


@dataclass(frozen=True)
class Side:
    """A system with its forcing: what the curve 'before' or 'after' belongs to."""

    system: CoupledSystem
    forcing: Forcing


@dataclass(frozen=True)
class Sampled:
    """Responses on one set of frequencies, the first `points` of which are the shown curve.

    `driven` is the solution with the circuits on all of them; before, after : (F,) complex.
    """

    driven: Forced
    points: int
    before: NDArray[np.complex128]
    after: NDArray[np.complex128]
    peak_change_db: tuple[float | None, ...]
    resonances: tuple[Array, Array]
    """Centres and half widths of every resonance before and after, rad/s."""


def sample(side: Side, spectra: list[Spectrum], bare: Side | None, *, modes: int, points: int) -> Sampled:
    """Sample the response with the circuits and before: the same structure with every group
    shorted, or the bare structure when one is given."""
    centres, widths = resonances(side, spectra, bare, modes)
    band = side.forcing.aim.band_rad_s
    shown = response_grid(band, centres, widths, points)
    outside = (centres <= band[0]) | (centres >= band[1])
    extra = clusters(centres[outside], widths[outside], EXTRA_POINTS, narrow=True)
    omega = np.concatenate([shown, extra[extra > 0]])
    driven, before, after = _responses(side, omega)
    if bare is not None:
        before = _responses(bare, omega)[1]
    changes = peak_changes(side, bare, omega, before, after, modes)
    return Sampled(driven, points, before, after, changes, (centres, widths))


def _responses(side: Side, omega: Array) -> tuple[Forced, NDArray[np.complex128], NDArray[np.complex128]]:
    """What drives a side, and its response with every group shorted and with the circuits; (F,) each."""
    driven = forced(side.system, side.forcing.aim.load, omega)
    before, after = driven.output(side.forcing.aim.output, side.forcing.aim.residual)
    beyond = side.forcing.beyond_static(omega)
    before, after = before + beyond, after + beyond
    if side.forcing.factor:
        scale = (1j * omega) ** side.forcing.factor
        before, after = before * scale, after * scale
    return driven, before, after


def peak_changes_to(sampled: Sampled, other: Side, modes: int) -> tuple[float | None, ...]:
    """Change of the highest peak near each mode, dB, from what was sampled to another side with its circuits."""
    omega = sampled.driven.omega_rad_s
    return peak_changes(other, None, omega, sampled.after, _responses(other, omega)[2], modes)


def response(sampled: Sampled, load: Load, label: str, unit: str, before_label: str) -> Response:
    """The curves to show, over the load's band; the mean square is that of the load's own spectrum where
    it is random, else of an even one."""
    n = sampled.points
    omega = sampled.driven.omega_rad_s[:n]
    before, after = sampled.before[:n], sampled.after[:n]
    level = density(load, omega) if is_random(load) else np.ones(n)
    power_before, power_after = np.abs(before) ** 2 * level, np.abs(after) ** 2 * level
    return Response(
        frequency_hz=omega / (2 * np.pi),
        before=before,
        after=after,
        label=label,
        unit=unit,
        before_label=before_label,
        peak_before=_highest(omega, before),
        peak_after=_highest(omega, after),
        mean_square_change_db=_decibel(
            band_integral(omega, power_after), band_integral(omega, power_before), 10.0
        ),
    )


def band_integral(omega: Array, squared: Array) -> float:
    """Integral of a sampled |H|^2 over the band.

    Between samples 1/|H|^2, which is smooth where |H|^2 is sharp, is taken as a parabola and its
    inverse integrated by Gauss points.
    """
    y = 1.0 / np.maximum(squared, 1e-300)
    step = np.maximum(np.diff(omega), 1e-300)
    slope = np.diff(y) / step
    bend = np.diff(slope) / (step[1:] + step[:-1])
    bend = 0.5 * (np.append(bend[0], bend) + np.append(bend, bend[-1]))
    t = _GAUSS[:, None]
    between = y[:-1] + t * step * slope - bend * step**2 * t * (1 - t)
    between = np.maximum(between, 0.5 * np.minimum(y[:-1], y[1:]))
    return float(((_GAUSS_WEIGHTS[:, None] / between).sum(axis=0) * step).sum())


def _highest(omega: Array, curve: NDArray[np.complex128]) -> float:
    size = np.abs(curve)
    heights = find_peaks(omega, size).height
    return max(float(size.max()), float(heights.max()) if len(heights) else 0.0)


def _decibel(after: float, before: float, factor: float) -> float:
    if before <= 0 or after <= 0:
        return 0.0
    return factor * float(np.log10(after / before))


def resonances(side: Side, spectra: list[Spectrum], bare: Side | None, modes: int) -> tuple[Array, Array]:
    """Centres and half widths (rad/s) of every resonance of the modes shown and in the band."""
    high = side.forcing.aim.band_rad_s[1]
    omega, zeta = side.system.omega_rad_s, side.system.zeta
    use = (np.arange(len(omega)) < modes) | (omega < high)
    centres, widths = [omega[use]], [omega[use] * np.maximum(zeta[use], 1e-5)]
    if bare is not None:
        o, z = bare.system.omega_rad_s, bare.system.zeta
        use = (np.arange(len(o)) < modes) | (o < high)
        centres.append(o[use])
        widths.append(o[use] * np.maximum(z[use], 1e-5))
    own = [
        s.value_rad_s[s.oscillatory & (s.dominant == mode) & (s.mechanical_share > 1e-3)]
        for mode, s in enumerate(spectra)
    ]
    if own:
        poles = np.concatenate(own)
        poles = poles[poles.real > -0.2 * np.abs(poles)]
        centres.append(poles.imag)
        widths.append(np.maximum(-poles.real, 1e-5 * poles.imag))
    return np.concatenate(centres), np.concatenate(widths)


def peak_changes(
    side: Side,
    bare: Side | None,
    omega: Array,
    before: NDArray[np.complex128],
    after: NDArray[np.complex128],
    modes: int,
) -> tuple[float | None, ...]:
    """Change of the highest peak near each mode, dB; None where one of both has none there.

    side, bare : with the circuits and what they are compared with (None: the same part shorted); omega : (F,)
    rad/s; before, after : (F,) responses.
    """
    order = np.argsort(omega, kind="stable")
    at = omega[order]
    size_before, size_after = np.abs(before[order]), np.abs(after[order])
    peaks_before, peaks_after = find_peaks(at, size_before), find_peaks(at, size_after)
    reference = side if bare is None else bare
    windows = mode_windows(side.system.omega_rad_s, modes)
    windows_before = mode_windows(reference.system.omega_rad_s, modes)
    out: list[float | None] = []
    for n, window in enumerate(windows):
        was = peaks_before.highest_between(*windows_before[n]) if n < len(windows_before) else None
        if was is None:
            out.append(None)
            continue
        now = peaks_after.highest_between(*window)
        # Where the circuit has left no peak, the response at the place of the old one counts.
        height = float(np.interp(was[0], at, size_after)) if now is None else now[1]
        out.append(_decibel(height, was[1], 20.0))
    return tuple(out)
