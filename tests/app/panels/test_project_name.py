"""The project's name is set in the window, and names its documents and files."""

from __future__ import annotations

from msgspec.structs import replace

from app.handover.write import file_stem
from core.handover.documents import Order, kind
from core.handover.sheet.identity import title_of


def test_a_typed_name_titles_documents_and_files(session, row_of, type_into):
    sheet = replace(session.project.sheet, title="", number="")
    session.apply("Clear the title block", replace(session.project, sheet=sheet))
    type_into(row_of("name").field, "Rear shelf")
    assert session.project.name == "Rear shelf"
    assert session.undo_stack.undoText() == "Rename project"
    project = session.project
    assert title_of(project, project.candidate()).startswith("Rear shelf: A")
    assert file_stem(kind("sheet"), Order(project, "A")).startswith("rear-shelf-a-")
    session.undo_stack.undo()
    assert session.project.name != "Rear shelf"
