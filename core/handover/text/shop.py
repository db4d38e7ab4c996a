"""What the documents for shop, buyer and bench have in common: who is placed, title fields, cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from core.handover.drawing.items import SheetError
from core.handover.sheet.diagram import refuse_problems
from core.handover.sheet.identity import fingerprint, number_of, revision_index
from core.handover.sheet.notes import public
from core.handover.sheet.subject import Placed, Subject, faces_bonded, make_subject
from core.handover.text.document import Block, Bullets, Caution, Heading
from core.predict.electrics.safety import DEFERS
from core.predict.prediction import Prediction, Remark
from core.project.candidate import Candidate
from core.project.model import Project

WRITE = "____________"
CHECK_STATUS = "check current status"


def subjects(project: Project, candidate_id: str | None) -> tuple[Subject, ...]:
    """One subject for each face that carries a package. SheetError in words where none can be made."""
    refuse_problems(project, candidate_id)
    probe = make_subject(project, candidate_id, "top")
    return tuple(make_subject(project, candidate_id, face) for face in faces_bonded(probe.candidate))


def candidate_of(project: Project, candidate_id: str | None) -> Candidate:
    """The candidate of that id, the active one for None; SheetError that names those there are."""
    try:
        return project.candidate(candidate_id)
    except KeyError:
        names = ", ".join(c.id for c in project.candidates)
        raise SheetError(f"There is no candidate {candidate_id}. Choose one of: {names}.") from None


def validity(prediction: Prediction) -> list[Block]:
    """What keeps a design from being trusted, under its heading; nothing where nothing does."""
    return under_validity((*unstable_texts(prediction), *remark_texts(prediction.remarks)))


def under_validity(lines: Sequence[str]) -> list[Block]:
    """Lines under the heading that every paper has for them; nothing where there are none."""
    return [Heading("Validity of the design"), Bullets(tuple(lines))] if lines else []


def every_package(faces: Sequence[Subject]) -> tuple[Placed, ...]:
    """Each package once, also one that lies on both faces."""
    found: dict[str, Placed] = {}
    for subject in faces:
        for placed in subject.placed:
            found.setdefault(placed.id, placed)
    return tuple(found.values())


def identity(project: Project, candidate: Candidate) -> tuple[tuple[str, str], ...]:
    """Title fields that every document carries."""
    sheet = project.sheet
    return (
        ("number", number_of(project, candidate)),
        ("revision", revision_index(project, candidate)),
        ("candidate", candidate.called),
        ("model", fingerprint(project, candidate)),
        ("part", sheet.part_drawing or project.structure.name),
        ("date", sheet.date),
        ("created by", sheet.creator),
        ("approved by", sheet.approver),
    )


def ceramics_per_part(placed: Sequence[Placed]) -> int:
    """Packages bonded to one part: a pair takes two."""
    return sum(p.patch.ceramics for p in placed)


def remark_texts(remarks: Sequence[Remark | str]) -> tuple[str, ...]:
    """Validity remarks as sentences, each once."""
    texts = (remark if isinstance(remark, str) else remark.text for remark in public(remarks))
    return tuple(dict.fromkeys(t.strip() if t.strip().endswith((".", "!")) else f"{t.strip()}." for t in texts))


def lead_cautions(prediction: Prediction) -> Iterator[str]:
    """What whoever handles the leads must know."""
    leads = prediction.leads
    for driven in prediction.driven:
        yield from driven.cautions
    if leads:
        yield (
            f"An open patch gives up to {leads.up_to} ({leads.largest.where}: {leads.largest.cause}). "
            f"{leads.touch} Clip on until the circuit is connected."
        )
    else:
        yield (
            "An open patch gives hundreds of volts when bent, heated or cooled; nothing was given to say "
            "how many. Clip on until the circuit is connected."
        )
    yield DEFERS
    yield "Discharge through 100 kΩ before touching or soldering."
    yield "The patch harms the circuit, not the other way round: clamp every semiconductor input."


def driven_blocks(prediction: Prediction, *last: str) -> list[Block]:
    """What whoever reaches for driven leads must know; nothing where no amplifier drives any. `last` stands below it."""
    told = tuple(text for one in prediction.driven for text in one.cautions)
    return [Caution("DRIVEN BY AN AMPLIFIER", (*told, *last))] if told else []


def unstable_texts(prediction: Prediction) -> tuple[str, ...]:
    """What grows, and the setting that holds; nothing where all is stable."""
    return prediction.unstable if prediction.stop is None else (*prediction.unstable, prediction.stop.cure)
