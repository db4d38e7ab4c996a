"""What a search is after, within which limits, and what it found: plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from core.project.candidate import Candidate, CircuitName
from core.project.record import Face

GoalKind = Literal["damping", "weighted", "band", "targets"]

GOALS: dict[GoalKind, str] = {
    "damping": "largest damping of one mode",
    "weighted": "largest weighted damping of several modes",
    "band": "lowest response in the load's band",
    "targets": "targets per mode at least mass",
}


@dataclass(frozen=True)
class Target:
    """What one mode must reach: at least `zeta`, at most `peak_db` (a negative change of its peak
    against the leads shorted); None asks for nothing."""

    mode: int
    zeta: float | None = None
    peak_db: float | None = None


@dataclass(frozen=True)
class Goal:
    """`mode` serves "damping", `weights` per mode "weighted", `targets` "targets"; "band" looks at
    the active load and its band."""

    kind: GoalKind = "damping"
    mode: int = 1
    weights: tuple[float, ...] = ()
    targets: tuple[Target, ...] = ()


Series = Literal["", "E12", "E24", "E96"]


@dataclass(frozen=True)
class Limits:
    """What a layout may be.

    patches : how many, each number allowed; joined : two patches wired together in parallel, else
    each with its own circuit; length_m : range of the ceramic's length, None for the package's own;
    x_range_m : where the ceramics may lie, None for the whole span; strain_margin : least allowable
    over static strain (0 to not ask); largest_inductance_h : None for any; preferred : series of
    part values (IEC 60063), '' for any value; largest_voltage_v : peak voltage at the leads under the
    active load, None for any; it picks among the layouts predicted singly and steers no search.
    """

    packages: tuple[str, ...]
    circuits: tuple[CircuitName, ...] = ("resistor",)
    faces: tuple[Face, ...] = ("top",)
    patches: tuple[int, ...] = (1,)
    joined: bool = False
    length_m: tuple[float, float] | None = None
    x_range_m: tuple[float, float] | None = None
    keep_outs: bool = True
    added_mass_kg: float | None = None
    strain_margin: float = 1.0
    largest_inductance_h: float | None = None
    preferred: Series = ""
    largest_voltage_v: float | None = None

    def range_m(self, span_m: float) -> tuple[float, float]:
        """Where the ceramics may lie, within the span."""
        low, high = self.x_range_m or (0.0, span_m)
        return max(low, 0.0), min(high, span_m)


@dataclass(frozen=True)
class SearchRequest:
    """What a search is for, within which limits, how many layouts are wanted, and its seed."""

    goal: Goal
    limits: Limits
    wanted: int = 5
    seed: int = 1


@dataclass(frozen=True)
class SoFar:
    """A good layout of a search that still runs: `words` say its score, `exact` whether that is the
    single prediction's, else it is the batched engine's."""

    candidate: Candidate
    words: str
    exact: bool


@dataclass(frozen=True)
class Found:
    """One layout, predicted exactly.

    score : what the goal counts, `score_words` says it with its unit; zeta, peak_db per mode
    (None: no peak at the output); strain_margin : inf where nothing bends it; binding : what keeps
    it from being better, in words; at_edge : it lies at the edge of what was searched;
    voltage_v : largest peak voltage at the leads under the active load.
    """

    candidate: Candidate
    score: float
    score_words: str
    zeta: tuple[float, ...]
    peak_db: tuple[float | None, ...]
    added_mass_kg: float
    strain_margin: float
    binding: tuple[str, ...]
    at_edge: bool
    meets: bool
    voltage_v: float = 0.0


@dataclass(frozen=True)
class SearchResult:
    """The layouts found, best first; `met` False when no layout does what was asked, `verdict` says
    so in words, and `gives` what would have to give."""

    request: SearchRequest
    found: tuple[Found, ...]
    met: bool
    verdict: str
    gives: tuple[str, ...]
    evaluations: int
