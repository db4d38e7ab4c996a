"""The table of failures against candidates made by hand, and what a circuit does on its own."""

import math

import pytest
from msgspec.structs import replace

from core.circuit import negative_capacitance, resistor
from core.circuit.alone import growth_1_s
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection
from core.predict.electrics.failure import failures
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit, Group, Instrument, Member, Tuning
from tests.core.predict.scenes import RESISTOR, lab, with_candidate

PAIR = library.example("lab-beam")


def row(project, name, candidate_id=None):
    return next(one for one in failures(project, candidate_id) if one.name == name)


def agree(found, by_hand, group=0):
    """Damping, frequency and volts of a row are those of a candidate made by hand."""
    mode = by_hand.modes[found.mode - 1]
    pole = min((p for p in mode.poles if p.mechanical_share >= 0.1), key=lambda p: p.damping_ratio)
    assert found.damping == pytest.approx(mode.zeta, rel=1e-9, abs=1e-12)
    assert found.frequency_hz == pytest.approx(pole.frequency_hz, rel=1e-9)


def fixed(project, candidate_id="A"):
    """The candidate with the values its circuits are tuned to."""
    candidate = project.candidate(candidate_id)
    groups = tuple(
        replace(g, circuit=Circuit(g.circuit.kind, {v.name: v.value for v in result.values}))
        for g, result in zip(candidate.groups, predict(project, candidate_id).groups, strict=True)
    )
    return replace(candidate, groups=groups)


def with_group(candidate, **changes):
    return replace(candidate, groups=(replace(candidate.groups[0], **changes), *candidate.groups[1:]))


def test_as_designed_it_is_the_prediction():
    project = lab(circuit=RESISTOR)
    found, told = row(project, "As designed"), predict(project)
    agree(found, told)
    assert found.volts == told.leads.with_circuit.volts and found.cause == told.leads.with_circuit.cause


def test_leads_open_and_shorted_are_those_circuits():
    project = lab(circuit=RESISTOR, instrument=Instrument("scope", 1e7, 1e-10))
    for name, circuit in (("Lead open", "open"), ("Leads shorted", "shorted")):
        by_hand = predict(lab(circuit=Circuit(circuit)))
        found = row(project, name)
        agree(found, by_hand)
        if circuit == "open":
            assert found.volts == by_hand.leads.of("group G1").largest.volts
        else:
            assert found.volts == 0.0 and found.is_safe


def test_a_bleed_resistor_stays_where_a_lead_opens():
    project = lab(circuit=RESISTOR)
    project = with_candidate(project, with_group(project.candidate(), bleed_ohm=1e6))
    by_hand = lab(circuit=Circuit("resistor", {"resistance_ohm": 1e6}))
    assert row(project, "Lead open").damping == pytest.approx(predict(by_hand).modes[0].zeta, rel=1e-9)


def test_half_of_a_ceramic_lost_is_two_patches_one_of_them_on_no_lead():
    project = lab(circuit=RESISTOR)
    held = fixed(project)
    patch, group = held.patches[0], held.groups[0]
    half = patch.length_m / 2
    assert patch.lead_exit == "towards tip"  # so the half at the root is cut off
    root = replace(patch, id="Q", length_m=half)
    tip = replace(patch, x_start_m=patch.x_start_m + half, length_m=half)
    by_hand = replace(
        held, patches=(root, tip), groups=(group, Group("G9", (Member("Q"),), circuit=Circuit("open")))
    )
    agree(row(project, "P1: root half lost"), predict(with_candidate(project, by_hand)))


def test_one_of_a_pair_lost_leaves_the_worse_of_both():
    project = replace(PAIR, active="C")
    held = fixed(project, "C")
    patch, group = held.patches[0], held.groups[0]
    found = []
    for lost in ("top", "underside"):
        top, under = replace(patch, id="T", face="top"), replace(patch, id="U", face="underside")
        own, other = (under, top) if lost == "top" else (top, under)
        sign = -1 if lost == "top" else 1
        groups = (
            replace(group, members=(Member(own.id, sign),)),
            Group("G9", (Member(other.id),), circuit=Circuit("open")),
        )
        by_hand = replace(held, patches=(top, under), groups=groups)
        found.append((predict(with_candidate(project, by_hand)), lost))
    worst, lost = min(found, key=lambda pair: pair[0].modes[0].zeta)
    agree(row(project, f"P1: {lost} one lost", "C"), worst)


@pytest.mark.parametrize(
    ("circuit", "left"),
    [
        (Circuit("series R-L", {"resistance_ohm": 1e4, "inductance_h": 500.0}), Circuit("open")),
        (Circuit("parallel R-L", {"resistance_ohm": 3e5, "inductance_h": 500.0}), Circuit("resistor", {"resistance_ohm": 3e5})),
        (Circuit("negative C parallel R", {"negative_capacitance_f": 2e-8, "resistance_ohm": 3e5}),
         Circuit("resistor", {"resistance_ohm": 3e5})),
        (Circuit("negative C series R", {"negative_capacitance_f": 2e-7, "resistance_ohm": 3e5}), Circuit("open")),
    ],
)  # fmt: skip
def test_without_a_supply_what_conducts_is_left(circuit, left):
    agree(row(lab(circuit=circuit), "Supply off"), predict(lab(circuit=left)))


BRANCHES = Circuit("current-flowing 2", {
    "resistance_1_ohm": 8e3, "inductance_1_h": 800.0, "capacitance_1_f": 8e-8,
    "resistance_2_ohm": 1e3, "inductance_2_h": 0.9, "capacitance_2_f": 5e-8,
})  # fmt: skip
IN_LINE = Circuit("series-parallel 2", {
    "resistance_1_ohm": 1e6, "inductance_1_h": 0.9, "capacitance_1_f": 8e-8,
    "resistance_2_ohm": 2e5, "inductance_2_h": 40.0, "capacitance_2_f": 5e-8,
})  # fmt: skip


@pytest.mark.parametrize("circuit", [BRANCHES, IN_LINE], ids=lambda c: c.kind)
@pytest.mark.parametrize("branch", [1, 2])
def test_a_branch_that_is_off_passes_nothing_and_the_other_stays(circuit, branch):
    """In line with its capacitor it is open; beside a capacitor and a resistor these stay."""
    parted = replace(circuit, values={**circuit.values, f"inductance_{branch}_h": 1e12})
    agree(row(lab(circuit=circuit), f"Branch {branch} off"), predict(lab(circuit=parted)))


def test_a_capacitor_in_line_keeps_the_charge_of_a_bend_and_of_heat():
    """What blocks at rest bleeds nothing: the leads give what open ones give, at the least."""
    from_open = row(lab(circuit=Circuit("open")), "As designed").volts
    found = row(lab(circuit=BRANCHES), "As designed")
    heat = [one for one in predict(lab(circuit=BRANCHES)).leads.found if "heated" in one.cause and "with the circuit" in one.cause]
    assert len(heat) == 1 and heat[0].volts <= from_open and found.volts >= heat[0].volts


def test_without_the_supply_the_wound_branch_stays():
    """Only the branch of 800 H is made of amplifiers; both coils in line of which one is."""
    parted = replace(BRANCHES, values={**BRANCHES.values, "inductance_1_h": 1e12})
    agree(row(lab(circuit=BRANCHES), "Supply off"), predict(lab(circuit=parted)))
    parted = replace(IN_LINE, values={**IN_LINE.values, "inductance_2_h": 1e12})
    agree(row(lab(circuit=IN_LINE), "Supply off"), predict(lab(circuit=parted)))


def test_a_switch_without_its_supply_stays_open_and_has_no_rail():
    project = lab(circuit=Circuit("switched inductor", tuning=Tuning(mode=1)))
    agree(row(project, "Supply off"), predict(lab(circuit=Circuit("open"))))
    assert "rail" not in row(project, "Lead open").verdict


def test_an_added_capacitor_stays_without_the_supply():
    values = {"resistance_ohm": 1e4, "inductance_h": 200.0, "added_capacitance_f": 1e-7}
    by_hand = lab(circuit=Circuit("open"), instrument=Instrument("capacitor", 1e18, 1e-7))
    agree(row(lab(circuit=Circuit("series R-L + C", values)), "Supply off"), predict(by_hand))


def test_a_coil_needs_no_supply():
    small = Circuit("series R-L", {"resistance_ohm": 1e3, "inductance_h": 0.5})
    assert not any(one.what == "supply off" for one in failures(lab(circuit=small)))


def test_a_negative_capacitance_on_its_own_goes_to_the_rail():
    """In series with R: rate 1/(R C_neg) as soon as the leads are joined, standing while they are parted; beside
    R the other way round."""
    values = {"negative_capacitance_f": 2e-7, "resistance_ohm": 1e5}
    series = Connection(negative_capacitance.SERIES, values)
    beside = Connection(negative_capacitance.PARALLEL, values)
    assert growth_1_s(series, 0.0, 0.0, joined=True) == pytest.approx(1 / (1e5 * 2e-7), rel=1e-9)
    assert growth_1_s(series, 0.0, 0.0, joined=False) == 0.0
    assert growth_1_s(beside, -2e-7, 0.0, joined=False) == pytest.approx(1 / (1e5 * 2e-7), rel=1e-9)
    assert growth_1_s(beside, -2e-7, 0.0, joined=True) == 0.0
    assert row(lab(circuit=Circuit("negative C series R", values)), "Leads shorted").verdict == "amplifier on its rail"
    other = lab(circuit=Circuit("negative C parallel R", {**values, "negative_capacitance_f": 2e-8}))
    assert "amplifier on its rail" in row(other, "Lead open").verdict
    assert row(other, "Leads shorted").verdict == "safe"


@pytest.mark.parametrize("kind", [k for k in CIRCUITS.values() if not k.active], ids=lambda k: k.key)
@pytest.mark.parametrize("joined", [True, False])
def test_nothing_passive_grows_on_its_own(kind, joined):
    values = kind.complete({})
    assert growth_1_s(Connection(kind, values), float(kind.across(values)), 0.0, joined) == 0.0


def test_what_runs_away_is_a_word_and_no_number():
    used_up = lab(circuit=Circuit("negative C parallel R", {"negative_capacitance_f": 1e-6, "resistance_ohm": 3e5}))
    found = row(used_up, "As designed")
    assert math.isnan(found.damping) and found.volts == math.inf and found.verdict.startswith("drifts")
    assert found.cells[1:4] == ("unstable", "–", "unbounded")


def test_a_group_names_its_rows_where_there_are_several():
    project = library.example("lab-beam")
    candidate = fixed(project)
    second = replace(candidate.patches[0], id="P2", x_start_m=0.2)
    groups = (*candidate.groups, Group("G2", (Member("P2"),), circuit=Circuit("resistor", {"resistance_ohm": 1e5})))
    names = [one.name for one in failures(with_candidate(project, replace(candidate, patches=(*candidate.patches, second), groups=groups)))]
    assert "G1: lead open" in names and "G2: leads shorted" in names


def test_the_resistor_kind_alone_has_no_rail():
    assert growth_1_s(Connection(resistor.KIND, {"resistance_ohm": 1e5}), 0.0, 0.0, joined=True) == 0.0
