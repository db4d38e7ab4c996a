"""Sheets written to files. Only PDF and PNG need Qt, which is loaded for them alone."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from core.handover.drawing.items import Drawing, SheetError
from core.handover.drawing.svg import drawing_svg
from core.project.files import FileNotWrittenError, write_atomically

SUFFIXES = (".pdf", ".svg", ".png", ".dxf")


def write_sheet(drawings: Drawing | Sequence[Drawing], path: str | os.PathLike[str]) -> tuple[Path, ...]:
    """Write the sheets in the format the name ends in; the files written.

    A PDF holds all sheets; SVG, PNG and DXF of several are numbered NAME-1, NAME-2. A file appears
    whole or not at all. SheetError in words where it cannot be written.
    """
    sheets = (drawings,) if isinstance(drawings, Drawing) else tuple(drawings)
    target = Path(path)
    suffix = target.suffix.lower()
    if suffix not in SUFFIXES:
        raise SheetError(
            f"'{target.name}' does not end in a format the sheet can be written in. "
            "End the name in .pdf, .svg, .png or .dxf."
        )
    if not sheets:
        raise SheetError("There is no sheet to write.")
    if suffix == ".pdf":
        from app.handover.render import drawings_pdf  # Qt

        return (write_bytes(target, drawings_pdf(sheets)),)
    names = [target] if len(sheets) == 1 else [
        target.with_name(f"{target.stem}-{n}{target.suffix}") for n in range(1, len(sheets) + 1)
    ]  # fmt: skip
    encode = {".svg": _svg, ".png": _png, ".dxf": _dxf}[suffix]
    return tuple(write_bytes(name, encode(sheet)) for name, sheet in zip(names, sheets, strict=True))


def _svg(drawing: Drawing) -> bytes:
    return drawing_svg(drawing).encode("utf-8")


def _dxf(drawing: Drawing) -> bytes:
    from core.handover.drawing.dxf import drawing_dxf  # ezdxf takes half a second to import

    return drawing_dxf(drawing)


def _png(drawing: Drawing) -> bytes:
    from app.handover.render import drawing_png  # Qt

    return drawing_png(drawing)


def write_bytes(target: Path, content: bytes) -> Path:
    """Write a file whole or not at all. SheetError in words where it cannot be written."""
    try:
        write_atomically(content, target)
    except FileNotWrittenError as error:
        raise SheetError(str(error)) from None
    return target
