"""The hand-over dialog with all its documents: choose, reprint, release, see changes, export all."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from pypdf import PdfReader
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QTableWidget

from app.fields import QuantityField, TextField
from app.handover.papers import Papers
from core.handover.documents import KINDS
from core.handover.drawing.items import Text
from core.handover.drawing.strokes import strokes


@pytest.fixture
def dialog(qtbot, session):
    made = Papers(session)
    qtbot.addWidget(made)
    with qtbot.waitExposed(made):
        made.show()
    yield made
    made.close_jobs()


def words(dialog: Papers, page: int = 0) -> str:
    items = dialog.drawings()[page].items
    return " ".join(p.text for item in items for p in strokes(item) if isinstance(p, Text))


def choose(qtbot, dialog: Papers, key: str) -> None:
    field = dialog.bar.document
    field.setFocus()
    target = [k.key for k in KINDS].index(key)
    while field.currentIndex() != target:
        qtbot.keyClick(field, Qt.Key.Key_Down if field.currentIndex() < target else Qt.Key.Key_Up)
    qtbot.waitUntil(lambda: bool(dialog.drawings()), timeout=20000)


def press(qtbot, dialog: Papers, name: str) -> None:
    qtbot.mouseClick(dialog.findChild(QPushButton, name), Qt.MouseButton.LeftButton)


def test_every_document_is_drawn_and_offers_its_formats(qtbot, dialog):
    heads = {
        "template": "1:1 TEMPLATE", "process": "PROCESS CARD", "purchasing": "PURCHASING AND COMPLIANCE",
        "circuit": "CIRCUIT CARD", "parts": "PARTS LIST", "netlist": "NETLIST", "test": "TEST CARD", "bonding": "BONDING RECORD", "record": "DECISION RECORD", "sheet": "PLACEMENT DIAGRAM",
        "mirrored-sheet": "MIRRORED PART", "mirrored-template": "MIRRORED PART",
    }  # fmt: skip
    for which in (*KINDS[1:], KINDS[0]):
        choose(qtbot, dialog, which.key)
        assert heads[which.key] in words(dialog)
        for label, suffix in (("PDF", "pdf"), ("SVG", "svg"), ("PNG", "png"), ("DXF", "dxf"), ("Markdown", "md"), ("CSV", "csv"), ("netlist", "cir")):
            assert dialog.findChild(QPushButton, f"export{label}").isVisible() == (suffix in which.formats)
    assert dialog.session.undo_stack.count() == 0


def test_what_the_bar_measures_gives_a_corrected_template(qtbot, dialog, tmp_path):
    choose(qtbot, dialog, "template")
    field = dialog.findChild(QuantityField, "field Printed bar along")
    assert field.isVisible()
    qtbot.keyClicks(field, "199,2")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert "corrected x 1.0040" in words(dialog)
    assert dialog.export(tmp_path / "again.pdf")
    assert "corrected x 1.0040" in PdfReader(tmp_path / "again.pdf").pages[0].extract_text()


def test_pages_are_turned_both_ways(qtbot, dialog):
    choose(qtbot, dialog, "template")
    first = dialog.preview.drawing().title
    press(qtbot, dialog, "nextSheet")
    assert "tile 2 of 2" in dialog.preview.drawing().title
    press(qtbot, dialog, "previousSheet")
    assert dialog.preview.drawing().title == first


def test_a_released_revision_is_frozen_and_later_changes_are_listed(qtbot, dialog):
    session = dialog.session
    qtbot.keyClicks(dialog.findChild(TextField, "field Connector lands at"), "the bench end")
    qtbot.keyClicks(dialog.findChild(TextField, "field Reason of the revision"), "moved to the clamp")
    press(qtbot, dialog, "addRevision")
    (frozen,) = session.project.releases
    assert (frozen.index, frozen.reason) == ("B", "moved to the clamp")
    assert frozen.sheet.connector_place == "the bench end"
    assert session.project.sheet.date == frozen.date
    active = session.project.candidate()
    moved = replace(active, patches=(replace(active.patches[0], x_start_m=0.009),))
    session.apply("Move patch", replace(session.project, candidates=(moved, *session.project.candidates[1:])))
    dialog.show()
    dialog.refresh()
    dialog.show_changes()
    table = dialog.findChild(QTableWidget, "changesTable")
    cells = [table.item(0, k).text() for k in range(3)]
    assert cells == ["P1 ceramic starts at", "5 mm", "9 mm"] and table.rowCount() == 1
    assert "B, changed" in words(dialog)
    session.undo_stack.undo()
    session.undo_stack.undo()
    assert session.project.releases == ()


def test_all_documents_go_into_a_folder(qtbot, dialog, tmp_path):
    with qtbot.waitSignal(dialog.everything.ended, timeout=60000):
        dialog.export_all(tmp_path)
    assert dialog.errors.problem() == ""
    names = sorted(p.name for p in tmp_path.iterdir() if p.is_file())
    drawn = sorted((n for n in names if n.endswith((".dxf", ".svg"))), key=lambda n: n[-3:])
    assert drawn == [
        f"qs-0001-a-placement-diagram-a-{n}.{suffix}" for suffix in ("dxf", "svg") for n in (1, 2)
    ]  # fmt: skip
    whole = [which for which in KINDS if not which.on_request]
    assert sum(n.endswith(".pdf") for n in names) == len(whole) and sum(n.endswith(".md") for n in names) == 8
    assert [n.rpartition(".")[2] for n in names if n.endswith((".csv", ".cir"))] == ["cir", "csv"]
    assert f"{len(names)} files written" in dialog.said.text()
    assert not dialog.everything.isVisible()


def test_an_export_can_be_stopped(qtbot, dialog, tmp_path):
    dialog.export_all(tmp_path)
    assert dialog.everything.isVisible()
    press(qtbot, dialog, "stopExport")
    assert not dialog.everything.isVisible()
    assert "Stopped" in dialog.errors.problem()
    assert dialog.findChild(QPushButton, "exportAll").isEnabled()


def test_a_tolerance_typed_by_hand_loses_the_name_of_its_study(qtbot, session):
    sheet = replace(session.project.sheet, tolerance_source="the allowed placement error of P1 for mode 1")
    session.replace(replace(session.project, sheet=sheet), None)
    dialog = Papers(session)
    qtbot.addWidget(dialog)
    assert "tolerances from the allowed placement error of P1" in words(dialog)
    field = dialog.findChild(QuantityField, "field Tolerance along")
    field.selectAll()
    qtbot.keyClicks(field, "0.5")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    dialog.refresh()
    assert "A to P1 241.0 ± 0.5" in words(dialog) and "tolerances from" not in words(dialog)
    dialog.close_jobs()
