"""Records with known truth: modes and the electrical node stepped exactly in time, nothing of the program in it.

q'' + 2 zeta w q' + w^2 q + theta V = 0 and C V' + V/R = theta . q', from a plucked start; the step is the
matrix exponential, so that a sample is exact.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import expm

from core.measured.record import Block, Channel


def decay(
    f_hz, zeta, swing, *, rate_hz=4000.0, length_s=10.0, snr_db=40.0, seed=0, theta=None, capacitance_f=1.0,
    resistance_ohm=np.inf, unit="m", scale=None,
) -> Block:  # fmt: skip
    """A free decay of those modes: `swing` what each contributes at the start, noise `snr_db` under the record.

    `theta` (N/V per root kilogram) couples the modes to a capacitance with a resistance across it; `scale`
    is then what a mode moves the point of measurement by, per root kilogram.
    """
    w = 2 * np.pi * np.asarray(f_hz, dtype=float)
    n, coupled = len(w), theta is not None
    a = np.zeros((2 * n + coupled, 2 * n + coupled))
    a[:n, n : 2 * n] = np.eye(n)
    a[n : 2 * n, :n] = -np.diag(w**2)
    a[n : 2 * n, n : 2 * n] = -np.diag(2 * np.asarray(zeta) * w)
    moved = np.ones(n) if scale is None else np.asarray(scale, dtype=float)
    swing = np.asarray(swing, dtype=float) / moved
    start = np.concatenate([swing, np.zeros(n + coupled)])
    if coupled:
        a[n : 2 * n, -1] = -np.asarray(theta)
        a[-1, n : 2 * n] = np.asarray(theta) / capacitance_f
        a[-1, -1] = 0.0 if np.isinf(resistance_ohm) else -1.0 / (resistance_ohm * capacitance_f)
        start[-1] = np.asarray(theta) @ swing / capacitance_f if np.isinf(resistance_ohm) else 0.0
    count = round(length_s * rate_hz)
    # a record of 2^k samples by doubling: x(t + 2^j dt) = E^(2^j) x(t)
    state, step = start[:, None], expm(a / rate_hz)
    while state.shape[1] < count:
        state = np.concatenate([state, step @ state], axis=1)
        step = step @ step
    y = moved @ state[:n, :count]
    noise = np.random.default_rng(seed).standard_normal(count) * np.sqrt(np.mean(y**2)) * 10 ** (-snr_db / 20)
    return Block("time", (Channel("tip", y + noise, unit),), 0.0, 1.0 / rate_hz)
