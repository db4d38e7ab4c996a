"""What the circuits of a candidate take from a supply, in words and watts: so that passive, switched and active candidates
stand beside each other."""

from __future__ import annotations

from dataclasses import dataclass

from core.circuit.registry import CIRCUITS
from core.predict.solved import Solved
from core.units import words


@dataclass(frozen=True)
class Supply:
    """What is supplied (empty: nothing), and the power at most under the active load: of amplifiers that simulate a part
    what they take at rest, of a loop its rails times its largest current. None where a switch's own is not known."""

    needs: tuple[str, ...]
    power_w: float | None

    @property
    def told(self) -> str:
        """ "none: passive"."""
        return "; ".join(self.needs) or "none: passive"


def supply_of(solved: Solved) -> Supply:
    """Of a solved layout."""
    candidate, needs = solved.candidate, []
    watts: float | None = 0.0
    simulated = solved.board.simulated
    if simulated:
        count = sum(one.amplifiers for one in simulated)
        needs.append(f"±{words.plain(candidate.build.supply_v)} V for {count} amplifier{'s' if count > 1 else ''}")
        watts = sum(one.supply_w for one in simulated)
    switches = [group.id for group in candidate.groups if CIRCUITS[group.circuit.kind].worked_out]
    if switches:
        needs.append("that of the switch")
        watts = None
    ends = candidate.loop_ends
    if candidate.loop_is_closed and ends is not None:
        design = candidate.loop
        needs.append(f"amplifier ±{words.engineering(design.amplifier_v, 'V')}, {words.engineering(design.amplifier_a, 'A')}")
        taken = design.amplifier_v * float(solved.vibration.group_current_a[ends[1]])
        watts = None if watts is None else watts + taken
    return Supply(tuple(needs), watts)
