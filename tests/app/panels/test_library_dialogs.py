"""The lists of materials and packages: their forms stand in columns."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint

from app.panels.bound import BoundRow
from app.panels.library_dialog import LibraryDialog
from app.panels.materials_dialog import MaterialsDialog
from app.panels.packages_dialog import PackagesDialog
from app.shell.session import Session
from core.project import library


@pytest.mark.parametrize("dialog", [MaterialsDialog, PackagesDialog])
def test_fields_stand_below_each_other_however_long_their_labels(qtbot, dialog):
    session = Session(library.example("touring-ski"))
    shown: LibraryDialog = dialog(session)
    qtbot.addWidget(shown)
    shown.resize(960, 600)
    shown.show()
    qtbot.waitExposed(shown)
    rows = shown.findChildren(BoundRow)
    starts = {row.field.mapTo(shown, QPoint(0, 0)).x() for row in rows if row.isVisibleTo(shown)}
    assert len(rows) > 5 and len(starts) == 1
    for row in rows:
        assert row.caption.height() >= row.caption.heightForWidth(row.caption.width())
    session.deleteLater()
