"""What changes a look, not a number: window sizes, recent files, light or dark.

Kept in an ini file under QUIETSPAN_HOME when that is set, otherwise in the platform's folder.
QSettings gives back strings for what it read from a file, so every value goes through its type.
"""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QByteArray, QSettings, QStandardPaths

RECENT_KEPT = 9
Scheme = Literal["system", "light", "dark"]


_instead: dict[Path, tuple[Path, str]] = {}
"""Where a folder cannot be used: the one used instead in this run, and why."""


def wanted_home() -> Path:
    """Where settings, recovery files and the log belong."""
    given = os.environ.get("QUIETSPAN_HOME")
    if given:
        return Path(given)
    place = QStandardPaths.StandardLocation.GenericConfigLocation
    return Path(QStandardPaths.writableLocation(place)) / "quietspan"


def home() -> Path:
    """The folder of settings, recovery files and the log; made if it is not there.

    Where that is not possible, one among the temporary files of this computer serves, and `home_trouble` says so.
    """
    wanted = wanted_home()
    if wanted in _instead:
        return _instead[wanted][0]
    try:
        (wanted / "recovery").mkdir(parents=True, exist_ok=True)
        if not os.access(wanted, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    except OSError as error:
        _instead[wanted] = Path(tempfile.mkdtemp(prefix="quietspan-")), (error.strerror or "refused").lower()
        return _instead[wanted][0]
    return wanted


def home_trouble() -> str:
    """Why the settings folder cannot be used and what is used instead, in words; "" where it can."""
    folder = home()
    wanted = wanted_home()
    if folder == wanted:
        return ""
    return (
        f"The folder {wanted} for settings and recovery copies cannot be used: {_instead[wanted][1]}. Until that is "
        f"mended they are kept in {folder}; settings are forgotten at the end."
    )


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
        names = [value] if isinstance(value, str) else list(value) if isinstance(value, list) else []
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

    @property
    def widths(self) -> tuple[int, ...]:
        """Of inputs, drawing and answers beside each other; () where none were kept."""
        value = self._store.value("widths", [])
        texts = [str(text) for text in value] if isinstance(value, list) else []
        return tuple(map(int, texts)) if len(texts) == 3 and all(text.isdecimal() for text in texts) else ()

    @widths.setter
    def widths(self, value: tuple[int, ...]) -> None:
        self._store.setValue("widths", [str(width) for width in value])

    @property
    def inputs_away(self) -> bool:
        """Whether the inputs were folded to their rail."""
        return bool(self._store.value("inputs_away", False, type=bool))

    @inputs_away.setter
    def inputs_away(self, value: bool) -> None:
        self._store.setValue("inputs_away", value)

    def bytes(self, key: str) -> QByteArray:
        """A saved geometry; empty if there is none."""
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
