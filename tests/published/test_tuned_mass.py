"""A tuned mass against published optima and frequency equations, and against the structure's own masses."""

import mpmath as mp
import numpy as np
import pytest
from msgspec.structs import replace
from scipy.integrate import trapezoid
from scipy.optimize import minimize

from core.circuit.connect import coupled_system
from core.circuit.kind import Target
from core.circuit.objective import Aim
from core.circuit.optimum import optimise
from core.circuit.spectrum import spectrum_at
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import Functional, answers
from core.circuit.tuned_mass import KIND
from core.piezo.layout import solve
from core.project.candidate import Absorber, Candidate
from tests.published.build import elastic, lambdas, project, unit_beam

DEN_HARTOG = {
    0.01: (0.9900990099, 0.06093333478, 14.17974483, 14.17964337, 0.990099, 0.06096),
    0.02: (0.9803921569, 0.08574929257, 10.05316882, 10.05296344, 0.980391, 0.08583),
    0.05: (0.9523809524, 0.133630621, 6.40844317, 6.407920768, 0.952372, 0.13394),
    0.1: (0.9090909091, 0.1846372365, 4.590220175, 4.589165566, 0.909058, 0.18547),
}
"""mu: f and zeta of the fixed points (Den Hartog, Mechanical Vibrations, 4th ed. 1956; Brock 1946), the peak
with these; the exact least peak, its f and zeta (Nishihara & Asami 2002, J. Vib. Acoust. 124, 576-582)."""
WARBURTON = {
    0.01: (0.9925711711, 0.0498137015, 9.987616094),
    0.05: (0.9642122253, 0.1097722275, 4.445436397),
    0.1: (0.9315409787, 0.1525398252, 3.126136157),
}
"""mu: f, zeta and the least variance under a white force (Warburton 1982, Earthq. Eng. Struct. Dyn. 10,
381-401); a plain oscillator has 1/(4 zeta)."""


def host(mu: float, f: float, zeta: float) -> CoupledSystem:
    """A unit mass on a unit spring, undamped, with a mass mu on it."""
    values = {"mass_kg": mu, "frequency_hz": f / (2 * np.pi), "damping_ratio": zeta}
    # what hangs on a port needs some compliance between; a millionth of a millionth of the spring's
    compliance = np.full((1, 1), 1e-12)
    return CoupledSystem(
        np.ones(1), np.zeros(1), np.ones((1, 1)), compliance, np.zeros((1, 1)), (Connection(KIND, values),)
    )


def squared(system: CoupledSystem, omega: np.ndarray, base: bool = False) -> np.ndarray:
    """|x/F|^2 of the host, or of its motion against the base per acceleration of the base."""
    modal = -np.ones(1) if base else np.ones(1)
    load = Functional(modal, np.zeros(1), np.zeros(0), float(base))
    output = Functional(np.ones(1), np.zeros(1), np.zeros(0))
    return np.abs(answers(system, load, output, 0.0, omega)[1]) ** 2


def variance(system: CoupledSystem, base: bool = False) -> float:
    """Integral of |H|^2 over 2 pi, both signs of the frequency (a plain oscillator: 1/(4 zeta))."""
    omega = np.linspace(1e-3, 20.0, 60_001)
    return float(trapezoid(squared(system, omega, base), omega)) / np.pi


def least(mu: float, size, start: tuple[float, float]) -> np.ndarray:
    """f and zeta at the least size."""
    found = minimize(lambda x: np.log(size(host(mu, *np.exp(x)))), np.log(start), method="Nelder-Mead",
                     options={"xatol": 1e-7, "fatol": 1e-13, "maxiter": 200})  # fmt: skip
    return np.exp(found.x)


@pytest.mark.parametrize("mu", DEN_HARTOG)
def test_den_hartogs_fixed_points(mu):
    f, zeta, peak, *_ = DEN_HARTOG[mu]
    values = KIND.closed_form("peak", Target(2 * np.pi, mu, 1.0))
    assert values == pytest.approx({"frequency_hz": f, "damping_ratio": zeta}, rel=1e-9)
    omega = np.linspace(0.6, 1.4, 200_001)
    assert np.sqrt(squared(host(mu, f, zeta), omega).max()) == pytest.approx(peak, rel=1e-7)


@pytest.mark.parametrize("mu", DEN_HARTOG)
def test_the_numerical_optimum_is_the_exact_one(mu):
    *_, least_peak, f, zeta = DEN_HARTOG[mu]
    load = Functional(np.ones(1), np.zeros(1), np.zeros(0))
    aim = Aim(load, load, 0.0, (0.1, 3.0))
    target = Target(1.0, mu, 1.0)
    start = KIND.closed_form("peak", target)
    system = host(mu, start["frequency_hz"] * 2 * np.pi, start["damping_ratio"])
    values = optimise(system, 0, target, modes=(0,), goal="peak", aim=aim)
    assert values["frequency_hz"] * 2 * np.pi == pytest.approx(f, rel=2e-4)
    assert values["damping_ratio"] == pytest.approx(zeta, rel=2e-2)
    top = np.sqrt(squared(system.with_values(0, values), np.linspace(0.6, 1.4, 200_001)).max())
    assert least_peak * (1 - 1e-8) < top < least_peak * (1 + 1e-4)


@pytest.mark.parametrize("mu", WARBURTON)
def test_warburtons_least_mean_square(mu):
    f, zeta, spread = WARBURTON[mu]
    values = KIND.closed_form("mean square", Target(2 * np.pi, mu, 1.0))
    assert values == pytest.approx({"frequency_hz": f, "damping_ratio": zeta}, rel=1e-9)
    assert variance(host(mu, f, zeta)) == pytest.approx(spread, rel=2e-4)


@pytest.mark.slow
@pytest.mark.parametrize("mu", [0.02, 0.1])
def test_the_forms_for_a_moving_base_are_its_optima(mu):
    """Warburton 1982, motion against the base, from memory: the mean square is exact; the peak, of fixed
    points, comes within a per mille of the least."""
    target = Target(2 * np.pi, mu, 1.0, by_base=True)
    square, peak = (KIND.closed_form(goal, target) for goal in ("mean square", "peak"))
    start = (square["frequency_hz"], square["damping_ratio"])
    assert least(mu, lambda s: variance(s, base=True), start) == pytest.approx(start, rel=2e-3)
    omega = np.linspace(0.6, 1.4, 3001)
    start = (peak["frequency_hz"], peak["damping_ratio"])
    best = least(mu, lambda s: squared(s, omega, base=True).max(), start)
    tops = [np.sqrt(squared(host(mu, *values), omega, base=True).max()) for values in (start, best)]
    assert tops[1] <= tops[0] < 1.001 * tops[1]


@pytest.mark.parametrize("mu", [0.01, 0.1])
def test_the_largest_damping_is_where_both_poles_meet(mu):
    """f = 1/(1 + mu), zeta = sqrt(mu/(1 + mu)): a double pole at sqrt(mu)/2."""
    values = KIND.closed_form("damping", Target(2 * np.pi, mu, 1.0))
    poles = spectrum_at(host(mu, values["frequency_hz"], values["damping_ratio"]), 1.0)
    ratios = poles.damping_ratio[poles.oscillatory]
    assert ratios == pytest.approx([np.sqrt(mu) / 2] * 2, rel=1e-3)


def hung(x: float, mass: float, frequency: float, zeta: float, modes: int = 12, **options) -> CoupledSystem:
    made = project(unit_beam(zeta=0.0, **options), ())
    candidate = Candidate("A", "", absorbers=(Absorber("M1", x, mass, frequency, zeta),))
    return coupled_system(solve(made, candidate, n_modes=modes), candidate)


def frequencies(system: CoupledSystem, count: int = 4) -> np.ndarray:
    spectrum = spectrum_at(system, 1.0)
    return np.sort(spectrum.value_rad_s.imag[spectrum.oscillatory])[:count]


SPRUNG_TIP = {
    0.1: [1.60320589084, 2.18633659096, 4.70640820169, 7.85732073532],
    0.05: [1.67727873614, 2.09302388136, 4.70023665184, 7.85603808022],
}


@pytest.mark.parametrize("mu", SPRUNG_TIP)
@pytest.mark.parametrize("modes", [8, 20])
def test_a_mass_on_a_spring_at_the_tip(mu, modes):
    """(1 + cos l cosh l)(1 - (l/l_a)^4) + mu l (cos l sinh l - sin l cosh l) = 0, l_a that of the bare beam:
    problem class of Gurgoze 1996, J. Sound Vib. 190, 149-162. The modes left out count by their compliance."""
    own = 1.87510406871196
    for value in SPRUNG_TIP[mu]:
        root = mp.findroot(
            lambda x: (1 + mp.cos(x) * mp.cosh(x)) * (1 - (x / own) ** 4)
            + mu * x * (mp.cos(x) * mp.sinh(x) - mp.sin(x) * mp.cosh(x)),
            value,
        )
        assert float(root) == pytest.approx(value, rel=1e-9)
    found = np.sqrt(frequencies(hung(1.0, mu, own**2 / (2 * np.pi), 0.0, modes)))
    assert found == pytest.approx(SPRUNG_TIP[mu], rel=1e-9)


@pytest.mark.parametrize("zeta", [0.0, 0.1])
@pytest.mark.parametrize("x", [0.37, 1.0])
def test_a_spring_without_end_makes_it_a_mass_of_the_structure(zeta, x):
    found = np.sqrt(frequencies(hung(x, 0.1, 1e6, zeta, 20)))
    assert found == pytest.approx(lambdas(unit_beam(masses=[(x, 0.1)]), 4), rel=2e-7)


def test_no_mass_does_nothing_and_a_light_one_shifts_by_its_share():
    bare = unit_beam(zeta=0.0, root=elastic(50.0, 3.0))
    own = lambdas(bare, 3) ** 2
    far = 100 * own[-1] / (2 * np.pi)
    nothing = hung(0.8, 1e-12, far, 0.05, root=elastic(50.0, 3.0))
    assert frequencies(nothing, 3) == pytest.approx(own, rel=1e-9)
    light = hung(0.8, 1e-5, far, 0.05, root=elastic(50.0, 3.0))
    phi = light.theta[:3, 0]
    assert frequencies(light, 3) == pytest.approx(own * (1 - 0.5e-5 * phi**2), rel=1e-8)


def test_damping_next_to_nothing_is_no_step():
    """The damper's own rate, far above the modes, is taken out without touching the frequencies."""
    without = frequencies(hung(1.0, 0.1, 0.5, 0.0))
    for zeta in (1e-9, 2e-6, 1e-5, 1e-4):
        spectrum = spectrum_at(hung(1.0, 0.1, 0.5, zeta), 1.0)
        assert not spectrum.unstable.any()
        assert np.sort(spectrum.value_rad_s.imag[spectrum.oscillatory])[:4] == pytest.approx(without, rel=1e-7)
        assert (spectrum.damping_ratio > -1e-7).all()


def test_it_needs_no_patch_and_two_at_one_place_are_one():
    made = project(unit_beam(zeta=0.0), ())
    one = Candidate("A", "", absorbers=(Absorber("M1", 0.7, 0.05, 0.5, 0.1),))
    half = replace(one.absorbers[0], mass_kg=0.025)
    two = replace(one, absorbers=(half, replace(half, id="M2")))
    found = [frequencies(coupled_system(solve(made, c), c), 4) for c in (one, two)]
    # the second moves against the first too, at their own frequency
    extra = np.abs(found[1] - np.pi).argmin()
    assert np.delete(found[1], extra)[:3] == pytest.approx(found[0][:3], rel=1e-7)
