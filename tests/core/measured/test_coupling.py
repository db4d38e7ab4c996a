"""Coupling and the verdict: eight planted faults, each simulated in time and told in one sentence."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from core.measured.coupling import Coupling, coupling, couplings, read_sweep
from core.measured.evaluate import Entry, evaluate
from core.measured.modes import Identified, ModeFound, Way, identify_decay
from core.measured.overlay import overlay_of
from core.measured.predicted import prediction_in, state_modes
from core.measured.record import Block, Channel, MeasuredError, Recording
from core.measured.report_text import repeats_text
from core.measured.root import with_root
from core.measured.runs import Mean, Run, few_runs, means, state_of_name
from core.measured.verdict import Evidence, judge
from core.piezo.ceramic import free_capacitance_f
from core.project.at_path import replaced_at, value_at
from core.project.candidate import Group, Instrument, Member
from core.project.measurement import Bench
from core.project.structure import Support
from core.units import words
from tests.core.measured.bench import lab, record, runs_of, struck, with_patch


def verdict(drawn, truth, *, bench=None, capacitance_f=None, before_f=None, **options):
    bench = bench or Bench()
    runs = runs_of(drawn, truth, bench=bench, **options)
    doubts = tuple(d for r in runs for d in r.doubts)
    evidence = Evidence(means(runs, "shorted"), means(runs, "open"), couplings(runs), capacitance_f, 1000.0, before_f, doubts)
    return judge(drawn, evidence, bench)


def metered(project):
    """What a meter reads at 1 kHz on that part."""
    return next(m.capacitance_f for m in prediction_in(project, "shorted", Bench()).groups[0].metered if m.frequency_hz == 1000.0)


LAB = lab()


def test_a_part_as_drawn_is_good():
    told = verdict(LAB, LAB, capacitance_f=metered(LAB))
    assert told.code == "good" and told.title == "The bond is good."
    assert "K² of modes 1, 2 and 3 is 1.0" in told.text and "1.00 of expected" in told.text
    assert told.capacitance_ratio == pytest.approx(1.0, abs=1e-9)


def one_fifth_off():
    patch = LAB.candidate().patches[0]
    truth = with_patch(LAB, length_m=0.8 * patch.length_m)
    return truth, 0.2 * free_capacitance_f(patch, LAB.package(patch.package))


def test_a_fifth_of_the_bond_gone_is_a_debond_where_the_capacitance_is_known():
    truth, loose = one_fifth_off()
    told = verdict(LAB, truth, loose_f=loose, capacitance_f=metered(truth) + loose)
    assert told.code == "debond" and "come off" in told.title and "capacitance is up" in told.text
    assert told.cause == ""  # neither a root nor a mass explains what a debond does to the frequencies


def test_a_fifth_of_the_bond_gone_is_never_called_good():
    truth, loose = one_fifth_off()
    assert verdict(LAB, truth, loose_f=loose).code in ("debond", "suspect")


def test_a_crack_takes_capacitance_as_it_takes_coupling():
    truth, _ = one_fifth_off()
    told = verdict(LAB, truth, capacitance_f=metered(truth))
    assert told.code == "crack" and "down" in told.text


def test_a_megohm_across_open_leads_is_heard_and_named():
    told = verdict(LAB, LAB, resistance_ohm=1e6)
    assert told.code == "instrument" and told.instrument_ohm == pytest.approx(1e6, rel=0.3)
    entered = Bench(instrument=Instrument(resistance_ohm=1e6))
    assert verdict(LAB, LAB, resistance_ohm=1e6, bench=entered).code == "good"


def test_a_reversed_half_of_a_pair_is_polarity():
    pair = lab(pair=True)
    candidate = pair.candidate()
    turned = replace(candidate, groups=(Group("G1", (Member("P1", 1), Member("P2", 1))),))
    told = verdict(pair, replace(pair, candidates=tuple(turned if c.id == turned.id else c for c in pair.candidates)))
    assert told.code == "polarity or lead" and "exchange the leads" in told.text


def test_another_patch_is_told_by_its_capacitance_and_by_its_coupling():
    truth = LAB
    for name, factor in (("d31_c_n", 1.6), ("eps33t_relative", 1.9)):  # as a softer class of ceramic has them
        path = f"packages[{LAB.candidate().patches[0].package}].ceramic.{name}.value"
        truth = replaced_at(truth, path, factor * value_at(LAB, path))
    known = verdict(LAB, truth, capacitance_f=metered(truth))
    assert known.code == "wrong patch" and "not the patch" in known.title
    assert verdict(LAB, truth).code == "wrong patch"


def test_a_soft_root_with_a_perfect_bond_is_a_good_bond():
    truth = with_root(LAB, Support("elastic", 1e9, 130.0))
    told = verdict(LAB, truth)
    # the drawing as it is would have called it bad: mode 2 has half the coupling of the rigid clamp
    measured = {r.mode: r.measured for r in told.ratios}
    rigid = prediction_in(LAB, "shorted", Bench()).modes[1].k2
    assert measured[2] / rigid < 0.6
    assert told.code == "good" and told.cause == "root" and told.title.endswith("The root is softer than drawn.")


def test_a_sensor_is_told_whether_it_was_entered_or_not():
    told = verdict(LAB, LAB, sensor_kg=2e-3)
    assert told.code == "good" and told.cause == "mass" and "2.00 g at the tip" in told.text
    entered = verdict(LAB, LAB, sensor_kg=2e-3, bench=Bench(sensor_kg=2e-3))
    assert entered.code == "good" and entered.cause == ""


def test_a_short_record_and_a_clipped_one_say_so_beside_the_verdict():
    assert "time constants, under six" in verdict(LAB, LAB, length_s=1.5).text
    assert "clipped" in verdict(LAB, LAB, clip=0.5).text


def test_records_too_noisy_to_tell_are_not_judged():
    shorted, opened = Mean(1, 19.78, 0.03, 0.0015, 1e-4, 1), Mean(1, 19.92, 0.03, 0.0015, 1e-4, 1)
    k2, u = coupling(shorted.f_hz, shorted.u_f_hz, opened.f_hz, opened.u_f_hz)
    told = judge(LAB, Evidence({1: shorted}, {1: opened}, (Coupling(1, k2, u, 19.78, 19.92),)), Bench())
    assert told.code == "not judged" and "alternate shorted and open" in told.text
    assert "K² of mode 1 is 1.42 % ± 0.43 %" in told.text


@pytest.mark.parametrize("repeats", [1, 2])
def test_short_records_in_as_much_noise_as_signal_are_not_judged(repeats):
    told = verdict(LAB, LAB, repeats=repeats, length_s=1.0, snr_db=0.0)
    assert told.code == "not judged" and ". The records do not tell" in told.text
    (first,) = told.ratios
    assert abs(first.ratio - 1.0) < 3.0 * first.u_ratio


def test_nothing_measured_asks_for_both_states():
    told = judge(LAB, Evidence({}, {}, ()), Bench())
    assert told.code == "not judged" and "shorted and an open" in told.text


# ---- coupling from frequencies -----------------------------------------------------------------


def test_the_uncertainty_of_coupling_is_about_2_8_times_that_of_frequency():
    k2, u = coupling(20.0, 0.006, 20.08, 0.006)
    assert k2 == pytest.approx(0.008016) and u == pytest.approx(2.8 * 0.006 / 20.0, rel=0.02)


def run(order, leads, f):
    way = Way(f, 1e-5, 0.002, 1e-5)
    mode = ModeFound(1, way, None, None, 1.0, 10.0)
    return Run(f"r{order}", leads, Identified((mode,), Channel("x", np.zeros(1)), (0.0, 1.0), None), order=order)


def test_alternating_runs_take_a_drift_of_the_temperature_out():
    drift = [20.0 * (1 - 2e-4 * k) for k in range(6)]
    runs = tuple(run(k, "open" if k % 2 else "shorted", f * (1.004 if k % 2 else 1.0)) for k, f in enumerate(drift))
    (found,) = couplings(runs)
    assert found.alternating and found.k2 == pytest.approx(1.004**2 - 1, abs=1e-7)
    (in_blocks,) = couplings(tuple(sorted(runs, key=lambda r: r.leads)[:0]) + tuple(
        run(k, "shorted" if k < 3 else "open", drift[k] * (1.0 if k < 3 else 1.004)) for k in range(6)
    ))  # fmt: skip
    assert not in_blocks.alternating and abs(in_blocks.k2 - (1.004**2 - 1)) > 5e-4


@pytest.mark.parametrize("runs_of_each", [2, 3, 5])
def test_alternating_runs_lie_within_the_range_they_tell(runs_of_each):
    # neighbouring differences share runs: their bare scatter told a fifth of the deviation that two had
    rng = np.random.default_rng(runs_of_each)
    off = []
    for _ in range(400):
        f = [20.0 * (1.004 if k % 2 else 1.0) * (1 - 1e-4 * k) + 1e-3 * rng.standard_normal() for k in range(2 * runs_of_each)]
        (found,) = couplings(tuple(run(k, "open" if k % 2 else "shorted", v) for k, v in enumerate(f)))
        off.append(abs(found.k2 - (1.004**2 - 1)) / found.u_k2)
    assert 0.6 < np.mean(np.array(off) < 1.0) < 0.76


def test_one_standard_deviation_of_two_runs_is_wider_than_that_of_many():
    # Student's t at 68.27 %: 1.837 for one degree of freedom, 1.321 for two (tables, from memory)
    assert [few_runs(n) for n in (1, 2, 10_000)] == pytest.approx([1.837, 1.321, 1.0], abs=1e-3)


def test_coupling_from_records_in_much_noise_lies_within_the_range_told():
    shorted, opened = (tuple(m.f_hz for m in state_modes(LAB, leads, Bench())) for leads in ("shorted", "open"))
    off = []
    for seed in range(8):
        made = []
        for k in range(4):
            block = record(LAB, is_open=k % 2 == 1, seed=100 * seed + k, snr_db=2.0, length_s=6.0)
            made.append(Run(str(k), "open" if k % 2 else "shorted", identify_decay(block, expected_hz=shorted[:2], count=1), order=k))
        found = {c.mode: c for c in couplings(tuple(made))}[1]
        off.append(abs(found.k2 - ((opened[0] / shorted[0]) ** 2 - 1.0)) / found.u_k2)
    assert np.mean(np.array(off) < 1.0) >= 0.5 and max(off) < 3.0


@pytest.mark.parametrize(
    ("name", "state"),
    [("pluck shorted 1.csv", ("shorted", None)), ("run_oc_02.wav", ("open", None)), ("017 120k.csv", ("resistor", 120e3)),
     ("with 4,7kohm.uff", ("resistor", 4700.0)), ("open circuit.csv", ("open", None)), ("pluck.csv", None), ("SC3.csv", ("shorted", None)),
     ("kurz.csv", ("shorted", None)), ("Träger kurzgeschlossen 2.csv", ("shorted", None)), ("Kurzschluss.wav", ("shorted", None)),
     ("kurzes Holz.csv", None), ("offen_1.csv", ("open", None)), ("Leerlauf.uff", ("open", None)), ("Stoffenster.csv", None),
     ("120kΩ.csv", ("resistor", 120e3))],
)  # fmt: skip
def test_the_name_of_a_file_tells_the_state(name, state):
    assert state_of_name(name) == state


# ---- impedance ---------------------------------------------------------------------------------


def sweep(modes, c=68e-9, loss=0.02, hertz=None, noise=0.0):
    """Admittance of a capacitor with modes in parallel, from the equivalent circuit."""
    hertz = np.linspace(10.0, 1200.0, 12_000) if hertz is None else hertz
    w = 2 * np.pi * hertz
    capacity = c * (1 - 1j * loss) + sum(
        c * k2 * (2 * np.pi * f) ** 2 / ((2 * np.pi * f) ** 2 - w**2 + 2j * z * 2 * np.pi * f * w) for f, k2, z in modes
    )
    rng = np.random.default_rng(0)
    y = 1j * w * capacity * (1 + noise * (rng.standard_normal(len(w)) + 1j * rng.standard_normal(len(w))))
    return Block("impedance", (Channel("admittance", y, "S"),), uneven=hertz)


@pytest.mark.parametrize("expected", [(), (20.0, 120.0, 325.0)])
def test_coupling_capacitance_and_loss_from_a_sweep(expected):
    modes = ((19.8, 0.0145, 0.0025), (118.9, 0.0072, 0.002), (324.0, 0.0018, 0.002))
    found = read_sweep(sweep(modes, noise=2e-5), expected)
    for c, (f, k2, z) in zip(found.couplings, modes, strict=True):
        # of one mode alone f_p^2 = f_s^2 (1 + K^2); the others change the capacitance it sees by under 2 %
        assert c.f_short_hz == pytest.approx(f, rel=2e-4) and c.k2 == pytest.approx(k2, rel=0.025)
        assert found.zeta_short[c.mode] == pytest.approx(z, rel=0.05)
    assert found.at_hz == 1000.0 and found.capacitance_f == pytest.approx(68e-9, rel=0.01)
    assert found.loss == pytest.approx(0.02, rel=0.05)


def test_a_sweep_with_the_phase_turned_is_refused():
    block = sweep(((20.0, 0.01, 0.002),))
    (channel,) = block.channels
    turned = Block("impedance", (Channel("admittance", np.conj(channel.values), "S"),), uneven=block.uneven)
    with pytest.raises(MeasuredError, match="phase"):
        read_sweep(turned)


# ---- everything of one part --------------------------------------------------------------------


def test_a_struck_part_is_laid_over_the_prediction_in_its_own_unit():
    block = struck(LAB, count=1 << 17)
    found = evaluate((Entry(Recording("struck shorted", "", "table", (block,)), "shorted"),), LAB)
    overlay = overlay_of(LAB, found.runs[0], found.blocks["struck shorted"], Bench(), transfer=found.transfers["struck shorted"])
    assert not overlay.scaled and overlay.unit == "m/N"
    at = 60.0  # between two modes, where neither lines nor damping matter
    measured, predicted = (np.interp(at, x, y) for x, y in ((overlay.measured_hz, overlay.measured), (overlay.predicted_hz, overlay.predicted)))
    assert measured == pytest.approx(predicted, rel=0.05)


def test_repeats_are_told_with_their_spread():
    runs = runs_of(LAB, LAB, length_s=4.0)
    blocks = [record(LAB, is_open=r.leads == "open", seed=r.order, length_s=4.0) for r in runs]
    entries = tuple(Entry(Recording(r.name, "", "table", (b,)), r.leads) for r, b in zip(runs, blocks, strict=True))
    found = evaluate(entries, LAB)
    told = repeats_text(found)
    assert told[0].startswith("2 runs, leads shorted: mode 1 19.78") and told[1].startswith("2 runs, leads open")
    assert "±" in told[0] and found.shorted[2].spread_f_hz > 0.0


def test_a_sweep_alone_judges_the_bond():
    drawn = prediction_in(LAB, "shorted", Bench())
    modes = tuple((m.f_short_hz, m.k2, m.zeta_inherent) for m in drawn.modes[:3])
    hertz = np.unique(np.concatenate([np.linspace(10.0, 1200.0, 8000), *(np.linspace(0.98 * f, 1.03 * f, 1500) for f, _, _ in modes)]))
    c = drawn.groups[0].modal_capacitance_f[0]
    found = evaluate((Entry(Recording("patch 017.csv", "", "table", (sweep(modes, c, hertz=hertz),))),), LAB)
    assert found.verdict.code == "good" and found.sweep.capacitance_f == pytest.approx(c, rel=0.03)
    assert [c.mode for c in found.couplings] == [1, 2, 3]


def test_a_resistor_actually_used_is_compared_with_its_own_prediction():
    ohm = 120e3
    shorted, loaded = record(LAB, is_open=False, seed=1), record(LAB, is_open=True, seed=2, resistance_ohm=ohm)
    entries = (Entry(Recording("a", "", "table", (shorted,)), "shorted"), Entry(Recording("b", "", "table", (loaded,)), "resistor", ohm))
    compared = {(c.quantity, c.state, c.mode): c for c in evaluate(entries, LAB).compared}
    damping = compared["damping", "120000", 1]
    assert damping.predicted > 2.0 * LAB.structure.damping.ratios[0]
    assert damping.ratio == pytest.approx(1.0, abs=0.06)  # the dielectric loss is not in the record


def test_an_input_that_is_a_shunt_is_told_of_the_open_record_alone():
    entries = tuple(
        Entry(Recording(f"{leads}.csv", "", "table", (record(LAB, is_open=leads == "open", seed=0, resistance_ohm=1e6, length_s=6.0),)), leads)
        for leads in ("shorted", "open")
    )
    found = evaluate(entries, LAB, bench=Bench(instrument=Instrument(resistance_ohm=1e6)))
    shorted, opened = ([d for d in r.doubts if d.code == "instrument"] for r in found.runs)
    assert not shorted and {d.mode for d in opened} >= {1} and "it is a shunt, not open leads" in opened[0].text
    # what the model itself gains in damping between the leads open and open with that input
    bare, hung = (state_modes(LAB, "open", b)[0].zeta for b in (Bench(), Bench(instrument=Instrument(resistance_ohm=1e6))))
    assert words.damping(hung - bare) in opened[0].text
    clean = evaluate(entries, LAB, bench=Bench(instrument=Instrument(resistance_ohm=1e9)))
    assert not [d for r in clean.runs for d in r.doubts if d.code == "instrument"]
