"""One layout: its patches, how they are wired in groups, what hangs on the leads, and tuned masses."""

from __future__ import annotations

from typing import Literal

from core.project.loop import LoopDesign
from core.project.patch import Patch
from core.project.record import Record

CircuitName = Literal[
    "shorted",
    "open",
    "resistor",
    "series R-L",
    "parallel R-L",
    "resistor + C",
    "series R-L + C",
    "parallel R-L + C",
    "negative C series R",
    "negative C parallel R",
    "current-flowing 2",
    "current-flowing 3",
    "series-parallel 2",
    "series-parallel 3",
    "switched short",
    "switched inductor",
    "loop",
]


class Tuning(Record, frozen=True):
    """How circuit values follow the model: closed form, or the optimum of the coupled model.

    `mode` counts from 1. `goal`: largest damping of that mode; lowest peak of the response at
    the load case's output near that mode; lowest mean-square response over the load's band;
    or the weighted sum of damping over modes with `weights`. A circuit of several branches has its second,
    third ... on the modes `further` names, or else on those that follow.
    """

    mode: int = 1
    rule: Literal["closed form", "optimum"] = "closed form"
    goal: Literal["damping", "peak", "mean square", "weighted"] = "damping"
    weights: tuple[float, ...] = ()
    further: tuple[int, ...] = ()

    def modes(self, branches: int) -> tuple[int, ...]:
        """The mode (from 1) of every branch."""
        out = (self.mode, *self.further)[:branches]
        return out + tuple(range(out[-1] + 1, out[-1] + 1 + branches - len(out)))


class Circuit(Record, frozen=True):
    """What is connected to a group. `kind` names an entry of the circuit registry, `values`
    its parameters by the registry's names (SI); `tuning` None keeps the values fixed."""

    kind: CircuitName = "shorted"
    values: dict[str, float] = {}
    tuning: Tuning | None = None


class Instrument(Record, frozen=True):
    """An input that hangs on a group in parallel with its circuit."""

    name: str = "instrument input"
    resistance_ohm: float = 1e6
    capacitance_f: float = 0.0


USUAL_INPUT = Instrument("probe 10:1", 10e6, 15e-12)
"""Where nobody entered what the leads go to: what a passive probe of an oscilloscope usually is, from memory."""


class Member(Record, frozen=True):
    """A patch in a group; `polarity` +1 connects the dot to the group's positive lead."""

    patch: str
    polarity: Literal[1, -1] = 1


class Leads(Record, frozen=True):
    """What hung on a group's leads before the loop took them."""

    circuit: Circuit = Circuit()
    listened: bool = True
    """Whether an instrument's input hung on them."""


class Group(Record, frozen=True):
    """Patches wired together and what hangs on their leads.

    `before_loop` while the loop has them: what its opening brings back; None: nothing else was on them.
    """

    id: str
    members: tuple[Member, ...]
    wiring: Literal["parallel", "series"] = "parallel"
    circuit: Circuit = Circuit()
    instrument: Instrument | None = None
    bleed_ohm: float | None = None
    """Resistor that stays across the leads, on the patches' side of the connector; None: none is fitted."""
    before_loop: Leads | None = None


class Absorber(Record, frozen=True):
    """A tuned mass: a mass on a spring and a damper at one place of the structure.

    `frequency_hz` and `damping_ratio` are those of the mass on its spring alone, the structure held;
    `tuning` None keeps them fixed. `allowed_stroke_m` is how far the mass may move against the structure,
    to either side; None: as far as it likes.
    """

    id: str
    x_m: float
    mass_kg: float
    frequency_hz: float
    damping_ratio: float = 0.1
    tuning: Tuning | None = None
    allowed_stroke_m: float | None = None

    @property
    def values(self) -> dict[str, float]:
        """By the names of the port registry."""
        return {
            "mass_kg": self.mass_kg,
            "frequency_hz": self.frequency_hz,
            "damping_ratio": self.damping_ratio,
        }


class Build(Record, frozen=True):
    """What the circuits of a candidate are built from.

    `series` names the preferred values (IEC 60063) that every part is taken from and everything is predicted
    with; `pairs` lets two parts stand for one value. Inductors up to `largest_coil_h` are wound, at
    `coil_time_s` of inductance over winding resistance; larger ones are simulated by amplifiers of that
    gain-bandwidth product on plus and minus `supply_v`. `prices` each, in one currency, by the part as the
    parts list names it ("G1 R").
    """

    series: Literal["exact", "E12", "E24", "E96"] = "exact"
    pairs: bool = False
    largest_coil_h: float = 1.0
    coil_time_s: float = 0.01
    supply_v: float = 15.0
    gain_bandwidth_hz: float = 3e6
    prices: dict[str, float] = {}


class Candidate(Record, frozen=True):
    """One layout: patches, groups and circuits, and tuned masses, on the project's structure."""

    id: str
    name: str
    patches: tuple[Patch, ...] = ()
    groups: tuple[Group, ...] = ()
    note: str = ""
    absorbers: tuple[Absorber, ...] = ()
    build: Build = Build()
    loop: LoopDesign = LoopDesign()
    """Closed where the circuit of a group is "loop": that group is driven."""

    @property
    def called(self) -> str:
        """Its letter and its name, the letter alone where it has no other name: "A at the clamp", "A"."""
        return self.id if self.name in ("", self.id) else f"{self.id} {self.name}"

    @property
    def loop_ends(self) -> tuple[int, int] | None:
        """Numbers of the groups that listen and are driven; None where there are no two for it. Driven is the one whose
        circuit is the loop, else the one named; the other named listens. Who is not named is the first that is left."""
        ids = [group.id for group in self.groups]
        if len(ids) < 2:
            return None
        named = [ids.index(one) if one in ids else None for one in (self.loop.sensing, self.loop.driven)]
        closed = [g for g, group in enumerate(self.groups) if group.circuit.kind == "loop"]
        driven = closed[0] if closed else named[1]
        if driven is None:
            driven = 1 if named[0] == 0 else 0
        sensing = named[0] if named[0] is not None and named[0] != driven else (1 if driven == 0 else 0)
        return (sensing, driven) if self.groups[sensing].members and self.groups[driven].members else None

    @property
    def loop_is_closed(self) -> bool:
        return any(group.circuit.kind == "loop" for group in self.groups)

    @property
    def tunings(self) -> tuple[Tuning, ...]:
        """Every rule that values follow: of the groups' circuits, then of the tuned masses."""
        every = (*(group.circuit.tuning for group in self.groups), *(one.tuning for one in self.absorbers))
        return tuple(tuning for tuning in every if tuning is not None)

    def patch(self, id: str) -> Patch:
        """The patch of that id; KeyError if there is none."""
        for patch in self.patches:
            if patch.id == id:
                return patch
        raise KeyError(id)
