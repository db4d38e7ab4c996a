"""Several that resonate on one mode: all poles of it in one, the largest damping they can give together."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.optimize import minimize

from core.circuit.connect import coupled_system
from core.circuit.damping import mode_damping
from core.circuit.kind import Target
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection, CoupledSystem
from core.circuit.together import Wanted, tuned
from core.piezo.layout import solve
from core.project.candidate import Absorber, Circuit, Tuning
from core.project.edit import with_candidate
from core.study.layouts import layouts
from tests.benchmarks.large_scenes import with_groups
from tests.levels import beam_example


def on_one_mode(theta, kind="series R-L", count=None):
    """An undamped mode at 1 rad/s beside one far above, a circuit on each of some groups; of a count of layouts or of one."""
    lead = () if count is None else (count,)
    theta = np.broadcast_to(np.stack([np.asarray(theta), np.zeros(len(theta))]), (*lead, 2, len(theta)))
    omega = np.broadcast_to(np.array([1.0, 30.0]), (*lead, 2))
    targets = [Target(np.ones(lead), theta[..., 0, g] ** 2, np.ones(lead)) for g in range(theta.shape[-1])]
    connections = tuple(Connection(CIRCUITS[kind], CIRCUITS[kind].closed_form("damping", t)) for t in targets)
    square = np.broadcast_to(np.eye(theta.shape[-1]), (*lead, theta.shape[-1], theta.shape[-1]))
    system = CoupledSystem(omega, np.zeros((*lead, 2)), theta, square, 0.0 * square, connections)
    return system, [Wanted(g, 0, t) for g, t in enumerate(targets)]


@pytest.mark.parametrize("kind", ["series R-L", "parallel R-L"])
def test_two_alike_damp_by_the_root_of_three_quarters_of_the_coupling(kind):
    """Slowly varying amplitudes: d(d - e1)(d - e2) + K^2/4 (2 d - e1 - e2) = (d + zeta)^3 of the mode's d and the circuits' e asks
    for e1 + e2 = -3 zeta and zeta^2 = 3 K^2/4 (derived here; one alone has zeta = K/2)."""
    coupling = 1e-3
    system, wanted = on_one_mode((coupling, coupling), kind)
    assert mode_damping(tuned(system, wanted), 1)[0] == pytest.approx(np.sqrt(0.75) * coupling, rel=2e-3)
    alone, one = on_one_mode((coupling,), kind)
    assert mode_damping(tuned(alone, one), 1)[0] == pytest.approx(0.5 * coupling, rel=2e-3)


@pytest.mark.parametrize("theta", [(0.05, 0.05), (0.05, 0.02), (0.05, 0.03, 0.04)])
def test_nothing_about_it_is_better(theta):
    """By a general search from there; the mode's poles are one."""
    system, wanted = on_one_mode(theta)
    best = tuned(system, wanted)

    def worse(logs):
        moved = best
        for g, (inductance, resistance) in enumerate(logs.reshape(-1, 2)):
            own = best.connections[g].values
            moved = moved.with_values(
                g, {"inductance_h": own["inductance_h"] * np.exp(inductance), "resistance_ohm": own["resistance_ohm"] * np.exp(resistance)}
            )
        return -mode_damping(moved, 1)[0]

    at = np.zeros(2 * len(theta))
    found = minimize(worse, at, method="Nelder-Mead", options={"maxiter": 600, "initial_simplex": np.vstack([at, 0.05 * np.eye(len(at))])})
    assert -found.fun < 1.005 * -worse(at)
    strongest = max(theta)
    assert -worse(at) > 1.03 * 0.5 * strongest


def test_many_are_as_one():
    system, _ = on_one_mode((0.05, 0.02), count=3)
    scale = np.array([0.5, 1.0, 0.0])
    theta = system.theta * scale[:, None, None]
    targets = [Target(np.ones(3), theta[:, 0, g] ** 2, np.ones(3)) for g in range(2)]
    many = tuned(
        CoupledSystem(system.omega_rad_s, system.zeta, theta, system.capacitance_f, system.loss_f, system.connections),
        [Wanted(g, 0, t) for g, t in enumerate(targets)],
    )
    for i in range(2):
        alone, one = on_one_mode((0.05 * scale[i], 0.02 * scale[i]))
        values = [c.values for c in tuned(alone, one).connections]
        for told, exact in zip([c.values for c in many.one(i).connections], values, strict=True):
            for name, value in exact.items():
                assert told[name] == pytest.approx(float(value), rel=1e-5, abs=1e-12)


def test_two_shunts_of_six_that_share_a_mode_gain_a_quarter():
    """Each at its best beside the other gave 3.11 % on mode 1; together 4.03 %."""
    project = with_groups()
    project = replace(project, structure=replace(project.structure, level="plain"))
    candidate = project.candidate()
    assert [g.circuit.tuning.mode for g in candidate.groups].count(1) == 2
    assert mode_damping(coupled_system(solve(project, candidate, 8), candidate), 1)[0] > 0.039


@pytest.mark.parametrize("kind", ["series R-L", "parallel R-L"])
@pytest.mark.parametrize("mass_kg", [2e-4, 2e-3, 4e-3])
def test_a_shunt_and_a_tuned_mass_on_one_mode(kind, mass_kg):
    """Better than either alone, one layout as many, at neighbouring places alike. In turn they stopped at 2.7 % where the mass
    alone gives 21 %, and nobody could tell where."""
    project = beam_example("lab-beam")
    candidate = project.candidate("A")
    group = replace(candidate.groups[0], circuit=Circuit(kind, {}, Tuning(1, "optimum")))
    mass = Absorber("M1", project.structure.span_m, mass_kg, 30.0, 0.1, tuning=Tuning(1, "optimum"))
    both = replace(candidate, groups=(group, *candidate.groups[1:]), absorbers=(mass,))
    alone = [replace(both, absorbers=()), replace(both, groups=(replace(group, circuit=Circuit("resistor", {"resistance_ohm": 1.0})),))]

    def damping(one):
        return mode_damping(coupled_system(solve(project, one, 8), one), 1)[0]

    each = [damping(one) for one in alone]
    assert damping(both) > 1.08 * max(each)
    patch = both.patches[0]
    x = patch.x_start_m + np.linspace(0.0, 4e-3, 9)
    many = layouts(with_candidate(project, both), both, {f"candidates[A].patches[{patch.id}].x_start_m": x}, 5).damping(1)[:, 0]
    assert many[0] == pytest.approx(damping(both), rel=2e-3)
    assert np.abs(np.diff(many)).max() < 0.01 * many.max()
