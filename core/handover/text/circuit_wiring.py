"""Which lead of which ceramic goes where: the wiring of a group as a table, its connector last."""

from __future__ import annotations

from collections.abc import Iterator

from core.handover.text.document import Table
from core.project.candidate import Candidate, Group, Member
from core.project.patch import Patch

POSITIVE, NEGATIVE = "+", "\N{MINUS SIGN}"


def wiring_table(candidate: Candidate, group: Group, connector: str) -> Table:
    """A row for each ceramic of the group, of a pair one for each face: where its dot (positive for a field along the
    poling) and its other lead go. In series the ceramics follow each other from + to −.

    connector : where it sits on the part."""
    patches = {patch.id: patch for patch in candidate.patches}
    ceramics = [c for member in group.members if member.patch in patches for c in _ceramics(patches[member.patch], member)]
    chain = group.wiring == "series" and len(ceramics) > 1
    rows = []
    for n, (patch, face, dot_up) in enumerate(ceramics):
        high = POSITIVE if not chain or n == 0 else f"node {n}"
        low = NEGATIVE if not chain or n == len(ceramics) - 1 else f"node {n + 1}"
        rows.append((patch, face, *((high, low) if dot_up else (low, high))))
    rows.append(("Connector J", connector, f"pin 1 is {POSITIVE}", f"pin 2 is {NEGATIVE}"))
    return Table(("Ceramic", "Face", "Its dot goes to", "Its unmarked lead goes to"), tuple(rows), (1.4, 2.2, 1.6, 2.0))


def _ceramics(patch: Patch, member: Member) -> Iterator[tuple[str, str, bool]]:
    """Name, face, and whether the dot goes towards the positive lead."""
    up = member.polarity > 0
    if patch.face != "both":
        yield patch.id, patch.face, up
        return
    yield patch.id, "top", up
    yield patch.id, "underside", up != patch.pair_bending
