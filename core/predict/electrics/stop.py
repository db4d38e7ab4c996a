"""The stop sign: what grows, how fast, and the nearest setting that holds.

A layout that runs away has no damping to tell. What holds is found by changing one value of one circuit, or by
taking off what conducts beside it, and is proved by the poles: the closed form of a negative capacitance from cold to
hot first (`core.circuit.stability`), else each value of each circuit with a supply in turn, the one that must move
least.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp

from msgspec.structs import replace

from core.circuit import negative_capacitance
from core.circuit.connect import coupled_system, hold
from core.circuit.loop.closed import control_of
from core.circuit.loop.margins import law_decays
from core.circuit.registry import CIRCUITS
from core.circuit.spectrum import spectra
from core.predict.electrics.stability import stability_region
from core.predict.group_part import si_unit
from core.predict.loop.design import LAW_GROWS
from core.predict.poles import Growth, growths_of
from core.predict.solved import Solved
from core.project.candidate import Candidate, Group
from core.units import words
from core.units.sentence import inside

STEPS = (0.01, 0.03, 0.1, 0.3, 1.0, 2.0, 4.0)
"""Changes of a value tried to either side, as natural logarithms of the ratio."""
HALVINGS = 6


@dataclass(frozen=True)
class Holds:
    """The nearest setting that holds: the group, what is set ("Negative capacitance 53.5 nF"), and the candidate."""

    group: str
    setting: str
    candidate: Candidate
    verb: str = "Back to"

    @property
    def action(self) -> str:
        """What a button says."""
        return f"{self.verb} {inside(self.setting)}"


@dataclass(frozen=True)
class StopSign:
    """What grows fastest, and what to do about it."""

    growth: Growth
    holds: Holds | None
    by_law: bool = False
    """Whether the law of an active loop grows by itself."""

    @property
    def title(self) -> str:
        """ "Mode 2 grows, 283 Hz"; "The circuit drifts"."""
        told = self.growth.briefly
        return "The circuit drifts" if self.growth.mode is None else f"{told[:1].upper()}{told[1:]}"

    @property
    def detail(self) -> str:
        """How fast, until when, and what is not told meanwhile."""
        doubles = self.growth.doubles
        way = " without oscillation" if self.growth.mode is None else ""
        return f"It {doubles}{way}, until the amplifier is on its rail. No damping is shown while this stands."

    @property
    def cure(self) -> str:
        """The nearest setting that holds, as a sentence."""
        if self.holds is None and self.by_law:
            return LAW_GROWS
        if self.holds is None:
            return "No single value of its circuit holds: choose another circuit, or take off what conducts beside it."
        return f"{self.holds.setting} of group {self.holds.group} holds."


def stop_sign(solved: Solved) -> StopSign | None:
    """Of a solved layout; None where nothing grows."""
    if not solved.growths:
        return None
    by_law = solved.candidate.loop_is_closed and not law_decays(control_of(solved.candidate.loop))
    return StopSign(solved.growths[0], nearest_that_holds(solved), by_law)


def nearest_that_holds(solved: Solved) -> Holds | None:
    """The first of the ways above that the poles prove."""
    for way in _ways(solved):
        if _is_stable(solved, way.candidate):
            return way
    # with every value held a place costs a hundredth of what it does where all is tuned anew at each
    for tried in (hold(solved.candidate, solved.system), solved.candidate):
        found = [way for group in solved.candidate.groups for way in _searched(solved, group, tried)]
        for _, way in sorted(found, key=lambda pair: pair[0]):
            if _is_stable(solved, way.candidate):
                return way
        if not found:
            return None
    return None


def _ways(solved: Solved) -> Iterator[Holds]:
    loop = solved.loop
    if loop is not None and solved.candidate.loop_is_closed and loop.highest is not None:
        held = replace(solved.candidate, loop=replace(loop.design, times=loop.highest))
        driven = solved.candidate.groups[loop.driven].id
        yield Holds(driven, f"Gain of the loop × {words.significant(loop.highest)}", held)
    for index, group in enumerate(solved.candidate.groups):
        region = stability_region(solved, index)
        if region is None:
            continue
        if region.nearest_f is not None and not region.worst.setting.holds:
            yield _with_value(solved, group, negative_capacitance.NAME, region.nearest_f)
        if group.bleed_ohm is not None or group.instrument is not None:
            names = [name for name, there in (("bleed resistor", group.bleed_ohm), ("instrument", group.instrument)) if there is not None]
            bare = replace(group, bleed_ohm=None, instrument=None)
            yield Holds(group.id, f"No {' and no '.join(names)}", _with_group(solved.candidate, bare))


def _searched(solved: Solved, group: Group, tried: Candidate) -> Iterator[tuple[float, Holds]]:
    """Each value of a circuit with a supply, moved as little as it takes in the candidate tried, with how far that is."""
    kind = CIRCUITS[group.circuit.kind]
    if not kind.active:
        return
    index = solved.candidate.groups.index(group)
    now = solved.system.connections[index].numbers
    for parameter in kind.parameters:
        value = now[parameter.name]
        if value <= 0.0:
            continue

        def stands(by: float, name: str = parameter.name, from_: float = value) -> bool:
            own = tried.groups[index]
            tuning = None if name in kind.tuned else own.circuit.tuning
            circuit = replace(own.circuit, values={**now, name: from_ * exp(by)}, tuning=tuning)
            return _is_stable(solved, _with_group(tried, replace(own, circuit=circuit)))

        for side in (1.0, -1.0):
            last = 0.0
            for step in STEPS:
                if stands(side * step):
                    good = step
                    for _ in range(HALVINGS):
                        middle = 0.5 * (last + good)
                        if stands(side * middle):
                            good = middle
                        else:
                            last = middle
                    yield good, _with_value(solved, group, parameter.name, value * exp(side * good))
                    break
                last = step


def _with_value(solved: Solved, group: Group, name: str, value: float) -> Holds:
    """A circuit with one value set; what follows a rule goes on following it, unless it is that value."""
    kind = CIRCUITS[group.circuit.kind]
    now = solved.system.connections[solved.candidate.groups.index(group)].numbers
    tuning = None if name in kind.tuned else group.circuit.tuning
    circuit = replace(group.circuit, values={**now, name: value}, tuning=tuning)
    parameter = next(p for p in kind.parameters if p.name == name)
    setting = f"{parameter.label} {words.engineering(value, si_unit(parameter))}"
    return Holds(group.id, setting, _with_group(solved.candidate, replace(group, circuit=circuit)))


def _with_group(candidate: Candidate, group: Group) -> Candidate:
    return replace(candidate, groups=tuple(group if g.id == group.id else g for g in candidate.groups))


def _is_stable(solved: Solved, candidate: Candidate) -> bool:
    system = coupled_system(solved.beam, candidate, solved.side.forcing.tuning_aim)
    return not growths_of(system, spectra(system, solved.modes))
