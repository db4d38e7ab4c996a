"""What changes a look, not a number: window sizes, recent files, light or dark.

Kept in an ini file under QUIETSPAN_HOME when that is set, otherwise in the platform's folder.
QSettings gives back strings for what it read from a file, so every value goes through its type.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QByteArray, QSettings, QStandardPaths

RECENT_KEPT = 9
Scheme = Literal["system", "light", "dark"]


def home() -> Path:
    """The folder of settings, recovery files and the log; made if it is not there."""
    given = os.environ.get("QUIETSPAN_HOME")
    if given:
        folder = Path(given)
    else:
        place = QStandardPaths.StandardLocation.GenericConfigLocation
        folder = Path(QStandardPaths.writableLocation(place)) / "quietspan"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


class Settings:
    """Typed values over one ini file."""

    def __init__(self, folder: Path | None = None) -> None:
        self._store = QSettings(str((folder or home()) / "quietspan.ini"), QSettings.Format.IniFormat)

    def sync(self) -> None:
        self._store.sync()

    # ---- recent files --------------------------------------------------------------------

    @property
    def recent(self) -> list[Path]:
        """Newest first; a single entry comes back from the file as a plain string."""
        value = self._store.value("recent", [])
        names = [value] if isinstance(value, str) else list(value or [])
        return [Path(name) for name in names if name]

    def add_recent(self, path: Path) -> None:
        path = path.resolve()
        kept = [path, *(p for p in self.recent if p != path)]
        self._store.setValue("recent", [str(p) for p in kept[:RECENT_KEPT]])

    def remove_recent(self, path: Path) -> None:
        self._store.setValue("recent", [str(p) for p in self.recent if p != path])

    def clear_recent(self) -> None:
        self._store.setValue("recent", [])

    # ---- the window ----------------------------------------------------------------------

    @property
    def scheme(self) -> Scheme:
        value = str(self._store.value("scheme", "system", type=str))
        return value if value in ("light", "dark") else "system"  # type: ignore[return-value]

    @scheme.setter
    def scheme(self, value: Scheme) -> None:
        self._store.setValue("scheme", value)

    @property
    def strip_shown(self) -> bool:
        return bool(self._store.value("strip_shown", True, type=bool))

    @strip_shown.setter
    def strip_shown(self, value: bool) -> None:
        self._store.setValue("strip_shown", value)

    def bytes(self, key: str) -> QByteArray:
        """A saved geometry or splitter state; empty if there is none."""
        value = self._store.value(key)
        return value if isinstance(value, QByteArray) else QByteArray()

    def set_bytes(self, key: str, value: QByteArray) -> None:
        self._store.setValue(key, value)

    @property
    def folder(self) -> Path:
        """Where the last project was opened or saved; starts at the home folder."""
        return Path(str(self._store.value("folder", str(Path.home()), type=str)))

    @folder.setter
    def folder(self, value: Path) -> None:
        self._store.setValue("folder", str(value))

    @property
    def sheet_folder(self) -> Path:
        """Where the last sheet was exported; starts at the folder of the last project."""
        return Path(str(self._store.value("sheet_folder", str(self.folder), type=str)))

    @sheet_folder.setter
    def sheet_folder(self, value: Path) -> None:
        self._store.setValue("sheet_folder", str(value))
