"""Labels amid a sentence."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from core.circuit.registry import PORTS
from core.units.sentence import inside

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.parametrize(
    ("label", "amid"),
    [
        ("Bond line", "bond line"),
        ("Young's modulus", "Young's modulus"),
        ("Poisson's ratio", "Poisson's ratio"),
        ("R-L in series", "R-L in series"),
        ("d31", "d31"),
        ("T1", "T1"),
        ("", ""),
    ],
)
def test_names_and_signs_keep_their_capitals(label, amid):
    assert inside(label) == amid


def test_a_circuits_name_keeps_the_signs_in_it():
    for kind in PORTS.values():
        assert inside(kind.label)[1:] == kind.label[1:]


def test_nobody_else_makes_a_first_letter_small():
    own = re.compile(r"\[(?::1|0)\]\.lower\(\)|label\.lower\(\)")
    files = [p for folder in ("core", "app") for p in (ROOT / folder).rglob("*.py") if p.name != "sentence.py"]
    assert [str(p.relative_to(ROOT)) for p in files if own.search(p.read_text(encoding="utf-8"))] == []
