"""Every control a person can use has a name, can be reached by key, and is written large enough."""

from __future__ import annotations

from itertools import pairwise

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QFontInfo
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSlider,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QDialog,
    QHeaderView,
    QLineEdit,
    QPlainTextEdit,
    QScrollBar,
    QTextEdit,
    QWidget,
)

from app.fields import OriginMark
from app.panels.input_panel import EDITORS

CONTROLS = (
    QAbstractButton, QAbstractItemView, QAbstractSlider, QAbstractSpinBox, QComboBox, QLineEdit,
    QPlainTextEdit, QTextEdit,
)  # fmt: skip
LEAST_PX = 11
PAGES = {
    "drawing": lambda window: window,
    "comparison": lambda window: window.pages.compare(),
    "map": lambda window: window.pages.show_map(),
    "tolerance": lambda window: window.pages.show_tolerance(),
    "circuit": lambda window: window.pages.show_circuit(),
    "measured": lambda window: window.pages.show_measured(),
    "hand over": lambda window: window.pages.hand_over(),
    "help": lambda window: window.show_help(),
    "about": lambda window: window.show_about(),
    **{name: (lambda window, name=name: window.inputs.open_editor(name)) for name in EDITORS},
}


def spoken(widget: QWidget) -> str:
    return QAccessible.queryAccessibleInterface(widget).text(QAccessible.Text.Name)


def is_inner(widget: QWidget) -> bool:
    """Parts of a control (the list of a box, the headers of a table) speak through it."""
    above = [widget.parent(), widget.parent() and widget.parent().parent()]
    return isinstance(widget, QHeaderView | QScrollBar) or any(
        isinstance(w, QComboBox | QAbstractSpinBox) for w in above
    )


def visible_widgets(window: QWidget) -> list[QWidget]:
    open_now = [dialog for dialog in window.findChildren(QDialog) if dialog.isVisible()]
    root = open_now[-1] if open_now else window
    return [w for w in root.findChildren(QWidget) if w.isVisibleTo(root)]


@pytest.mark.parametrize("page", list(PAGES))
def test_controls_are_named_reachable_and_legible(same_window, page):
    window = same_window
    PAGES[page](same_window)
    QApplication.processEvents()
    nameless, out_of_reach, small = [], [], []
    for widget in visible_widgets(window):
        said = f"{type(widget).__name__} {widget.objectName()} {widget.toolTip()}"
        if QFontInfo(widget.font()).pixelSize() < LEAST_PX:
            small.append(said)
        if not isinstance(widget, CONTROLS) or is_inner(widget) or widget.objectName().startswith("qt_"):
            continue
        if not spoken(widget):
            nameless.append(said)
        by_table = isinstance(widget, OriginMark)  # the table of origins is its way by keyboard
        if widget.isEnabled() and not by_table and not widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            out_of_reach.append(said)
    assert nameless == [] and out_of_reach == [] and small == []


@pytest.mark.parametrize(("page", "name"), [("hand over", "sheetPreview"), ("circuit", "schematic")])
def test_what_is_painted_here_shows_that_it_has_the_keyboard(window, page, name):
    PAGES[page](window)
    painted = window.findChild(QWidget, name)
    window.activateWindow()
    window.bar.pages.button("drawing").setFocus()
    QApplication.processEvents()
    without = painted.grab().toImage()
    painted.setFocus()
    QApplication.processEvents()
    assert painted.hasFocus() and painted.grab().toImage() != without


COLUMNS = {
    "inputs": lambda window: window.inputs.widget(),
    "search": lambda window: (window.pages.find_best(), window.pages.studies.search.form)[1],
    "map": lambda window: (window.pages.show_map(), window.findChild(QWidget, "mapForm"))[1],
    "tolerance": lambda window: (window.pages.show_tolerance(), window.pages.studies.tolerance.form)[1],
    "measured": lambda window: (window.pages.show_measured(), window.findChild(QWidget, "filesPanel"))[1],
    "sheet": lambda window: (window.pages.hand_over(), window.findChild(QWidget, "sheetForm"))[1],
}


@pytest.mark.parametrize("column", list(COLUMNS))
def test_the_tab_key_goes_down_a_column_as_its_fields_lie(same_window, column):
    """Fields made later than the column (a patch's lead, a package of the library) take their place too."""
    form = COLUMNS[column](same_window)
    QApplication.processEvents()
    reached, widget = [], form.nextInFocusChain()
    while widget is not form:
        if form.isAncestorOf(widget) and widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not is_inner(widget):
            reached.append(widget)
        widget = widget.nextInFocusChain()
    places = [(w.mapTo(form, w.rect().center()), w) for w in reached]
    assert len(places) >= 4
    up = [
        f"{a.objectName()} -> {b.objectName()}" for (at, a), (to, b) in pairwise(places)
        if to.y() < at.y() - 14 or (abs(to.y() - at.y()) < 5 and to.x() < at.x())
    ]
    assert up == []
