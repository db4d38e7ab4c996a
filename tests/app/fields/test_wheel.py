"""The wheel scrolls and changes nothing, wherever the pointer is and whatever has the keyboard focus."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSlider,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QScrollArea,
    QScrollBar,
    QTableView,
    QTabWidget,
    QWidget,
)

from app.fields import ChoiceField
from app.panels.input_panel import EDITORS
from app.results.chart import Chart
from app.results.section import ResultSection
from tests.app.conftest import discard_changes
from tests.levels import beam_example

pytestmark = pytest.mark.slow  # walks everything; CI does

CLICK = 120


def turn(widget: QWidget, clicks: int = -1, modifiers=Qt.KeyboardModifier.NoModifier) -> None:
    """Turn the wheel with the pointer over the middle of a widget that is in view."""
    window = widget.window()
    at = widget.mapTo(window, widget.rect().center())
    assert window.rect().contains(at), widget.objectName()
    QTest.wheelEvent(window.windowHandle(), at, QPoint(0, CLICK * clicks), QPoint(), modifiers)
    QApplication.processEvents()


def bring_up(widget: QWidget) -> None:
    """Scroll every area the widget lies in until it is seen."""
    QApplication.processEvents()
    above = widget.parentWidget()
    while above is not None:
        if isinstance(above, QScrollArea) and above.widget().isAncestorOf(widget):
            middle = widget.mapTo(above.widget(), widget.rect().center())
            above.ensureVisible(middle.x(), middle.y(), 20, 20)
        above = above.parentWidget()
    QApplication.processEvents()


def fields_of(root: QWidget) -> list[QWidget]:
    kinds = (QComboBox, QAbstractSpinBox, QAbstractSlider, QLineEdit, QPlainTextEdit, QAbstractButton, QTableView)
    found = [w for kind in kinds for w in root.findChildren(kind)]
    return [w for w in found if w.isVisible() and w.isEnabled() and not isinstance(w, QScrollBar)
            and w.window() is root.window()]


def values_of(root: QWidget) -> list[object]:
    """What every field of a window holds, tabs included."""
    values: list[object] = []
    for widget in root.findChildren(QWidget):
        if isinstance(widget, QComboBox | QTabWidget):
            values.append(widget.currentIndex())
        elif isinstance(widget, QLineEdit):
            values.append(widget.text())
        elif isinstance(widget, QPlainTextEdit):
            values.append(widget.toPlainText())
        elif isinstance(widget, QAbstractButton):
            values.append(widget.isChecked())
        elif isinstance(widget, QAbstractSpinBox | QAbstractSlider) and not isinstance(widget, QScrollBar):
            values.append(widget.value())
        elif isinstance(widget, QTableView):
            model = widget.model()
            values.append([
                model.index(row, column).data()
                for row in range(model.rowCount()) for column in range(model.columnCount())
            ])
    return values


def turn_over_everything(root: QWidget) -> int:
    """Turn the wheel over each field, unfocused and focused; the fields must hold what they held."""
    QApplication.processEvents()
    before = values_of(root)
    fields = fields_of(root)
    for field in fields:
        bring_up(field)
        if not field.visibleRegion().contains(field.rect().center()):
            continue
        focused = QApplication.focusWidget()
        turn(field)
        assert QApplication.focusWidget() is focused, f"{field.objectName()} took the keyboard focus"
        if isinstance(field, QComboBox):
            field.setFocus()
            for step in (-1, 1):
                bring_up(field)
                turn(field, step)
    assert values_of(root) == before
    return len(fields)


@pytest.fixture
def project(window):
    window.document._replace(beam_example("touring-ski"))
    yield window.session.project
    discard_changes(window)


def test_no_field_of_the_input_column_changes(window, project):
    assert turn_over_everything(window) > 30
    assert window.session.shown is project


@pytest.mark.parametrize("editor", list(EDITORS))
def test_no_field_of_an_editor_changes(window, project, editor):
    dialog = window.inputs.open_editor(editor)
    assert turn_over_everything(dialog) > 1
    if hasattr(dialog, "draft"):
        assert dialog.draft.project == project
    dialog.reject()
    assert window.session.project is project


def test_no_field_of_the_papers_changes(window, project):
    window.pages.hand_over()
    dialog = window.findChild(QWidget, "papers")
    assert turn_over_everything(dialog) > 10
    assert dialog.project() == project
    window.pages.show_page("drawing")


def test_no_field_of_an_import_changes(window, project):
    from app.outline.import_dialog import ImportDialog

    dialog = ImportDialog(window.session, None, window)
    dialog.open()
    assert turn_over_everything(dialog) > 1
    dialog.reject()


@pytest.mark.parametrize("tab", range(3))
def test_no_field_of_a_study_changes(window, project, tab):
    window.pages._study(tab)
    window.pages.studies.close_jobs()  # what they find would change texts meanwhile
    assert turn_over_everything(window) > 3
    assert window.session.shown is project


def test_no_field_of_the_comparison_changes(window, project):
    window.pages.compare()
    assert turn_over_everything(window) > 3
    assert window.session.shown is project


def test_over_a_list_the_wheel_scrolls_the_column(window, project):
    face = window.inputs.findChild(ChoiceField, "field Face")
    bar = window.inputs.verticalScrollBar()
    bar.setValue(0)
    window.inputs.ensureWidgetVisible(face)
    before = bar.value()
    turn(face)
    assert bar.value() > before


def area_of(widget: QWidget) -> QScrollArea:
    """The page that scrolls with the widget on it."""
    above = widget.parentWidget()
    while not (isinstance(above, QScrollArea) and above.widget().isAncestorOf(widget)):
        above = above.parentWidget()
    return above


@pytest.mark.parametrize("name", ["responseChart", "ringDownChart", "comparisonChart"])
def test_over_a_chart_the_wheel_scrolls_and_with_ctrl_zooms(window, project, qtbot, name):
    if name == "comparisonChart":
        window.pages.compare()
        window.resize(1300, 600)
    qtbot.wait(300)
    chart = window.findChild(Chart, name)
    for section in window.findChildren(ResultSection):
        if section.isAncestorOf(chart):
            section.set_folded(False)

    def in_view() -> bool:
        """A page that was just made is laid out in its own time."""
        bring_up(chart)
        return window.rect().contains(chart.mapTo(window, chart.rect().center()))

    qtbot.waitUntil(in_view, timeout=10_000)
    bar, whole = area_of(chart).verticalScrollBar(), chart.shown_range
    at = bar.value()
    turn(chart, -1 if at < bar.maximum() else 1)
    assert chart.shown_range == whole
    assert bar.value() != at
    bring_up(chart)
    at = bar.value()
    turn(chart, 1, Qt.KeyboardModifier.ControlModifier)
    assert chart.shown_range != whole
    assert bar.value() == at
    QTest.mouseDClick(chart, Qt.MouseButton.LeftButton, pos=chart.rect().center())
    assert chart.shown_range == whole
