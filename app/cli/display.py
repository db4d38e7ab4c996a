"""Whether a window can be opened here; Qt itself would abort instead of saying so."""

from __future__ import annotations

import ctypes
import os
import re
import socket
import sys

from app.cli import COMMANDS

SHOWN = {"predict": "'quietspan predict FILE'", "sheet": "'quietspan sheet FILE --out NAME.pdf'"}
WITHOUT = (
    f"{', '.join(SHOWN.values())} and likewise {', '.join(name for name in COMMANDS if name not in SHOWN)} "
    "work without one."
)
NO_DISPLAY = f"there is no display to open a window on; {WITHOUT}"
X_FOLDER = "/tmp/.X11-unix"
NEEDED = {
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
}
"""Libraries that Qt loads for a window on X, and the Debian packages they are in."""


def trouble() -> str:
    """What keeps a window from being opened, in one line; empty where nothing does."""
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM"):
        return ""
    if _wayland_answers():
        return ""
    if not _x_answers(os.environ.get("DISPLAY", "")):
        return NO_DISPLAY
    missing = [package for library, package in NEEDED.items() if not _loads(library)]
    if missing:
        names = " ".join(missing)
        return f"Qt needs {names} to open a window here (Debian and Ubuntu: apt install {names}); {WITHOUT}"
    return ""


def _wayland_answers() -> bool:
    name, folder = os.environ.get("WAYLAND_DISPLAY", ""), os.environ.get("XDG_RUNTIME_DIR", "")
    return bool(name) and _answers(os.path.join(folder, name))


def _x_answers(display: str) -> bool:
    """False where nobody listens at a display of this machine; one of another machine is taken on trust."""
    local = re.fullmatch(r"(?:unix)?:(\d+)(?:\.\d+)?", display)
    if local is None:
        return bool(display)
    path = f"{X_FOLDER}/X{local[1]}"
    return _answers(path) or _answers(f"\0{path}")


def _answers(address: str) -> bool:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
        try:
            line.connect(address)
        except (OSError, ValueError):
            return False
        return True


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True
