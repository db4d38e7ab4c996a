"""A search and a map as asked for on the command line."""

from __future__ import annotations

import argparse
import json

import pytest

from app.cli import search_arguments
from app.main import main
from core.project import store
from tests.levels import beam_example


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "beam.quietspan"
    store.save(beam_example("lab-beam"), path)
    return path


def test_the_goal_and_the_limits_of_a_search_are_obeyed(file, tmp_path, capsys):
    out = tmp_path / "found.json"
    asked = [
        "--goal",
        "targets",
        "--target",
        "1:0.5%",
        "--target",
        "2:0.2%",
        "--face",
        "underside",
        "--patches",
        "1,2",
    ]
    limits = [
        "--between",
        "0,20cm",
        "--most-mass",
        "30 g",
        "--circuit",
        "series R-L",
        "--circuit",
        "resistor",
    ]
    assert main(["study", str(file), "--kind", "search", *asked, *limits, "--out", str(out)]) == 0
    report = json.loads(out.read_text(encoding="utf-8"))
    assert report["found"]
    for layout in report["found"]:
        assert layout["added_mass_kg"] <= 0.030
        assert set(layout["circuits"]) <= {"series R-L", "resistor"}
        for patch in layout["patches"]:
            assert patch["face"] == "underside"
            assert patch["x_start_m"] >= 0.0 and patch["x_start_m"] + patch["length_m"] <= 0.2 + 1e-9


def test_a_search_that_cannot_meet_its_targets_says_what_would_have_to_give(file, capsys):
    assert main(["study", str(file), "--kind", "search", "--goal", "targets", "--target", "1:40%"]) == 0
    assert "No layout within these limits meets the targets" in capsys.readouterr().out


def test_a_map_of_another_quantity_and_size(file, tmp_path):
    out = tmp_path / "map.json"
    arguments = ["--kind", "map", "--quantity", "coupling", "--over", "width", "--patch", "P1", "--mode", "2"]
    assert main(["study", str(file), *arguments, "--out", str(out)]) == 0
    report = json.loads(out.read_text(encoding="utf-8"))
    assert report["quantity"] == "coupling K² of mode 2" and report["best"]["width_m"] in report["width_m"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--goal", "targets"], "No mode has a target"),
        (["--package", "none of these"], "there are Type II"),
        (["--circuit", "gyrator"], "there are shorted"),
        (["--circuit", "loop"], "there are shorted"),
    ],
)
def test_a_search_that_cannot_be_read_is_a_sentence(file, capsys, arguments, words):
    assert main(["study", str(file), "--kind", "search", *arguments]) == 1
    assert words in capsys.readouterr().err


def test_every_argument_of_a_search_is_known_as_one():
    parser = argparse.ArgumentParser()
    search_arguments.add_arguments(parser)
    assert set(vars(parser.parse_args([]))) == set(search_arguments.NAMES)
