"""What a candidate does when something of it fails: a lead comes off, leads touch, a ceramic breaks, a supply goes.

Each case is another candidate, with the circuits at the values in effect (a broken part does not tune itself), and
is solved and read as every candidate is. A ceramic breaks across its middle: the half farther from the leads stays
bonded but is on no lead any more. One of a pair that is lost stays bonded too. The bleed resistor sits on the
patches' side of the connector and stays where a lead opens; the circuit then stands alone, and an amplifier may
run to its rail.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, nan
from typing import Literal

from msgspec.structs import replace

from core.circuit import instrument
from core.circuit.alone import growth_1_s
from core.circuit.connect import beside_f, coupled_system
from core.circuit.kind import INDUCTANCE, LARGEST_INDUCTANCE_H, numbered
from core.circuit.loop.closed import control_of
from core.circuit.loop.margins import law_decays
from core.circuit.network import COMMON, LEAD, Network, Part
from core.circuit.registry import CIRCUITS
from core.circuit.spectrum import spectra
from core.circuit.system import Connection
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.predict.electrics.leads import leads_of, standing_voltages, volts_up_to
from core.predict.forcing import active_load, forcing
from core.predict.poles import growths_of, mode_damping, mode_poles, told_pole
from core.predict.predict import bare, hold, modes_kept
from core.project.candidate import Candidate, Circuit, Group, Instrument, Member
from core.project.model import Project
from core.project.patch import Patch
from core.project.served import served_mode
from core.units import words

What = Literal[
    "as designed", "supply off", "branch off", "lead open", "leads shorted", "sensing lead open", "sensing leads shorted",
    "half lost", "one of a pair lost",
]  # fmt: skip
SENSING_OPEN: What = "sensing lead open"
SENSING_SHORTED: What = "sensing leads shorted"
ON_THE_RAIL = "amplifier on its rail"
INSULATES_OHM = 1e18


@dataclass(frozen=True)
class Case:
    """A failure as the candidate it leaves; `inside` are groups whose leads nobody reaches."""

    what: What
    name: str
    candidate: Candidate
    alone: tuple[str, bool] | None = None
    """The group whose circuit is on its own then, and whether its leads are joined."""
    inside: tuple[str, ...] = ()


@dataclass(frozen=True)
class Failure:
    """A row of the table.

    damping, frequency_hz : of mode `mode` (from 1); nan where the layout runs away. volts : the largest across
    leads in that state, peak, under every load, bend and change of temperature; `cause` says which.
    """

    what: What
    name: str
    mode: int
    damping: float
    frequency_hz: float
    volts: float
    cause: str
    is_safe: bool
    verdict: str
    """In two or three words: "safe", "do not touch bare", "amplifier on its rail", "drifts"."""

    @property
    def cells(self) -> tuple[str, str, str, str, str]:
        """Name, damping ratio, frequency, volts and verdict in words."""
        runs_away = self.damping != self.damping
        return (
            self.name,
            words.UNSTABLE if runs_away else words.damping(self.damping),
            words.NO_VALUE if runs_away else words.frequency(self.frequency_hz),
            volts_up_to(self.volts),
            self.verdict,
        )


HEADS = ("When something fails", "Damping ratio", "Frequency", "Volts at the leads, up to", "Verdict")


@dataclass(frozen=True)
class Behaviour:
    """What every candidate is asked, whatever hangs on it: the cases that answer it, and what is told without one."""

    label: str
    cases: tuple[What, ...]
    otherwise: str

    def told(self, rows: tuple[Failure, ...]) -> str:
        """Of the case that leaves least (one that grows leaves nothing): "0.17 %, never touch"; "mode 1 grows, 20 Hz"."""
        own = [row for row in rows if row.what in self.cases]
        if not own:
            return self.otherwise
        worst = min(own, key=lambda row: row.damping if row.damping == row.damping else -inf)
        return worst.verdict if worst.damping != worst.damping else f"{words.damping(worst.damping)}, {worst.verdict}"


BEHAVIOUR = (
    Behaviour("Supply or amplifier off", ("supply off",), "needs none"),
    Behaviour("A lead open", ("lead open", SENSING_OPEN), "as designed"),
    Behaviour("Leads shorted", ("leads shorted", SENSING_SHORTED), "as designed"),
)


def failures(project: Project, candidate_id: str | None = None) -> tuple[Failure, ...]:
    """The table of a valid project's candidate (None: the active one), as designed first; of two alike that could
    break (either face of a pair, either half where the leads leave sideways) the one that leaves less damping.

    Raises KeyError as `predict`.
    """
    bench = _Bench.of(project, project.candidate(candidate_id))
    rows = []
    for alike in cases(bench.held):
        found = [bench.row(case) for case in alike]
        rows.append(min(found, key=lambda row: row.damping if row.damping == row.damping else -inf))
    return tuple(rows)


@dataclass(frozen=True)
class _Bench:
    """What all cases of a candidate share: its circuits held, its own layout solved."""

    project: Project
    held: Candidate
    beam: CoupledBeam
    kept: int

    @classmethod
    def of(cls, project: Project, candidate: Candidate) -> _Bench:
        kept = modes_kept(project, bare(project))
        beam = solve(project, candidate, n_modes=kept)
        system = coupled_system(beam, candidate, forcing(beam, active_load(project), project.view).tuning_aim)
        return cls(project, hold(candidate, system), beam, kept)

    def row(self, case: Case) -> Failure:
        project, candidate = self.project, case.candidate
        same = candidate.patches == self.held.patches and _wires(candidate) == _wires(self.held)
        beam = self.beam if same else solve(project, candidate, n_modes=self.kept)
        system = coupled_system(beam, candidate)
        modes = min(project.view.modes_shown, len(beam.omega_rad_s))
        found = spectra(system, modes)
        grown = growths_of(system, found)
        mode = min(served_mode(project, self.held), modes)
        zeta = nan if grown else mode_damping(found[mode - 1], mode - 1)
        poles = () if grown else mode_poles(found[mode - 1], mode - 1)
        standing = standing_voltages(project, beam, system, found)
        hidden = {f"group {name}" for name in case.inside}
        leads = leads_of([one for one in standing if one.where not in hidden])
        said = [grown[0].briefly] if grown else []
        if leads is not None and not leads.is_safe:
            said.append(leads.verdict)
        if case.alone is not None and _on_the_rail(self.held, *case.alone):
            said.append(ON_THE_RAIL)
        return Failure(
            what=case.what,
            name=case.name,
            mode=mode,
            damping=zeta,
            frequency_hz=told_pole(poles).frequency_hz if poles else nan,
            volts=inf if grown else leads.largest.volts if leads else 0.0,
            cause=leads.largest.cause if leads else "",
            is_safe=not said,
            verdict=", ".join(said) or "safe",
        )


def _wires(candidate: Candidate) -> tuple[object, ...]:
    return tuple((g.id, g.members, g.wiring) for g in candidate.groups)


def _on_the_rail(held: Candidate, group_id: str, joined: bool) -> bool:
    """Whether the circuit that the group had runs away without it."""
    group = next(g for g in held.groups if g.id == group_id)
    kind = CIRCUITS[group.circuit.kind]
    if kind.worked_out:  # a switch, which its equivalent stands for while it hangs on the patches
        return False
    if kind.key == "loop":
        # nothing it hears answers what it drives: only a law that grows by itself runs away
        return not law_decays(control_of(held.loop))
    values = kind.complete(group.circuit.values)
    across = float(beside_f(group, values))
    return growth_1_s(Connection(kind, values), across, instrument.conductance_s(group.instrument), joined) > 0.0


# -- the cases ---------------------------------------------------------------------------------------


def cases(candidate: Candidate) -> Iterator[tuple[Case, ...]]:
    """Every case, circuits fixed already; those that differ only in which of two like things breaks together."""
    yield (Case("as designed", "As designed", candidate),)
    several = len(candidate.groups) > 1
    listens = _listens(candidate)
    for group in candidate.groups:
        if group is listens:
            yield from _deaf(candidate, group)
            continue
        name = f"{group.id}: " if several else ""
        off = without_supply(group, candidate.build.largest_coil_h)
        if off is not None:
            what = "amplifier off" if group.circuit.kind == "loop" else "supply off"
            yield (Case("supply off", _capital(f"{name}{what}"), _with_group(candidate, off)),)
        branches = CIRCUITS[group.circuit.kind].branches
        for n in range(1, branches + 1 if branches > 1 else 0):
            lost = without_branch(group, n)
            yield (Case("branch off", _capital(f"{name}branch {n} off"), _with_group(candidate, lost)),)
        if group.circuit.kind != "open":
            opened = replace(group, circuit=Circuit("open"), instrument=None)
            yield (Case("lead open", _capital(f"{name}lead open"), _with_group(candidate, opened), (group.id, False)),)
        if group.circuit.kind != "shorted":
            joined = replace(group, circuit=Circuit("shorted"))
            yield (Case("leads shorted", _capital(f"{name}leads shorted"), _with_group(candidate, joined), (group.id, True)),)
    for patch in candidate.patches:
        own = next((g for g in candidate.groups if any(m.patch == patch.id for m in g.members)), None)
        if own is None:
            continue
        yield tuple(_half_lost(candidate, own, patch))
        if patch.face == "both" and own.wiring == "parallel":
            yield tuple(_face_lost(candidate, own, patch, lost) for lost in ("top", "underside"))


def _listens(candidate: Candidate) -> Group | None:
    """The group a closed loop listens to."""
    ends = candidate.loop_ends if candidate.loop_is_closed else None
    return None if ends is None else candidate.groups[ends[0]]


def _deaf(candidate: Candidate, sensing: Group) -> Iterator[tuple[Case, ...]]:
    """The lead a loop listens on open or shorted: its input is at rest, and the driven group hangs on what the amplifier's
    output is."""
    driven = next(group for group in candidate.groups if group.circuit.kind == "loop")
    still = replace(driven, circuit=Circuit("resistor", {"resistance_ohm": candidate.loop.output_ohm}))
    opened = replace(sensing, circuit=Circuit("open"), instrument=None)
    joined = replace(sensing, circuit=Circuit("shorted"))
    for left, what in ((opened, SENSING_OPEN), (joined, SENSING_SHORTED)):
        after = _with_group(_with_group(candidate, left), still)
        yield (Case(what, f"{sensing.id}: {what.replace('leads ', '')}", after, (driven.id, False)),)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _with_group(candidate: Candidate, group: Group) -> Candidate:
    return replace(candidate, groups=tuple(group if g.id == group.id else g for g in candidate.groups))


def _face_lost(candidate: Candidate, group: Group, patch: Patch, lost: str) -> Case:
    top, underside = _faces(patch)
    gone = top if lost == "top" else underside
    layout, own = _split(candidate, group, patch, (top, underside))
    return Case(
        "one of a pair lost", f"{patch.id}: {lost} one lost", _off_the_leads(layout, own, gone.id)
    )  # fmt: skip


def _half_lost(candidate: Candidate, group: Group, patch: Patch) -> Iterator[Case]:
    """The half away from the leads, of a pair that of its upper ceramic; either where the leads leave sideways."""
    ends = {"towards root": ("tip",), "towards tip": ("root",)}.get(patch.lead_exit, ("root", "tip"))
    middle = patch.x_start_m + 0.5 * patch.length_m
    whole = (patch,) if patch.face != "both" else _faces(patch)
    broken = whole[0]
    root = replace(broken, id=f"{broken.id} root half", length_m=0.5 * patch.length_m)
    tip = replace(broken, id=f"{broken.id} tip half", x_start_m=middle, length_m=0.5 * patch.length_m)
    layout, own = _split(candidate, group, patch, (root, tip, *whole[1:]))
    for end in ends:
        gone = root if end == "root" else tip
        name = f"{patch.id}: {end} half lost" if len(whole) == 1 else f"{patch.id}: {end} half of the top one lost"
        after = _off_the_leads(layout, own, gone.id)
        yield Case("half lost", name, after, inside=(_own_group(gone.id),))


def _faces(patch: Patch) -> tuple[Patch, Patch]:
    return replace(patch, id=f"{patch.id} top", face="top"), replace(patch, id=f"{patch.id} underside", face="underside")


def _split(
    candidate: Candidate, group: Group, patch: Patch, parts: tuple[Patch, ...]
) -> tuple[Candidate, Group]:
    """The patch as several wired as it was: of a pair for bending the lower one the other way round."""
    turned = patch.face == "both" and patch.pair_bending
    members: list[Member] = []
    for member in group.members:
        if member.patch != patch.id:
            members.append(member)
            continue
        for part in parts:
            opposite = turned and part.face == "underside"
            members.append(Member(part.id, _turned(member.polarity) if opposite else member.polarity))
    at = candidate.patches.index(patch)
    patches = (*candidate.patches[:at], *parts, *candidate.patches[at + 1 :])
    own = replace(group, members=tuple(members))
    return replace(_with_group(candidate, own), patches=patches), own


def _turned(polarity: Literal[1, -1]) -> Literal[1, -1]:
    return -1 if polarity == 1 else 1


def _own_group(patch_id: str) -> str:
    return f"{patch_id} alone"


def _off_the_leads(candidate: Candidate, group: Group, patch_id: str) -> Candidate:
    """A patch on leads of its own that nothing hangs on."""
    rest = replace(group, members=tuple(m for m in group.members if m.patch != patch_id))
    alone = Group(_own_group(patch_id), (Member(patch_id),), circuit=Circuit("open"))
    kept = _with_group(candidate, rest)
    return replace(kept, groups=(*kept.groups, alone))


# -- without its supply ------------------------------------------------------------------------------


def without_supply(group: Group, largest_coil_h: float) -> Group | None:
    """The group with what is left of its circuit when the supply is off: a dead amplifier, and so a negative
    capacitance or an inductor that is none of wire, carries no current, and a switch stays open. None where nothing
    needs a supply."""
    kind = CIRCUITS[group.circuit.kind]
    values = kind.complete(group.circuit.values)
    network = kind.network(values)
    if kind.worked_out or (kind.active and not network):
        return replace(group, circuit=Circuit("open"))
    dead = {part for part in network if _needs_supply(part, largest_coil_h)}
    if not dead:
        return None
    return _left(group, network, dead)


def without_branch(group: Group, branch: int) -> Group:
    """The group with the coil of one branch (from 1) parted."""
    kind = CIRCUITS[group.circuit.kind]
    network = kind.network(kind.complete(group.circuit.values))
    name = numbered(INDUCTANCE.name, branch)
    return _left(group, network, {part for part in network if part.parameter == name})


def _needs_supply(part: Part, largest_coil_h: float) -> bool:
    """Whether a part is made of amplifiers."""
    return part.what == "negative capacitor" or (part.what == "inductor" and part.value > largest_coil_h)


def _left(group: Group, network: Network, dead: set[Part]) -> Group:
    """What conducts yet: as leads open, or resistor and capacitor across them, where that is all there is; else the same
    circuit with the dead coils so large that nothing passes."""
    cores = {part for part in network for coil in dead if part.ends == coil.ends and part.name == f"Rc{coil.name[1:]}"}
    left = _conducting(tuple(part for part in network if part not in dead | cores))
    if any(set(part.ends) != {LEAD, COMMON} or part.what == "inductor" for part in left):
        gone = {part.parameter: LARGEST_INDUCTANCE_H for part in dead if part.what == "inductor"}
        return replace(group, circuit=replace(group.circuit, values={**group.circuit.values, **gone}))
    resistors = [part.value for part in left if part.what == "resistor"]
    farad = sum(part.value for part in left if part.what == "capacitor")
    circuit = Circuit("open")
    if 0.0 in resistors:
        circuit = Circuit("shorted")
    elif resistors:
        circuit = Circuit("resistor", {"resistance_ohm": 1.0 / sum(1.0 / ohm for ohm in resistors)})
    beside = group.instrument
    if farad > 0.0:
        hung = beside or Instrument("what is left of the circuit", INSULATES_OHM)
        beside = replace(hung, capacitance_f=hung.capacitance_f + farad)
    return replace(group, circuit=circuit, instrument=beside)


def _conducting(network: Network) -> Network:
    """Without the parts that lead nowhere."""
    while True:
        ends = Counter(end for part in network for end in part.ends)
        kept = tuple(p for p in network if all(end in (LEAD, COMMON) or ends[end] > 1 for end in p.ends))
        if len(kept) == len(network):
            return kept
        network = kept


__all__ = ["HEADS", "Case", "Failure", "cases", "failures", "without_branch", "without_supply"]
