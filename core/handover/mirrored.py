"""The hand-over of the mirrored part: the same documents, turned over, under an identity of their own."""

from __future__ import annotations

from msgspec.structs import replace

from core.handover.releases import frozen_project
from core.handover.sheet.identity import fingerprint, number_of
from core.project.candidate import Candidate
from core.project.mirror import mirrored
from core.project.model import Project, Released
from core.project.sheet import Sheet


def mirrored_order(project: Project) -> Project:
    """The project of the mirrored part with its sheet's own number and title, released revisions included."""
    releases = tuple(_released(project, release) for release in project.releases)
    other = mirrored(project)
    return replace(other, sheet=_sheet(project.sheet, project.name), releases=releases)


def mirrored_guard(project: Project, candidate: Candidate) -> str:
    """What stands on a sheet of the mirrored part, made from the project of the part as drawn."""
    number = number_of(project, candidate)
    return f"MIRRORED PART, not the part as drawn{f' ({number})' if number else ''}."


def _sheet(sheet: Sheet, name: str) -> Sheet:
    number = sheet.mirrored_number.strip() or (f"{sheet.number.strip()}-M" if sheet.number.strip() else "")
    return replace(sheet, number=number, title=f"{sheet.title.strip() or name}, mirrored part")


def _released(project: Project, release: Released) -> Released:
    """A released revision of the mirrored part; the fingerprint stays that of a changed model where it was."""
    then = frozen_project(project, release)
    other = mirrored(then)
    same = release.fingerprint == fingerprint(then, then.candidate())
    return replace(
        release,
        structure=other.structure,
        candidate=other.candidate(),
        sheet=_sheet(release.sheet, project.name),
        fingerprint=fingerprint(other, other.candidate()) if same else release.fingerprint,
    )
