"""The decision record says whether the target is met, what the choice exceeds, and what it leaves out."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.handover.text.decision_record import MOST_LIMITS, decision_record
from core.handover.text.document import Caution, Figure, Paragraph, Table
from core.handover.text.shop import WRITE
from core.predict.asked import answer
from core.predict.predict import predict
from core.project import library
from core.project.edit import add_patch
from core.project.service import Asked, StaticForce


def record(project, candidate_id="A"):
    found = {c.id: predict(project, c.id) for c in project.candidates}
    return decision_record(project, candidate_id, found), found


def paragraphs(document):
    return [block.text for block in document.blocks if isinstance(block, Paragraph)]


def row(document, label):
    table = next(b for b in document.blocks if isinstance(b, Table) and any(r[0] == label for r in b.rows))
    return next(r for r in table.rows if r[0] == label)


@pytest.mark.parametrize("key", ["touring-ski", "louvre-blade", "gantry-bracket"])
def test_the_record_judges_each_candidate_by_what_was_asked_for(key):
    project = library.example(key)
    document, found = record(project)
    told = row(document, "What was asked for")[1:]
    for candidate, text in zip(project.candidates, told, strict=True):
        met = answer(project, candidate.id, found[candidate.id]).met
        assert text.startswith({True: "met", False: "missed", None: "not judged"}[met])
    assert any(text.startswith("Asked for: ") and "missed" in text for text in paragraphs(document))


def test_without_a_target_nothing_is_judged():
    project = library.example("lab-beam")
    project = replace(project, service=replace(project.service, asked=Asked()))
    document, _ = record(project)
    assert any(text.startswith("No target is entered") for text in paragraphs(document))
    assert not any(r[0] == "What was asked for" for b in document.blocks if isinstance(b, Table) for r in b.rows)


def test_exceeded_limits_stand_beside_the_choice():
    project = library.example("lab-beam")
    heavy = replace(project, service=replace(project.service, static_forces=(StaticForce("a foot", 80.0),)))
    document, found = record(heavy)
    broken = [limit.name for limit in found["A"].limits if limit.margin < 1.0]
    (caution,) = (b for b in document.blocks if isinstance(b, Caution))
    assert broken and all(name in caution.items[0] for name in broken)
    assert "× the limit" in caution.items[0]
    assert broken[0] in row(document, "Limits exceeded")[1]


def test_limits_left_out_are_counted():
    project = library.example("touring-ski")
    document, found = record(project)
    rest = len(found["A"].limits) - MOST_LIMITS
    assert rest > 0
    assert any(text.startswith(f"And {rest} more") for text in paragraphs(document))


def test_a_new_projects_question_is_a_line_to_write_on():
    project = add_patch(library.blank_project(), "A")
    document, _ = record(project)
    assert paragraphs(document)[0] == WRITE
    assert project.notes == ""


def test_layouts_are_drawn_and_no_row_is_empty():
    document, _ = record(library.example("louvre-blade"))
    sketch = next(b for b in document.blocks if isinstance(b, Figure))
    assert sketch.words[2].startswith("C: P1 ") and "underside" in sketch.words[2]
    for block in document.blocks:
        if isinstance(block, Table) and block.heads[0] == "":
            assert all(any(cells[1:]) for cells in block.rows)


def test_the_decay_shown_is_of_the_mode_the_load_drives():
    ring = predict(library.example("louvre-blade"), "A").ring_down
    assert ring.start == "mode 2 let go"
    assert len(ring.time_s) > 2 and max(abs(ring.before)) == pytest.approx(1.0, rel=0.02)
