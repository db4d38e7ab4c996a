"""Documents written to files: one entry for the dialog and for the commands without a window."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from app.handover.sheet_files import write_bytes, write_sheet
from core.handover.documents import KINDS, Kind, Order, markdown_of
from core.handover.drawing.items import SheetError
from core.handover.sheet.identity import number_of, revision_index, title_of
from core.handover.text.results import compute_results
from core.units.sentence import inside

LONGEST_STEM = 120

Said = Callable[[int, int, str], None]
"""Hears (step, of how many, what is being done)."""


def write_document(which: Kind, order: Order, path: str | os.PathLike[str]) -> tuple[Path, ...]:
    """Write one document in the format the name ends in; the files written.

    SheetError in words where the document has no such format or the file cannot be written.
    """
    target = Path(path)
    suffix = format_of(which, target)
    if suffix in which.files:
        return (write_bytes(target, which.files[suffix](order).encode("utf-8")),)
    if suffix == "md":
        return (write_bytes(target, markdown_of(order, which).encode("utf-8")),)
    return write_sheet(which.draw(order), target)


def format_of(which: Kind, target: Path) -> str:
    """The format a name ends in, as "pdf"; SheetError in words where the document has no such format."""
    suffix = target.suffix.lower().removeprefix(".")
    if suffix not in which.formats:
        names = ", ".join(f".{each}" for each in which.formats)
        raise SheetError(
            f"'{target.name}' does not end in a format the {inside(which.label)} can be written in. "
            f"End the name in one of: {names}."
        )
    return suffix


def file_stem(which: Kind, order: Order) -> str:
    """A file name without its ending: number or title, document, candidate, revision."""
    candidate = order.project.candidate(order.candidate_id)
    identity = number_of(order.project, candidate) or title_of(order.project, candidate)
    words = f"{identity} {which.label} {revision_index(order.project, candidate)}"
    return "-".join("".join(c if c.isalnum() else " " for c in words).split()).lower()[-LONGEST_STEM:]


def write_all(
    order: Order,
    folder: Path,
    *,
    said: Said = lambda *_: None,
    stopped: Callable[[], bool] = lambda: False,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Every document as PDF, the placement diagram also as DXF and SVG, texts also as Markdown.

    Gives (files written, sentences on documents that could not be made). `said` hears what is being
    done, `stopped` is asked before each step: what is written by then stays.
    """
    files: list[Path] = []
    troubles: list[str] = []
    wanted = [(which, suffix) for which in KINDS if not which.on_request for suffix in _suffixes(which)]
    said(0, len(wanted) + 1, "Predicting all candidates")
    order = _with_results(order, stopped)
    failed: set[str] = set()
    for n, (which, suffix) in enumerate(wanted, start=1):
        if stopped():
            return tuple(files), (*troubles, "Stopped. What had been written stays in the folder.")
        said(n, len(wanted) + 1, f"{which.label}, {suffix.upper()}")
        try:
            if which.key not in failed:
                files += write_document(which, order, folder / f"{file_stem(which, order)}.{suffix}")
        except SheetError as error:
            failed.add(which.key)
            troubles.append(f"{which.label}: {error}")
    return tuple(files), tuple(troubles)


def _suffixes(which: Kind) -> tuple[str, ...]:
    if which.key == "sheet":
        return ("pdf", "dxf", "svg")
    return ("pdf", "md", *which.files) if which.write else ("pdf",)


def _with_results(order: Order, stopped: Callable[[], bool]) -> Order:
    results = compute_results(
        order.project, order.candidate_id, "all candidates", known=order.prediction, stopped=stopped
    )
    return replace(order, results=results)
