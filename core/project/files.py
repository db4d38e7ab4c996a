"""Writing files so that a name holds either its old content or the whole new one, never a part.

The bytes go to a temporary file beside the target, which then takes its place. A program that is killed
in between leaves the temporary file behind; `remove_leftovers` takes away those of an hour ago and more.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
import tempfile
import time
from pathlib import Path

LONGEST_NAME_BYTES = 255
"""What the usual file systems take as one name."""
LEFT_BEHIND_S = 3600.0
"""A temporary file untouched for that long belongs to no program that is still writing it."""
_SUFFIX = ".quietspan.part"
_KEPT_BYTES = 60
_LEFTOVER = re.compile(r"\..*\.(?:quietspan|recovery)(?:\.[a-z0-9_]{8})?\.part", re.DOTALL)
"""Also as the first version named them: .NAME.quietspan.abcd1234.part"""
_swept: set[Path] = set()


class FileNotWrittenError(ValueError):
    """A file that could not be written; the message says why and what to do."""


def write_atomically(data: bytes, path: str | os.PathLike[str]) -> Path:
    """Put bytes in a file by way of a temporary one beside it; the file written.

    A link is written through and an existing file keeps its permissions. FileNotWrittenError in words if it
    cannot be written; the old file is then untouched.
    """
    file = Path(path)
    temporary: str | None = None
    try:
        target = _target(file)
        handle, temporary = tempfile.mkstemp(prefix=_prefix(target.name), suffix=_SUFFIX, dir=target.parent)
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(temporary, _mode_for(target))
        os.replace(temporary, target)
        temporary = None
        _sync_folder(target.parent)
    except OSError as fault:
        raise _refused(file, fault) from None
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
    if target.parent not in _swept:
        _swept.add(target.parent)
        remove_leftovers(target.parent)
    return target


def may_write(path: str | os.PathLike[str]) -> None:
    """FileNotWrittenError in words where it is plain, before anything is worked out, that no file can be there."""
    file = Path(path)
    try:
        _target(file)
    except OSError as fault:
        raise _refused(file, fault) from None


def _refused(file: Path, fault: OSError) -> FileNotWrittenError:
    cure = "Choose another place."
    if fault.errno == errno.ENAMETOOLONG:
        cure = f"Choose a shorter one: a name takes up to {LONGEST_NAME_BYTES} bytes."
    return FileNotWrittenError(
        f'"{short_name(file)}" could not be written: {reason(fault)}. Nothing was changed. {cure}'
    )


def _target(file: Path) -> Path:
    """The file itself, behind any links. FileNotWrittenError where it must not be written."""
    name = short_name(file)
    try:
        target = file.resolve()
    except RuntimeError:  # how Python before 3.13 tells a loop of links
        target = file
    if target.is_symlink():
        raise FileNotWrittenError(
            f'"{name}" is a link that leads back to itself. Remove it or choose another name.'
        )
    try:
        mode = file.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        if not target.parent.is_dir():
            folder = shortened(str(file.parent), 80)
            raise FileNotWrittenError(
                f'The folder "{folder}" is not there. Make it, or choose another one.'
            ) from None
        return target
    if stat.S_ISDIR(mode):
        raise FileNotWrittenError(f'"{name}" is a folder. Name a file in it.')
    if not stat.S_ISREG(mode):
        # taking a device's place would leave the whole system without it
        raise FileNotWrittenError(f'"{name}" is not an ordinary file but a device or a pipe. Choose another name.')
    if not mode & 0o222:
        raise FileNotWrittenError(
            f'"{name}" is write-protected. Take the protection off or save under another name.'
        )
    return target


def remove_leftovers(folder: Path, *, now_s: float | None = None) -> list[Path]:
    """Delete temporary files of this program that nobody has touched for an hour; those deleted.

    A file is ours by its whole name, hidden and ending in `.quietspan.part`; any trouble leaves it there.
    """
    now = time.time() if now_s is None else now_s
    gone = []
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if not _LEFTOVER.fullmatch(entry.name):
                continue
            with contextlib.suppress(OSError):
                status = entry.stat(follow_symlinks=False)
                if stat.S_ISREG(status.st_mode) and now - status.st_mtime > LEFT_BEHIND_S:
                    os.unlink(entry.path)
                    gone.append(Path(entry.path))
    return gone


def short_name(file: Path) -> str:
    """The file's name for a sentence, cut in the middle where it is long."""
    return shortened(file.name or str(file), 80)


def shortened(text: str, most: int) -> str:
    """Text of at most `most` characters, its middle left out."""
    if len(text) <= most:
        return text
    end = most // 3
    return f"{text[: most - end - 3]}...{text[-end:]}"


def reason(fault: OSError) -> str:
    """What the system says, as the middle of a sentence."""
    return (fault.strerror or "the system refused").lower()


def _prefix(name: str) -> str:
    """The start of a temporary name: hidden, telling whose it is, and short enough for any target."""
    cut = os.fsencode(name)[:_KEPT_BYTES].decode("utf-8", "ignore")
    return f".{cut}."


def _mode_for(target: Path) -> int:
    """Permissions of the file that is replaced, or those a new file would get here."""
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _sync_folder(folder: Path) -> None:
    """Make the new name itself durable, where the system lets a folder be opened."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
