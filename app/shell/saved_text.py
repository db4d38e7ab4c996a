"""Asks for a file name and writes a text there; what goes wrong is told."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QWidget

from app.shell import errors
from core.project import files


def ask_and_save(parent: QWidget, title: str, name: str, kind: str, text: Callable[[], str]) -> QFileDialog:
    """The open window that asks; `text` is made when a name was given, `kind` is its filter ("Drawing (*.svg)")."""
    dialog = QFileDialog(parent, title, name, kind)
    dialog.setObjectName("saveTextDialog")
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setDefaultSuffix(Path(name).suffix.removeprefix("."))
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.fileSelected.connect(partial(save_text, parent, text))
    dialog.open()
    return dialog


def save_text(parent: QWidget, text: Callable[[], str], name: str) -> None:
    """Write it, the old file staying whole where that fails."""
    try:
        files.write_atomically(text().encode(), Path(name))
    except (OSError, ValueError) as error:
        errors.tell(parent, f"{Path(name).name} was not saved", str(error))
