"""About says what is used under which licence; the typeface brings both texts its own record cites."""

from __future__ import annotations

import struct
from importlib import resources

from PySide6.QtWidgets import QTextBrowser

from app.help.dialogs import AboutBox
from app.help.licences import LICENCES, font_licence
from app.shell.errors import versions


def licence_in(font: bytes) -> str:
    """Name record 13 of a TrueType file: its licence (OpenType specification, table "name")."""
    count = struct.unpack(">H", font[4:6])[0]
    tables = [struct.unpack(">4sLLL", font[12 + 16 * n : 28 + 16 * n]) for n in range(count)]
    (start,) = (offset for tag, _, offset, _ in tables if tag == b"name")
    _, records, strings = struct.unpack(">HHH", font[start : start + 6])
    for n in range(records):
        at = start + 6 + 12 * n
        platform, _, _, name, length, offset = struct.unpack(">6H", font[at : at + 12])
        if platform == 3 and name == 13:
            where = start + strings + offset
            return font[where : where + length].decode("utf-16-be")
    raise KeyError("no licence record")


def test_the_typeface_comes_with_every_word_of_its_licences():
    for style in ("regular", "bold"):
        font = resources.files("resources").joinpath("fonts", f"quietspan-sheet-{style}.ttf").read_bytes()
        assert licence_in(font).split() == font_licence().split()
    assert "Bitstream Vera Fonts Copyright" in font_licence() and "Arev Fonts Copyright" in font_licence()


def test_about_names_a_licence_for_everything_it_lists(qtbot):
    box = AboutBox()
    qtbot.addWidget(box)
    text = box.findChild(QTextBrowser, "aboutText").toPlainText()
    for name, _ in versions():
        assert name == "Quietspan" or LICENCES[name] in text, name
    assert "GNU Lesser General Public License" in text and "Tavmjong Bah" in text
