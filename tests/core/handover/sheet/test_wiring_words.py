"""The leads of a group are joined the same way on the placement diagram and on the circuit card."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.handover.sheet.diagram import placement_diagrams
from core.handover.text.circuit_card import circuit_card
from core.handover.text.document import Paragraph
from core.predict.predict import predict
from core.project import library
from core.project.candidate import Member
from core.project.wiring_words import joined_leads
from tests.core.handover.sheet.test_sheet_words import words

PAIRS = [("gantry-bracket", "A"), ("gantry-bracket", "C"), ("lab-beam", "C")]


def told(project, candidate_id):
    """Text of the circuit card's paragraphs."""
    project = replace(project, active=candidate_id)
    card = circuit_card(project, candidate_id, predict(project, candidate_id), None)
    return " ".join(block.text for block in card.blocks if isinstance(block, Paragraph))


@pytest.mark.parametrize(("name", "candidate_id"), PAIRS)
def test_a_pair_is_wired_alike_on_both_papers(name, candidate_id):
    project = library.example(name)
    text = "P1 top dot and underside unmarked lead to +"
    assert text in told(project, candidate_id)
    assert text in " ".join(words(drawing) for drawing in placement_diagrams(project, candidate_id))


def test_a_pair_for_stretching_joins_both_dots():
    project = library.example("lab-beam")
    candidate = project.candidate("C")
    pair = replace(candidate.patches[0], pair_bending=False)
    candidate = replace(candidate, patches=(pair,))
    assert joined_leads(candidate, candidate.groups[0]) == "P1 top dot and underside dot to +"


def test_a_turned_member_and_a_series_group():
    project = library.example("louvre-blade")
    candidate = project.candidate("C")
    group = replace(candidate.groups[0], wiring="series", members=(Member("P1"), Member("P2", -1)))
    assert joined_leads(candidate, group) == "series, P1 dot, P2 unmarked lead each towards +"
