"""How the leads of a group are joined: one text for the placement diagram, the circuit card and the window.

The dot marks the lead that is positive for a field along the poling. A pair wired for bending has its
two ceramics joined the opposite way round, so the dot of one goes with the unmarked lead of the other.
"""

from __future__ import annotations

from core.project.candidate import Candidate, Group, Member
from core.project.patch import Patch


def joined_leads(candidate: Candidate, group: Group) -> str:
    """ "parallel, P1 top dot and underside unmarked lead, P2 dot to +"; of a lone patch "P1 dot to +"."""
    patches = {patch.id: patch for patch in candidate.patches}
    parts = ", ".join(lead_words(patches[m.patch], m) for m in group.members if m.patch in patches)
    several = len(group.members) > 1
    how = "each towards +" if several and group.wiring == "series" else "to +"
    return f"{group.wiring}, {parts} {how}" if several else f"{parts} {how}"


def lead_words(patch: Patch, member: Member) -> str:
    """The leads of one patch that go towards the group's positive lead."""
    side, other = ("dot", "unmarked lead") if member.polarity > 0 else ("unmarked lead", "dot")
    if patch.face != "both":
        return f"{patch.id} {side}"
    return f"{patch.id} top {side} and underside {other if patch.pair_bending else side}"
