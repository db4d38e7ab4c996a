"""The placement diagram: one sheet a face, that a shop can work from and cannot misread.

A placement diagram shows where a package goes and how it is bonded. It carries no result of the
prediction; dimensions are those of the model.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from core.handover.drawing.columns import set_in_box, set_in_columns
from core.handover.drawing.items import Drawing, Item, Polygon, SheetError, Text
from core.handover.drawing.lettering import fit, text_width_mm
from core.handover.releases import frozen_project, reference
from core.handover.sheet.clouds import Earlier, around_labels, labels_of
from core.handover.sheet.identity import title_of
from core.handover.sheet.layout import PAPERS_MM, Arrangement, Box, arrangements, lettering
from core.handover.sheet.notes import caution_lines, note_blocks
from core.handover.sheet.package_data import check_cure
from core.handover.sheet.section_detail import detail_items
from core.handover.sheet.subject import Side, Subject, faces_used, make_subject
from core.handover.sheet.title_block import title_height, title_items
from core.handover.sheet.views import largest_views
from core.predict.prediction import Remark
from core.predict.problems import find_problems
from core.project.model import Project
from core.project.placement.verdict import verdicts

MIRROR_GUARD = "AS DRAWN. The mirrored part has a sheet of its own."


def placement_diagrams(
    project: Project,
    candidate_id: str | None = None,
    remarks: Sequence[Remark | str] = (),
    *,
    open_voltage_v: float | None = None,
    guard: str = MIRROR_GUARD,
) -> tuple[Drawing, ...]:
    """One sheet for each face that carries a package, top first, on the project's paper.

    `remarks` are validity remarks, printed as they come; `open_voltage_v` is the largest voltage
    of the open patch in service, for the caution box; `guard` says for which part it is. Raises SheetError in words where no
    touchable datum is chosen, nothing is placed, or the sheet would contradict itself.
    """
    if project.sheet.paper not in PAPERS_MM:
        raise SheetError(
            f"There is no paper '{project.sheet.paper}'. Choose one of: {', '.join(PAPERS_MM)}."
        )
    refuse_problems(project, candidate_id)
    probe = make_subject(project, candidate_id, "top")
    faces = faces_used(probe.candidate)
    check_cure(project.sheet, tuple(p.package for p in (*probe.placed, *probe.others)))
    sheets = []
    for n, face in enumerate(faces, start=1):
        subject = make_subject(project, candidate_id, face)
        earlier = _earlier(subject, remarks)
        sheets.append(_sheet(subject, remarks, open_voltage_v, n, len(faces), earlier, guard))
    return tuple(sheets)


def _earlier(subject: Subject, remarks: Sequence[Remark | str]) -> Earlier | None:
    """What the sheet of this face said in the revision it is compared with; None without one."""
    released = reference(subject.project, subject.candidate)
    if released is None:
        return None
    frozen = frozen_project(subject.project, released)
    if subject.face not in faces_used(released.candidate):
        return Earlier(released.index)
    try:
        before = make_subject(frozen, released.candidate.id, subject.face)
        paper = subject.project.sheet.paper
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
    """The sheet of one face; of the first face that carries a package where none is named."""
    drawings = placement_diagrams(project, candidate_id, remarks, open_voltage_v=open_voltage_v)
    faces = faces_used(project.candidate(candidate_id))
    if face is None:
        return drawings[0]
    if face not in faces:
        raise SheetError(f"No patch lies on the {face} face. Sheets exist for: {', '.join(faces)}.")
    return drawings[faces.index(face)]


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


def _sheet(
    subject: Subject, remarks: Sequence[Remark | str], open_voltage_v: float | None, n: int, of: int,
    earlier: Earlier | None, guard: str,
) -> Drawing:  # fmt: skip
    paper = subject.project.sheet.paper
    height = title_height(subject.project, subject.candidate, lettering(paper))
    views, arrangement = largest_views(subject, arrangements(paper, height))
    letters = arrangement.lettering
    notes = note_blocks(subject, remarks)
    items: list[Item] = [Polygon(_corners(arrangement.frame), "frame", "wide")]
    items += _header(subject, arrangement, earlier, guard)
    first = len(items)
    items += views.items
    items += detail_items(subject, arrangement.detail, letters)
    items += set_in_columns(notes, arrangement.notes, letters, earlier)
    if earlier is not None:
        items += around_labels(views.items, earlier)
    items += _caution(subject, arrangement, open_voltage_v)
    items += title_items(
        subject, arrangement.title, letters, scale=views.scale_name, sheet=f"{n} / {of}", paper=paper
    )
    title = title_of(subject.project, subject.candidate)
    return Drawing(
        paper, arrangement.width_mm, arrangement.height_mm, tuple(items),
        f"{title}: placement diagram, {subject.face} face", (views.view,),
        (first, first + views.in_plan),
    )  # fmt: skip


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
    govern = "Written dimensions govern; do not scale."
    if earlier is not None:
        govern = f"Cloud: changed since revision {earlier.index}. {govern}"
    yield Text((box.right, below), govern, small, anchor="end")
    width = text_width_mm(guard, small, True)
    around = Box(box.left, below - small - 0.6, box.left + width + 3.0, below + 0.55 * small)
    yield Polygon(_corners(around), "text", "wide")
    yield Text((around.left + 1.5, below), guard, small, bold=True)
    yield Text((around.right + 3.0, below), f"{seen}, root at the left", small)


def _caution(subject: Subject, arrangement: Arrangement, open_voltage_v: float | None) -> Iterator[Item]:
    box = arrangement.caution
    yield Polygon(_corners(box), "caution", "wide")
    inner = Box(box.left + 2.0, box.top + 1.0, box.right - 2.0, box.bottom - 1.0)
    yield from set_in_box("CAUTION", caution_lines(subject, open_voltage_v), inner, arrangement.lettering)


def _corners(box: Box) -> tuple[tuple[float, float], ...]:
    return ((box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom))
