"""The quadrature over a band against the closed form of a resonance, and the refined peak."""

from __future__ import annotations

import numpy as np
import pytest

from core.circuit.band import band_quadrature, highest


def squared(omega, zeta):
    """|H|^2 of a single resonator at omega_0 = 1."""
    return 1.0 / ((1 - omega**2) ** 2 + (2 * zeta * omega) ** 2)


@pytest.mark.parametrize("zeta", [0.0005, 0.0015, 0.006, 0.03])
@pytest.mark.parametrize("offset", [0.0, 0.4, -0.5])
def test_mean_square_of_a_resonance_over_all_frequencies(zeta, offset):
    """The integral of |H|^2 from 0 to infinity is pi/(4 zeta) (Crandall & Mark 1963); what lies
    beyond `high` is 1/(3 high^3) to 1e-5."""
    high = 50.0
    at, weight = band_quadrature(1e-9, high, np.array([1 + offset * zeta]), np.array([zeta]))
    wanted = np.pi / (4 * zeta) - 1 / (3 * high**3)
    assert weight @ squared(at, zeta) == pytest.approx(wanted, rel=3e-4)


def test_peak_between_samples():
    """1/|H|^2 is smallest at omega^2 = 1 - 2 zeta^2, where |H| = 1/(2 zeta sqrt(1 - zeta^2))."""
    zeta = 0.0015
    omega = np.linspace(0.98, 1.021, 40)
    at, height = highest(omega, squared(omega, zeta))
    assert at == pytest.approx((1 - 2 * zeta**2) ** 0.5, abs=1e-6)
    assert height == pytest.approx(1 / (4 * zeta**2 * (1 - zeta**2)), rel=0.02)
