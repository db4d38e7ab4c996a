"""The revision trail: a released revision is frozen in the project; later ones list what changed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec
from msgspec.structs import replace

from core import units
from core.handover.sheet.identity import fingerprint, releases_of
from core.project.candidate import Candidate
from core.project.labels import field_of, label_of
from core.project.model import Project, Released
from core.project.sheet import Revision
from core.study.compare import ABSENT, Difference, input_differences

_PARTS = ("structure", "materials", "packages", "service", "sheet")
_NAMED = ("name", "id", "index")
"""Fields by which entries of a list are told apart."""
_KEPT_ASIDE = ("before_loop",)
"""Fields that nothing follows from until they are brought back."""


def release(project: Project, reason: str, date: str, candidate_id: str | None = None) -> Project:
    """The project with its next revision released: a line in the sheet's table and a frozen copy.

    ValueError where no reason is given; KeyError for an unknown candidate.
    """
    if not reason.strip():
        raise ValueError("A revision needs a reason: say in a line what changed.")
    new = Revision(next_index(project.sheet.revisions), date, reason.strip())
    sheet = replace(project.sheet, revisions=(*project.sheet.revisions, new), date=date)
    return freeze(replace(project, sheet=sheet), new, candidate_id)


def freeze(project: Project, revision: Revision, candidate_id: str | None = None) -> Project:
    """The project with a frozen copy of itself under a revision that stands in its sheet."""
    candidate = project.candidate(candidate_id)
    frozen = Released(
        revision.index, revision.date, revision.reason, fingerprint(project, candidate),
        project.structure, project.materials, project.packages, candidate, project.service, project.sheet,
    )  # fmt: skip
    return replace(project, releases=(*project.releases, frozen))


def follow_revisions(project: Project, before: tuple[Revision, ...]) -> Project:
    """The project whose releases go with its revision table, which was `before`.

    Lines that are new are frozen as the project now is; a line taken back takes its copy along.
    """
    lines = project.sheet.revisions
    kept = tuple(r for r in project.releases if any(line.index == r.index for line in lines))
    project = replace(project, releases=kept)
    if lines and lines[-1] not in before:
        project = replace(project, sheet=replace(project.sheet, date=lines[-1].date))
    for line in lines:
        if line not in before and not any(r.index == line.index for r in kept):
            project = freeze(project, line)
    return project


def frozen_project(project: Project, released: Released) -> Project:
    """The project as it was when that revision was released: its documents can be made again."""
    earlier = project.releases[: project.releases.index(released) + 1]
    return replace(
        project,
        structure=released.structure,
        materials=released.materials,
        packages=released.packages,
        candidates=(released.candidate,),
        active=released.candidate.id,
        service=released.service,
        sheet=released.sheet,
        releases=earlier,
    )


def is_released(project: Project, candidate: Candidate) -> bool:
    """Whether what the documents follow from is just what was last released."""
    own = releases_of(project, candidate)
    if not own:
        return False
    last = own[-1]
    return (
        last.candidate == candidate
        and last.fingerprint == fingerprint(project, candidate)
        and last.service == project.service
        and last.sheet == project.sheet
    )


def reference(project: Project, candidate: Candidate) -> Released | None:
    """What the present state is compared with: the last release, or the one before it while the
    present state is the last release. None where there is none."""
    releases = releases_of(project, candidate)
    if is_released(project, candidate):
        releases = releases[:-1]
    return releases[-1] if releases else None


def next_index(revisions: tuple[Revision, ...]) -> str:
    """The index after the last: A, B, ... Z, AA; a number counts on."""
    if not revisions:
        return "A"
    last = revisions[-1].index.strip()
    if last.isdigit():
        return str(int(last) + 1)
    letters = [c for c in last.upper() if "A" <= c <= "Z"]
    if not letters:
        return "A"
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    number += 1
    index = ""
    while number:
        number, rest = divmod(number - 1, 26)
        index = chr(ord("A") + rest) + index
    return index


# ---- differences -----------------------------------------------------------------------------


def changes(project: Project, released: Released, candidate_id: str | None = None) -> tuple[Difference, ...]:
    """What differs between a release and the present state: layout and circuits first, then the part,
    materials, packages, service and the sheet's own texts. Revision lines are no change."""
    now = project.candidate(candidate_id)
    then, other = replace(released.candidate, id="then"), replace(now, id="now")
    layout = input_differences(replace(project, candidates=(then, other), active="now"), "then", "now")
    return (*layout, *_differing(dict(_leaves(released)), dict(_leaves(project))))


def difference(before: Project, after: Project) -> tuple[Difference, ...]:
    """What differs between two projects, their candidates included."""
    return _differing(dict(_whole(before)), dict(_whole(after)))


def inputs(project: Project) -> tuple[tuple[str, str], ...]:
    """Every input of a project as label and text in display units."""
    return tuple((label_of(path), _text(path, value)) for path, value in _whole(project))


def _whole(project: Project) -> Iterator[tuple[str, object]]:
    yield from _walk("name", project.name)
    for candidate in project.candidates:
        walked = _walk(f"candidate {candidate.id}", candidate)
        yield from ((path, value) for path, value in walked if not path.endswith(".id"))
    yield from _leaves(project)


def _differing(before: dict[str, object], after: dict[str, object]) -> tuple[Difference, ...]:
    paths = [*before, *(path for path in after if path not in before)]
    return tuple(
        Difference(path, label_of(path), _text(path, before.get(path)), _text(path, after.get(path)))
        for path in paths
        if before.get(path) != after.get(path)
    )


def _leaves(owner: Project | Released) -> Iterator[tuple[str, object]]:
    for part in _PARTS:
        value: Any = getattr(owner, part)
        if part == "sheet":
            value = replace(value, revisions=())
        yield from _walk(part, value)


def _walk(path: str, value: Any) -> Iterator[tuple[str, object]]:
    if isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            if name not in _KEPT_ASIDE:
                yield from _walk(f"{path}.{name}", getattr(value, name))
    elif isinstance(value, tuple):
        for n, entry in enumerate(value):
            named = next((str(getattr(entry, k)) for k in _NAMED if hasattr(entry, k)), str(n + 1))
            yield from _walk(f"{path}[{named}]", entry)
    elif isinstance(value, dict):
        for key, entry in value.items():
            yield from _walk(f"{path}.{key}", entry)
    else:
        yield path, value


def _text(path: str, value: object) -> str:
    if value is None or value == "":
        return ABSENT
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return units.show_with_unit(float(value), _unit(path))
    return str(value)


def _unit(path: str) -> str:
    """Display unit of a number: its field's, per cent of a constant's tolerance, "1" for a count."""
    last = path.rpartition(".")[2]
    field = field_of(path)
    if last in ("tolerance", "per_kelvin"):
        return "%" if last == "tolerance" else "%/K"
    return field.unit or "1" if field is not None else "1"
