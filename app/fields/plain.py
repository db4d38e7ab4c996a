"""What a person or a file typed is shown as it was typed, never read as markup.

Qt takes a text with something like a tag in it for markup wherever it may choose, and markup can
make it open a file that a picture tag names. Labels are told `PlainText`; tool tips and the second
text of a message box cannot be told, so their text goes through `plain`.
"""

from __future__ import annotations

import re

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QMessageBox, QWidget

_JOINER = "\N{WORD JOINER}"
_MARKUP = re.compile(r"<|&(?=[a-zA-Z#])")


def plain(text: str) -> str:
    """The text with an invisible joiner after each sign that could begin markup; any other text unchanged."""
    return _MARKUP.sub(rf"\g<0>{_JOINER}", text)


class PlainLabel(QLabel):
    """A label that shows its text as it is."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setText(text)


def keep_plain(box: QMessageBox, text: str, informative: str = "") -> None:
    """Put the words of a message box in, as they are."""
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setText(text)
    box.setInformativeText(plain(informative))
