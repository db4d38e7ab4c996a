"""Reading and writing `.quietspan` files: readable JSON, checked on the way in, atomic on the way out.

A file is one project as indented JSON. `load` refuses, in words and without touching anything,
what is no project: a folder, an empty or cut-off file, something that is not JSON, a file from
a newer version, one with fields that do not belong. A layout with a patch off the tip is a
state of the work and loads; `core.project.problems` tells what is wrong with it.
"""

from __future__ import annotations

import contextlib
import os
import re
import stat
import tempfile
from pathlib import Path
from typing import Any

import msgspec

from core.project.faults import find_faults
from core.project.model import FORMAT_VERSION, Project
from core.project.upgrade import UPGRADES, upgrade

LARGEST_FILE_BYTES = 50_000_000
_FAULTS_TOLD = 12
_NUMBER_LIST = re.compile(r"\[\n\s+(-?\d[\d.eE+-]*(?:,\s+-?\d[\d.eE+-]*)*)\n\s*\]")


class ProjectFileError(ValueError):
    """A file that cannot be read or written as a project; `faults` lists what is wrong by path."""

    def __init__(self, message: str, faults: tuple[str, ...] = ()) -> None:
        told = "".join(f"\n  {fault}" for fault in faults[:_FAULTS_TOLD])
        more = f"\n  and {len(faults) - _FAULTS_TOLD} more" if len(faults) > _FAULTS_TOLD else ""
        super().__init__(message + told + more)
        self.faults = faults


def dumps(project: Project) -> bytes:
    """The project as the bytes of a file. ProjectFileError where a number is not finite."""
    faults = tuple(_not_finite(msgspec.to_builtins(project), ""))
    if faults:
        raise ProjectFileError("The project holds numbers that are not finite:", faults)
    text = msgspec.json.format(msgspec.json.encode(project), indent=2).decode()
    return (_NUMBER_LIST.sub(_on_one_line, text) + "\n").encode()


def _on_one_line(match: re.Match[str]) -> str:
    """A list of plain numbers on one line, so that stations read as a row."""
    return "[" + re.sub(r",\s+", ", ", match.group(1)) + "]"


def _not_finite(value: Any, path: str) -> list[str]:
    if isinstance(value, float):
        return [] if value - value == 0.0 else [f"{path}: {value}"]
    if isinstance(value, dict):
        return [f for k, v in value.items() for f in _not_finite(v, f"{path}.{k}" if path else str(k))]
    if isinstance(value, (list, tuple)):
        return [f for i, v in enumerate(value) for f in _not_finite(v, f"{path}[{i}]")]
    return []


def loads(data: bytes) -> Project:
    """The project in the bytes of a file; older versions are brought up to date first."""
    return _decode(data, "The file")


def load(path: str | os.PathLike[str]) -> Project:
    """The project in the file at `path`. ProjectFileError in words for anything else."""
    file = Path(path)
    name = f'"{file.name}"'
    try:
        status = file.stat()
        if stat.S_ISDIR(status.st_mode):
            raise ProjectFileError(f"{name} is a folder. Choose a .quietspan file in it.")
        if not stat.S_ISREG(status.st_mode):
            raise ProjectFileError(f"{name} is not an ordinary file. Choose a .quietspan file.")
        if status.st_size > LARGEST_FILE_BYTES:
            raise ProjectFileError(
                f"{name} holds {status.st_size / 1e6:.0f} MB; a project has at most "
                f"{LARGEST_FILE_BYTES / 1e6:.0f} MB. Choose another file."
            )
        data = file.read_bytes()
    except FileNotFoundError:
        raise ProjectFileError(f"{name} is not there. It may have been moved or renamed.") from None
    except OSError as fault:
        raise ProjectFileError(f"{name} cannot be read: {_reason(fault)}.") from None
    return _decode(data, name)


def _decode(data: bytes, name: str) -> Project:
    if len(data) > LARGEST_FILE_BYTES:
        raise ProjectFileError(f"{name} is larger than {LARGEST_FILE_BYTES / 1e6:.0f} MB: not a project.")
    if not data.strip():
        raise ProjectFileError(f"{name} is empty. Take an earlier copy of it.")
    try:
        raw = msgspec.json.decode(data)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as fault:
        if "truncated" in str(fault):
            words = f"{name} ends in the middle: it was cut off. Take an earlier copy of it."
        else:
            words = f"{name} is not a Quietspan project: it is not JSON text."
        raise ProjectFileError(words) from None
    if not isinstance(raw, dict) or "format_version" not in raw:
        raise ProjectFileError(f'{name} is not a Quietspan project: it has no "format_version".')
    raw = _up_to_date(raw, name)
    faults = find_faults(raw, Project)
    if faults:
        raise ProjectFileError(f"{name} does not fit the project format:", faults)
    project = msgspec.convert(raw, Project)
    faults = _nothing_to_show(project)
    if faults:
        raise ProjectFileError(f"{name} does not hold together:", faults)
    return project


def _nothing_to_show(project: Project) -> tuple[str, ...]:
    """What no window could open on; all other problems are states of the work and load."""
    faults = []
    ids = [c.id for c in project.candidates]
    if not ids:
        faults.append("candidates: must hold at least one")
    elif project.active not in ids:
        faults.append(f'active: names "{project.active}"; the candidates are {", ".join(ids)}')
    if len(set(ids)) < len(ids):
        faults.append("candidates: two have the same id")
    if not project.structure.stations_m:
        faults.append("structure.stations_m: must hold at least two stations")
    if not project.service.loads:
        faults.append("service.loads: must hold at least one load")
    elif not 0 <= project.service.active_load < len(project.service.loads):
        faults.append(f"service.active_load: must be from 0 to {len(project.service.loads) - 1}")
    return tuple(faults)


def _up_to_date(raw: dict[str, Any], name: str) -> dict[str, Any]:
    version = raw["format_version"]
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise ProjectFileError(f"{name} has format_version {version!r}; a whole number from 1 was expected.")
    if version > FORMAT_VERSION:
        raise ProjectFileError(
            f"{name} is from a newer Quietspan (file format {version}; this one reads up to "
            f"{FORMAT_VERSION}). Install the newer version to open it."
        )
    try:
        return upgrade(raw, FORMAT_VERSION, UPGRADES)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError):
        raise ProjectFileError(
            f"{name} is from an older Quietspan (file format {version}) and could not be brought up to date."
        ) from None


def save(project: Project, path: str | os.PathLike[str]) -> None:
    """Write the project so that `path` holds either the old or the whole new file, never a part.

    A link is written through and an existing file keeps its permissions. ProjectFileError in
    words if it cannot be written; the old file is then untouched.
    """
    write_atomically(dumps(project), path)


def write_atomically(data: bytes, path: str | os.PathLike[str]) -> None:
    """Put bytes in a file by way of a temporary one beside it. ProjectFileError as in `save`."""
    file = Path(path)
    temporary: str | None = None
    try:
        target = file.resolve()
        if target.is_dir():
            raise ProjectFileError(f'"{file.name}" is a folder. Type a file name.')
        handle, temporary = tempfile.mkstemp(
            prefix=f".{target.name[:80]}.", suffix=".part", dir=target.parent
        )
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(temporary, _mode_for(target))
        os.replace(temporary, target)
        temporary = None
        _sync_folder(target.parent)
    except FileNotFoundError:
        raise ProjectFileError(f'The folder of "{file.name}" is not there. Choose another place.') from None
    except OSError as fault:
        raise ProjectFileError(
            f'"{file.name}" could not be written: {_reason(fault)}. '
            "Nothing was changed. Choose another place."
        ) from None
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)


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


def _reason(fault: OSError) -> str:
    return (fault.strerror or "the system refused").lower()
