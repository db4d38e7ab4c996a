"""Shunts on one mode: closed forms, exact optima, poles, peaks, mean squares.

omega_sc = 1, static short-circuit compliance 1, blocked capacitance 1; K^2 = (omega_oc^2 -
omega_sc^2)/omega_sc^2; delta = omega_e/omega_sc with omega_e = 1/sqrt(L C); r, rho = R C omega_sc.
Amplitudes come from the papers' own equations, written here, not from the core:

    R         1 - w^2 + 2 j zeta w + K^2 j w rho/(1 + j w rho)
    R-L       1 - w^2 + 2 j zeta w + K^2 - K^2/(1 - w^2/delta^2 + j w r)
    R-L par.  1 - w^2 + 2 j zeta w - K^2 w^2/(delta^2 - w^2 + j w/rho)

Citations from memory; every number was found again by an independent optimisation.
"""

import numpy as np
import pytest
from scipy.linalg import solve_continuous_lyapunov

from core.circuit.damping import mode_damping
from core.circuit.fast_states import state_space
from core.circuit.kind import Target
from core.circuit.objective import Aim
from core.circuit.optimum import optimise
from core.circuit.registry import CIRCUITS
from core.circuit.spectrum import spectrum_at
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import Functional

COUPLINGS = [0.05, 0.1, 0.15, 0.2, 0.3]


def system(coupling, kind, values, zeta=0.0):
    connection = Connection(CIRCUITS[kind], dict(values))
    one = np.ones((1, 1))
    return CoupledSystem(np.ones(1), np.full(1, zeta), coupling * one, one, 0 * one, (connection,))


def closed_form(coupling, kind, goal):
    return CIRCUITS[kind].closed_form(goal, Target(1.0, coupling**2, 1.0))


def compliance(coupling, kind, values, w, zeta=0.0):
    """|X|/(F/k_sc) from the equations above."""
    k2, r = coupling**2, values["resistance_ohm"]
    host = 1 - w**2 + 2j * zeta * w
    if kind == "resistor":
        return 1 / np.abs(host + k2 * 1j * w * r / (1 + 1j * w * r))
    d2 = 1 / values["inductance_h"]
    if kind == "series R-L":
        return 1 / np.abs(host + k2 - k2 / (1 - w**2 / d2 + 1j * w * r))
    return 1 / np.abs(host - k2 * w**2 / (d2 - w**2 + 1j * w / r))


def peak(coupling, kind, values, zeta=0.0):
    w = np.linspace(0.6, 1.5, 20001)
    best = w[np.argmax(compliance(coupling, kind, values, w, zeta))]
    return compliance(coupling, kind, values, np.linspace(best - 1e-4, best + 1e-4, 4001), zeta).max()


def mean_square(coupling, kind, values):
    """Variance of X under unit white force, from the core's state matrix (energy variables)."""
    a = state_space(system(coupling, kind, values), 1.0).matrix
    force = np.zeros(len(a))
    force[1] = 1.0
    return solve_continuous_lyapunov(a, -np.outer(force, force))[0, 0]


def lowest_peak(coupling, kind, zeta=0.0):
    values = closed_form(coupling, kind, "peak")
    unit = Functional(np.ones(1), np.zeros(1), np.zeros(0))
    return optimise(
        system(coupling, kind, values, zeta), 0, Target(1.0, coupling**2, 1.0),
        modes=(0,), goal="peak", aim=Aim(unit, unit, 0.0, (0.3, 3.0)),
    )  # fmt: skip


# Resistor


@pytest.mark.parametrize(
    ("coupling", "rho", "eta"),
    [(0.05, 0.9987523389, 0.001248440424), (0.1, 0.9950371902, 0.004975185951),
     (0.15, 0.9889363529, 0.01112553397), (0.2, 0.9805806757, 0.01961161351),
     (0.3, 0.9578262852, 0.04310218284)],
)  # fmt: skip
def test_resistor_largest_loss_factor(coupling, rho, eta):
    """Hagood N.W. & von Flotow A. 1991, J. Sound Vib. 146, 243-268: eta = K^2/(2 sqrt(1 + K^2)) at
    rho = 1/sqrt(1 + K^2)."""
    around = rho * np.array([0.98, 1.0, 1.02])
    loss = []
    for r in around:
        y = CIRCUITS["resistor"].admittance({"resistance_ohm": r}, np.array([1j]))[0]
        stiffness = 1 + coupling**2 * 1j / (1j + y)
        loss.append(stiffness.imag / stiffness.real)
    assert loss[1] == pytest.approx(eta, rel=1e-8)
    assert loss[1] > max(loss[0], loss[2])


@pytest.mark.parametrize(
    ("coupling", "rho", "zeta"),
    [(0.05, 0.9981290922, 0.0006246098625), (0.1, 0.992565029, 0.002493781056),
     (0.15, 0.9834505159, 0.005593710404), (0.2, 0.9710128909, 0.009901951359),
     (0.3, 0.9374111751, 0.02201532545)],
)  # fmt: skip
def test_resistor_largest_pole_damping(coupling, rho, zeta):
    """rho = (1 + K^2)^(-3/4), zeta = (omega_oc/omega_sc - 1)/2, about K^2/4: Preumont, Vibration Control
    of Active Structures; Thomas, Ducarne & Deue 2012, Smart Mater. Struct. 21, 015008."""
    values = closed_form(coupling, "resistor", "damping")
    assert values["resistance_ohm"] == pytest.approx(rho, rel=1e-9)
    assert mode_damping(system(coupling, "resistor", values), 1)[0] == pytest.approx(zeta, rel=1e-8)
    target = Target(1.0, coupling**2, 1.0)
    found = optimise(system(coupling, "resistor", values), 0, target, modes=(0,), goal="damping")
    assert found["resistance_ohm"] == pytest.approx(rho, rel=1e-3)


@pytest.mark.parametrize(
    ("coupling", "rho", "height"),
    [(0.05, 0.9993755853, 800), (0.1, 0.9975093361, 200), (0.15, 0.9944220203, 88.88888889),
     (0.2, 0.990147543, 50), (0.3, 0.9782319761, 22.22222222)],
)  # fmt: skip
def test_resistor_lowest_peak(coupling, rho, height):
    """Thomas et al. 2012: rho = 1/sqrt(1 + K^2/2), peak 2/K^2 at w^2 = 1 + K^2/2."""
    values = closed_form(coupling, "resistor", "peak")
    assert values["resistance_ohm"] == pytest.approx(rho, rel=1e-9)
    assert peak(coupling, "resistor", values) == pytest.approx(height, rel=1e-6)


@pytest.mark.parametrize(
    ("coupling", "zeta", "reduction_db"),
    [(0.05, 0.001, 4.220408021), (0.05, 0.01, 0.5317110684), (0.1, 0.001, 10.88755825),
     (0.1, 0.005, 3.536308085), (0.15, 0.005, 6.570134137), (0.2, 0.001, 20.83571128),
     (0.2, 0.01, 6.063927578), (0.3, 0.005, 14.84241442)],
)  # fmt: skip
def test_resistor_reduction_on_a_damped_mode(coupling, zeta, reduction_db):
    """Thomas et al. 2012: 20 log10[(K^2 + 2 sqrt(2) zeta sqrt(2 + K^2))/(4 zeta sqrt(1 - zeta^2))]."""
    closed = (coupling**2 + 2 * 2**0.5 * zeta * (2 + coupling**2) ** 0.5) / (4 * zeta * (1 - zeta**2) ** 0.5)
    assert 20 * np.log10(closed) == pytest.approx(reduction_db, abs=1e-3)
    after = peak(coupling, "resistor", lowest_peak(coupling, "resistor", zeta), zeta)
    before = 1 / (2 * zeta * (1 - zeta**2) ** 0.5)
    assert 20 * np.log10(before / after) == pytest.approx(reduction_db, abs=2e-3)


@pytest.mark.parametrize("coupling", COUPLINGS)
def test_resistor_lowest_mean_square(coupling):
    """rho = 1, variance 1/K^2 (third-order white-noise integral)."""
    values = closed_form(coupling, "resistor", "mean square")
    assert values["resistance_ohm"] == pytest.approx(1.0, rel=1e-12)
    assert mean_square(coupling, "resistor", values) == pytest.approx(coupling**-2, rel=1e-9)


# Series R-L


@pytest.mark.parametrize(
    ("coupling", "delta", "r", "height"),
    [(0.05, 1.0025, 0.09962616847, 39.92876681), (0.1, 1.01, 0.1970370674, 19.85869454),
     (0.15, 1.0225, 0.2901524752, 13.12422199), (0.2, 1.04, 0.3771464137, 9.726349316),
     (0.3, 1.09, 0.5272438267, 6.27698725)],
)  # fmt: skip
def test_series_rl_pole_placement(coupling, delta, r, height):
    """Hagood & von Flotow 1991: delta = 1 + K^2, r = 2 sqrt(K^2/(1 + K^2)^3); both pole pairs at
    zeta = K/2 and modulus sqrt(1 + K^2). Double roots: found to about 1e-4."""
    values = closed_form(coupling, "series R-L", "damping")
    assert values["inductance_h"] ** -0.5 == pytest.approx(delta, rel=1e-9)
    assert values["resistance_ohm"] == pytest.approx(r, rel=1e-9)
    poles = spectrum_at(system(coupling, "series R-L", values), 1.0)
    assert poles.damping_ratio == pytest.approx([coupling / 2] * 2, abs=1e-4)
    assert np.abs(poles.value_rad_s) == pytest.approx([(1 + coupling**2) ** 0.5] * 2, abs=1e-4)
    assert peak(coupling, "series R-L", values) == pytest.approx(height, rel=1e-6)


@pytest.mark.parametrize(
    ("coupling", "delta", "r", "height"),
    [(0.05, 1.00124922, 0.07053434226, 29.22893458), (0.1, 1.004987562, 0.1400211448, 14.63859705),
     (0.15, 1.011187421, 0.2074640923, 9.750352717), (0.2, 1.019803903, 0.2719641466, 7.28796984),
     (0.3, 1.044030651, 0.3892330906, 4.791386198)],
)  # fmt: skip
def test_series_rl_fixed_points(coupling, delta, r, height):
    """Hagood & von Flotow 1991, transfer-function tuning: delta = sqrt(1 + K^2), r = sqrt(2) K/(1 + K^2)."""
    values = closed_form(coupling, "series R-L", "peak")
    assert values["inductance_h"] ** -0.5 == pytest.approx(delta, rel=1e-8)
    assert values["resistance_ohm"] == pytest.approx(r, rel=1e-8)
    assert peak(coupling, "series R-L", values) == pytest.approx(height, rel=1e-6)


@pytest.mark.parametrize(
    ("coupling", "delta", "r", "height"),
    [(0.05, 1.001249878, 0.06114886311, 28.25890309), (0.1, 1.00499807, 0.121770464, 14.09165854),
     (0.15, 1.011240374, 0.1813524711, 9.353014256), (0.2, 1.019970222, 0.239411627, 6.972136573),
     (0.3, 1.044858625, 0.34924742, 4.570451567)],
)  # fmt: skip
def test_series_rl_exact_equal_peaks(coupling, delta, r, height):
    """Soltani P., Kerschen G., Tondreau G. & Deraemaeker A. 2014, Smart Mater. Struct. 23, 125009: exact
    H-infinity tuning (counted there against omega_oc), peak 1/sqrt(1 - a^2) with
    a = (sqrt(64 - 16 K^2 - 26 K^4) - K^2)/8. The optimum of our coupled model must find it."""
    k2 = coupling**2
    a = (np.sqrt(64 - 16 * k2 - 26 * k2**2) - k2) / 8
    assert 1 / np.sqrt(1 - a**2) == pytest.approx(height, rel=1e-8)
    exact = {"inductance_h": delta**-2, "resistance_ohm": r}
    assert peak(coupling, "series R-L", exact) == pytest.approx(height, rel=1e-6)
    found = lowest_peak(coupling, "series R-L")
    assert peak(coupling, "series R-L", found) == pytest.approx(height, rel=5e-4)
    assert found["inductance_h"] ** -0.5 == pytest.approx(delta, rel=1e-3)
    assert found["resistance_ohm"] == pytest.approx(r, rel=2e-2)


@pytest.mark.parametrize(
    ("coupling", "zeta", "height", "reduction_db"),
    [(0.05, 0.001, 26.9366747, 25.3725248), (0.1, 0.005, 12.54923462, 18.0277638),
     (0.15, 0.01, 8.038052707, 15.87681741), (0.2, 0.001, 6.888589279, 37.2167986),
     (0.3, 0.005, 4.394776015, 27.14137366)],
)  # fmt: skip
def test_series_rl_on_a_damped_mode(coupling, zeta, height, reduction_db):
    """Numerical minimax; reductions of this size are plotted in Thomas et al. 2012."""
    found = peak(coupling, "series R-L", lowest_peak(coupling, "series R-L", zeta), zeta)
    assert found == pytest.approx(height, rel=5e-4)
    before = 1 / (2 * zeta * (1 - zeta**2) ** 0.5)
    assert 20 * np.log10(before / found) == pytest.approx(reduction_db, abs=0.02)


@pytest.mark.parametrize(
    ("coupling", "delta", "r", "variance"),
    [(0.05, 1.00124922, 0.04993761694, 19.97504678), (0.1, 1.004987562, 0.09950371902, 9.950371902),
     (0.2, 1.019803903, 0.1961161351, 4.902903378), (0.3, 1.044030651, 0.2873478856, 3.192754284)],
)  # fmt: skip
def test_series_rl_lowest_mean_square(coupling, delta, r, variance):
    """delta = sqrt(1 + K^2), r = K/sqrt(1 + K^2), variance 1/(K sqrt(1 + K^2)) (Lyapunov optimum)."""
    values = closed_form(coupling, "series R-L", "mean square")
    assert values["inductance_h"] ** -0.5 == pytest.approx(delta, rel=1e-8)
    assert values["resistance_ohm"] == pytest.approx(r, rel=1e-8)
    assert mean_square(coupling, "series R-L", values) == pytest.approx(variance, rel=1e-8)


# Parallel R-L


@pytest.mark.parametrize("coupling", COUPLINGS)
def test_parallel_rl_pole_placement(coupling):
    """delta = 1, rho = 1/(2 K): both pole pairs at zeta = K/2 (matching (s^2 + a s + b)^2)."""
    values = closed_form(coupling, "parallel R-L", "damping")
    assert values["inductance_h"] == pytest.approx(1.0, rel=1e-12)
    assert values["resistance_ohm"] == pytest.approx(1 / (2 * coupling), rel=1e-12)
    poles = spectrum_at(system(coupling, "parallel R-L", values), 1.0)
    assert poles.damping_ratio == pytest.approx([coupling / 2] * 2, abs=1e-4)


@pytest.mark.parametrize(
    ("coupling", "delta", "rho", "height"),
    [(0.05, 0.9993748046, 16.32993162, 28.28427125), (0.1, 0.9974968672, 8.164965809, 14.14213562),
     (0.2, 0.9899494937, 4.082482905, 7.071067812), (0.3, 0.9772410143, 2.72165527, 4.714045208)],
)  # fmt: skip
def test_parallel_rl_fixed_points(coupling, delta, rho, height):
    """Yamada K., Matsuhisa H., Utsuno H. & Sawada K. 2010, J. Sound Vib. 329, 5036-5057: delta =
    sqrt(1 - K^2/2), rho about sqrt(2/3)/K, both fixed points at sqrt(2)/K; the peak is at most 0.3 %
    above them."""
    values = closed_form(coupling, "parallel R-L", "peak")
    assert values["inductance_h"] ** -0.5 == pytest.approx(delta, rel=1e-8)
    assert values["resistance_ohm"] == pytest.approx(rho, rel=1e-8)
    assert height <= peak(coupling, "parallel R-L", values) <= 1.003 * height


@pytest.mark.parametrize(
    ("coupling", "zeta", "height", "reduction_db"),
    [(0.05, 0.001, 26.96138033, 25.36456197), (0.1, 0.005, 12.59383608, 17.99694785),
     (0.15, 0.01, 8.101144679, 15.80890664), (0.3, 0.005, 4.53675764, 26.86519699)],
)  # fmt: skip
def test_parallel_rl_on_a_damped_mode(coupling, zeta, height, reduction_db):
    """Numerical minimax of the problem of Yamada et al. 2010."""
    found = peak(coupling, "parallel R-L", lowest_peak(coupling, "parallel R-L", zeta), zeta)
    assert found == pytest.approx(height, rel=5e-4)
    before = 1 / (2 * zeta * (1 - zeta**2) ** 0.5)
    assert 20 * np.log10(before / found) == pytest.approx(reduction_db, abs=0.02)


@pytest.mark.parametrize(
    ("coupling", "delta", "rho", "variance"),
    [(0.05, 0.9993748046, 20.00625293, 19.99374902), (0.1, 0.9974968672, 10.01252349, 9.987492178),
     (0.2, 0.9899494937, 5.025189076, 4.974937186), (0.3, 0.9772410143, 3.371478249, 3.295619989)],
)  # fmt: skip
def test_parallel_rl_lowest_mean_square(coupling, delta, rho, variance):
    """delta^2 = 1 - K^2/2, 1/rho = K sqrt(1 - K^2/4), variance sqrt(1 - K^2/4)/K (Lyapunov optimum)."""
    values = closed_form(coupling, "parallel R-L", "mean square")
    assert values["inductance_h"] ** -0.5 == pytest.approx(delta, rel=1e-8)
    assert values["resistance_ohm"] == pytest.approx(rho, rel=1e-8)
    assert mean_square(coupling, "parallel R-L", values) == pytest.approx(variance, rel=1e-8)


def test_component_values_in_si():
    """C = 100 nF, f_sc = 50 Hz, K = 0.1: the formulas above in ohm and henry."""
    target = Target(2 * np.pi * 50, 0.01, 1e-7)
    printed = {
        ("resistor", "damping"): {"resistance_ohm": 31594.32614},
        ("resistor", "peak"): {"resistance_ohm": 31751.70832},
        ("series R-L", "peak"): {"inductance_h": 100.3180036, "resistance_ohm": 4457.011466},
        ("series R-L", "damping"): {"inductance_h": 99.32475605, "resistance_ohm": 6271.884649},
        ("parallel R-L", "damping"): {"inductance_h": 101.3211836, "resistance_ohm": 159154.9431},
    }
    for (kind, goal), values in printed.items():
        assert CIRCUITS[kind].closed_form(goal, target) == pytest.approx(values, rel=1e-8)


def test_open_leads_with_an_instrument():
    """An input is a shunt: zeta = K^2 tau/(2 (1 + tau^2 (1 + K^2))), tau = R C omega. 1 Mohm on 70 nF at
    20 Hz adds 0.08 % at K^2 = 1.45 % (single mode, weak coupling)."""
    k2, tau = 0.0145, 1e6 * 70e-9 * 2 * np.pi * 20
    made = system(k2**0.5, "open", {})
    made = made.with_connection(0, Connection(CIRCUITS["open"], {}, instrument_s=1 / tau))
    expected = k2 * tau / (2 * (1 + tau**2 * (1 + k2)))
    assert mode_damping(made, 1)[0] == pytest.approx(expected, rel=1e-2)
    assert expected == pytest.approx(8e-4, rel=0.05)
