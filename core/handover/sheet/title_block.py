"""Title block: the data fields of ISO 7200 in a layout of our own, revisions, fingerprint."""

from __future__ import annotations

from collections.abc import Iterator

from core.handover.drawing.items import Circle, Item, Line, Point, Polygon, Text
from core.handover.drawing.lettering import fit, wrap
from core.handover.sheet.identity import fingerprint, number_of, revision_index, revisions_of, title_of
from core.handover.sheet.layout import Box, Lettering
from core.handover.sheet.section_detail import shared
from core.handover.sheet.subject import Subject
from core.project.article import specification
from core.project.candidate import Candidate
from core.project.model import Project

SHOWN_REVISIONS = 3
MIRROR_GUARD = "AS DRAWN. The mirrored part has a sheet of its own."

Cell = tuple[str, str, float]
"""Field name, value, share of the row's width."""


def _row_height(letters: Lettering) -> float:
    return letters.label + letters.value + 2.6


def _revision_height(letters: Lettering) -> float:
    return 1.35 * letters.value


def title_height(project: Project, candidate: Candidate, letters: Lettering) -> float:
    """Height that the title block takes with its table of revisions, mm."""
    shown = min(SHOWN_REVISIONS, max(1, len(revisions_of(project, candidate))))
    return 4 * _row_height(letters) + shown * _revision_height(letters) + letters.label + 2.0


def title_items(
    subject: Subject, box: Box, letters: Lettering, *, scale: str, sheet: str, paper: str
) -> Iterator[Item]:
    """The block filling its box: four rows of fields, then the revision table."""
    yield Polygon(_corners(box), "title block", "wide")
    y = box.top
    for row in _rows(subject, scale, sheet, paper):
        height = _row_height(letters)
        yield from _cells(row, Box(box.left, y, box.right, y + height), letters)
        y += height
        yield Line((box.left, y), (box.right, y), "title block", "narrow")
    yield from _revisions(subject, Box(box.left, y, box.right, box.bottom), letters)
    yield from _projection((box.right - 11.0, box.top + 3 * _row_height(letters) - 2.6))


def _rows(subject: Subject, scale: str, sheet: str, paper: str) -> tuple[tuple[Cell, ...], ...]:
    fields, project = subject.project.sheet, subject.project
    index = revision_index(project, subject.candidate)
    revisions = revisions_of(project, subject.candidate)
    before = revisions[-2].index if len(revisions) > 1 else "none"
    part = fields.part_drawing or project.structure.name
    patch = shared(subject.placed, lambda p: specification(project.sheet, p.patch, p.package)) or "no patch"
    title = title_of(project, subject.candidate)
    return (
        (("Title", title, 0.5), ("Identification number", number_of(project, subject.candidate), 0.25),
         ("Revision", index, 0.13), ("Sheet", sheet, 0.12)),
        (("Part and its drawing", part, 0.5), ("Patch specification", patch, 0.5)),
        (("Document type", "Placement diagram", 0.3),
         ("Units, scale", f"mm, {scale} on {paper}", 0.28),
         ("Model", fingerprint(project, subject.candidate), 0.23), ("Projection", "", 0.19)),
        (("Legal owner", fields.owner, 0.27), ("Creator", fields.creator, 0.19),
         ("Approval", fields.approver, 0.19), ("Date of issue", fields.date, 0.19),
         ("Supersedes", before, 0.16)),
    )  # fmt: skip


def _cells(row: tuple[Cell, ...], box: Box, letters: Lettering) -> Iterator[Item]:
    x = box.left
    for n, (label, value, share) in enumerate(row):
        right = x + share * box.width
        if n:
            yield Line((x, box.top), (x, box.bottom), "title block", "narrow")
        room = right - x - 2.0
        at = box.top + letters.label + 0.5
        yield Text((x + 1.0, at), fit(label, letters.label, room), letters.label, "title block")
        yield from _value(value, x + 1.0, box.bottom, room, letters)
        x = right


def _value(value: str, x: float, bottom: float, room: float, letters: Lettering) -> Iterator[Item]:
    """A value on one line, smaller where it is long, on two lines where even that is too long."""
    value, size, least = " ".join(value.split()), letters.value, 0.75 * letters.value
    while size > least and fit(value, size, room, True) != value:
        size -= 0.1
    lines = wrap(value, size, room, True)
    if len(lines) > 2:
        lines = (lines[0], fit(" ".join(lines[1:]), size, room, True))
    for n, line in enumerate(lines):
        if line:
            base = bottom - (1.0 if len(lines) == 1 else 0.7 + 1.1 * size * (1 - n))
            yield Text((x, base), line, size, "title block", bold=True)


def _revisions(subject: Subject, box: Box, letters: Lettering) -> Iterator[Item]:
    """The newest revisions, oldest of them first: index, date, reason."""
    stops = (1.0, 0.1 * box.width, 0.3 * box.width)
    for x, label in zip(stops, ("Revision", "Date", "Reason"), strict=True):
        yield Text((box.left + x, box.top + letters.label + 0.5), label, letters.label, "title block")
    y = box.top + letters.label + 0.3
    size = 0.9 * letters.value
    revisions = revisions_of(subject.project, subject.candidate)[-SHOWN_REVISIONS:]
    lines = [(r.index, r.date, r.reason) for r in revisions] or [("draft", "", "not released")]
    ends = (*stops[1:], box.width)
    for cells in lines:
        y += _revision_height(letters)
        for x, end, words in zip(stops, ends, cells, strict=True):
            shown = fit(words, size, end - x - 1.0)
            if shown:
                yield Text((box.left + x, y), shown, size, "title block")


def _projection(centre: Point) -> Iterator[Item]:
    """Third angle: the plan stands above the side view."""
    x, y = centre
    yield Circle((x, y), 1.6, "title block", "narrow")
    yield Circle((x, y), 0.8, "title block", "narrow")
    cone = ((x + 3.4, y - 0.8), (x + 7.4, y - 1.6), (x + 7.4, y + 1.6), (x + 3.4, y + 0.8))
    yield Polygon(cone, "title block", "narrow")
    yield Line((x - 2.4, y), (x + 8.6, y), "title block", "fine", "chain")


def _corners(box: Box) -> tuple[Point, ...]:
    return ((box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom))
