"""Modal coupling K^2 = (f_oc^2 - f_sc^2)/f_sc^2 without any cancellation.

Opening the terminals adds theta C^-1 theta^T to the stiffness. Writing the new eigenvalue as
omega_n^2 (1 + kappa), the secular equation becomes a fixed point

    kappa = theta_n^T A(kappa)^-1 theta_n / omega_n^2,
    A(kappa) = C + sum_{k != n} theta_k theta_k^T / (omega_k^2 - omega_n^2 (1 + kappa))

in which a weak coupling keeps all its digits (rank-one form: Golub 1973, SIAM Review 15, 318).
A(kappa) of a single group is also the capacitance that goes with K^2.

Here mu = 1/omega^2 (s^2, largest first, one per discrete mode) and p_k = theta_k/omega_k (the
charge row seen by unit vector k), so that the stiffest discrete modes, whose mu is only rounding,
do no harm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@np.errstate(divide="ignore", invalid="ignore")
def coupling(mu: Array, p: Array, blocked: Array, n_modes: int) -> Array:
    """K^2 (..., n) of the first n modes with all terminals open.

    `mu` (..., v), `p` (..., v, G), `blocked` (..., G, G) the true blocked capacitance in F.
    """
    relative = mu[..., None, :] / mu[..., :n_modes, None]
    own = np.arange(n_modes)
    mine = p[..., :n_modes, :]
    products = (p[..., :, None] * p[..., None, :]).reshape(*p.shape[:-1], -1)
    kappa = np.zeros(relative.shape[:-1])
    settled = np.zeros(kappa.shape, dtype=bool)
    for _ in range(60):
        share = 1.0 / (1.0 - (1.0 + kappa)[..., None] * relative)
        share[..., own, own] = 0.0
        others = (share @ products).reshape(*mine.shape, p.shape[-1])
        answer = np.linalg.solve(blocked[..., None, :, :] + others, mine[..., None])[..., 0]
        new = (mine * answer).sum(axis=-1)
        settled |= np.abs(new - kappa) <= 4e-15 * np.abs(new)
        # Next to a strongly coupled mode the step may overshoot; come back from half way.
        kappa = np.where(new >= 0.0, new, 0.5 * kappa)
        if settled.all():
            break
    return np.maximum(kappa, 0.0)


@np.errstate(divide="ignore", invalid="ignore")
def coupling_single(mu: Array, p: Array, blocked: Array | float, n_modes: int) -> tuple[Array, Array]:
    """K^2 and the capacitance that goes with it, for one terminal; (..., n_modes) each.

    `mu` and `p` are (..., n_all), `blocked` (...); leading axes are independent layouts. A few
    vectorised steps settle it; a mode that has not settled (strong coupling next to another mode)
    is bracketed instead. Without coupling K^2 is 0 and the capacitance the blocked one.
    """
    c = np.asarray(blocked, dtype=float)[..., None]
    ratio = np.where(c > 0.0, p**2 / c, 0.0)
    relative = mu[..., None, :] / mu[..., :n_modes, None]
    own = np.arange(n_modes)
    others = np.zeros_like(relative) + ratio[..., None, :]
    others[..., own, own] = 0.0
    kappa = ratio[..., :n_modes].copy()
    total = np.ones_like(kappa)
    settled = np.zeros(kappa.shape, dtype=bool)
    for _ in range(30):
        gap = 1.0 - (1.0 + kappa)[..., None] * relative
        gap[..., own, own] = 1.0
        total = 1.0 + (others / gap).sum(axis=-1)
        new = ratio[..., :n_modes] / total
        settled = np.abs(new - kappa) <= 4e-15 * np.abs(new)
        kappa = new
        if settled.all():
            break
    ceiling = mu[..., :n_modes] / mu[..., 1 : n_modes + 1] - 1.0
    lost = ~settled | ~np.isfinite(kappa) | (kappa < 0.0) | (kappa > ceiling)
    for index in np.argwhere(lost) if lost.any() else ():
        i = int(index[-1])
        layout = tuple(index[:-1])
        kappa[(*layout, i)], total[(*layout, i)] = _bracketed(mu[layout], ratio[layout], i)
    return kappa, c * total


def _bracketed(mu: Array, ratio: Array, i: int) -> tuple[float, float]:
    """Root of kappa (1 + sum) = r_i between the mode and the next one (eigenvalues interlace)."""
    relative = mu / mu[i]
    others = np.arange(len(mu)) != i

    def total(kappa: float) -> float:
        return 1.0 + float(np.sum(ratio[others] / (1.0 - (1.0 + kappa) * relative[others])))

    low, up = 0.0, float(1.0 / relative[i + 1] - 1.0) * (1.0 - 1e-14)
    for _ in range(200):
        middle = 0.5 * (low + up)
        if middle * total(middle) > ratio[i]:
            up = middle
        else:
            low = middle
    kappa = 0.5 * (low + up)
    return kappa, total(kappa)
