"""Random base motion: the spectral density of a load over frequency, and its root mean square."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.project.service import Load, RandomBase, RootAcceleration

Array = NDArray[np.float64]


def is_random(load: Load) -> bool:
    """Whether the load is a random motion, given by root mean square or by a spectrum."""
    return isinstance(load, RandomBase) or (isinstance(load, RootAcceleration) and load.random)


def corners_rad_s(load: Load) -> Array:
    """Frequencies at which the density changes its course, band ends included, rad/s."""
    if isinstance(load, RandomBase):
        return 2 * np.pi * np.array([f for f, _ in load.spectrum_hz_m2_s3])
    return 2 * np.pi * np.array(load.band_hz)


def density(load: Load, omega_rad_s: Array) -> Array:
    """One-sided spectral density of the base acceleration per rad/s, (m/s^2)^2 s, shaped like the
    frequencies; zero outside the load's band."""
    if isinstance(load, RandomBase):
        table = np.log(np.array(load.spectrum_hz_m2_s3))
        at = np.log(np.maximum(omega_rad_s / (2 * np.pi), 1e-300))
        inside = (at >= table[0, 0] - 1e-12) & (at <= table[-1, 0] + 1e-12)
        return np.where(inside, np.exp(np.interp(at, table[:, 0], table[:, 1])), 0.0) / (2 * np.pi)
    assert isinstance(load, RootAcceleration)
    low, high = corners_rad_s(load)
    inside = (omega_rad_s >= low * (1 - 1e-12)) & (omega_rad_s <= high * (1 + 1e-12))
    return np.where(inside, load.level_m_s2**2 / (high - low), 0.0)


def spectrum_rms_m_s2(load: RandomBase) -> float:
    """Root mean square of the base acceleration: each stretch of the table is a power of the frequency,
    integrated as such."""
    table = np.array(load.spectrum_hz_m2_s3)
    f, s = table[:, 0], table[:, 1]
    ratio = np.log(f[1:] / f[:-1])
    power = np.log(s[1:] / s[:-1]) / ratio + 1.0
    # f s (r^p - 1)/p with p ratio possibly zero: expm1(p ln r)/(p ln r) is smooth there.
    grown = power * ratio
    mean = np.where(np.abs(grown) < 1e-12, 1.0, np.expm1(grown) / np.where(grown == 0, 1.0, grown))
    return float((f[:-1] * s[:-1] * ratio * mean).sum() ** 0.5)
