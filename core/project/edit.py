"""Changes to a project, as pure functions: a project goes in, the changed one comes out.

Nothing here judges: a patch may be put off the tip, and `core.project.problems` then says so.
A function that names something which is not there raises KeyError.
"""

from __future__ import annotations

from typing import Any, TypeVar

from msgspec.structs import replace

from core.project.bonded import with_read
from core.project.candidate import Candidate, Circuit, Group, Member, Tuning
from core.project.material import Material
from core.project.model import Project, View
from core.project.patch import Package, Patch
from core.project.placement.free_place import free_start, with_free_exit
from core.project.record import Record
from core.project.served import served_mode
from core.project.service import Service
from core.project.sheet import Sheet
from core.project.structure import Structure

T = TypeVar("T", bound=Record)


# ---- whole parts -------------------------------------------------------------------------


def with_structure(project: Project, structure: Structure | None = None, **changes: Any) -> Project:
    """The project with another structure, or with fields of its own changed."""
    return replace(project, structure=replace(structure or project.structure, **changes))


def with_stations(structure: Structure, stations_m: tuple[float, ...], **changes: Any) -> Structure:
    """The structure with other stations and fields; datums at its ends go with the ends."""
    if not structure.stations_m or not stations_m:
        return replace(structure, stations_m=stations_m, **changes)
    ends = {structure.stations_m[0]: stations_m[0], structure.span_m: stations_m[-1]}
    datums = tuple(replace(datum, x_m=ends.get(datum.x_m, datum.x_m)) for datum in structure.datums)
    return replace(structure, **{"stations_m": stations_m, "datums": datums, **changes})


def with_span(project: Project, span_m: float) -> Project:
    """The tip station moved, and what is measured from the tip with it; the stations before it stay."""
    structure = project.structure
    return with_structure(project, with_stations(structure, (*structure.stations_m[:-1], span_m)))


def with_service(project: Project, service: Service | None = None, **changes: Any) -> Project:
    """The project with another service description, or with fields of its own changed."""
    return replace(project, service=replace(service or project.service, **changes))


def with_view(project: Project, view: View | None = None, **changes: Any) -> Project:
    """The project with another view, or with fields of its own changed."""
    return replace(project, view=replace(view or project.view, **changes))


def with_sheet(project: Project, sheet: Sheet | None = None, **changes: Any) -> Project:
    """The project with other sheet data, or with fields of its own changed."""
    return replace(project, sheet=replace(sheet or project.sheet, **changes))


def with_package(project: Project, package: Package, materials: tuple[Material, ...] = ()) -> Project:
    """The project with this package added or replaced; `materials` it needs are added if missing."""
    known = {m.name for m in project.materials}
    missing = tuple(m for m in materials if m.name not in known)
    return replace(
        project,
        packages=_put(project.packages, package, "name"),
        materials=(*project.materials, *missing),
    )


# ---- candidates --------------------------------------------------------------------------


def with_candidate(project: Project, candidate: Candidate) -> Project:
    """The project with this candidate added, or in place of the one of the same id."""
    return replace(project, candidates=_put(project.candidates, candidate, "id"))


def set_active(project: Project, candidate_id: str) -> Project:
    """The project with another candidate worked on."""
    return replace(project, active=project.candidate(candidate_id).id)


def keep_candidate(project: Project) -> Project:
    """The active candidate copied as the next letter, at the end; work goes on on the copy."""
    letter = next_letter(project)
    copy = replace(project.candidate(), id=letter, name=_copy_name(project, project.candidate().name))
    kept = replace(project, candidates=(*project.candidates, copy), active=letter)
    return _with_origins_copied(kept, project.active, letter)


def duplicate_candidate(project: Project, candidate_id: str) -> Project:
    """A copy as the next letter right after its original; the active candidate stays."""
    original = project.candidate(candidate_id)
    copy = replace(original, id=next_letter(project), name=_copy_name(project, original.name))
    at = project.candidates.index(original) + 1
    copied = replace(project, candidates=(*project.candidates[:at], copy, *project.candidates[at:]))
    return _with_origins_copied(copied, candidate_id, copy.id)


def _with_origins_copied(project: Project, old: str, new: str) -> Project:
    """What was said of a candidate's inputs (origin, tolerance) said of its copy too."""
    start = f"candidates[{old}]"

    def both(said: dict[str, T]) -> dict[str, T]:
        own = {f"candidates[{new}]{p.removeprefix(start)}": o for p, o in said.items() if p.startswith(start)}
        return {**said, **own} if own else said

    return replace(project, origins=both(project.origins), tolerances=both(project.tolerances))


def rename_candidate(project: Project, candidate_id: str, name: str) -> Project:
    """The candidate with another name; its letter stays."""
    return with_candidate(project, replace(project.candidate(candidate_id), name=name.strip()))


def delete_candidate(project: Project, candidate_id: str) -> Project:
    """Without the candidate; its neighbour becomes active if it was. ValueError for the last one."""
    if len(project.candidates) < 2:
        raise ValueError("The last candidate cannot be deleted. Change it instead.")
    at = project.candidates.index(project.candidate(candidate_id))
    left = (*project.candidates[:at], *project.candidates[at + 1 :])
    active = left[max(at - 1, 0)].id if project.active == candidate_id else project.active
    start = f"candidates[{candidate_id}]"
    origins = {path: origin for path, origin in project.origins.items() if not path.startswith(start)}
    tolerances = {path: said for path, said in project.tolerances.items() if not path.startswith(start)}
    # what was measured on it must not come to a later candidate of the same letter
    measurements = tuple(m for m in project.measurements if m.candidate != candidate_id)
    return replace(
        project, candidates=left, active=active, origins=origins, tolerances=tolerances, measurements=measurements,
        bonded=with_read(project.bonded, candidate_id, ()),
    )  # fmt: skip


def next_letter(project: Project) -> str:
    """The first of A, B, ... Z, AA, AB, ... that no candidate has."""
    taken = {c.id for c in project.candidates}
    n = 0
    while _letters(n) in taken:
        n += 1
    return _letters(n)


def _letters(n: int) -> str:
    return (_letters(n // 26 - 1) if n >= 26 else "") + chr(ord("A") + n % 26)


def _copy_name(project: Project, name: str) -> str:
    taken = {c.name for c in project.candidates}
    return next(f"{name} {n}" for n in range(2, len(taken) + 3) if f"{name} {n}" not in taken)


# ---- patches -----------------------------------------------------------------------------


def with_patch(project: Project, candidate_id: str, patch: Patch) -> Project:
    """The candidate with this patch in place of the one of the same id; a new one gets its own group."""
    candidate = project.candidate(candidate_id)
    changed = replace(candidate, patches=_put(candidate.patches, patch, "id"))
    if not any(m.patch == patch.id for g in changed.groups for m in g.members):
        changed = replace(changed, groups=(*changed.groups, _own_group(project, changed, patch.id)))
    return with_candidate(project, changed)


def add_patch(project: Project, candidate_id: str, package_name: str | None = None) -> Project:
    """One more patch at the first free place from the root, in a group with a resistor on the mode served,
    its lead leaving where it finds room.

    Without a package name it is of the last patch's package, else the project's first. Where
    nothing is free it lies at the support line and `find_problems` tells the overlap.
    """
    candidate = project.candidate(candidate_id)
    last = candidate.patches[-1] if candidate.patches else None
    name = package_name or (last.package if last else project.packages[0].name)
    package = project.package(name)
    face = last.face if last is not None and package_name is None else "top"
    patch = Patch(
        id=next_patch_id(candidate),
        package=name,
        x_start_m=0.0,
        length_m=package.length_m,
        width_m=package.width_m,
        bond=package.bond,
        face=face,
    )
    placed = replace(patch, x_start_m=free_start(project, candidate, patch) or 0.0)
    return with_patch(project, candidate_id, with_free_exit(project, candidate, placed))


def next_patch_id(candidate: Candidate) -> str:
    """The first of P1, P2, ... that no patch of the candidate has."""
    return _next_id("P", {p.id for p in candidate.patches})


def without_patch(project: Project, candidate_id: str, patch_id: str) -> Project:
    """The candidate without the patch; groups lose it, and a group left empty goes too."""
    candidate = project.candidate(candidate_id)
    _find(candidate.patches, patch_id)
    groups = (
        replace(g, members=tuple(m for m in g.members if m.patch != patch_id)) for g in candidate.groups
    )
    return with_candidate(
        project,
        replace(
            candidate,
            patches=tuple(p for p in candidate.patches if p.id != patch_id),
            groups=tuple(g for g in groups if g.members),
        ),
    )


def with_leads_exchanged(project: Project, candidate_id: str, patch_id: str) -> Project:
    """The patch with its polarity reversed in its group; a pair wired for stretching is wired for bending."""
    candidate = project.candidate(candidate_id)
    patch = _find(candidate.patches, patch_id)
    if patch.face == "both" and not patch.pair_bending:
        return with_patch(project, candidate_id, replace(patch, pair_bending=True))
    groups = tuple(
        replace(
            g,
            members=tuple(replace(m, polarity=-m.polarity) if m.patch == patch_id else m for m in g.members),
        )
        for g in candidate.groups
    )
    return with_candidate(project, replace(candidate, groups=groups))


# ---- groups ------------------------------------------------------------------------------


def with_group(project: Project, candidate_id: str, group: Group) -> Project:
    """The candidate with this group added, or in place of the one of the same id."""
    candidate = project.candidate(candidate_id)
    return with_candidate(project, replace(candidate, groups=_put(candidate.groups, group, "id")))


def join_groups(project: Project, candidate_id: str, group_ids: tuple[str, ...]) -> Project:
    """The groups wired together as the first of them, which keeps its circuit and wiring."""
    candidate = project.candidate(candidate_id)
    joined = [_find(candidate.groups, g) for g in group_ids]
    first = replace(joined[0], members=tuple(m for g in joined for m in g.members))
    rest = tuple(g for g in candidate.groups if g.id not in group_ids[1:])
    return with_candidate(project, replace(candidate, groups=_put(rest, first, "id")))


def move_to_group(project: Project, candidate_id: str, patch_id: str, group_id: str | None) -> Project:
    """The patch wired into another group, its polarity kept; None gives it a new group of its own."""
    candidate = project.candidate(candidate_id)
    old = next(m for g in candidate.groups for m in g.members if m.patch == patch_id)
    groups = [
        replace(g, members=tuple(m for m in g.members if m.patch != patch_id)) for g in candidate.groups
    ]
    if group_id is None:
        groups.append(replace(_own_group(project, candidate, patch_id), members=(old,)))
    else:
        target = _find(tuple(groups), group_id)
        groups[groups.index(target)] = replace(target, members=(*target.members, old))
    return with_candidate(project, replace(candidate, groups=tuple(g for g in groups if g.members)))


def _own_group(project: Project, candidate: Candidate, patch_id: str) -> Group:
    """A resistor on the mode that the candidate serves."""
    mode = served_mode(project, candidate)
    circuit = Circuit("resistor", {"resistance_ohm": 1e5}, Tuning(mode=mode, rule="optimum", goal="damping"))
    return Group(_next_id("G", {g.id for g in candidate.groups}), (Member(patch_id),), "parallel", circuit)


# ---- helpers -----------------------------------------------------------------------------


def _put(items: tuple[T, ...], new: T, key: str) -> tuple[T, ...]:
    """`new` in place of the item with the same key, or at the end."""
    wanted = getattr(new, key)
    if not any(getattr(item, key) == wanted for item in items):
        return (*items, new)
    return tuple(new if getattr(item, key) == wanted else item for item in items)


def _find(items: tuple[T, ...], wanted: str) -> T:
    for item in items:
        if getattr(item, "id", None) == wanted:
            return item
    raise KeyError(wanted)


def _next_id(stem: str, taken: set[str]) -> str:
    return next(f"{stem}{n}" for n in range(1, len(taken) + 2) if f"{stem}{n}" not in taken)
