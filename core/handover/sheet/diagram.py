"""The placement diagram: one sheet a face, that a shop can work from and cannot misread.

A placement diagram shows where a package goes and how it is bonded. It carries no result of the
prediction; dimensions are those of the model.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from core.handover.drawing.columns import set_in_box, set_in_columns
from core.handover.drawing.items import Drawing, Item, Line, Polygon, SheetError, Text
from core.handover.drawing.lettering import fit, text_width_mm
from core.handover.releases import frozen_project, reference
from core.handover.sheet.clouds import Earlier, around_labels, labels_of
from core.handover.sheet.identity import title_of
from core.handover.sheet.layout import (
    CENTRING_MM,
    GO_ON_MM,
    PAPERS_MM,
    Arrangement,
    Box,
    Lettering,
    arrangements,
    continued,
    lettering,
)
from core.handover.sheet.notes import caution_lines, note_blocks
from core.handover.sheet.package_data import check_cure
from core.handover.sheet.section_detail import detail_items
from core.handover.sheet.subject import Side, Subject, faces_used, make_subject
from core.handover.sheet.title_block import MIRROR_GUARD, title_height, title_items
from core.handover.sheet.views import Views, largest_views
from core.predict.prediction import Remark
from core.predict.remarks.problems import find_problems
from core.project.model import Project
from core.project.placement.verdict import verdicts

GOVERN = "Written dimensions govern; do not scale."
MOST_FURTHER = 4
"""Sheets of notes for one face."""


def placement_diagrams(
    project: Project,
    candidate_id: str | None = None,
    remarks: Sequence[Remark | str] = (),
    *,
    open_voltage_v: float | None = None,
    guard: str = MIRROR_GUARD,
    paper: str | None = None,
) -> tuple[Drawing, ...]:
    """A sheet for each face that carries a package or a tuned mass, top first, on the project's paper, followed by
    sheets of notes where these find no room beside the views.

    `remarks` are validity remarks, which are counted; `open_voltage_v` is the largest voltage of the
    open patch in service, for the caution box; `guard` says for which part it is; `paper` is another
    than the project's. Raises SheetError in words where no
    touchable datum is chosen, nothing is placed, or the sheet would contradict itself.
    """
    chosen = paper or project.sheet.paper
    if chosen not in PAPERS_MM:
        raise SheetError(f"There is no paper '{chosen}'. Choose one of: {', '.join(PAPERS_MM)}.")
    refuse_problems(project, candidate_id)
    probe = make_subject(project, candidate_id, "top")
    faces = faces_used(probe.candidate)
    if not faces:
        raise SheetError(f"Candidate {probe.candidate.id} has no patch. Place a patch, then make the sheet.")
    check_cure(project.sheet, tuple(p.package for p in (*probe.placed, *probe.others)))
    plans = [_planned(make_subject(project, candidate_id, face), chosen, remarks, guard) for face in faces]
    of = sum(1 + len(plan.further) for plan in plans)
    sheets: list[Drawing] = []
    for plan in plans:
        sheets.append(_sheet(plan, open_voltage_v, len(sheets) + 1, of))
        for notes in plan.further:
            sheets.append(_notes_sheet(plan, notes, len(sheets) + 1, of))
    return tuple(sheets)


@dataclass(frozen=True)
class Planned:
    """A face with its views and where its notes go: on its sheet, and on further ones."""

    subject: Subject
    paper: str
    views: Views
    arrangement: Arrangement
    earlier: Earlier | None
    notes: tuple[Item, ...]
    further: tuple[tuple[Item, ...], ...]
    guard: str


def _planned(subject: Subject, paper: str, remarks: Sequence[Remark | str], guard: str) -> Planned:
    earlier = _earlier(subject, paper, remarks)
    height = title_height(subject.project, subject.candidate, lettering(paper))
    views, arrangement = largest_views(subject, arrangements(paper, height))
    if not subject.placed:  # no package section to show: its box takes notes
        arrangement = replace(arrangement, notes=(arrangement.detail, *arrangement.notes))
    flow = set_in_columns(note_blocks(subject, remarks), arrangement.notes, arrangement.lettering, earlier)
    notes = flow.items
    further: list[tuple[Item, ...]] = []
    while flow.rest:
        if len(further) == MOST_FURTHER:
            raise SheetError("The notes take too many sheets. Shorten them or choose a larger paper.")
        boxes = continued(paper, height).notes
        flow = set_in_columns(flow.rest, boxes, arrangement.lettering, earlier)
        further.append(flow.items)
    return Planned(subject, paper, views, arrangement, earlier, notes, tuple(further), guard)


def _earlier(subject: Subject, paper: str, remarks: Sequence[Remark | str]) -> Earlier | None:
    """What the sheet of this face said in the revision it is compared with; None without one."""
    released = reference(subject.project, subject.candidate)
    if released is None:
        return None
    frozen = frozen_project(subject.project, released)
    if subject.face not in faces_used(released.candidate):
        return Earlier(released.index)
    try:
        before = make_subject(frozen, released.candidate.id, subject.face)
        height = title_height(frozen, released.candidate, lettering(paper))
        views, _ = largest_views(before, arrangements(paper, height))
    except SheetError:  # what was released once may not fit today's rules; then all counts as new
        return Earlier(released.index)
    paragraphs = frozenset(line for _, lines in note_blocks(before, remarks) for line in lines)
    return Earlier(released.index, labels_of(views.items), paragraphs)


def placement_diagram(
    project: Project,
    candidate_id: str | None = None,
    remarks: Sequence[Remark | str] = (),
    *,
    face: Side | None = None,
    open_voltage_v: float | None = None,
) -> Drawing:
    """The sheet with the views of one face; of the first that carries a package where none is named."""
    drawings = placement_diagrams(project, candidate_id, remarks, open_voltage_v=open_voltage_v)
    faces = faces_used(project.candidate(candidate_id))
    if face is not None and face not in faces:
        raise SheetError(f"Nothing lies on the {face} face. Sheets exist for: {', '.join(faces)}.")
    with_views = [drawing for drawing in drawings if drawing.views]
    return with_views[0 if face is None else faces.index(face)]


def refuse_problems(project: Project, candidate_id: str | None) -> None:
    """SheetError for a layout that could not be built; the circuit need not be settled yet."""
    wanted = project.active if candidate_id is None else candidate_id
    shown = ("structure", "materials", "packages", f"candidates[{wanted}].patches")
    for problem in find_problems(project):
        if problem.path.startswith(shown):
            raise SheetError(f"The sheet waits for this: {problem.message}")
    if wanted not in {candidate.id for candidate in project.candidates}:
        return
    for touched in verdicts(project.structure, project.packages, project.candidate(wanted)):
        for touch in touched:
            if touch.obstacle.stops_margin:
                raise SheetError(f"The sheet waits for this: {touch.sentence}")


def _sheet(plan: Planned, open_voltage_v: float | None, n: int, of: int) -> Drawing:
    subject, views, arrangement, earlier = plan.subject, plan.views, plan.arrangement, plan.earlier
    paper, letters = plan.paper, arrangement.lettering
    items: list[Item] = [*border(arrangement.frame, arrangement.width_mm, arrangement.height_mm)]
    items += _header(subject, arrangement, earlier, plan.guard)
    first = len(items)
    items += views.items
    items += detail_items(subject, arrangement.detail, letters)
    items += plan.notes
    if plan.further:
        items.append(_continued_on(arrangement.notes[-1], n + 1, letters))
    if earlier is not None:
        items += around_labels(views.items, earlier)
    items += _caution(subject, arrangement, open_voltage_v)
    items += title_items(
        subject, arrangement.title, letters, scale=views.scale_name, sheet=f"{n} / {of}", paper=paper
    )
    return Drawing(
        paper, arrangement.width_mm, arrangement.height_mm, tuple(items),
        f"{_title(subject)}: placement diagram, {subject.face} face", (views.view,),
        (first, first + views.in_plan), _title(subject) + ": placement diagram",
    )  # fmt: skip


def _notes_sheet(plan: Planned, notes: tuple[Item, ...], n: int, of: int) -> Drawing:
    """Notes that found no room beside the views, under the same heading and over the same title block."""
    subject, paper = plan.subject, plan.paper
    letters = plan.arrangement.lettering
    arrangement = continued(paper, title_height(subject.project, subject.candidate, letters))
    items: list[Item] = [*border(arrangement.frame, arrangement.width_mm, arrangement.height_mm)]
    items += [*_header(subject, arrangement, plan.earlier, plan.guard), *notes]
    if n < of and notes is not plan.further[-1]:
        items.append(_continued_on(arrangement.notes[-1], n + 1, letters))
    items += title_items(subject, arrangement.title, letters, scale="notes", sheet=f"{n} / {of}", paper=paper)
    return Drawing(
        paper, arrangement.width_mm, arrangement.height_mm, tuple(items),
        f"{_title(subject)}: placement diagram, {subject.face} face, notes", (), (0, 0),
        _title(subject) + ": placement diagram",
    )  # fmt: skip


def _title(subject: Subject) -> str:
    return title_of(subject.project, subject.candidate)


def _continued_on(box: Box, sheet: int, letters: Lettering) -> Item:
    """Where the notes go on, under the last of them."""
    return Text(
        (box.right, box.bottom + 0.7 * GO_ON_MM), f"notes go on, sheet {sheet}", 0.8 * letters.least, "text", "end", True
    )


def border(frame: Box, width: float, height: float) -> Iterator[Item]:
    """The frame and the centring marks of its sides (ISO 5457)."""
    yield Polygon(_corners(frame), "frame", "wide")
    x, y, long = width / 2, height / 2, CENTRING_MM
    for start, end in (
        ((x, frame.top - long), (x, frame.top)), ((x, frame.bottom), (x, frame.bottom + long)),
        ((frame.left - long, y), (frame.left, y)), ((frame.right, y), (frame.right + long, y)),
    ):  # fmt: skip
        yield Line(start, end, "frame", "wide")


def _header(
    subject: Subject, arrangement: Arrangement, earlier: Earlier | None, guard: str
) -> Iterator[Item]:
    """Face shown, the guard against mirroring, and what governs."""
    box, letters = arrangement.header, arrangement.lettering
    size, small = letters.head, letters.dimension
    top, below = box.top + size, box.top + 2.35 * size
    sheet = subject.project.sheet
    note = sheet.face_note if subject.face == "top" else sheet.underside_note
    side = note.strip() or "side away from ____________"
    seen = "seen from above" if subject.face == "top" else "part turned over, seen from below"
    heading = f"FACE SHOWN: {subject.face.upper()} ({side})"
    document = "PLACEMENT DIAGRAM"
    room = box.width - text_width_mm(document, size, True) - 6.0
    yield Text((box.left, top), fit(heading, size, room, True), size, bold=True)
    yield Text((box.right, top), document, size, anchor="end", bold=True)
    width = text_width_mm(guard, small, True)
    around = Box(box.left, below - small - 0.6, box.left + width + 3.0, below + 0.55 * small)
    yield Polygon(_corners(around), "text", "wide")
    yield Text((around.left + 1.5, below), guard, small, bold=True)
    seen = f"{seen}, root at the left"
    yield Text((around.right + 3.0, below), seen, small)
    changed = "" if earlier is None else f"Cloud: changed since revision {earlier.index}. "
    room = box.right - around.right - 6.0 - text_width_mm(seen, small)
    for govern in (GOVERN, "Do not scale."):
        size = max(0.6 * small, min(small, small * room / text_width_mm(changed + govern, small)))
        if size > 0.8 * small:
            break
    yield Text((box.right, below), changed + govern, size, anchor="end")


def _caution(subject: Subject, arrangement: Arrangement, open_voltage_v: float | None) -> Iterator[Item]:
    box = arrangement.caution
    yield Polygon(_corners(box), "caution", "wide")
    inner = Box(box.left + 2.0, box.top + 1.0, box.right - 2.0, box.bottom - 1.0)
    yield from set_in_box("CAUTION", caution_lines(subject, open_voltage_v), inner, arrangement.lettering)


def _corners(box: Box) -> tuple[tuple[float, float], ...]:
    return ((box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom))
