"""A stranger's file cannot make the window read its texts as markup: every text is shown as it was typed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QHelpEvent
from PySide6.QtGui import Qt as GuiQt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QLabel,
    QMessageBox,
    QTableView,
    QTextEdit,
    QToolTip,
    QWidget,
)

from app.fields.plain import plain
from app.panels.input_panel import EDITORS
from app.shell import recovery
from core.project import store
from core.project.model import Project
from tests.app.conftest import discard_changes, message
from tests.levels import beam_example

pytestmark = pytest.mark.slow  # walks everything; CI does

TAG = "<img src='planted.png'>"


def planted(project: Project) -> Project:
    """The project with a picture tag before every text that a person may type, references kept."""
    kept = {"id", "active", "date", "index", "paper", "fingerprint", "patch", "output_patch", "unit", "kind"}

    def plant(value: Any, kind: Any, name: str = "") -> Any:
        if isinstance(value, msgspec.Struct):
            fields = {f.name: f.type for f in msgspec.structs.fields(type(value))}
            return msgspec.structs.replace(
                value, **{n: plant(getattr(value, n), t, n) for n, t in fields.items()}
            )
        if isinstance(value, tuple):
            return tuple(plant(item, None, name) for item in value)
        if isinstance(value, dict):
            return {k: plant(item, None, "") for k, item in value.items()}
        if isinstance(value, str) and kind is not None and "Literal" not in str(kind) and name not in kept:
            return TAG + value
        return value

    made = plant(project, Project)
    assert store.loads(store.dumps(made)) == made
    assert str(msgspec.to_builtins(made)).count(TAG) > 60
    return made


def reads_as_markup(text: str) -> bool:
    return GuiQt.mightBeRichText(text)


def shown_texts(root: QWidget) -> Iterator[tuple[str, str, bool]]:
    """(where, text, would it be read as markup) of labels, tool tips and text views of a window."""
    for widget in (root, *root.findChildren(QWidget)):
        where = f"{type(widget).__name__} {widget.objectName()}"
        yield f"tip of {where}", widget.toolTip(), reads_as_markup(widget.toolTip())
        if isinstance(widget, QLabel):
            kind = widget.textFormat()
            rich = kind == Qt.TextFormat.RichText or (
                kind == Qt.TextFormat.AutoText and reads_as_markup(widget.text())
            )
            yield where, widget.text(), rich
        elif isinstance(widget, QTextEdit):
            yield where, widget.toHtml(), True
        elif isinstance(widget, QAbstractItemView) and widget.model() is not None:
            model = widget.model()
            for row in range(min(model.rowCount(), 60)):
                for column in range(model.columnCount() if isinstance(widget, QTableView) else 1):
                    tip = model.index(row, column).data(Qt.ItemDataRole.ToolTipRole) or ""
                    yield f"tip in {where}", str(tip), reads_as_markup(str(tip))


def pointed_texts(root: QWidget) -> Iterator[tuple[str, str]]:
    """Tool tips that painted widgets show where the pointer rests."""
    for widget in root.findChildren(QWidget):
        if not widget.isVisible() or widget.window() is not root.window():
            continue
        if type(widget).event is QWidget.event and not hasattr(type(widget), "mouseMoveEvent"):
            continue
        if "app." not in type(widget).__module__:
            continue
        for x in range(20, QWidget.width(widget), 130):
            for y in range(8, min(QWidget.height(widget), 900), 30):
                at = QPoint(x, y)
                QToolTip.hideText()
                QApplication.sendEvent(widget, QHelpEvent(QEvent.Type.ToolTip, at, widget.mapToGlobal(at)))
                if QToolTip.isVisible():
                    yield f"pointer on {type(widget).__name__} {widget.objectName()}", QToolTip.text()


def check(root: QWidget) -> int:
    """No text of the window with the tag in it is read as markup; how many had it."""
    QApplication.processEvents()
    seen, markup = 0, []
    for where, text, rich in shown_texts(root):
        seen += "planted.png" in text
        if rich and "<img" in text:
            markup.append(f"{where}: {text[:90]}")
    for where, text in pointed_texts(root):
        seen += "planted.png" in text
        if "planted.png" in text and reads_as_markup(text):
            markup.append(f"{where}: {text[:90]}")
    assert not markup
    return seen


@pytest.fixture(params=["touring-ski"])
def project(window, qtbot, request):
    made = planted(beam_example(request.param))
    window.session.replace(made, None)
    qtbot.wait(400)
    yield made
    discard_changes(window)


def test_plain_changes_nothing_a_person_sees():
    for text in ("12 mm", "a < b and c > d", "<b>bold</b>", "&lt;b&gt;", "R & D", "<!-- x -->"):
        assert not reads_as_markup(plain(text))
        assert plain(text).replace("\N{WORD JOINER}", "") == text
    assert plain("Tip 12 > 3 & more") == "Tip 12 > 3 & more"


def test_the_window(window, project):
    assert check(window) > 10


@pytest.mark.parametrize("editor", list(EDITORS))
def test_the_editors(window, project, editor):
    dialog = window.inputs.open_editor(editor)
    check(dialog)
    dialog.reject()


def test_the_papers(window, project, qtbot):
    window.pages.hand_over()
    dialog = window.findChild(QWidget, "papers")
    qtbot.waitUntil(lambda: bool(dialog.drawings()), timeout=20000)
    check(dialog)
    dialog.show_changes()
    check(dialog)


def test_the_comparison(window, project):
    window.pages.compare()
    assert check(window) > 10


@pytest.mark.parametrize("tab", range(3))
def test_the_studies(window, project, tab):
    window.pages._study(tab)
    check(window)


def test_where_a_value_is_from(window, project):
    mark = window.inputs.structure.even_width.mark
    mark.ask()
    check(mark.findChild(QWidget, "origin dialog"))


def test_the_questions(window, project, tmp_path):
    window.document.guard(lambda: None)
    name = f"{TAG.replace('/', '')}.quietspan"
    window.session.apply("Rename", msgspec.structs.replace(project, name=f"{TAG} x"))
    window.document.guard(lambda: None)
    box = message(window, "unsavedGuard")
    assert TAG in box.text()
    check(box)
    box.reject()
    window.document._open_now(tmp_path / name)
    check(message(window))


def test_the_offer_of_a_recovery_copy(window, project, tmp_path):
    header = msgspec.json.encode({"path": str(tmp_path / f"{TAG}.quietspan"), "hash": None, "time": 0})
    (recovery.folder() / f"left{recovery.SUFFIX}").write_bytes(header + b"\n" + store.dumps(project))
    window.document.offer_recovery()
    box = message(window, "recoveryOffer")
    assert isinstance(box, QMessageBox)
    assert check(box) > 0
