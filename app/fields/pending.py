"""Taking in what is being typed before something else happens to the project."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication


def commit_typing() -> None:
    """Commit the field with the keyboard focus, as leaving it would: before a save or a close."""
    field = QApplication.focusWidget()
    if field is not None and hasattr(field, "commit"):
        field.commit()
