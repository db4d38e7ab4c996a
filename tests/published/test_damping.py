"""Decay, half-power points and mean square of a damped mode.

Rao, Mechanical Vibrations; Ewins, Modal Testing; ISO 7626-1 and ISO 6721-1 use the same terms
(citations from memory, numbers recomputed). Miles' equation is left out: no root-mean-square
acceleration is among our results.
"""

import msgspec
import numpy as np
import pytest
from scipy.linalg import solve_continuous_lyapunov

from core.circuit.fast_states import state_space
from core.circuit.spectrum import spectrum_at
from core.circuit.system import CoupledSystem
from core.circuit.transfer import Functional, forced
from core.predict.decay import Decay
from core.predict.predict import predict
from core.project.record import Constant
from core.project.service import TipForce
from core.project.structure import Damping
from tests.published.build import bare, material, project, strip

UNIT = Functional(np.ones(1), np.zeros(0), np.zeros(0))


def one_mode(zeta, omega=1.0):
    none = np.zeros((0, 0))
    return CoupledSystem(np.full(1, omega), np.full(1, zeta), np.zeros((1, 0)), none, none, ())


@pytest.mark.parametrize(
    ("zeta", "decrement", "after_ten"),
    [(0.001, 0.006283188449, 0.9391013379), (0.005, 0.03141631924, 0.7303998227),
     (0.01, 0.0628349949, 0.5334713301), (0.05, 0.3145527023, 0.04304423277),
     (0.1, 0.6314838834, 0.001809257328)],
)  # fmt: skip
def test_logarithmic_decrement(zeta, decrement, after_ten):
    """delta = 2 pi zeta/sqrt(1 - zeta^2), read from the free decay one and ten cycles on."""
    decay = Decay(spectrum_at(one_mode(zeta), 1.0).value_rad_s, np.ones(1))
    cycle = 2 * np.pi / np.sqrt(1 - zeta**2)
    x = decay.analytic(0.0, cycle, 11).real
    assert np.log(x[0] / x[1]) == pytest.approx(decrement, rel=1e-8)
    assert x[10] / x[0] == pytest.approx(after_ten, rel=1e-8)


@pytest.mark.parametrize(
    ("zeta", "settle", "half"), [(0.005, 6.226177988, 1.103178001), (0.02, 1.556544497, 0.2757945002)]
)
def test_settling_and_half_value_time_at_20_hz(zeta, settle, half):
    """Envelope exp(-zeta omega t): 2 % after ln 50/(zeta omega), half after ln 2/(zeta omega); the half-value
    time is what the alpine-ski bending-vibration test measures (ISO 6267, from memory). A cantilever
    tuned to 20 Hz, released in its first mode."""
    slow = bare(strip(0.3, 0.02, [("al", 0.002)]), [("al", 70e9, 2700.0)]).omega_rad_s[0]
    modulus = 70e9 * (2 * np.pi * 20 / slow) ** 2
    loads = (TipForce("tip", 1.0, (5.0, 100.0)),)
    structure = strip(0.3, 0.02, [("al", 0.002)], zeta=zeta)
    made = project(structure, [("al", modulus, 2700.0)], loads=loads)
    made = msgspec.structs.replace(made, service=msgspec.structs.replace(made.service, settle_to=0.02))
    found = predict(made)
    assert found.modes[0].f_short_hz == pytest.approx(20.0, rel=1e-9)
    assert found.ring_down.settle_before_s == pytest.approx(settle, rel=1e-3)
    assert found.ring_down.half_life_before_s == pytest.approx(half, rel=1e-3)


@pytest.mark.parametrize(
    ("zeta", "low", "high", "top", "peak"),
    [(0.001, 0.998998499, 1.000998501, 0.999999, 500.00025),
     (0.01, 0.9898489784, 1.009850979, 0.999899995, 50.00250019),
     (0.1, 0.8837434654, 1.085816507, 0.9899494937, 5.025189076)],
)  # fmt: skip
def test_half_power_points(zeta, low, high, top, peak):
    """f^2 = 1 - 2 zeta^2 -/+ 2 zeta sqrt(1 - zeta^2) on the receptance, peak 1/(2 zeta sqrt(1 - zeta^2))."""
    w = np.array([low, top, high])
    size = np.abs(forced(one_mode(zeta), UNIT, w).output(UNIT, 0.0)[0])
    assert size[1] == pytest.approx(peak, rel=1e-7)
    assert size[[0, 2]] ** 2 / size[1] ** 2 == pytest.approx([0.5, 0.5], rel=1e-6)


@pytest.mark.parametrize("zeta", [0.001, 0.01, 0.1])
def test_half_power_points_of_the_mobility(zeta):
    """f = sqrt(1 + zeta^2) -/+ zeta, so (f2 - f1)/2 is zeta exactly (Ewins, Modal Testing)."""
    w = np.array([np.sqrt(1 + zeta**2) - zeta, 1.0, np.sqrt(1 + zeta**2) + zeta])
    size = w * np.abs(forced(one_mode(zeta), UNIT, w).output(UNIT, 0.0)[0])
    assert size[[0, 2]] ** 2 / size[1] ** 2 == pytest.approx([0.5, 0.5], rel=1e-9)


def test_loss_factors_by_modal_strain_energy():
    """Johnson C.D. & Kienholz D.A. 1982, AIAA J. 20, 1284-1290 (from memory): eta_n = sum eta_i U_i,n / U_n,
    zeta = eta/2. On a uniform symmetric lay-up every mode has eta = sum eta_i E_i I_i / EI."""
    skins, core = material("skin", 70e9, 2700.0), material("core", 1e9, 300.0)
    skins = msgspec.structs.replace(skins, loss_factor=Constant(0.002))
    core = msgspec.structs.replace(core, loss_factor=Constant(0.08))
    structure = strip(0.3, 0.02, [("skin", 0.5e-3), ("core", 4e-3), ("skin", 0.5e-3)])
    structure = msgspec.structs.replace(structure, damping=Damping(from_loss_factors=True))
    found = bare(structure, [skins, core]).zeta0
    ei_core, ei_skins = 1e9 * 0.02 * 0.004**3 / 12, 70e9 * 0.02 * (0.005**3 - 0.004**3) / 12
    expected = (0.08 * ei_core + 0.002 * ei_skins) / (ei_core + ei_skins) / 2
    assert found[:8] == pytest.approx([expected] * 8, rel=1e-9)


def test_mean_square_under_white_force():
    """E[x^2] = S/(8 zeta omega^3 m^2) for a one-sided S per hertz (Crandall & Mark 1963): 20 Hz, 1 %, 1 kg,
    1 N^2/Hz give 6.299127819e-06 m^2."""
    omega = 2 * np.pi * 20
    a = state_space(one_mode(0.01, omega), omega).matrix
    covariance = solve_continuous_lyapunov(a, -np.diag([0.0, 0.5]))  # one-sided: half for each sign
    assert covariance[0, 0] / omega**2 == pytest.approx(6.299127819e-06, rel=1e-9)
