"""The help: every page can be reached, its links lead somewhere, and the page of keys is true."""

from __future__ import annotations

import re
from importlib import resources

import pytest
from PySide6.QtCore import QUrl
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QListWidget, QTextBrowser

from app.help.dialogs import PAGES, HelpWindow, page_text


@pytest.fixture
def help_window(qtbot):
    made = HelpWindow()
    qtbot.addWidget(made)
    return made


def test_every_page_that_is_written_is_in_the_list():
    written = {p.name.removesuffix(".md") for p in resources.files("resources").joinpath("help").iterdir() if p.name.endswith(".md")}
    assert written == {key for key, _ in PAGES}


@pytest.mark.parametrize("key", [key for key, _ in PAGES])
def test_its_links_lead_to_pages(help_window, key):
    for link in re.findall(r"\]\(([^)]+)\)", page_text(key)):
        help_window.show_page(key)
        help_window.findChild(QTextBrowser, "helpText").anchorClicked.emit(QUrl(link))
        row = help_window.findChild(QListWidget, "helpPageList").currentRow()
        assert f"{PAGES[row][0]}.md" == link


def test_every_key_of_the_menus_stands_on_the_page_of_keys(window):
    page = page_text("keys").replace("Page Down", "PgDown").replace("Page Up", "PgUp")
    page = page.replace("Ctrl+1, 2, 3, 4, 5, 6", ", ".join(f"Ctrl+{n}" for n in range(1, 7)))
    page = page.replace("Alt+1, 2, 3", ", ".join(f"Alt+{n}" for n in range(1, 4)))
    told = {key.replace(" ", "") for key in re.findall(r"(?:(?:Ctrl|Alt|Shift) ?\+ ?)*[A-Za-z]*\d*", page)}
    keys = {
        action.objectName(): action.shortcut().toString(QKeySequence.SequenceFormat.PortableText)
        for action in window.findChildren(QAction)
        if action.objectName() and not action.shortcut().isEmpty()
    }
    assert len(keys) > 30
    assert {name: key for name, key in keys.items() if key not in told} == {}
