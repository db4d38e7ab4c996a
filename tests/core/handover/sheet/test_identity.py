"""Each candidate's papers are a drawing of their own, and a special size is called by no other's name."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.handover.releases import reference, release
from core.handover.sheet.diagram import placement_diagrams
from core.handover.sheet.identity import number_of, revision_index, title_of
from core.handover.text.process_card import process_card
from core.handover.text.purchasing import purchasing_sheet
from core.project import library
from core.project.article import article_name, with_package_of_size
from core.project.edit import with_patch
from tests.core.handover.sheet.test_sheet_words import words

EXAMPLES = [key for key, _ in library.examples()]


@pytest.mark.parametrize("key", EXAMPLES)
def test_no_two_candidates_share_number_title_or_revision(key):
    project = library.example(key)
    seen = {}
    for candidate in project.candidates:
        identity = (number_of(project, candidate), title_of(project, candidate))
        text = " ".join(words(d) for d in placement_diagrams(project, candidate.id))
        assert identity[0] in text and candidate.name.split(",")[0] in text
        assert not any(a == b for other in seen.values() for a, b in zip(identity, other, strict=True))
        seen[candidate.id] = identity
    assert {revision_index(project, c) for c in project.candidates[1:]} == {"draft"}


def test_a_release_is_of_the_candidate_it_was_made_from():
    project = release(library.example("lab-beam"), "second place", "2026-04-01", "B")
    a, b = project.candidate("A"), project.candidate("B")
    assert revision_index(project, b) == "B"
    assert revision_index(project, a) == "A"
    assert reference(project, a) is None
    project = release(project, "moved", "2026-04-02", "B")
    assert revision_index(project, b) == "C"
    assert reference(project, b).index == "B"
    text = words(placement_diagrams(project, "B")[0])
    assert "second place" in text and "first issue" not in text


def stretched():
    project = library.example("louvre-blade")
    patch = project.candidate("A").patches[0]
    return with_patch(project, "A", replace(patch, length_m=0.1429))


def test_no_paper_calls_a_stretched_patch_by_its_packages_name():
    project = stretched()
    special = "SPECIAL SIZE 142.9 x 60 mm, build-up of Type II, 60 x 60 x 0.4"
    assert special in words(placement_diagrams(project, "A")[0])
    for card in (purchasing_sheet(project, "A"), process_card(project, "A")):
        cells = [cell for block in card.blocks for row in getattr(block, "rows", ()) for cell in row]
        named = [cell for cell in cells if "Type II" in cell]
        assert named and all("SPECIAL SIZE 142.9 x 60 mm" in cell or "Navy" in cell for cell in named)


def test_a_package_made_of_the_size_gives_it_a_name_and_is_made_once():
    project = stretched()
    named = with_package_of_size(project, "A", "P1")
    patch = named.candidate("A").patches[0]
    package = named.package(patch.package)
    assert package.name == "Type II, 142.9 x 60 x 0.4"
    assert article_name(patch, package) == package.name
    assert named.package("Type II, 60 x 60 x 0.4") == project.package("Type II, 60 x 60 x 0.4")
    other = named.candidate("C").patches[0]
    again = with_package_of_size(with_patch(named, "C", replace(other, length_m=0.1429)), "C", other.id)
    assert len(again.packages) == len(named.packages)


def test_what_is_drawn_ordered_and_specified_is_one_package():
    for key in EXAMPLES:
        project = library.example(key)
        for candidate in project.candidates:
            for patch in candidate.patches:
                package = project.package(patch.package)
                assert article_name(patch, package) == package.name == project.sheet.patch_specification or (
                    patch.package != project.candidates[0].patches[0].package
                )
