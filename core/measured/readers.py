"""Which reader reads which measured file; a new kind of file is one module and one line here."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import cast

from core.measured.record import MeasuredError, Recording
from core.project import ceilings
from core.project.files import reason, short_name
from core.project.measurement import Told
from core.units.sentence import inside

Read = Callable[[Path, Told], Recording]


@dataclass(frozen=True)
class Reader:
    """A kind of file: its name in words, its endings, and the module whose `read` reads it."""

    label: str
    suffixes: tuple[str, ...]
    module: str

    def read(self, path: Path, told: Told) -> Recording:
        # imported here: each brings a library that only a measurement should cost
        return cast(Read, import_module(self.module).read)(path, told)


READERS: tuple[Reader, ...] = (
    Reader("Sound", (".wav",), "core.measured.wav"),
    Reader("Universal file, dataset 58", (".uff", ".unv", ".u58", ".58"), "core.measured.universal"),
    Reader("Table of samples or of an impedance sweep", (".csv", ".tsv", ".txt", ".dat", ".asc", ".prn"), "core.measured.table"),
)


def reader_for(path: Path) -> Reader | None:
    """The reader of that file: by its first bytes where they tell, else by its ending."""
    found = next((r for r in READERS if path.suffix.lower() in r.suffixes), None)
    try:
        with path.open("rb") as file:
            head = file.read(64)
    except OSError:
        return found
    if head[:4] in (b"RIFF", b"RIFX") and head[8:12] == b"WAVE":
        return READERS[0]
    if head.lstrip(b" \r\n").startswith(b"-1") and head.splitlines()[:1] and head.splitlines()[0].strip() == b"-1":
        return READERS[1]
    return found


def can_read(path: Path) -> bool:
    """Whether a file of that name may be a measurement."""
    return any(path.suffix.lower() in r.suffixes for r in READERS)


def looks_measured(path: Path) -> bool:
    """Whether a single file is more likely a measurement than a table of widths: by its kind, or since it
    has more lines than an outline may have stations."""
    reader = reader_for(path)
    if reader is None or reader.module != READERS[-1].module:
        return reader is not None
    try:
        with path.open("rb") as file:
            return file.read(1_000_000).count(b"\n") > 2 * ceilings.MOST_STATIONS
    except OSError:
        return False


def read_recording(path: Path, told: Told | None = None) -> Recording:
    """The recording in that file; MeasuredError in words where there is none."""
    check_file(path)
    reader = reader_for(path)
    if reader is None:
        known = ", ".join(s for r in READERS for s in r.suffixes)
        raise MeasuredError(f"{path.name} is no kind of measurement that can be read ({known}). Export it as CSV or as a universal file.")
    try:
        found = reader.read(path, told or Told())
    except MeasuredError as error:
        raise MeasuredError(str(error) if path.name in str(error) else f"{path.name}: {error}") from None
    except MemoryError:
        raise MeasuredError(f"{path.name} needs more memory than a record may. Cut it, or export fewer channels.") from None
    except Exception as error:  # a broken file breaks the libraries anywhere
        raise MeasuredError(f"{path.name} could not be read as {inside(reader.label)}: something in it is broken. Export it again.") from error
    return replace(found, sha256=hash_of(path))


def hash_of(path: Path) -> str:
    """SHA-256 of the file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def check_file(path: Path) -> None:
    """MeasuredError where the file is missing, a folder, empty or larger than one may be."""
    try:
        status = path.stat()
    except FileNotFoundError:
        raise MeasuredError(f'"{short_name(path)}" is not there. It may have been moved or renamed.') from None
    except OSError as error:
        raise MeasuredError(f'"{short_name(path)}" cannot be read: {reason(error)}.') from None
    except ValueError as error:  # a name that no file can have
        raise MeasuredError(f'"{short_name(path)}" cannot be read: {error}.') from None
    if stat.S_ISDIR(status.st_mode):
        raise MeasuredError(f'"{short_name(path)}" is a folder. Choose the files in it.')
    size = status.st_size
    if size == 0:
        raise MeasuredError(f"{path.name} is empty (0 bytes). Export the record again.")
    if size > ceilings.LARGEST_MEASUREMENT_BYTES:
        raise MeasuredError(
            f"{path.name} has {size / 1e6:.0f} MB; less than {ceilings.LARGEST_MEASUREMENT_BYTES / 1e6:.0f} MB can be read. Cut the record, or export fewer channels."
        )
