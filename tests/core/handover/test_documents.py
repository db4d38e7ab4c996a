"""Cards and records: complete, for their reader only, never crashing on what a person may enter."""

from __future__ import annotations

import re
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from core.handover.documents import KINDS, Kind, Order, Results, kind, markdown_of
from core.handover.drawing.items import Dimension, Drawing, Polyline, SheetError, Text
from core.handover.drawing.lettering import text_box
from core.handover.drawing.strokes import strokes
from core.handover.sheet.diagram import placement_diagrams
from core.handover.sheet.subject import make_subject
from core.handover.template.template_part import region, template_items
from core.handover.text.document import Table
from core.handover.text.results import compute_results
from core.project import edit, library
from core.project.model import Project
from core.project.structure import DatumFeature, GroundSpring, KeepOut, Outline, PointMass
from tests.core.handover.sheet_scenes import lab, patch, scenes, with_patches
from tests.levels import beam_example

TEXTS = tuple(k for k in KINDS if k.write is not None)
SHOP_ONLY = ("process", "purchasing")
RESULTS = re.compile(r"\bdB\b|K²|damping ratio|mode shape", re.IGNORECASE)


def order_of(project: Project, which: Kind) -> Order:
    return Order(project, project.active, compute_results(project, project.active, which.needs))


def words(drawings: tuple[Drawing, ...]) -> str:
    return " ".join(p.text for d in drawings for i in d.items for p in strokes(i) if isinstance(p, Text))


@cache
def results_of(key: str) -> Results:
    """All that any document of an example needs, worked out once; the half board at the level of beams, as it costs most."""
    project = example(key)
    return compute_results(project, project.active, "all candidates")


def example(key: str) -> Project:
    return beam_example(key) if key == "half-board" else library.example(key)


@pytest.fixture(scope="module", params=[f"{key}|{k.key}" for key, _ in library.examples() for k in TEXTS])
def made(request) -> tuple[Order, Kind, tuple[Drawing, ...]]:
    key, which = request.param.split("|")
    project = example(key)
    order = Order(project, project.active, Results() if kind(which).needs == "nothing" else results_of(key))
    return order, kind(which), kind(which).draw(order)


@pytest.mark.parametrize("which", TEXTS, ids=lambda k: k.key)
def test_a_document_says_the_same_of_what_it_needs_alone(which):
    """Results worked out for another document beside its own change nothing."""
    project = example("half-board")
    alone, every = order_of(project, which), Order(project, project.active, results_of("half-board"))
    if which.needs != "nothing":
        assert markdown_of(alone, which) == markdown_of(every, which)


def test_each_page_names_itself_and_keeps_inside_the_paper(made):
    order, which, pages = made
    for n, page in enumerate(pages, start=1):
        text = words((page,))
        assert f"page {n} of {len(pages)}" in text and order.project.sheet.number in text
        boxes = [text_box(p) for i in page.items for p in strokes(i) if isinstance(p, Text)]
        assert min(b[0] for b in boxes) > 10 and max(b[2] for b in boxes) < page.width_mm - 5
        assert min(b[1] for b in boxes) > 10 and max(b[3] for b in boxes) < page.height_mm - 8
    if which.key == "record":
        assert len(pages) <= 2


def test_markdown_says_what_the_pages_say(made):
    order, which, pages = made
    text = markdown_of(order, which)
    headings = re.findall(r"^## (.*)$", text, re.MULTILINE)
    assert headings and all(h.replace("\\", "") in words(pages) for h in headings)
    for line in (row for row in text.splitlines() if row.startswith("|")):
        assert line.endswith("|")


def test_validity_remarks_stay_on_every_document(made):
    order, which, pages = made
    text = words(pages)
    if which.key in (*SHOP_ONLY, "parts") and order.remarks:  # their words tell results, so they are counted there
        assert re.search(rf"{len(order.remarks)} remarks? on the validity of the prediction", text)
        return
    for remark in order.remarks:
        assert " ".join(remark.text.split()[:4]) in text


def test_shop_and_buyer_see_no_result(made):
    _, which, pages = made
    if which.key in SHOP_ONLY:
        assert RESULTS.search(words(pages)) is None


def test_the_circuit_card_has_what_a_bench_needs():
    which = kind("circuit")
    text = words(which.draw(order_of(library.example("touring-ski"), which)))
    for needed in ("Trim range", "Blocked", "Seen by mode 1", "TUNED WITH THIS ONE", "cold, ", "hot, ",
                   "10.0 MΩ across the leads", "Touch:", "dot to +", "energy"):  # fmt: skip
        assert needed in text, needed


def test_the_purchasing_sheet_counts_and_points_to_current_law():
    project = library.example("gantry-bracket")
    project = replace(project, sheet=replace(project.sheet, parts=10))
    which = kind("purchasing")
    text = words(which.draw(order_of(project, which)))
    assert "check current status" in text and "7(c)-I" in text and "shelf life" in text
    # a pair is two packages a part: 20 for ten parts, and two spare
    assert re.search(r"P1 2 10 20 22", text)


def test_the_process_card_repeats_the_diagram():
    which = kind("process")
    text = words(which.draw(order_of(lab(), which)))
    assert "A to P1 241.0 ± 1.0" in text and "B to P1 15.0 ± 2.0" in text
    assert "60.2 to 90.3 nF" in text and "Press the tip down" in text


def test_the_record_refuses_what_cannot_be_predicted():
    with pytest.raises(SheetError, match="has no prediction: mend its inputs"):
        kind("record").draw(Order(lab(), "A"))
    with pytest.raises(SheetError, match="is a drawing"):
        markdown_of(Order(lab(), "A"), kind("sheet"))


def test_a_candidate_that_cannot_be_predicted_is_named_in_the_record():
    project = lab()
    broken = replace(project.candidate("B"), patches=(patch(project, id="P1", x_start_m=0.29),))
    project = replace(project, candidates=(project.candidate("A"), broken, project.candidate("C")))
    which = kind("record")
    assert "Not shown: B (cannot be predicted as entered)." in words(which.draw(order_of(project, which)))


texts = st.text(st.characters(blacklist_categories=("Cs",)), max_size=60)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(title=texts, question=texts, adhesive=texts, source=texts, parts=st.integers(0, 10**6),
       scene=st.sampled_from(sorted(scenes())), which=st.sampled_from(("process", "purchasing", "sheet")))  # fmt: skip
def test_whatever_is_written_gives_a_document_or_a_sentence(
    title, question, adhesive, source, parts, scene, which
):
    project = scenes()[scene]
    project = replace(project, sheet=replace(
        project.sheet, title=title, question=question, adhesive=adhesive, tolerance_source=source, parts=parts,
    ))  # fmt: skip
    order = Order(project, project.active)
    try:
        assert kind(which).draw(order)
        if kind(which).write:
            assert markdown_of(order, kind(which))
    except SheetError as error:
        assert str(error).endswith(".")


# ---- what the diagram shows of the part -------------------------------------------------------


def test_masses_features_and_edge_distance_are_on_the_diagram():
    project = lab()
    structure = replace(
        project.structure,
        masses=(PointMass("sensor", 0.25, 0.002),),
        datums=(*project.structure.datums, DatumFeature("dowel hole", 0.15)),
    )
    text = words(placement_diagrams(replace(project, structure=structure)))
    assert "sensor, ref." in text and "dowel hole, ref." in text
    # the package's own side margin counts, not that of its ends: 25 + 2 x 2.5 on a part of 30
    assert "package 58.0 x 30.0" in text and "Package from the nearest long edge (0.0)." in text


def test_springs_to_ground_stand_on_the_diagram():
    project = lab()
    plain = placement_diagrams(project)[0]
    structure = replace(project.structure, springs=(GroundSpring("rubber foot", 0.2, 1e4),))
    drawn = placement_diagrams(replace(project, structure=structure))[0]
    assert "rubber foot, ref." in words((drawn,))
    assert len([i for i in drawn.items if getattr(i, "layer", "") == "support"]) > len(
        [i for i in plain.items if getattr(i, "layer", "") == "support"]
    )


def outlined(*ring):
    project = lab()
    kept = replace(project.structure, outline=Outline(tuple(ring), (), "drawing 2"), keep_outs=())
    return replace(project, structure=kept)


def test_datum_b_is_the_straight_edge_of_the_true_outline():
    # only the left edge is straight; the axis lies nearer to it than the middle of the part
    crooked = outlined((0, -0.02), (0.1, -0.03), (0.2, -0.02), (0.3, -0.025), (0.3, 0.016), (0, 0.016))
    sheets = placement_diagrams(crooked)
    drawn = sheets[0]
    assert "B: long edge on the left, looking from root to tip, top face up." in words(sheets)
    across = [d for d in drawn.items if isinstance(d, Dimension) and d.axis == "y"]
    assert [d.value_mm for d in across] == [pytest.approx(16.0)]
    assert "Package from the nearest long edge (1.0)." in words(sheets)


def test_zones_and_flap_reach_the_true_edges():
    part = outlined((0, -0.02), (0.3, -0.03), (0.3, 0.016), (0, 0.016))
    zone = KeepOut("band", "top", 0.15, 0.3)
    subject = make_subject(edit.with_structure(part, keep_outs=(zone,)), "A", "top")
    corners = [(round(x, 6), round(y, 6)) for x, y in subject.zone_corners(zone)]
    assert corners == [(150, -25), (300, -30), (300, 16), (150, 16)]
    flap = next(i for i in template_items(subject, region(subject)) if getattr(i, "layer", "") == "datum")
    assert sorted({round(y, 6) for _, y in flap.points}) == [-16.0, 30.0]


def test_without_a_straight_edge_the_axis_is_told_by_where_it_runs():
    bent = outlined((0, -0.02), (0.3, -0.03), (0.3, 0.018), (0.15, 0.03), (0, 0.016))
    text = words(placement_diagrams(bent))
    assert "B: line 20.0 off the right edge at the root end and 30.0 off it at the tip end" in text
    even = outlined((0, -0.02), (0.3, -0.016), (0.3, 0.016), (0, 0.02))
    assert "B: centreline between the two long edges." in words(placement_diagrams(even))


def test_the_record_of_a_process_card_has_a_row_for_every_package():
    project = lab()
    for parts, rows, told in ((50, 50, False), (500, 60, True)):
        card = kind("process").write(Order(replace(project, sheet=replace(project.sheet, parts=parts)), "A"))
        table = next(b for b in card.blocks if isinstance(b, Table) and b.heads[0] == "Part, package")
        assert len(table.rows) == rows
        assert any("copy the pages" in getattr(b, "text", "") for b in card.blocks) is told


def test_the_true_outline_is_drawn_where_there_is_one():
    project = lab()
    bow = ((0.0, -0.015), (0.15, -0.017), (0.3, -0.015), (0.3, 0.015), (0.0, 0.015))
    hole = ((0.2, -0.003), (0.206, -0.003), (0.206, 0.003), (0.2, 0.003))
    outline = Outline(bow, (hole,), "drawing 1")
    project = replace(project, structure=replace(project.structure, outline=outline))
    drawing = placement_diagrams(project)[0]
    view = drawing.views[0]
    points = {(round(x, 6), round(y, 6)) for i in drawing.items
              if isinstance(i, Polyline) and i.layer == "part" for x, y in i.points}  # fmt: skip
    for corner in (*bow, *hole):
        x, y = view.at(1e3 * corner[0], 1e3 * corner[1])
        assert (round(x, 6), round(y, 6)) in points
    assert kind("template").draw(Order(project, "A"))


def test_two_groups_side_by_side_have_a_card():
    project = scenes()["side by side"]
    which = kind("circuit")
    assert "P1 dot, P2 dot, P3 dot to +" in words(which.draw(order_of(project, which)))
    pair = with_patches(lab(), patch(lab(), face="both"))
    assert "CIRCUIT CARD" in words(which.draw(order_of(pair, which)))


def test_no_word_of_a_columns_head_is_cut(made):
    """"Package" stood there as "Packag" over "e"."""
    order, which, pages = made
    whole = set(words(pages).split())
    heads = [head for block in which.write(order).blocks if isinstance(block, Table) for head in block.heads]
    assert not [word for head in heads for word in head.split() if word not in whole]


def test_a_candidate_without_a_name_of_its_own_is_called_by_its_letter_once():
    project = library.blank_project()
    project = edit.add_patch(project, project.active)
    for key in ("process", "record", "circuit"):
        which = kind(key)
        told = words(which.draw(order_of(project, which)))
        assert "A A" not in told
