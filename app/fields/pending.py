"""What is being typed and not yet taken in: committed before something else happens, undone before the project is."""

from __future__ import annotations

from PySide6.QtCore import QEvent
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QApplication


def commit_typing() -> None:
    """Commit the field with the keyboard focus, or the cell of a table that is typed in, as leaving it would: before a
    save, a close, or a command by its keys, which all take no focus."""
    field = QApplication.focusWidget()
    while field is not None and not hasattr(field, "commit"):
        field = field.parentWidget()
    if field is not None:
        field.commit()


def leaves_undo(event: QEvent, *, pending: bool) -> bool:
    """True for the keys of undo and redo while a field holds no text of its own that they could be meant for.

    Qt's line and text edits keep these keys even then, so that undoing after a typed value did nothing. The field
    ignores such an event, and the project's undo takes it.
    """
    if event.type() != QEvent.Type.ShortcutOverride or pending or not isinstance(event, QKeyEvent):
        return False
    keys = QKeySequence.StandardKey
    if not (event.matches(keys.Undo) or event.matches(keys.Redo)):
        return False
    event.ignore()
    return True
