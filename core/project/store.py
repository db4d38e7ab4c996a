"""Reading and writing `.quietspan` files: readable JSON, checked on the way in, atomic on the way out.

A file is one project as indented JSON. `load` refuses, in words and without touching anything,
what is no project: a folder, an empty or cut-off file, something that is not JSON, a file from
a newer version, one with fields that do not belong. A layout with a patch off the tip is a
state of the work and loads; `core.project.problems` tells what is wrong with it.
"""

from __future__ import annotations

import codecs
import os
import re
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from core.project import files
from core.project.ceilings import over_ceilings
from core.project.faults import find_faults, first_fault
from core.project.model import FORMAT_VERSION, Project
from core.project.upgrade import UPGRADES, upgrade

LARGEST_FILE_BYTES = 20_000_000
"""A project of everything the ceilings allow has less; reading more would take seconds and much memory."""
ALL_FAULTS_BYTES = 1_000_000
"""Up to this size every misfit of a file is told, beyond it the first."""
_FAULTS_TOLD = 12
_AT_BYTE = re.compile(r"(?:JSON is malformed: )?(.*) \(byte (\d+)\)")
_NUMBER_LIST = re.compile(r"\[\n\s+(-?\d[\d.eE+-]*(?:,\s+-?\d[\d.eE+-]*)*)\n\s*\]")


class ProjectFileError(ValueError):
    """A file that cannot be read or written as a project; `faults` lists what is wrong by path."""

    def __init__(self, message: str, faults: tuple[str, ...] = ()) -> None:
        told = "".join(f"\n  {fault}" for fault in faults[:_FAULTS_TOLD])
        more = f"\n  and {len(faults) - _FAULTS_TOLD} more" if len(faults) > _FAULTS_TOLD else ""
        super().__init__(message + told + more)
        self.faults = faults


def dumps(project: Project) -> bytes:
    """The project as the bytes of a file. ProjectFileError where a number is not finite or a text is none."""
    plain = msgspec.to_builtins(project)
    faults = tuple(_misfits(plain, "", _not_finite))
    if faults:
        raise ProjectFileError("The project holds numbers that are not finite:", faults)
    try:
        written = msgspec.json.encode(project)
    except UnicodeEncodeError:
        faults = tuple(_misfits(plain, "", _half_a_letter))
        raise ProjectFileError("The project holds texts with half of a character, which no file takes. Type them anew:", faults) from None
    text = msgspec.json.format(written, indent=2).decode()
    return (_NUMBER_LIST.sub(_on_one_line, text) + "\n").encode()


def _on_one_line(match: re.Match[str]) -> str:
    """A list of plain numbers on one line, so that stations read as a row."""
    return "[" + re.sub(r",\s+", ", ", match.group(1)) + "]"


def _misfits(value: Any, path: str, misfit: Callable[[Any], str]) -> list[str]:
    """Path and fault of every value within for which `misfit` has words."""
    if isinstance(value, dict):
        return [f for k, v in value.items() for f in _misfits(v, f"{path}.{k}" if path else str(k), misfit)]
    if isinstance(value, (list, tuple)):
        return [f for i, v in enumerate(value) for f in _misfits(v, f"{path}[{i}]", misfit)]
    words = misfit(value)
    return [f"{path}: {words}"] if words else []


def _not_finite(value: Any) -> str:
    return str(value) if isinstance(value, float) and value - value != 0.0 else ""


def _half_a_letter(value: Any) -> str:
    shown = value.encode("utf-8", "replace").decode() if isinstance(value, str) else value
    return f'"{files.shortened(shown, 60)}"' if shown != value else ""


def loads(data: bytes) -> Project:
    """The project in the bytes of a file; older versions are brought up to date first."""
    return _decode(data, "The file")


def load(path: str | os.PathLike[str]) -> Project:
    """The project in the file at `path`. ProjectFileError in words for anything else."""
    file = Path(path)
    name = f'"{files.short_name(file)}"'
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
        raise ProjectFileError(f"{name} cannot be read: {files.reason(fault)}.") from None
    return _decode(data, name)


def _decode(data: bytes, name: str) -> Project:
    if len(data) > LARGEST_FILE_BYTES:
        raise ProjectFileError(f"{name} is larger than {LARGEST_FILE_BYTES / 1e6:.0f} MB: not a project.")
    data = data.removeprefix(codecs.BOM_UTF8)
    if not data.strip():
        raise ProjectFileError(f"{name} is empty. Take an earlier copy of it.")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise ProjectFileError(f"{name} is not JSON text in UTF-8: it was saved as UTF-16. Save it as UTF-8.")
    try:
        version = _known_version(msgspec.json.decode(data, type=_Head).format_version, name)
        project = _fitting(data, version, name)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as fault:
        raise ProjectFileError(_slip(data, name, fault)) from None
    faults = _nothing_to_show(project)
    if faults:
        raise ProjectFileError(f"{name} does not hold together:", faults)
    return project


class _Head(msgspec.Struct):
    """What is looked at first: the rest of the file is passed over without building it."""

    format_version: Any = None


def _fitting(data: bytes, version: int, name: str) -> Project:
    """The project in JSON text; ProjectFileError with what does not fit, of a huge file the first only."""
    try:
        if version == FORMAT_VERSION:
            return msgspec.json.decode(data, type=Project)
        return msgspec.convert(_up_to_date(data, version, name), Project)
    except msgspec.ValidationError as fault:
        if "out of range" in str(fault):
            raise
        faults: tuple[str, ...] = ()
        if len(data) <= ALL_FAULTS_BYTES:
            faults = find_faults(_up_to_date(data, version, name), Project)
        raise ProjectFileError(
            f"{name} does not fit the project format:", faults or (first_fault(fault),)
        ) from None


def _slip(data: bytes, name: str, fault: Exception) -> str:
    """What is wrong with JSON text, and in hand-edited text where."""
    words = str(fault)
    if not data.lstrip().startswith(b"{"):
        why = 'it has no "format_version"' if "got `" in words else "it is not JSON text"
        return f"{name} is not a Quietspan project: {why}."
    if isinstance(fault, RecursionError):
        return f"{name} is not a Quietspan project: its brackets are nested too deep."
    if "out of range" in words:
        return f"{name} holds a number that is too large; numbers go up to 1.8e308. Mend it there."
    found = _AT_BYTE.search(words)
    # a cut within a number or a word is a slip at the very end
    if "truncated" in words or (found is not None and int(found[2]) >= len(data.rstrip()) - 1):
        return f"{name} ends in the middle: it was cut off. Take an earlier copy of it."
    if found is not None:
        what, at = found[1], int(found[2])
    else:
        try:
            data.decode()
        except UnicodeDecodeError as where:
            what, at = "a byte that is not UTF-8 text", where.start
        else:
            return f"{name} is not a Quietspan project: it is not JSON text."
    before = data[:at]
    line = before.count(b"\n") + 1
    column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
    return (
        f"{name} has a slip in its JSON text at line {line}, column {column}: {what}. "
        "Mend it there, or take an earlier copy of it."
    )


def _nothing_to_show(project: Project) -> tuple[str, ...]:
    """What no window could open on; all other problems are states of the work and load."""
    faults = [f"{path}: {words}" for path, words in over_ceilings(project)]
    ids = [c.id for c in project.candidates]
    if not ids:
        faults.append("candidates: must hold at least one")
    elif project.active not in ids:
        shown = files.shortened(project.active, 60)
        faults.append(f'active: names "{shown}"; the candidates are {files.shortened(", ".join(ids), 120)}')
    if len(set(ids)) < len(ids):
        faults.append("candidates: two have the same id")
    if not project.structure.stations_m:
        faults.append("structure.stations_m: must hold at least two stations")
    if not project.service.loads:
        faults.append("service.loads: must hold at least one load")
    elif not 0 <= project.service.active_load < len(project.service.loads):
        faults.append(f"service.active_load: must be from 0 to {len(project.service.loads) - 1}")
    return tuple(faults)


def _known_version(version: Any, name: str) -> int:
    if version is None:
        raise ProjectFileError(f'{name} is not a Quietspan project: it has no "format_version".')
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        shown = files.shortened(repr(version), 60)
        raise ProjectFileError(f"{name} has format_version {shown}; a whole number from 1 was expected.")
    if version > FORMAT_VERSION:
        raise ProjectFileError(
            f"{name} is from a newer Quietspan (file format {files.shortened(str(version), 20)}; this one reads "
            f"up to {FORMAT_VERSION}). Install the newer version to open it."
        )
    return version


def _up_to_date(data: bytes, version: int, name: str) -> dict[str, Any]:
    """The file's content as plain data of the present format."""
    raw = msgspec.json.decode(data)
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
    try:
        files.write_atomically(dumps(project), path)
    except files.FileNotWrittenError as fault:
        raise ProjectFileError(str(fault)) from None
