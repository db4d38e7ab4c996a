"""Exact natural frequencies and K^2 of piecewise uniform beams with patches, in mpmath.

Within a uniform piece the harmonic Euler-Bernoulli beam is solved in closed form, so nothing
is discretised: the state (w, w', M, M') is carried from the root to the tip as a linear
function of the two free root values and of the electrode voltages, and the end conditions make
a small determinant whose zeros are the natural frequencies. With

    M = EI w'' + sum_j g_j V_j        q_j' = -g_j w'' + sum_k c_jk V_k        M'' = omega^2 m w

the short-circuit case has V_j = 0 and the open-circuit case Q_j = 0. Differences such as
omega_oc^2 - omega_sc^2 are taken in as many digits as asked for, so K^2 of 1e-10 is exact to
as many digits as anybody needs. Method: Pestel & Leckie 1963, Matrix Methods in Elastomechanics.
"""

from __future__ import annotations

from dataclasses import dataclass

import mpmath as mp

DIGITS = 40


@dataclass(frozen=True)
class Uniform:
    """A uniform piece: length [m], EI [N m^2], m [kg/m], and per electrode j the moment per volt
    g_j [N m/V] and the capacitances per length c_jk [F/m]. None: no electrode here."""

    length: float
    ei: float
    m: float
    g: tuple[float, ...] = ()
    c: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True)
class Joint:
    """Something between two pieces, or at an end: point mass [kg], rotary inertia [kg m^2],
    springs to ground [N/m], [N m/rad]."""

    mass: float = 0.0
    inertia: float = 0.0
    k_t: float = 0.0
    k_r: float = 0.0


ENDS = {"clamped": (0, 1), "pinned": (0, 2), "guided": (1, 3), "free": (2, 3)}
"""The two of (w, w', M, M') that vanish at each kind of end."""


def frequencies(chain, guesses_rad_s, *, root="clamped", tip="free", electrodes=0, wiring="shorted"):
    """omega [rad/s] as mpf, each the zero of the characteristic determinant next to its guess.

    `chain` lists `Uniform` and `Joint` from the root to the tip. `wiring` is "shorted", "open"
    (no charge on any electrode), or a list of rows (a, b) of J + J numbers, each demanding
    sum a_j V_j + sum b_j Q_j = 0.
    """
    with mp.workdps(DIGITS):
        found = []
        for guess in guesses_rad_s:
            guess = mp.mpf(guess)

            def residual(x, guess=guess):
                return _determinant(chain, x * guess, root, tip, electrodes, wiring)

            start = (1 - mp.mpf("1e-7"), 1 + mp.mpf("1e-7"))
            found.append(guess * mp.findroot(residual, start, solver="secant", maxsteps=60,
                                             tol=mp.mpf(10) ** (-DIGITS), verify=False))
        return found


def coupling(chain, guesses_rad_s, **options):
    """(omega_sc, omega_oc, K^2) per guess, all electrodes open together."""
    shorted = frequencies(chain, guesses_rad_s, wiring="shorted", **options)
    opened = frequencies(chain, shorted, wiring="open", **options)
    with mp.workdps(DIGITS):
        return [(s, o, (o**2 - s**2) / s**2) for s, o in zip(shorted, opened, strict=True)]


def poles(chain, guesses_rad_s, impedance, **options):
    """s [rad/s], complex mpf, of the undamped beam with `impedance(s)` [ohm] across its only electrode:
    V = -s Z Q. Each is the zero next to its guess."""
    with mp.workdps(DIGITS):
        found = []
        for guess in guesses_rad_s:
            guess = mp.mpc(guess)

            def residual(x, guess=guess):
                s = x * guess
                row = [((mp.mpf(1),), (s * impedance(s),))]
                return _determinant(
                    chain, -1j * s, options.get("root", "clamped"), options.get("tip", "free"), 1, row
                )

            start = (1 - mp.mpf("1e-6"), 1 + mp.mpf("1e-6"))
            found.append(guess * mp.findroot(residual, start, solver="secant", maxsteps=80,
                                             tol=mp.mpf(10) ** (-DIGITS), verify=False))
        return found


def _determinant(chain, omega, root, tip, electrodes, wiring):
    columns = 2 + electrodes
    free = [i for i in range(4) if i not in ENDS[root]]
    state = mp.zeros(4, columns)
    for column, i in enumerate(free):
        state[i, column] = 1
    charge = mp.zeros(electrodes, columns) if electrodes else None
    for link in chain:
        if isinstance(link, Joint):
            for k in range(columns):
                w, slope = state[0, k], state[1, k]
                state[2, k] += (mp.mpf(link.k_r) - mp.mpf(link.inertia) * omega**2) * slope
                state[3, k] += (mp.mpf(link.mass) * omega**2 - mp.mpf(link.k_t)) * w
        else:
            state, charge = _through(link, omega, state, charge, electrodes)
    rows = [[state[i, k] for k in range(columns)] for i in ENDS[tip]]
    if electrodes:
        rows.extend(_electric_rows(charge, columns, electrodes, wiring))
    return mp.det(mp.matrix([[value / scale for value in row] for row, scale in
                             zip(rows, [max(abs(v) for v in row) or 1 for row in rows], strict=True)]))


def _electric_rows(charge, columns, electrodes, wiring):
    volts = [[mp.mpf(int(k == 2 + j)) for k in range(columns)] for j in range(electrodes)]
    charges = [[charge[j, k] for k in range(columns)] for j in range(electrodes)]
    if wiring == "shorted":
        return volts
    if wiring == "open":
        return charges
    return [[mp.fsum(a[j] * volts[j][k] + b[j] * charges[j][k] for j in range(electrodes))
             for k in range(columns)] for a, b in wiring]


def _through(link, omega, state, charge, electrodes):
    """State and charge at the far end of a uniform piece."""
    length, ei, m = mp.mpf(link.length), mp.mpf(link.ei), mp.mpf(link.m)
    beta = mp.root(m * omega**2 / ei, 4)
    b = beta * length
    ch, sh, c, s = mp.cosh(b), mp.sinh(b), mp.cos(b), mp.sin(b)
    k0, k1, k2, k3 = (ch + c) / 2, (sh + s) / (2 * beta), (ch - c) / (2 * beta**2), (sh - s) / (2 * beta**3)
    b4 = beta**4
    t = mp.matrix([[k0, k1, k2 / ei, k3 / ei],
                   [b4 * k3, k0, k1 / ei, k2 / ei],
                   [ei * b4 * k2, ei * b4 * k3, k0, k1],
                   [ei * b4 * k1, ei * b4 * k2, b4 * k3, k0]])
    entering = state.copy()
    for j, g in enumerate(link.g):
        entering[2, 2 + j] -= mp.mpf(g)
    leaving = t * entering
    if link.g:
        for k in range(2 + electrodes):
            turned = leaving[1, k] - state[1, k]
            for j, g in enumerate(link.g):
                charge[j, k] -= mp.mpf(g) * turned
                if k >= 2:
                    charge[j, k] += mp.mpf(link.c[j][k - 2]) * length
    for j, g in enumerate(link.g):
        leaving[2, 2 + j] += mp.mpf(g)
    return leaving, charge
