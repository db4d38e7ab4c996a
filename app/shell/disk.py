"""What stands on the disk: the content's hash, and what speaks against writing over a file."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Literal

Obstacle = Literal["changed", "protected"]


def hash_of(content: bytes) -> str:
    """SHA-256 of a content."""
    import hashlib  # with the first file, not with the window

    return hashlib.sha256(content).hexdigest()


def file_hash(path: Path | None) -> str | None:
    """SHA-256 of the file's content; None when there is no such file, or a device, which may never end."""
    import hashlib

    try:
        if path is None or not path.is_file():
            return None
        with path.open("rb") as content:
            return hashlib.file_digest(content, "sha256").hexdigest()
    except OSError:
        return None


def obstacle(path: Path, content: bytes, expected: str | None) -> Obstacle | None:
    """What a person must be asked before `content` takes the place of the file at `path`.

    "changed": the file is not the one of the hash `expected` (None: no file was there) and holds
    something else than `content`; "protected": it is marked as not to be written. None: nothing, or there is
    no file to lose.
    """
    there = file_hash(path)
    if there is None:
        return "protected" if path.is_file() and _is_protected(path) else None
    if there not in (expected, hash_of(content)):
        return "changed"
    return "protected" if _is_protected(path) else None


def _is_protected(path: Path) -> bool:
    writable = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
    return not path.stat().st_mode & writable or not os.access(path, os.W_OK)
