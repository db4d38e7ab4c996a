"""Edits give a new project, keep patches and groups consistent, and touch nothing else."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.project import edit, library
from core.project.bonded import BondedPart
from core.project.model import Origin
from core.project.problems import find_problems
from core.project.served import served_mode

replace = msgspec.structs.replace
LAB, SKI = library.example("lab-beam"), library.example("touring-ski")


def groups(project, candidate="A"):
    return {g.id: [m.patch for m in g.members] for g in project.candidate(candidate).groups}


def test_whole_parts_are_replaced_or_changed():
    assert edit.with_view(LAB, modes_shown=7).view.modes_shown == 7
    assert edit.with_sheet(LAB, title="T").sheet == replace(LAB.sheet, title="T")
    assert edit.with_service(LAB, active_load=1).service.loads is LAB.service.loads
    assert edit.with_structure(LAB, SKI.structure).structure == SKI.structure
    assert edit.with_structure(LAB, SKI.structure, level="plain").structure.level == "plain"


def test_a_kept_candidate_is_the_next_letter_and_active():
    kept = edit.keep_candidate(LAB)
    assert [c.id for c in kept.candidates] == ["A", "B", "C", "D"] and kept.active == "D"
    assert kept.candidate("D").patches == LAB.candidate("A").patches
    assert kept.candidate("D").name == "at the clamp 2"
    assert edit.keep_candidate(kept).candidate("E").name == "at the clamp 2 2"


def test_letters_go_on_after_z():
    project = LAB
    for _ in range(25):
        project = edit.keep_candidate(project)
    assert project.active == "AB"


def test_duplicate_rename_delete():
    twice = edit.duplicate_candidate(LAB, "A")
    assert [c.id for c in twice.candidates] == ["A", "D", "B", "C"] and twice.active == "A"
    assert edit.rename_candidate(LAB, "B", " new ").candidate("B").name == "new"
    assert edit.delete_candidate(LAB, "A").active == "B"
    assert edit.delete_candidate(edit.set_active(LAB, "C"), "C").active == "B"
    assert edit.delete_candidate(LAB, "C").active == "A"
    with pytest.raises(ValueError, match="last candidate"):
        edit.delete_candidate(replace(LAB, candidates=LAB.candidates[:1]), "A")
    bonded = (BondedPart("1", "C", "G1"), BondedPart("1", "A", "G1"))
    left = edit.delete_candidate(replace(LAB, bonded=bonded), "C")
    assert left.bonded == bonded[1:]  # the next one called C is another layout
    for call in (edit.set_active, edit.duplicate_candidate, edit.delete_candidate):
        with pytest.raises(KeyError):
            call(LAB, "Z")


@pytest.mark.parametrize("key", [key for key, _ in library.examples()])
def test_a_patch_is_added_at_a_free_place_with_its_own_circuit(key):
    project = library.example(key)
    more = edit.add_patch(project, "A")
    new = more.candidate("A").patches[-1]
    assert find_problems(more) == ()
    group = more.candidate("A").groups[-1]
    assert [m.patch for m in group.members] == [new.id]
    assert group.circuit.kind == "resistor" and group.circuit.tuning.mode == served_mode(project, project.candidate())


def test_a_patch_on_an_empty_part_and_on_a_full_one():
    first = edit.add_patch(library.blank_project(), "A")
    assert find_problems(first) == () and groups(first) == {"G1": ["P1"]}
    full = LAB
    while not find_problems(full):
        full = edit.add_patch(full, "A")
    assert any("overlap" in p.message for p in find_problems(full))


def test_removing_a_patch_takes_its_empty_group():
    two = edit.add_patch(LAB, "A")
    assert groups(edit.without_patch(two, "A", "P2")) == groups(LAB)
    assert groups(edit.without_patch(two, "A", "P1")) == {"G2": ["P2"]}
    assert groups(edit.without_patch(SKI, "C", "P1"), "C") == {"G1": ["P2"]}
    with pytest.raises(KeyError):
        edit.without_patch(LAB, "A", "P9")


def test_groups_join_and_take_patches():
    three = edit.add_patch(edit.add_patch(LAB, "A"), "A")
    joined = edit.join_groups(three, "A", ("G1", "G3"))
    assert groups(joined) == {"G1": ["P1", "P3"], "G2": ["P2"]}
    assert groups(edit.move_to_group(joined, "A", "P2", "G1")) == {"G1": ["P1", "P3", "P2"]}
    alone = edit.move_to_group(joined, "A", "P3", None)
    assert groups(alone) == {"G1": ["P1"], "G2": ["P2"], "G3": ["P3"]}


def test_a_group_is_put_by_its_id():
    group = replace(LAB.candidate("A").groups[0], wiring="series")
    assert edit.with_group(LAB, "A", group).candidate("A").groups == (group,)


def test_library_entries_are_copied_with_what_they_need():
    film = next(p for p in library.packages() if "PVDF" in p.name)
    project = edit.with_package(LAB, film, library.materials_of(film))
    assert find_problems(project) == ()
    assert edit.with_package(project, film, library.materials_of(film)) == project


@given(st.lists(st.tuples(st.sampled_from("akmdxw"), st.integers(0, 9)), max_size=25))
@settings(max_examples=40, derandomize=True, deadline=None)
def test_whatever_is_done_patches_and_groups_stay_consistent(steps):
    project = LAB
    for action, n in steps:
        candidate = project.candidate()
        patches, wired = candidate.patches, candidate.groups
        if action == "a" and len(patches) < 5:
            project = edit.add_patch(project, candidate.id)
        elif action == "k" and len(project.candidates) < 6:
            project = edit.keep_candidate(project)
        elif action == "m" and patches:
            target = wired[n % len(wired)].id if n % 3 else None
            project = edit.move_to_group(project, candidate.id, patches[n % len(patches)].id, target)
        elif action == "d" and patches:
            project = edit.without_patch(project, candidate.id, patches[n % len(patches)].id)
        elif action == "x" and len(project.candidates) > 1:
            project = edit.delete_candidate(project, project.candidates[n % len(project.candidates)].id)
        elif action == "w" and len(wired) > 1:
            project = edit.join_groups(project, candidate.id, (wired[0].id, wired[-1].id))
        allowed = ("overlap by", "over the keep-out")
        told = [p.message for p in find_problems(project)]
        assert all(any(words in message for words in allowed) for message in told), told


def test_a_copied_candidate_keeps_what_was_said_of_its_inputs_and_a_deleted_one_takes_it_along():
    path = "candidates[A].patches[P1].bond.thickness_m"
    said = replace(LAB, origins={**LAB.origins, path: Origin("measured", "micrometer")})
    kept = edit.keep_candidate(said)
    copied = path.replace("[A]", f"[{kept.active}]")
    assert kept.origins[copied] == kept.origins[path] == Origin("measured", "micrometer")
    assert copied not in edit.delete_candidate(kept, kept.active).origins
    assert path in edit.delete_candidate(kept, kept.active).origins


def test_leads_are_exchanged_in_the_group_and_in_a_pair_wired_for_stretching():
    turned = edit.with_leads_exchanged(LAB, "A", "P1")
    assert turned.candidate("A").groups[0].members[0].polarity == -1
    assert edit.with_leads_exchanged(turned, "A", "P1") == LAB
    pair = replace(LAB.candidate("A").patches[0], face="both", pair_bending=False)
    wired = edit.with_leads_exchanged(edit.with_patch(LAB, "A", pair), "A", "P1").candidate("A")
    assert wired.patches[0].pair_bending and wired.groups[0].members[0].polarity == 1
