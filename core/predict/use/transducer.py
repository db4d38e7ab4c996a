"""A group of patches as a transducer at one point of the part: the same charge row read both ways.

Driven, a voltage moves the point; sensed, a motion of the point charges the leads. With q'' + 2 zeta omega q' +
omega^2 q = phi F - theta V and Q = -theta^T q + C V (Q into the group) the point obeys

    w = a F + d V,      Q = d F + c V

with one and the same d: metres per volt, or coulombs per newton into shorted leads. The open voltage of a force
is -(d/c) F, and a charge moves the point by d/c: equal in size, opposite in sign. Other groups are shorted.
All arrays may have leading axes of layouts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.circuit.transfer import LEAST_ZETA
from core.piezo.coupled_beam import CoupledBeam

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Transducer:
    """Group number `group` (from 0) and the deflection at x_m."""

    beam: CoupledBeam
    group: int
    x_m: float

    @cached_property
    def _row(self) -> Array:
        return np.asarray(self.beam.deflection_row(self.x_m))

    @property
    def _charge_row(self) -> Array:
        return np.asarray(self.beam.group_theta_rows[..., self.group, :])

    @property
    def omega_rad_s(self) -> Array:
        """(..., N) of the kept modes, every group shorted."""
        return self.beam.omega_rad_s

    @cached_property
    def phi(self) -> Array:
        """(..., N) deflection of the point in the modes, 1/sqrt(kg)."""
        return np.asarray(self.omega_rad_s * (self.beam.units @ self._row[..., None])[..., 0])

    @property
    def theta(self) -> Array:
        """(..., N) charge of the modes, C/(m sqrt(kg))."""
        return np.asarray(self.beam.group_theta[..., self.group])

    @cached_property
    def static_m_per_v(self) -> Array:
        """(...) d at rest, m/V, which is C/N."""
        return np.asarray(-(self._row * self._charge_row).sum(axis=-1))

    @cached_property
    def static_m_per_n(self) -> Array:
        """(...) a at rest with the leads shorted, m/N."""
        return np.asarray((self._row * self._row).sum(axis=-1))

    @property
    def free_f(self) -> Array:
        """(...) c at rest."""
        return np.asarray(self.beam.group_free_f[..., self.group, self.group])

    @cached_property
    def _beyond(self) -> tuple[Array, Array]:
        """(...) what the truncated modes add to d: statically, and per omega^2."""
        beam, n = self.beam, self.beam.n_kept
        rest = beam.beam.unit[..., n:, :]
        of_point = (rest @ self._row[..., None])[..., 0]
        of_charge = (rest @ self._charge_row[..., None])[..., 0]
        second = -(of_point * of_charge * beam.beam.mu_s2[..., n:]).sum(axis=-1)
        kept = -(self.phi * self.theta / self.omega_rad_s**2).sum(axis=-1)
        return self.static_m_per_v - kept, second

    @property
    def static_beyond_m_per_v(self) -> Array:
        """(...) the truncated modes' static share of d."""
        return self._beyond[0]

    def flexibility(self, omega_rad_s: Array) -> ComplexArray:
        """(..., F, N) 1/(omega_n^2 - omega^2 + 2 j zeta_n omega_n omega)."""
        w, own = omega_rad_s[..., None], self.omega_rad_s[..., None, :]
        zeta = np.maximum(self.beam.zeta0, LEAST_ZETA)[..., None, :]
        return np.asarray(1.0 / (own**2 - w**2 + 2j * zeta * own * w))

    def m_per_v(self, omega_rad_s: Array) -> ComplexArray:
        """(..., F) d at each frequency (..., F): motion per volt, or charge per newton into a short."""
        static, second = self._beyond
        modal = -(self.flexibility(omega_rad_s) * (self.phi * self.theta)[..., None, :]).sum(axis=-1)
        return np.asarray(modal + static[..., None] + second[..., None] * omega_rad_s**2)

    def m_per_n(self, omega_rad_s: Array) -> ComplexArray:
        """(..., F) a at each frequency: motion per force with the leads shorted, the truncated modes at rest."""
        rest = self.static_m_per_n - (self.phi**2 / self.omega_rad_s**2).sum(axis=-1)
        modal = (self.flexibility(omega_rad_s) * (self.phi**2)[..., None, :]).sum(axis=-1)
        return np.asarray(modal + rest[..., None])

    def siemens(self, omega_rad_s: Array) -> ComplexArray:
        """(..., F) current per volt of the driven group, the dielectric's loss included."""
        modal = (self.flexibility(omega_rad_s) * (self.theta**2)[..., None, :]).sum(axis=-1)
        at = (..., self.group, self.group)
        own = self.beam.group_corrected_f[at][..., None] - 1j * self.beam.group_loss_f()[at][..., None]
        return np.asarray(1j * omega_rad_s * (own + modal))

    @cached_property
    def open_omega_rad_s(self) -> Array:
        """(..., N) with the group's leads open."""
        return np.asarray(self.omega_rad_s * np.sqrt(1.0 + self.beam.group_k2[..., self.group]))

    def mode_c_per_m(self) -> Array:
        """(..., N) charge out of shorted leads per motion of the point in each mode; inf where the point stands still."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.phi != 0.0, self.theta / self.phi, np.inf)

    def mode_v(self, input_s: float = 0.0, input_f: float = 0.0) -> ComplexArray:
        """(..., N) volts across an input of that conductance and capacitance per unit of each mode's coordinate, at
        its open frequency: theta/(C_n + C_in + G/(j omega)), C_n the capacitance that goes with K^2."""
        stored = self.beam.modal_capacitance_f[..., self.group] + input_f + input_s / (1j * self.open_omega_rad_s)
        there = stored != 0.0
        return np.asarray(np.where(there, self.theta, 0.0) / np.where(there, stored, 1.0))

    def mode_v_per_m(self, input_s: float = 0.0, input_f: float = 0.0) -> ComplexArray:
        """(..., N) the same per motion of the point, with what the voltage moves it by through the other modes."""
        omega, volts = self.open_omega_rad_s, self.mode_v(input_s, input_f)
        others = self.flexibility(omega)
        index = np.arange(omega.shape[-1])
        others[..., index, index] = 0.0
        static, second = self._beyond
        pushed = -(others * (self.phi * self.theta)[..., None, :]).sum(axis=-1)
        pushed = pushed + static[..., None] + second[..., None] * omega**2
        moved = self.phi + pushed * volts
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(moved != 0.0, volts / np.where(moved != 0.0, moved, 1.0), np.inf + 0j)
