"""A resistor with a negative capacitance, in parallel and in series: de Marneffe & Preumont 2008, Smart Mater.
Struct. 17, 035015; Berardengo et al. 2016, Smart Mater. Struct. 25, 075033 (from memory, worked anew); and the
stability that the closed forms give."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace as with_

from core.circuit.connect import coupled_system
from core.circuit.kind import Target
from core.circuit.registry import CIRCUITS
from core.circuit.spectrum import spectra, spectrum_at
from core.circuit.system import Connection, CoupledSystem
from core.circuit.transfer import Functional, answers
from core.piezo.layout import solve
from core.predict.predict import predict
from core.project.candidate import Circuit, Instrument, Tuning
from core.study.layouts import layouts
from tests.core.predict.scenes import FORCE, PLUCK, lab

PARALLEL, SERIES = (CIRCUITS[f"negative C {way} R"] for way in ("parallel", "series"))
IN_PARALLEL = {
    (0.05, 0.5): (1.997504678, 400, 0.001248441394),
    (0.1, 0.8): (4.938647983, 40, 0.0123475383),
    (0.2, 0.5): (1.961161351, 25, 0.01961524227),
    (0.2, 0.9): (9.128709292, 5, 0.09160797831),
}
"""K and C_neg/C: R C omega for the lowest peak, that peak of an undamped part, the largest damping of its pole."""
IN_SERIES = {
    (0.05, 1.5): (0.995, 0.08681986203, 266.6666667),
    (0.1, 1.2): (0.95, 0.251312345, 33.33333333),
    (0.2, 1.1): (0.6, 0.8563488386, 4.545454545),
}
"""K and C_neg/C: omega^2 with the resistor shorted, the K that is left, the lowest peak."""


def one_mode(kind, k: float, negative: float, resistance: float) -> CoupledSystem:
    """omega_sc = 1, C = 1."""
    values = {"negative_capacitance_f": negative, "resistance_ohm": resistance}
    stored = np.full((1, 1), 1.0 + kind.across(values))
    return CoupledSystem(
        np.ones(1), np.zeros(1), np.array([[k]]), stored, np.zeros((1, 1)), (Connection(kind, values),)
    )


def peak(system: CoupledSystem, low: float, high: float) -> float:
    unit = Functional(np.ones(1), np.zeros(1), np.zeros(0))
    return float(np.abs(answers(system, unit, unit, 0.0, np.linspace(low, high, 400_001))[1]).max())


@pytest.mark.parametrize(("k", "n"), IN_PARALLEL)
def test_in_parallel_the_resistor_meets_what_is_left(k, n):
    rho, top, zeta = IN_PARALLEL[k, n]
    left = 1.0 - n
    target = Target(1.0, k**2 / left, left, given={"negative_capacitance_f": n})
    assert PARALLEL.closed_form("peak", target)["resistance_ohm"] == pytest.approx(rho, rel=1e-8)
    assert peak(one_mode(PARALLEL, k, n, rho), 0.8, 1.4) == pytest.approx(top, rel=1e-6)
    best = PARALLEL.closed_form("damping", target)["resistance_ohm"]
    assert spectrum_at(one_mode(PARALLEL, k, n, best), 1.0).damping_of(0) == pytest.approx(zeta, rel=1e-6)


@pytest.mark.parametrize(("k", "n"), IN_SERIES)
def test_in_series_the_part_is_softened_and_couples_more(k, n):
    short2, left, top = IN_SERIES[k, n]
    target = Target(1.0, k**2, 1.0, given={"negative_capacitance_f": n})
    soft = spectrum_at(one_mode(SERIES, k, n, 1e-4), 1.0)
    assert soft.value_rad_s[soft.oscillatory].imag ** 2 == pytest.approx([short2], rel=1e-6)
    best = SERIES.closed_form("peak", target)["resistance_ohm"]
    assert peak(one_mode(SERIES, k, n, best), 0.5, 1.4) == pytest.approx(top, rel=1e-6)
    best = SERIES.closed_form("damping", target)["resistance_ohm"]
    zeta = spectrum_at(one_mode(SERIES, k, n, best), 1.0).damping_of(0)
    assert zeta == pytest.approx(0.5 * ((1.0 + left**2) ** 0.5 - 1.0), rel=1e-5)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.sampled_from([PARALLEL, SERIES]), st.floats(0.02, 0.6), st.floats(-1, 1), st.floats(-2, 2))
def test_each_is_exactly_as_stable_as_its_closed_form_says(kind, k, exponent, resistance):
    """In parallel while C_neg < C, in series while C_neg > C (1 + K^2): then every pole decays, else one grows."""
    negative = 10.0**exponent
    limit = 1.0 if kind is PARALLEL else 1.0 + k**2
    if abs(negative / limit - 1.0) < 1e-4:
        return
    holds = negative < limit if kind is PARALLEL else negative > limit
    spectrum = spectrum_at(one_mode(kind, k, negative, 10.0**resistance), 1.0)
    assert spectrum.unstable.any() == (not holds)
    grown = spectrum.value_rad_s[spectrum.unstable]
    assert (grown.imag == 0.0).all()  # it drifts to one side


def shunted(kind, negative: float, load=FORCE, **view):
    return lab(load, Circuit(kind.key, {"negative_capacitance_f": negative}, Tuning(1, "optimum")), **view)


@pytest.mark.parametrize(("kind", "holds", "fails"), [(PARALLEL, 0.99, 1.001), (SERIES, 1.01, 0.999)])
@pytest.mark.parametrize("load", [FORCE, PLUCK], ids=lambda load: load.name)
def test_on_the_part_it_holds_up_to_the_true_capacitance(kind, holds, fails, load):
    """The blocked one (of the part, not of the modes kept) in parallel, the static free one in series."""
    bound = predict(lab()).groups[0]
    limit = bound.blocked_capacitance_f if kind is PARALLEL else bound.free_capacitance_f
    fine, lost = (predict(shunted(kind, share * limit, load)) for share in (holds, fails))
    assert fine.unstable == () and fine.modes[0].zeta > 0.02
    assert np.isfinite(fine.ring_down.settle_after_s)
    assert "to spare" in fine.groups[0].remarks[0]
    assert len(lost.unstable) == 1 and "drifts" in lost.unstable[0]
    assert all(np.isnan(mode.zeta) and mode.peak_change_db is None for mode in lost.modes)
    assert np.isinf(lost.ring_down.settle_after_s)
    assert "drifts" in lost.groups[0].remarks[0]
    told = lost.groups[0].remarks[0].split(". ")[-1]
    assert told.endswith("holds from cold to hot.")


def test_a_leak_at_rest_makes_the_series_one_drift():
    """An input on the leads conducts for ever, the dielectric does not."""
    project = shunted(SERIES, 7e-8)
    candidate = project.candidate()
    assert predict(project).unstable == ()
    group = with_(candidate.groups[0], instrument=Instrument())
    leaking = with_(project, candidates=(with_(candidate, groups=(group,)),))
    assert "drifts" in predict(leaking).unstable[0]


def test_many_layouts_have_a_gap_where_it_fails():
    project = shunted(PARALLEL, 4e-8)
    candidate = project.candidate()
    path = "candidates[A].groups[G1].circuit.values.negative_capacitance_f"
    path = path.replace("G1", candidate.groups[0].id)
    found = layouts(project, candidate, {path: np.array([1e-8, 4e-8, 5.7e-8, 1e-7])}, 2).damping(2)
    assert np.isnan(found[2:]).all() and (found[:2] > 0).all()
    alone = predict(shunted(PARALLEL, 4e-8)).modes
    assert found[1] == pytest.approx([m.zeta for m in alone[:2]], rel=2e-4)


def test_more_modes_do_not_move_the_limit():
    project = shunted(PARALLEL, 5.655e-8)
    candidate = project.candidate()
    for modes in (3, 8, 20):
        beam = solve(project, candidate, n_modes=modes)
        blocked = float(beam.group_blocked_f[0, 0])
        for share in (0.9999, 1.0001):
            circuit = replace_value(candidate, share * blocked)
            found = spectra(coupled_system(beam, circuit), 2)
            assert found[0].unstable.any() == (share > 1.0)


def replace_value(candidate, negative):
    group = candidate.groups[0]
    circuit = with_(group.circuit, values={"negative_capacitance_f": negative, "resistance_ohm": 1e5}, tuning=None)
    return with_(candidate, groups=(with_(group, circuit=circuit),))


def test_it_is_no_passive_circuit():
    assert PARALLEL.active and SERIES.active
    assert not [key for key, kind in CIRCUITS.items() if kind.active and not key.startswith(("negative", "switched", "loop"))]
    assert replace(SERIES, active=False) != SERIES


def test_a_charge_that_stays_for_ever_makes_no_voltage_of_its_own():
    """In series nothing lets the charge of the start go; the voltage falls smoothly as the capacitance grows."""
    free = predict(lab()).groups[0].free_capacitance_f
    volts = [predict(shunted(SERIES, k * free, PLUCK)).groups[0].voltage_peak_v for k in (1.6, 2.0, 2.55, 3.3, 5.0)]
    assert volts == sorted(volts, reverse=True) and volts[0] < 5.0 * volts[-1]
