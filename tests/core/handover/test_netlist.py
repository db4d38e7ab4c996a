"""The netlist against ngspice: the response and the ring-down of every kind of circuit, real parts and all."""

from __future__ import annotations

import subprocess

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.registry import PORTS
from core.circuit.transfer import answers, forced
from core.handover.drawing.items import SheetError
from core.handover.netlist import netlist
from core.predict.electrics.board import components
from core.predict.loads.transient import transient
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Absorber, Build, Candidate, Circuit, Instrument, Tuning
from core.project.edit import with_candidate
from core.project.service import BaseShock, Impact, Load
from tests.core.handover.spice import PROGRAM, needs_ngspice, run

GIVEN = {"added_capacitance_f": 30e-9}
NEGATIVE = {"negative C series R": 90e-9, "negative C parallel R": 25e-9}


def _lab(candidate: Candidate, load: Load | None = None):
    project = library.example("lab-beam")
    if load is not None:
        project = replace(project, service=replace(project.service, loads=(load,), active_load=0))
    return with_candidate(project, candidate)


def _with(kind: str, build: Build = Build()) -> Candidate:
    candidate = library.example("lab-beam").candidate("B")
    if PORTS[kind].hangs_on == "place":
        mass = Absorber("M1", 0.25, 0.001, 18.0, 0.05, tuning=Tuning(1))
        return replace(candidate, absorbers=(mass,), build=build)
    values = {p.name: GIVEN[p.name] for p in PORTS[kind].parameters if p.name in GIVEN}
    if kind in NEGATIVE:
        values["negative_capacitance_f"] = NEGATIVE[kind]
    circuit = Circuit(kind=kind, values=values, tuning=Tuning(1))
    return replace(candidate, groups=(replace(candidate.groups[0], circuit=circuit),), build=build)


def _two_groups() -> Candidate:
    """Two patches on one place of the span, so that their groups share capacitance, and an instrument."""
    candidate = _with("series R-L")
    (patch,), (group,) = candidate.patches, candidate.groups
    other = replace(patch, id="P2", face="underside" if patch.face == "top" else "top")
    member = replace(group.members[0], patch="P2")
    tuned = replace(group.circuit, kind="resistor", tuning=Tuning(2))
    second = replace(group, id="G2", members=(member,), circuit=tuned, instrument=Instrument(capacitance_f=1e-9), bleed_ohm=1e7)
    return replace(candidate, patches=(patch, other), groups=(group, second))


def _deviation(prediction, folder, points: int = 1500, voltages: bool = True) -> float:
    """Of the responses at the output and, where asked, of the voltages on all leads, over the band, in parts of each
    peak."""
    solved = prediction.solved
    aim, names = solved.side.forcing.aim, [g.id for g in solved.candidate.groups]
    low, high = (w / 2 / np.pi for w in aim.band_rad_s)
    hertz, found = run(netlist(prediction), f"ac lin {points} {low!r} {min(high, 700.0)!r}", ["out", *names], folder)
    omega = 2 * np.pi * hertz
    motion = 1e3 * answers(solved.system, aim.load, aim.output, aim.residual, omega)[1]
    volts = forced(solved.system, aim.load, omega).voltage.T[: len(names)]
    worst = 0.0
    pairs = list(zip([motion, *volts], found, strict=True))
    for ours, theirs in pairs if voltages else pairs[:1]:
        peak = np.abs(ours).max()
        worst = max(worst, float(np.abs(theirs - ours).max() / (peak or 1.0)))
    return worst


@needs_ngspice
@pytest.mark.parametrize("kind", PORTS)
def test_the_response_is_the_predictions(kind, tmp_path):
    """Motion with ordinary amplifiers, and the voltages too with amplifiers of 30 MHz: what the prediction takes as
    ideal must not hide a wrong netlist."""
    ordinary = predict(_lab(_with(kind)), "B")
    fast = predict(_lab(_with(kind, Build(gain_bandwidth_hz=3e7))), "B")
    assert not fast.unstable
    assert _deviation(fast, tmp_path) < 1e-3
    if any(part.what == "amplifier" for part in components(ordinary.solved, 0)):
        assert _deviation(ordinary, tmp_path, voltages=False) < 1e-3


@needs_ngspice
def test_groups_that_share_capacitance_and_an_instrument(tmp_path):
    prediction = predict(_lab(_two_groups()), "B")
    assert abs(prediction.solved.system.capacitance_f[0, 1]) > 1e-12
    assert _deviation(prediction, tmp_path) < 1e-3


@needs_ngspice
def test_preferred_parts_are_in_both(tmp_path):
    ideal, built = (predict(_lab(_with("series R-L", Build(series=s))), "B") for s in ("exact", "E12"))
    assert _deviation(built, tmp_path) < 1e-3
    parts = {part.name: part.value for part in components(built.solved, 0)}
    assert parts["LR5"] / parts["R"] == pytest.approx(
        components(ideal.solved, 0)[-1].value / components(ideal.solved, 0)[0].value, rel=0.25
    )


def _ring_down(prediction, folder, periods: float, ring_hz: float):
    """(ours, theirs) at the output over time."""
    solved = prediction.solved
    item, step = solved.side.forcing, 1 / ring_hz / 100
    time, found = run(netlist(prediction), f"tran {step!r} {periods / ring_hz!r} 0 {step!r} uic", ["out"], folder)
    ours, begin = np.zeros_like(time), 0.0
    for stretch in transient(solved.system, item):
        inside = (time >= begin) & (time <= begin + stretch.length_s)
        motion = stretch.whole
        rows = item.aim.output.modal @ motion.q - item.aim.output.electric @ motion.voltage + item.aim.residual * motion.load
        ours[inside] = (rows * np.exp(np.outer(time[inside] - begin, motion.rate))).sum(axis=1).real
        begin += stretch.length_s
    return time, 1e3 * ours, found[0]


def _damping(time, signal, ring_hz: float, periods: int = 2) -> float:
    """Damping ratio from the root mean square of the first and of the last periods."""
    length = periods / ring_hz
    sizes = []
    for start in (0.0, time[-1] - length):
        grid = np.linspace(start, start + length, 2000)
        sizes.append(np.sqrt(np.mean(np.interp(grid, time, signal) ** 2)))
    return float(np.log(sizes[0] / sizes[1]) / (2 * np.pi * ring_hz * (time[-1] - length)))


def _same_ring_down(prediction, folder, periods: float = 8.0) -> None:
    ring_hz = prediction.modes[0].f_short_hz
    time, ours, theirs = _ring_down(prediction, folder, periods, ring_hz)
    assert np.abs(theirs - ours).max() < 5e-3 * np.abs(ours).max()
    assert _damping(time, theirs, ring_hz) == pytest.approx(_damping(time, ours, ring_hz), rel=0.01)


@needs_ngspice
def test_a_release_rings_down_with_amplifiers_of_finite_gain(tmp_path):
    """A simulated inductor of 1.3 kH with amplifiers of 3 MHz."""
    prediction = predict(_lab(_with("series R-L")), "B")
    assert sum(part.what == "amplifier" for part in components(prediction.solved, 0)) == 2
    _same_ring_down(prediction, tmp_path)


@needs_ngspice
@pytest.mark.slow
@pytest.mark.parametrize("kind", PORTS)
def test_a_release_rings_down_as_predicted(kind, tmp_path):
    _same_ring_down(predict(_lab(_with(kind)), "B"), tmp_path, 20.0)


@needs_ngspice
@pytest.mark.slow
@pytest.mark.parametrize("load", [Impact("knock", 0.01, 0.004, (5.0, 1200.0)), BaseShock("shock", 50.0, 0.011, (5.0, 1200.0))])
def test_a_pulse_rings_down_as_predicted(load, tmp_path):
    for candidate in (_with("series R-L"), _with("tuned mass")):
        _same_ring_down(predict(_lab(candidate, load), "B"), tmp_path)


@needs_ngspice
def test_slow_amplifiers_show(tmp_path):
    """An amplifier of 50 kHz is no longer the ideal inductor, and the netlist says so where the prediction cannot."""
    slow = predict(_lab(_with("series R-L", Build(gain_bandwidth_hz=5e4))), "B")
    assert _deviation(slow, tmp_path) > 3e-3


@needs_ngspice
def test_the_file_runs_by_itself(tmp_path):
    deck = tmp_path / "a.cir"
    text = netlist(predict(_lab(_with("resistor")), "B"))
    lines = [line if not line.startswith(".tran") else ".tran 0.5m 20m 0 0.5m uic" for line in text.splitlines()]
    deck.write_text("\n".join(lines) + "\n")
    done = subprocess.run([PROGRAM, "-b", str(deck)], capture_output=True, text=True, timeout=60, check=False)
    assert "AC Analysis" in done.stdout and "Transient Analysis" in done.stdout
    assert "rror" not in done.stdout + done.stderr


def test_what_the_file_says_and_holds_without_a_simulator():
    prediction = predict(_lab(_with("series R-L")), "B")
    text = netlist(prediction)
    mode = prediction.solved.system
    theta, omega = float(mode.theta[0, 0]), float(mode.omega_rad_s[0])
    assert f"Lm1 m1a m1b {1 / theta**2:.12g}" in text and f"Cm1 m1c m1d {theta**2 / omega**2:.12g}" in text
    assert "Butterworth-Van Dyke" in text and "no linear part can do that" in text
    assert text.isascii() and text.endswith(".end\n")
    for line in text.splitlines():
        assert line == line.strip() and len(line) < 2000


def test_a_part_without_patch_has_no_netlist():
    bare = replace(library.example("lab-beam").candidate("B"), patches=(), groups=())
    with pytest.raises(SheetError, match="no patch"):
        netlist(predict(_lab(bare), "B"))
