"""Poles of the coupled system and the damping each mode gets from them.

Definition: a pole belongs to the mode that holds the largest share of its mechanical energy
((|s|^2 + omega_n^2)|q_n|^2/2). A mode's damping is the lowest damping ratio among its
oscillatory poles that keep at least a tenth of their energy mechanical. The dielectric's
conductance is omega_n C tan(delta) of the mode looked at, C the true blocked capacitance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.circuit.fast_states import StateSpace, state_matrices, state_space
from core.circuit.states import full_size, loss_slope
from core.circuit.system import CoupledSystem, by_mode

Array = NDArray[np.float64]

ROUNDING = 20 * float(np.finfo(float).eps)
STANDING = 1e-9
"""The same where a charge that nothing conducts away stands for ever: a pole at zero, known less well."""
LEAST_MECHANICAL = 0.1
"""A pole with less of its energy mechanical does not count for a mode's damping."""


@dataclass(frozen=True)
class Spectrum:
    """Poles of one state matrix, positive imaginary part or real.

    value_rad_s : (P,) complex; mechanical_share : (P,); dominant : (P,) mode index from 0;
    oscillatory : (P,) bool; participation : (P, N) share of the pole's energy in each mode;
    tolerance : growth rate [1/s] that is still rounding.
    """

    value_rad_s: NDArray[np.complex128]
    mechanical_share: Array
    dominant: NDArray[np.intp]
    oscillatory: NDArray[np.bool_]
    participation: Array
    tolerance: float

    @property
    def damping_ratio(self) -> Array:
        size = np.abs(self.value_rad_s)
        return -self.value_rad_s.real / np.where(size == 0, 1, size)

    @property
    def unstable(self) -> NDArray[np.bool_]:
        """(P,) which poles grow."""
        return self.grows(slice(None))

    def grows(self, poles: NDArray[np.intp] | slice) -> NDArray[np.bool_]:
        """Which of some poles grow."""
        value = self.value_rad_s[poles]
        return value.real > self.tolerance + 1e-9 * np.abs(value)

    def moved_to(self, value_rad_s: NDArray[np.complex128]) -> Spectrum:
        """The same poles elsewhere."""
        return Spectrum(
            value_rad_s, self.mechanical_share, self.dominant, self.oscillatory, self.participation, self.tolerance
        )

    def poles_of(self, mode: int) -> NDArray[np.intp]:
        """Indices of the oscillatory poles of a mode (from 0), lowest frequency first.

        A mode that owns none, because a neighbour holds more of every pole, gets the one that
        holds most of it.
        """
        found = np.flatnonzero(self.oscillatory & (self.dominant == mode))
        if len(found) == 0 and self.oscillatory.any():
            found = np.array([np.argmax(np.where(self.oscillatory, self.participation[:, mode], -1.0))])
        if len(found) < 2:
            return found
        return found[np.argsort(np.abs(self.value_rad_s[found]), kind="stable")]

    def damping_of(self, mode: int) -> float:
        """Damping ratio of a mode (from 0); nan where nothing oscillates.

        Where none of its poles is mechanical enough to count, the most mechanical one does.
        """
        return self.damping_among(self.poles_of(mode))

    def damping_among(self, own: NDArray[np.intp]) -> float:
        """Damping ratio of the mode whose poles these are."""
        if len(own) == 0:
            return float("nan")
        share = self.mechanical_share[own]
        counting = own[share >= LEAST_MECHANICAL]
        if len(counting) == 0:
            counting = own[[share.argmax()]]
        poles = self.value_rad_s[counting]
        return float((-poles.real / np.abs(poles)).min())


@dataclass(frozen=True, eq=False)
class Eigen:
    """Eigenvalues (n,) and columns of vectors (n, n) of a layout's state matrix."""

    space: StateSpace
    values: NDArray[np.complex128]
    vectors: NDArray[np.complex128]

    @cached_property
    def inverse(self) -> NDArray[np.complex128]:
        """Of the vectors; LinAlgError where they do not span all states."""
        return np.linalg.inv(self.vectors).astype(complex, copy=False)


def eigen_at(system: CoupledSystem, loss_omega_rad_s: float) -> Eigen:
    """With the dielectric loss taken at the frequency given; kept with the system, for the spectra and the motion
    in time ask for the same one."""
    kept = system.kept
    if loss_omega_rad_s not in kept:
        space = state_space(system, loss_omega_rad_s)
        kept[loss_omega_rad_s] = Eigen(space, *np.linalg.eig(space.matrix))
    found: Eigen = kept[loss_omega_rad_s]
    return found


def spectra(system: CoupledSystem, modes: int) -> list[Spectrum]:
    """A spectrum per mode, the dielectric loss of each taken at that mode's frequency, and what stands for some modes
    only counted for these."""
    return [found for _, found in by_mode(system, modes, lambda standing: _told(standing, modes))]


def _told(system: CoupledSystem, modes: int) -> list[Spectrum]:
    found = _spectra(system, modes)
    if not is_active(system) or not system.is_lossy or drifts(system):
        return found
    return [s.moved_to(np.where(s.unstable & ~s.oscillatory, 0.0, s.value_rad_s)) for s in found]


def is_active(system: CoupledSystem) -> bool:
    """Whether anything with a supply hangs on it."""
    return any(c.kind.active for c in system.connections)


def drifts(system: CoupledSystem) -> bool:
    """Whether a real pole grows. The dielectric's conductance is that at a mode's frequency; at rest it does not
    conduct, and must not make a negative capacitance run away."""
    at_rest = spectrum_at(system, 0.0)
    return bool((at_rest.unstable & ~at_rest.oscillatory).any())


def _spectra(system: CoupledSystem, modes: int) -> list[Spectrum]:
    if modes == 0 or system.n_modes == 0:
        return []
    lossy = system.is_lossy and any(not c.port().short for c in system.connections)
    if not lossy:
        return [_solve(system, system.omega_rad_s[:1])[0]] * modes
    return _per_mode(system, min(modes, system.n_modes))


def _per_mode(system: CoupledSystem, modes: int) -> list[Spectrum]:
    """One eigenproblem, at the mode the circuit resonates with; the poles of the other modes are
    moved to their own loss by the exact secular equation of that small change, or solved anew
    where two poles lie too close for that."""
    omega = system.omega_rad_s
    reference = resonant_mode(system, modes)
    found = eigen_at(system, float(omega[reference]))
    if len(found.values) != full_size(system):
        return _solve(system, omega[:modes])
    base = _spectra_from(system, found.space.matrix[None], found.values[None], found.vectors[None])[0]
    at, slope = loss_slope(system)
    try:
        left = found.inverse[:, at]
    except np.linalg.LinAlgError:
        return _solve(system, omega[:modes])
    moved = _move(base, found.values, left, found.vectors[at], slope, omega[:modes] - omega[reference])
    moved[reference] = base
    anew = [n for n, spectrum in enumerate(moved) if spectrum is None]
    solved = iter(_solve(system, omega[anew]) if anew else ())
    return [spectrum or next(solved) for spectrum in moved]


def resonant_mode(system: CoupledSystem, modes: int) -> int:
    """The mode nearest to the electrical resonance of the first circuit that has one, else 0."""
    for i, connection in enumerate(system.connections):
        coupling = connection.port().coupling
        if connection.kind.resonates and coupling.any():
            g = system.leads(i)[0]
            electrical = float(np.abs(coupling).max()) / abs(float(system.capacitance_f[g, g])) ** 0.5
            return int(np.abs(np.log(system.omega_rad_s[:modes] / electrical)).argmin())
    return 0


def _move(
    base: Spectrum,
    values: NDArray[np.complex128],
    left: NDArray[np.complex128],
    right: NDArray[np.complex128],
    slope: Array,
    shift: Array,
) -> list[Spectrum | None]:
    """Spectra with the loss moved, None where the poles do not settle.

    base : poles before; values : (n,) all eigenvalues before, 1/s; left : (n, m) b and right : (m, n) c below;
    slope : (m, m) D per unit of loss; shift : (modes,) change of the loss at the modes the poles belong to.

    With A' = A + U D U^T, an eigenvalue obeys s = s_i + b_i D (1 - T D)^-1 c_i,
    T = sum over j != i of c_j b_j/(s - s_j); b = X^-1 U, c = U^T X.
    """
    wanted = np.flatnonzero(base.oscillatory & (base.dominant < len(shift)))
    start = base.value_rad_s[wanted]
    index = np.abs(values[None, :] - start[:, None]).argmin(axis=1)
    rows = np.arange(len(wanted))
    m = len(slope)
    change = shift[base.dominant[wanted], None, None] * slope
    products = (right.T[:, :, None] * left[:, None, :]).reshape(len(values), m * m)
    apart = np.abs(start[:, None] - values)
    apart[rows, index] = np.inf
    s, step = start.copy(), np.zeros(len(wanted))
    for _ in range(6):
        inverse = 1.0 / _away(s[:, None] - values)
        inverse[rows, index] = 0.0
        new = start + _shift(inverse @ products, left[index], right[:, index], change)
        step = np.abs(new - s)
        s = new
        if (step < 1e-11 * np.abs(s)).all():
            break
    good = (step < 1e-9 * np.abs(s)) & (np.abs(s - start) < 0.3 * apart.min(axis=1))
    owner = base.dominant[wanted]
    moved = np.repeat(base.value_rad_s[None], len(shift), axis=0)
    moved[owner, wanted] = s
    lost = set(owner[~good].tolist())
    return [None if n in lost else base.moved_to(moved[n]) for n in range(len(shift))]


def _shift(
    t: NDArray[np.complex128], b: NDArray[np.complex128], c: NDArray[np.complex128], change: Array
) -> NDArray[np.complex128]:
    """b D (1 - T D)^-1 c of every pole; t (P, m * m), b (P, m), c (m, P), change (P, m, m)."""
    m = b.shape[1]
    if m == 1:
        d = change[:, 0, 0]
        return b[:, 0] * d * c[0] / (1.0 - t[:, 0] * d)
    inner = np.linalg.solve(np.eye(m) - t.reshape(-1, m, m) @ change, c.T[:, :, None])
    return (b[:, None, :] @ change @ inner)[:, 0, 0].astype(complex)


def _away(difference: NDArray[np.complex128]) -> NDArray[np.complex128]:
    return np.where(difference == 0, 1e-300, difference)


def spectrum_at(system: CoupledSystem, loss_omega_rad_s: float) -> Spectrum:
    """One spectrum with the dielectric loss taken at the frequency given."""
    return _solve(system, np.array([loss_omega_rad_s]))[0]


def _solve(system: CoupledSystem, loss_omega: Array) -> list[Spectrum]:
    matrices = state_matrices(system, loss_omega)
    return _spectra_from(system, matrices, *np.linalg.eig(matrices))


def _spectra_from(
    system: CoupledSystem, matrices: Array, values: NDArray[np.complex128], vectors: NDArray[np.complex128]
) -> list[Spectrum]:
    n = system.n_modes
    energy = vectors.real**2 + vectors.imag**2
    per_mode = energy[:, :n] + energy[:, n : 2 * n]
    participation = per_mode / energy.sum(axis=1)[:, None]
    share = participation.sum(axis=1)
    dominant = per_mode.argmax(axis=1)
    oscillatory = np.abs(values.imag) > 1e-7 * np.abs(values)
    # charge stands on the capacitors of a branch, too, and on the patches of open leads that share them
    stands = is_active(system) or any(c.kind.branches > 1 for c in system.connections)
    rounding = (STANDING if stands else ROUNDING) * np.abs(matrices).max(axis=(1, 2))
    out = []
    for b in range(len(matrices)):
        keep = np.flatnonzero(values[b].imag >= 0)
        out.append(
            Spectrum(
                values[b][keep].astype(complex, copy=False),
                share[b][keep],
                dominant[b][keep],
                oscillatory[b][keep],
                participation[b].T[keep],
                float(rounding[b]),
            )
        )
    return out
