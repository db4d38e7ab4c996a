"""Which reader reads which file; a new kind of file is one module and one line here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import cast

from core.outline.drawing import OutlineDrawing, OutlineError, checked

LARGEST_BYTES = 20_000_000
"""An outline needs some kilobytes; beyond this a file holds something else."""

Read = Callable[[Path], OutlineDrawing]


@dataclass(frozen=True)
class Reader:
    """A kind of file: its name in words, its endings, and the module whose `read` reads it."""

    label: str
    suffixes: tuple[str, ...]
    module: str

    def read(self, path: Path) -> OutlineDrawing:
        # imported here: a DXF library takes half a second that only an import should cost
        return cast(Read, import_module(self.module).read)(path)


READERS: tuple[Reader, ...] = (
    Reader("DXF drawing", (".dxf",), "core.outline.dxf"),
    Reader("SVG drawing", (".svg",), "core.outline.svg"),
    Reader("Table of widths", (".csv", ".txt", ".tsv"), "core.outline.widths"),
)
PICTURES = (".png", ".jpg", ".jpeg")
"""Endings of pictures, which are traced by hand and not read here."""


def reader_for(path: Path) -> Reader | None:
    """The reader of that file by its ending, None if there is none."""
    return next((r for r in READERS if path.suffix.lower() in r.suffixes), None)


def can_import(path: Path) -> bool:
    """Whether a file of that name can become an outline."""
    return reader_for(path) is not None or path.suffix.lower() in PICTURES


def read_drawing(path: Path) -> OutlineDrawing:
    """The drawing in that file; OutlineError in words where there is none."""
    reader = reader_for(path)
    if reader is None:
        known = ", ".join(s for r in READERS for s in r.suffixes)
        raise OutlineError(
            f"{path.name} is no kind of drawing that can be read ({known}). Export it as DXF or SVG."
        )
    check_file(path)
    try:
        return checked(reader.read(path))
    except OutlineError:
        raise
    except MemoryError:
        raise OutlineError(
            f"{path.name} needs more memory than an outline may. Export only the layers of the outline."
        ) from None
    except Exception as error:  # a broken file breaks the libraries anywhere, endless nesting included
        raise OutlineError(
            f"{path.name} could not be read: something in it is broken or holds itself. Export it again, with "
            "only the layers of the outline."
        ) from error


def check_file(path: Path, largest: int = LARGEST_BYTES) -> None:
    """OutlineError where the file is missing, a folder, empty or larger than `largest` bytes."""
    if path.is_dir():
        raise OutlineError(f"{path.name} is a folder. Choose the drawing in it.")
    try:
        size = path.stat().st_size
    except OSError as error:
        raise OutlineError(f"{path.name} cannot be opened: {error.strerror}.") from None
    if size == 0:
        raise OutlineError(f"{path.name} is empty (0 bytes). Export the drawing again.")
    if size > largest:
        cure = "Export only the layers of the outline, without pictures and hatching."
        if path.suffix.lower() in PICTURES:
            cure = "Save it with fewer pixels, or in shades of grey."
        raise OutlineError(
            f"{path.name} has {size / 1e6:.0f} MB; less than {largest / 1e6:.0f} MB can be read. {cure}"
        )


def read_text(path: Path) -> str:
    """The file as text: UTF-8, else Western European."""
    raw = path.read_bytes()
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")
