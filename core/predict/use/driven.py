"""Leads that an amplifier drives: what they carry, what stays on them when it goes, and what a person must know.

The amplifier of a closed loop may stand at its largest voltage whatever the load; the patch used as a shaker is driven
with what was entered. One form for the screen, the papers and what a terminal prints.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING

from core.predict.electrics.leads import TOUCHED_DC_V, Leads, LeadVoltage
from core.predict.electrics.safety import USUAL_BLEED_OHM
from core.units import words

if TYPE_CHECKING:
    from core.predict.solved import Solved
    from core.project.candidate import Candidate
    from core.project.model import Project
    from core.project.use import Drive


@dataclass(frozen=True)
class DrivenLeads:
    """A group's leads under an amplifier: volts to either side of a bias, whether they may also stand there, the free
    capacitance that holds them, and the resistor across them (`fitted`, or the usual one)."""

    group: str
    by: str
    swing_v: float
    bias_v: float
    may_stand: bool
    capacitance_f: float
    bleed_ohm: float
    fitted: bool

    @property
    def peak_v(self) -> float:
        return abs(self.bias_v) + self.swing_v

    @property
    def charge_c(self) -> float:
        return self.capacitance_f * self.peak_v

    @property
    def energy_j(self) -> float:
        return 0.5 * self.capacitance_f * self.peak_v**2

    @property
    def to_touch_s(self) -> float:
        """Until the resistor has the leads down to what may be touched, the amplifier off and its output open."""
        return self.bleed_ohm * self.capacitance_f * log(max(self.peak_v / TOUCHED_DC_V, 1.0))

    @property
    def leads(self) -> Leads:
        """As every voltage at leads is judged."""
        where = f"group {self.group}"
        found = [] if self.may_stand else [LeadVoltage(where, self.swing_v, False, self.by, False)]
        if self.may_stand or self.bias_v:
            cause = f"{self.by} at its largest voltage" if self.may_stand else f"{self.by} with its bias"
            found.append(LeadVoltage(where, self.peak_v, True, cause, False))
        return Leads(tuple(sorted(found, key=lambda one: -one.volts)))

    @property
    def sentence(self) -> str:
        """What they carry and how it is taken away."""
        lead = "its bleed resistor" if self.fitted else f"{words.engineering(self.bleed_ohm, 'ohm')} across them"
        quick = f"; {lead} has them at {TOUCHED_DC_V:g} V after {words.seconds(self.to_touch_s)}" if self.peak_v > TOUCHED_DC_V else ""
        return (
            f"Driven leads of {self.group} carry up to {words.engineering(self.peak_v, 'V')} ({self.by}) and hold "
            f"{words.engineering(self.charge_c, 'C')}, {words.engineering(self.energy_j, 'J')} when the amplifier goes{quick}: "
            "discharge them through a resistor before a hand reaches them."
        )

    @property
    def cautions(self) -> tuple[str, str]:
        """The sentence, and whether the leads may be touched."""
        return self.sentence, self.leads.touch


@dataclass(frozen=True)
class Driven:
    """Who drives a group (from 0), volts to either side of a bias, and whether they may stand there."""

    index: int
    by: str
    swing_v: float
    bias_v: float = 0.0
    may_stand: bool = False

    @property
    def peak_v(self) -> float:
        return abs(self.bias_v) + self.swing_v


def driven_groups(project: Project, candidate: Candidate) -> tuple[Driven, ...]:
    """Of a candidate: by a closed loop, and every group where the patches are looked at as shakers."""
    found = []
    ends = candidate.loop_ends
    if candidate.loop_is_closed and ends is not None:
        found.append(Driven(ends[1], "the amplifier of the loop", candidate.loop.amplifier_v, may_stand=True))
    if project.view.use == "drive":
        taken = {one.index for one in found}
        found += [_by_drive(project.drive, g) for g in range(len(candidate.groups)) if g not in taken]
    return tuple(found)


def _by_drive(drive: Drive, index: int) -> Driven:
    return Driven(index, "the drive", drive.amplitude_v, drive.bias_v)


def driven_leads(solved: Solved) -> tuple[DrivenLeads, ...]:
    """The leads of the groups that are driven."""
    return tuple(_leads(solved, one) for one in driven_groups(solved.project, solved.candidate))


def driven_as_shaker(solved: Solved, index: int) -> DrivenLeads:
    """The leads of a group (from 0) under the drive that was entered."""
    return _leads(solved, _by_drive(solved.project.drive, index))


def _leads(solved: Solved, one: Driven) -> DrivenLeads:
    group = solved.candidate.groups[one.index]
    ohm = USUAL_BLEED_OHM if group.bleed_ohm is None else group.bleed_ohm
    stored = float(solved.beam.group_free_f[one.index, one.index])
    return DrivenLeads(group.id, one.by, one.swing_v, one.bias_v, one.may_stand, stored, ohm, group.bleed_ohm is not None)
