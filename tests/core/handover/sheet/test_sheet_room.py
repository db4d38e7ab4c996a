"""No tolerance, ring or lead on a sheet that the part has no room for; the mirrored part has its own sheet."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.handover.documents import KINDS, Order, kind
from core.handover.drawing.items import SheetError, Text
from core.handover.drawing.strokes import strokes
from core.handover.mirrored import mirrored_order
from core.handover.sheet.diagram import placement_diagram, placement_diagrams
from core.handover.sheet.plan_dimensions import nearest_edge
from core.handover.sheet.subject import faces_used, make_subject
from core.handover.sheet.tolerances import across_m, along_m, room_words
from core.predict.predict import predict
from core.project import edit, library
from core.project.placement.lead import RELIEF_M, lead_run
from core.project.placement.room import room
from core.project.structure import CutOut, DatumFeature

SKI, LAB = library.example("touring-ski"), library.example("lab-beam")
EXAMPLES = [(key, c.id) for key, _ in library.examples() for c in library.example(key).candidates]


def words_of(drawing) -> str:
    return " ".join(p.text for item in drawing.items for p in strokes(item) if isinstance(p, Text))


def all_words(*asked) -> str:
    """All text of the sheets, those of notes included."""
    return " ".join(words_of(drawing) for drawing in placement_diagrams(*asked))


@pytest.mark.parametrize("key, candidate", EXAMPLES)
@pytest.mark.parametrize("typed_m", [1e-3, 8e-3])
def test_no_printed_tolerance_exceeds_the_room(key, candidate, typed_m):
    project = edit.with_sheet(library.example(key), tolerance_x_m=typed_m, tolerance_y_m=typed_m)
    chosen = project.candidate(candidate)
    for face in faces_used(chosen):
        for placed in make_subject(project, candidate, face).placed:
            space = room(project, chosen, placed.patch, hard=True)
            tip, root = along_m(project, chosen, (placed,))
            assert tip <= space.tip.room_m and root <= space.root.room_m
            assert across_m(project, chosen, (placed,)) <= min(space.left.room_m, space.right.room_m)
            if min(tip, root) < typed_m:
                assert any(w.startswith(f"{placed.id} towards") for w in room_words(project, candidate))


def test_a_tolerance_held_by_a_keep_out_is_printed_one_way_and_explained():
    text = all_words(SKI, "A")
    assert "A to P1 6.0 +1.0/\N{MINUS SIGN}0.0" in text
    assert 'towards the root no further than 0.0 mm: the keep-out "plate screws"' in text


def test_a_tolerance_is_measured_from_a_whichever_way_that_is():
    """Lab beam: A is the free end, so further from A is towards the root, where 1.0 mm is left."""
    wide = edit.with_sheet(LAB, tolerance_x_m=3e-3)
    assert "A to P1 241.0 +1.0/\N{MINUS SIGN}3.0" in all_words(wide, "A")


def test_a_tolerance_of_its_own_towards_the_root_is_printed():
    one_way = edit.with_sheet(LAB, tolerance_x_m=3e-3, tolerance_x_root_m=0.5e-3)
    assert "A to P1 241.0 +0.5/\N{MINUS SIGN}3.0" in all_words(one_way, "A")


@pytest.mark.parametrize("key, candidate", EXAMPLES)
def test_leads_of_the_examples_have_room_and_sheets_say_what_is_near(key, candidate):
    project = library.example(key)
    chosen = project.candidate(candidate)
    for patch in chosen.patches:
        assert lead_run(project.structure, project.packages, chosen, patch).free_m >= RELIEF_M
    shown = [all_words(project, candidate, predict(project, candidate).remarks)]
    assert all("strain relief 10 from the package" in text for text in shown)
    assert not any("Choose another exit" in text for text in shown)


def test_the_ring_without_bolts_names_the_clamp_that_is_nearer():
    assert "Nearer by design: the support 1.0 from P1." in all_words(LAB, "A")


def test_remarks_for_the_designer_stay_off_every_paper():
    (patch,) = LAB.candidate("A").patches
    wrong = edit.with_patch(LAB, "A", replace(patch, lead_exit="towards root"))
    found = predict(wrong, "A")
    assert any("Choose another exit" in r.text for r in found.remarks if r.for_designer)
    order = Order(wrong, "A")
    for which in KINDS:
        if which.needs == "nothing":
            assert not any("Choose another exit" in words_of(d) for d in which.draw(order))
    text = all_words(wrong, "A", found.remarks)
    assert "Choose another exit" not in text
    assert "no room for the strain relief 10 from the package (the support after 1.0)" in text


def test_no_sheet_for_a_package_in_the_clamp():
    (patch,) = LAB.candidate("A").patches
    with pytest.raises(SheetError, match=r"reaches 4\.0 mm past the support"):
        placement_diagram(edit.with_patch(LAB, "A", replace(patch, x_start_m=0.0)), "A")


def test_the_mirrored_part_has_a_sheet_under_a_number_of_its_own():
    (patch,) = LAB.candidate("A").patches
    small = edit.with_patch(LAB, "A", replace(patch, width_m=0.01, y_m=0.004))
    bolted = edit.with_structure(small, cut_outs=(CutOut("hole", 0.2, 0.006, 0.004),))
    drawn, other = (
        " ".join(words_of(d) for d in kind(k).draw(Order(bolted, "A"))) for k in ("sheet", "mirrored-sheet")
    )
    assert "QS-0001-M-A" in other and "QS-0001-M" not in drawn
    assert "MIRRORED PART, not the part as drawn (QS-0001-A)." in other and "AS DRAWN" not in other
    assert "AS DRAWN" in drawn
    made = mirrored_order(bolted)
    (placed,) = make_subject(made, "A", "top").placed
    assert placed.patch.y_m == -0.004 and made.structure.cut_outs[0].y_m == -0.006
    assert nearest_edge(make_subject(made, "A", "top"), placed)[1] == pytest.approx(-4.0)
    named = edit.with_sheet(bolted, mirrored_number="QS-0042")
    assert "QS-0042" in words_of(kind("mirrored-sheet").draw(Order(named, "A"))[0])


def test_the_hole_measured_from_is_drawn_and_kept_free():
    from core.handover.drawing.items import Circle

    (patch,) = LAB.candidate("A").patches
    hole = DatumFeature("dowel hole", 0.2, True, 0.005, 0.004)
    dowel = edit.with_sheet(edit.with_structure(LAB, datums=(*LAB.structure.datums, hole)), datum="dowel hole")
    sheet = placement_diagram(dowel, "A")
    circles = [item for item in sheet.items if isinstance(item, Circle)]
    assert len(circles) == len([i for i in placement_diagram(LAB, "A").items if isinstance(i, Circle)]) + 1
    over = edit.with_patch(dowel, "A", replace(patch, x_start_m=0.18))
    with pytest.raises(SheetError, match='lies over the hole "dowel hole"'):
        placement_diagram(over, "A")
