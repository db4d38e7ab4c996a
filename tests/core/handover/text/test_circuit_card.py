"""The circuit card: what is drawn, wired, set and protected, for every kind of circuit."""

import numpy as np
import pytest
from msgspec.structs import replace

from core.circuit.registry import CIRCUITS
from core.handover.documents import Order, Results, kind, markdown_of
from core.handover.drawing.items import Text
from core.handover.text.circuit_wiring import wiring_table
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Circuit, Group, Member, Tuning
from core.project.edit import with_candidate
from core.study.temperature.temperature import temperature_study
from tests.core.predict.scenes import lab


def card(project, draw=False):
    found = predict(project)
    order = Order(project, project.active, Results({project.active: found}, temperature_study(project)))
    return kind("circuit").draw(order) if draw else markdown_of(order, kind("circuit"))


def section(text, heading):
    at = text.index(f"## {heading}")
    end = text.find("\n## ", at + 3)
    return text[at:end]


def test_it_draws_the_schematic_with_the_values():
    project = library.example("lab-beam")
    value = predict(project).groups[0].values[0].value
    told = [item.text for page in card(project, draw=True) for item in page.items if isinstance(item, Text)]
    assert any(text == "J" or text.startswith("J") for text in told)
    assert f"{value / 1e3:.1f} kΩ" in " ".join(told) or f"{value / 1e3:.2f} kΩ" in " ".join(told)


def test_both_ceramics_of_a_pair_for_bending_are_wired_the_opposite_way_round():
    project = replace(library.example("lab-beam"), active="C")
    candidate = project.candidate("C")
    table = wiring_table(candidate, candidate.groups[0], "root")
    top, under, connector = table.rows
    assert top == ("P1", "top", "+", "−") and under == ("P1", "underside", "−", "+")
    assert connector[:2] == ("Connector J", "root")
    assert "| P1 | underside | − | + |" in card(project)


def test_in_series_the_ceramics_follow_each_other():
    project = library.example("touring-ski")
    candidate = project.candidate("C")
    first, second = candidate.patches
    group = Group("G1", (Member(first.id), Member(second.id, -1)), wiring="series")
    rows = wiring_table(candidate, group, "root").rows
    assert rows[0][2:] == ("+", "node 1") and rows[1][2:] == ("−", "node 1")


def test_capacitance_is_told_from_cold_to_hot_with_the_spread_of_packages():
    project = library.example("touring-ski")
    study = temperature_study(project)
    free = [point.groups[0].free_capacitance_f * 1e9 for point in study.points]
    assert f"{min(free):.1f} to {max(free):.1f} nF; with the spread" in card(project)


@pytest.mark.parametrize("key", CIRCUITS)
def test_every_kind_has_its_steps(key):
    which = CIRCUITS[key]
    values = which.complete({})
    if key == "negative C series R":
        values["negative_capacitance_f"] = 2e-7
    tuning = Tuning(mode=1) if which.worked_out else None
    project = lab(circuit=Circuit(key, values, tuning))
    steps = section(card(project), "Group G1: adjustment")
    assert steps.count("[ ]") >= (2 if key in ("shorted", "open") else 3)
    assert "discharged" in steps
    assert ("towards" in steps and "holds for certain" in steps) == (key.startswith("negative C"))


def test_a_negative_capacitance_is_approached_from_the_side_that_holds():
    for key, farad, way in (("negative C parallel R", 3e-8, "smaller"), ("negative C series R", 2e-7, "larger")):
        project = lab(circuit=Circuit(key, {"negative_capacitance_f": farad, "resistance_ohm": 1e5}))
        assert f"Set the negative capacitance {way} than" in card(project)
        start = farad * (0.8 if way == "smaller" else 1.2)
        circuit = Circuit(key, {"negative_capacitance_f": start, "resistance_ohm": 1e5})
        assert predict(lab(circuit=circuit)).stop is None


@pytest.mark.parametrize(("factor", "higher"), [(1.05, "right"), (0.95, "left")])
def test_the_higher_peak_tells_which_way_the_inductance_is_off(factor, higher):
    """Higher on the right: less inductance, as the card says; with the resistor well below its value."""
    tuned = predict(lab(circuit=Circuit("series R-L", tuning=Tuning(mode=1, goal="peak"))))
    values = {v.name: v.value for v in tuned.groups[0].values}
    values |= {"resistance_ohm": 0.2 * values["resistance_ohm"], "inductance_h": factor * values["inductance_h"]}
    project = lab(circuit=Circuit("series R-L", values))
    response = predict(project, points=2000).response
    near = np.abs(response.frequency_hz - tuned.modes[0].f_short_hz) < 4.0
    size, f = np.abs(response.after[near]), response.frequency_hz[near]
    middle = tuned.modes[0].f_short_hz
    left, right = size[f < middle].max(), size[f > middle].max()
    assert ("right" if right > left else "left") == higher
    assert "Higher on the right: less inductance" in card(project)


def test_failures_parts_and_cautions_stand_on_it():
    project = library.example("lab-beam")
    text = card(replace(project, active="C"))
    assert "| Supply off |" in text and "| Lead open |" in text
    assert "At the worst load" in text and "operational amplifier" in text
    assert "Local codes and licensed practice decide" in text


def test_a_capacitor_in_line_lets_no_charge_go():
    project = lab(circuit=Circuit("current-flowing 2", CIRCUITS["current-flowing 2"].complete({})))
    assert "lets no steady current through: the charge stays" in card(project)


def test_every_example_fits_its_pages():
    project = library.example("half-board")
    pages = card(with_candidate(project, project.candidate()), draw=True)
    assert 1 < len(pages) <= 4


def test_a_branch_off_tune_is_told_with_what_it_does_to_each_mode():
    project = lab(circuit=Circuit("current-flowing 2", {}, Tuning(1, "optimum")))
    found = {p.name: p for p in predict(project).groups[0].prices}
    text = card(project)
    row = next(line for line in text.splitlines() if line.startswith("| Inductance 2") and " / " in line)
    price = found["inductance_2_h"]
    for mode in (1, 2):
        assert f"{100 * price.at_present[mode - 1]:.2f}" in row
    assert row.startswith("| Inductance 2 | 5.0 % |")
