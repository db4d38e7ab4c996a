"""A tuned mass in the comparison, the record and the terminal, on equal footing with a patch."""

from __future__ import annotations

import json

import pytest
from msgspec.structs import replace

from app.main import main
from app.results.facts import absorber_rows, results_table
from app.sidebyside.mini_drawing import summary
from app.sidebyside.rows import comparison_rows
from core.handover.documents import Order, kind
from core.handover.drawing.items import Text
from core.handover.drawing.strokes import strokes
from core.handover.text.results import compute_results
from core.predict.predict import predict
from core.project import store
from core.project.candidate import Absorber, Candidate, Tuning
from core.study.compare import input_differences
from core.units import words
from tests.levels import beam_example

MASS = Absorber("M1", 0.3, 0.002, 19.0, tuning=Tuning(1, "optimum"), allowed_stroke_m=0.02)


@pytest.fixture(scope="module")
def project():
    """The lab beam's patch with a resistor against a tuned mass without any patch."""
    lab = beam_example("lab-beam")
    alone = Candidate("D", "mass alone", absorbers=(MASS,))
    return replace(lab, candidates=(lab.candidate("A"), alone))


def row(rows, label):
    return next(row for row in rows if row.label == label)


def written(pages):
    """Every text of the pages, without the spaces that lines break at."""
    parts = [p.text for page in pages for i in page.items for p in strokes(i) if isinstance(p, Text)]
    return "".join("".join(parts).split())


def test_damping_mass_and_stroke_stand_beside_those_of_a_patch(project):
    found = [predict(project, c.id) for c in project.candidates]
    rows = comparison_rows(found, 0)
    damping = row(rows, "Damping, mode 1")
    assert [cell.value for cell in damping.cells] == [p.modes[0].zeta for p in found]
    assert damping.cells[1].best and damping.note.startswith("patches shorted, masses off")
    mass = row(rows, "Added mass")
    assert mass.note == "patches with bond, tuned masses"
    assert mass.cells[1].value == pytest.approx(0.002)
    assert row(rows, "Stroke against the part").cells[1].text.startswith(words.value_of(found[1].absorbers[0].stroke_m, 0.02, "m"))
    stroke = row(rows, "Stroke of a tuned mass")
    assert stroke.cells[0].text == words.NO_VALUE
    assert stroke.cells[1].value == found[1].absorbers[0].stroke_m
    assert row(rows, "Tuned mass").cells[1].text == found[1].absorbers[0].briefly
    only_patches = comparison_rows([found[0]], 0)
    assert not [r for r in only_patches if "uned mass" in r.label]
    assert summary(project.candidate("D")) == "tuned mass on mode 1"


def test_the_panel_tells_it_and_the_table_holds_it(project):
    found = predict(project, "D")
    first, second = absorber_rows(found.absorbers)
    assert first.name == "Tuned mass M1" and first.value == words.mass(0.002)
    assert second.value.startswith(words.engineering(found.absorbers[0].stroke_m, "m"))
    assert any(line[0] == "Tuned mass M1" for line in results_table(found))


def test_what_differs_is_listed_by_its_rule(project):
    other = replace(project.candidate("D"), id="E", absorbers=(replace(MASS, tuning=None, mass_kg=0.003),))
    both = replace(project, candidates=(*project.candidates, other))
    told = {d.label: (d.reference, d.other) for d in input_differences(both, "D", "E")}
    assert told["M1 mass"] == ("2 g", "3 g")
    assert told["M1 frequency and damping"][0] == "follow mode 1, optimum, goal damping"
    assert told["M1 frequency"] == ("–", "19 Hz")


def test_the_record_and_the_sheet_say_it(project):
    both = replace(project, active="A", candidates=(
        replace(project.candidate("A"), absorbers=(replace(MASS, x_m=0.25),)), *project.candidates[1:]))  # fmt: skip
    needs = kind("record").needs
    found = predict(both, "A").absorbers[0]
    pages = kind("record").draw(Order(both, "A", compute_results(both, "A", needs)))
    text = written(pages)
    assert "".join(found.briefly.split()) in text
    pages = kind("sheet").draw(Order(both, "A", compute_results(both, "A", kind("sheet").needs)))
    # datum A of this part is its free end
    assert "M1:centre50.0fromA" in written(pages)


def test_the_terminal_says_it_in_words_and_data(project, tmp_path, capsys):
    file = tmp_path / "mass.quietspan"
    store.save(replace(project, active="D"), file)
    assert main(["predict", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["tuned_masses"][0]["id"] == "M1"
    assert main(["predict", str(file)]) == 0
    assert "Tuned masses" in capsys.readouterr().out
