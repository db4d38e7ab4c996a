"""The papers as a person uses them: type, look, export, take back."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from pypdf import PdfReader
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QGuiApplication, QWheelEvent
from PySide6.QtWidgets import QPushButton

from app.fields import ChoiceField, QuantityField, TextField
from app.handover.papers import Papers
from app.shell.session import Session
from app.shell.settings import Settings
from core.handover.drawing.items import Text
from core.handover.drawing.strokes import strokes
from core.handover.releases import next_index
from core.handover.sheet.tolerances import room_words
from core.project.sheet import Revision
from core.project.structure import DatumFeature
from tests.levels import beam_example


@pytest.fixture
def dialog(qtbot, session) -> Papers:
    return opened(qtbot, session)


def opened(qtbot, session: Session) -> Papers:
    made = Papers(session)
    qtbot.addWidget(made)
    with qtbot.waitExposed(made):
        made.show()
    return made


def sheet_words(dialog: Papers, page: int = 0) -> str:
    items = dialog.drawings()[page].items
    return " ".join(p.text for item in items for p in strokes(item) if isinstance(p, Text))


def press(qtbot, dialog: Papers, name: str) -> None:
    qtbot.mouseClick(dialog.findChild(QPushButton, name), Qt.MouseButton.LeftButton)


def retype(qtbot, field, text: str) -> None:
    field.selectAll()
    qtbot.keyClicks(field, text)


def test_the_preview_follows_while_typing(qtbot, dialog):
    field = dialog.findChild(TextField, "field Title")
    retype(qtbot, field, "Left strip")
    qtbot.waitUntil(lambda: "Left strip" in sheet_words(dialog))
    assert dialog.session.undo_stack.count() == 0


def test_each_field_that_is_done_is_a_step_that_can_be_undone(qtbot, dialog):
    before = dialog.session.project
    title = dialog.findChild(TextField, "field Title")
    retype(qtbot, title, "Left strip")
    qtbot.keyClick(title, Qt.Key.Key_Return)
    titled = dialog.session.project
    tolerance = dialog.findChild(QuantityField, "field Tolerance along")
    retype(qtbot, tolerance, "0.02in")
    qtbot.keyClick(tolerance, Qt.Key.Key_Return)
    sheet = dialog.session.project.sheet
    assert (sheet.title, sheet.tolerance_x_m) == ("Left strip", pytest.approx(0.000508))
    assert [dialog.session.undo_stack.text(n) for n in range(dialog.session.undo_stack.count())] == ["Edit papers"] * 2
    dialog.session.undo_stack.undo()
    assert dialog.session.project == titled
    dialog.session.undo_stack.undo()
    assert dialog.session.project == before


def test_a_tolerance_that_is_cleared_is_told_and_kept(qtbot, dialog):
    before = sheet_words(dialog)
    root = dialog.form._tolerances["tolerance_x_root_m"]
    for text, wanted in (("0.2", 0.0002), ("", None)):
        root.selectAll()
        qtbot.keyClick(root, Qt.Key.Key_Delete)
        qtbot.keyClicks(root, text)
        qtbot.keyClick(root, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda shows=not text: (sheet_words(dialog) == before) is shows)
        assert dialog.session.project.sheet.tolerance_x_root_m == (None if wanted is None else pytest.approx(wanted))


def test_the_form_follows_a_patch_that_is_moved(dialog):
    """It told the room where the patch had been when the papers were opened."""
    session = dialog.session
    before = dialog.form.room.text()
    active = session.project.candidate()
    moved = replace(active, patches=(replace(active.patches[0], x_start_m=0.2495),))
    session.apply("Move", replace(session.project, candidates=(moved, *session.project.candidates[1:])))
    dialog.refresh()
    assert dialog.form.room.text() == "\n".join(room_words(session.project, None)) != before


def test_only_touchable_datums_are_offered(qtbot, dialog):
    datum = dialog.findChild(ChoiceField, "field Datum A")
    offered = [datum.itemText(n) for n in range(datum.count())]
    assert any("free end" in text for text in offered)
    assert not any("clamp line" in text for text in offered)


def test_another_datum_moves_the_dimensions(qtbot, session):
    structure = session.project.structure
    with_hole = replace(structure, datums=(*structure.datums, DatumFeature("dowel hole", 0.1)))
    session.replace(replace(session.project, structure=with_hole), None)
    dialog = opened(qtbot, session)
    assert "A to P1 241.0" in sheet_words(dialog)
    datum = dialog.findChild(ChoiceField, "field Datum A")
    datum.setFocus()
    qtbot.keyClick(datum, Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: "A to P1 41.0" in sheet_words(dialog))


def test_without_a_touchable_datum_the_preview_says_what_to_do(qtbot, session, tmp_path):
    structure = replace(session.project.structure, datums=())
    sheet = replace(session.project.sheet, datum=None)
    session.replace(replace(session.project, structure=structure, sheet=sheet), None)
    dialog = opened(qtbot, session)
    assert "Add a datum feature that a person can touch" in dialog.preview.words()
    assert not dialog.findChild(QPushButton, "exportPDF").isEnabled()
    assert not dialog.export(tmp_path / "sheet.pdf")
    assert "Add a datum feature" in dialog.errors.problem()
    assert not list(tmp_path.glob("*.pdf"))


def test_export_writes_remembers_the_folder_and_keeps_the_edits(qtbot, dialog, tmp_path):
    retype(qtbot, dialog.findChild(TextField, "field Title"), "Left strip")
    assert dialog.export(tmp_path / "left.pdf")
    assert "Left strip" in PdfReader(tmp_path / "left.pdf").pages[0].extract_text()
    assert "left.pdf written" in dialog.said.text()
    assert dialog.session.project.sheet.title == "Left strip"
    assert Settings().sheet_folder == tmp_path


def test_an_export_that_fails_is_told_beside_the_buttons(dialog, tmp_path):
    assert not dialog.export(tmp_path / "nowhere" / "sheet.svg")
    assert "is not there" in dialog.errors.problem()
    assert dialog.session.undo_stack.count() == 0


def test_nothing_is_exported_while_a_field_is_wrong(qtbot, dialog, tmp_path):
    tolerance = dialog.findChild(QuantityField, "field Tolerance along")
    retype(qtbot, tolerance, "-1")
    qtbot.keyClick(tolerance, Qt.Key.Key_Return)
    assert not dialog.export(tmp_path / "sheet.pdf")
    assert "Mend it first" in dialog.errors.problem()


def test_a_revision_needs_a_reason_and_counts_on(qtbot, dialog):
    add = dialog.findChild(QPushButton, "addRevision")
    assert not add.isEnabled()
    qtbot.keyClicks(dialog.findChild(TextField, "field Reason of the revision"), "moved 4 mm for mode 1")
    press(qtbot, dialog, "addRevision")
    qtbot.waitUntil(lambda: "moved 4 mm for mode 1" in sheet_words(dialog))
    assert [r.index for r in dialog.session.project.sheet.revisions] == ["A", "B"]


def test_a_revision_typed_and_entered_is_not_lost(qtbot, dialog):
    reason = dialog.findChild(TextField, "field Reason of the revision")
    qtbot.keyClicks(reason, "typo in the title")
    qtbot.keyClick(reason, Qt.Key.Key_Return)
    assert dialog.form.sheet().revisions[-1].reason == "typo in the title"
    assert dialog.isVisible()


@pytest.mark.parametrize(("last", "then"), [("A", "B"), ("Z", "AA"), ("AZ", "BA"), ("3", "4"), ("-", "A")])
def test_revision_indices_count_on(last, then):
    assert next_index((Revision(last, "", ""),)) == then


def test_both_faces_can_be_looked_at(qtbot, session):
    session.replace(beam_example("gantry-bracket"), None)
    dialog = opened(qtbot, session)
    assert "top face" in dialog.preview.drawing().title
    for _ in range(4):
        if "underside face" not in dialog.preview.drawing().title:
            press(qtbot, dialog, "nextSheet")  # past the notes of the top face
    assert "underside face" in dialog.preview.drawing().title and dialog.preview.drawing().views


def test_the_picture_goes_to_the_clipboard_at_print_resolution(qtbot, dialog):
    press(qtbot, dialog, "copyPicture")
    image = QGuiApplication.clipboard().image()
    assert (image.width(), image.height()) == (3508, 2480)


def test_the_wheel_enlarges_and_a_double_click_fits(qtbot, dialog):
    preview = dialog.preview
    zooms = []
    preview.zoom_changed.connect(zooms.append)
    event = QWheelEvent(
        QPointF(200, 150), preview.mapToGlobal(QPointF(200, 150)), QPoint(), QPoint(0, 240),
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    preview.wheelEvent(event)
    assert zooms[-1] > 1.0
    qtbot.mouseDClick(preview, Qt.MouseButton.LeftButton)
    assert zooms[-1] == 1.0
