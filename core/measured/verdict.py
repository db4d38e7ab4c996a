"""One sentence on the bond, with the numbers behind it.

The root is freed before the bond is judged: a soft root alone takes a good part of K^2, most of it from
the modes whose strain it moves away from the patch. A mass that nobody entered is weighed against it. Then
measured K^2 is held against that of the very state measured, over the modes whose coupling can be judged,
and the capacitance tells a debonded end (it rises: free ceramic holds more charge) from a crack (it falls).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from msgspec.structs import replace

from core.circuit.instrument import tau_adding
from core.measured.coupling import Coupling
from core.measured.predicted import LEAST_K2, modes_of, prediction_in, with_sensor
from core.measured.quality import Doubt
from core.measured.root import RootError, find_root, with_root
from core.measured.runs import Mean
from core.piezo.ceramic import free_capacitance_f
from core.piezo.layout import solve
from core.predict.prediction import Prediction
from core.project.measurement import Bench
from core.project.model import Project
from core.project.structure import PointMass
from core.units import words

Code = Literal["good", "suspect", "debond", "crack", "wrong patch", "polarity or lead", "instrument", "not judged"]
Cause = Literal["", "root", "mass"]

GOOD = (0.9, 1.1)
SUSPECT = 0.7
NOTHING = 0.1
"""Measured K^2 over predicted: common practice in the trade, not a standard."""
CAPACITANCE_UP, CAPACITANCE_DOWN = 0.04, -0.05
"""Change of capacitance that goes with a debonded end and with a crack or a lost electrode."""
OTHER_PATCH = (0.65, 1.2)
"""A capacitance outside is another patch: suppliers hold 20 %, and below them a crack takes some more."""
SHARE_LEFT = 0.06
"""A capacitance this near to that of some of the ceramics says that the others are off the leads."""
CROWDED = 0.12
"""Uncertainty of the ratio from which nothing is said of the bond."""
SOFTER = 3e-3
"""f1 this far below the prediction is asked for its cause."""
EXPLAINED = 0.3
"""A cause explains f1 where it leaves no more than this share of its shift in the others."""
UNEVEN = 0.2
"""Ratios of modes that differ by more speak of a place on the patch, not of the whole bond line."""
AT_METER = 1.3
"""A capacitance is held against the model's at a meter's frequency within this factor."""
LOADS = 0.1
"""A resistance across open leads whose tau is below 1/this is heard in the damping."""


@dataclass(frozen=True)
class Ratio:
    """A mode's measured and predicted K^2 in the state measured, after the root was freed."""

    mode: int
    measured: float
    u_measured: float
    predicted: float

    @property
    def ratio(self) -> float:
        return self.measured / self.predicted if self.predicted > 0.0 else math.nan

    @property
    def u_ratio(self) -> float:
        return self.u_measured / self.predicted if self.predicted > 0.0 else math.inf

    @property
    def judged(self) -> bool:
        return self.predicted >= LEAST_K2 and self.u_ratio <= CROWDED


@dataclass(frozen=True)
class Verdict:
    """The sentence, what it rests on, and the ratios; `cause` what was freed first and to what project."""

    code: Code
    title: str
    text: str
    ratios: tuple[Ratio, ...] = ()
    mean_ratio: float | None = None
    cause: Cause = ""
    cause_text: str = ""
    capacitance_ratio: float | None = None
    instrument_ohm: float | None = None


@dataclass(frozen=True)
class Evidence:
    """What was measured: means by mode of shorted and open runs, coupling, capacitance (F at Hz) if known.

    `before_f` is the capacitance of the same patch before bonding, in F, None where nobody measured it.
    """

    shorted: dict[int, Mean]
    opened: dict[int, Mean]
    couplings: tuple[Coupling, ...]
    capacitance_f: float | None = None
    capacitance_hz: float = 1000.0
    before_f: float | None = None
    doubts: tuple[Doubt, ...] = ()


def judge(project: Project, evidence: Evidence, bench: Bench, candidate_id: str | None = None) -> Verdict:
    """The verdict on a candidate's bond. A valid project with a patch; Verdict("not judged") says why not."""
    return _Judge(project, evidence, bench, project.candidate(candidate_id).id).verdict()


@dataclass(frozen=True)
class _Judge:
    project: Project
    evidence: Evidence
    bench: Bench
    candidate_id: str

    @cached_property
    def freed(self) -> tuple[Project, Cause, str]:
        """The project with what explains the shorted frequencies, and that in words."""
        shorted = self.evidence.shorted
        drawn = {m.number: m.f_hz for m in modes_of(self._shorted_prediction(self.project))}
        off = {n: m.f_hz / drawn[n] - 1.0 for n, m in shorted.items() if n in drawn}
        first = off.get(1)
        if first is None or first > -SOFTER:
            return self.project, "", ""
        tried = [t for t in (self._root(), self._mass()) if t is not None]
        if not tried:
            return self.project, "", ""
        found, cause, text, left = min(tried, key=lambda t: t[3])
        falls = ", ".join(f"f{n} {words.shift(v)}" for n, v in sorted(off.items())[:3])
        # neither can raise a frequency, however well it meets the others
        if left > EXPLAINED * abs(first) or max(off.values()) > SOFTER:
            return self.project, "", f"{falls} against the drawing, which neither a soft root nor a mass at the tip explains."
        return found, cause, f"{falls} against the drawing; {text}, {words.percent(left, 1)} left over."

    def _shorted_prediction(self, project: Project) -> Prediction:
        return prediction_in(project, "shorted", self.bench, self.candidate_id)

    def _root(self) -> tuple[Project, Cause, str, float] | None:
        f = [self.evidence.shorted[n].f_hz if n in self.evidence.shorted else None for n in (1, 2, 3)]
        try:
            found = find_root(with_sensor(self.project, self.bench), tuple(f), candidate_id=self.candidate_id)
        except RootError:
            return None
        left = _rms([c.off for c in found.checks])
        text = f"a root of k_r L/EI = {words.significant(found.clamping, 2)} explains them"
        return with_root(self.project, found.support), "root", text, left

    def _mass(self) -> tuple[Project, Cause, str, float] | None:
        """A mass at the tip (a sensor that nobody entered) with the same f1."""
        from scipy.optimize import brentq  # slow to import, needed only here

        shorted, structure = self.evidence.shorted, self.project.structure
        if 2 not in shorted:
            return None  # one frequency cannot tell a mass from a root
        based = with_sensor(self.project, self.bench)

        def frequencies(kilogram: float) -> np.ndarray:
            masses = (*based.structure.masses, PointMass("unknown mass", structure.span_m, kilogram))
            made = replace(based, structure=replace(based.structure, masses=masses))
            return np.asarray(solve(made, made.candidate(self.candidate_id)).omega_rad_s / (2.0 * np.pi))

        whole = self._shorted_prediction(self.project).total_mass_kg
        f1 = shorted[1].f_hz
        if frequencies(0.0)[0] <= f1 or frequencies(whole)[0] >= f1:
            return None
        kilogram = float(brentq(lambda m: frequencies(m)[0] - f1, 0.0, whole, xtol=1e-6 * whole))
        found = frequencies(kilogram)
        left = _rms([shorted[n].f_hz / found[n - 1] - 1.0 for n in (2, 3) if n in shorted and n <= len(found)])
        masses = (*structure.masses, PointMass("unknown mass", structure.span_m, kilogram))
        made = replace(self.project, structure=replace(structure, masses=masses))
        return made, "mass", f"{words.mass(kilogram)} at the tip, a sensor that was not entered, explains them", left

    @cached_property
    def shorted_prediction(self) -> Prediction:
        return self._shorted_prediction(self.freed[0])

    @cached_property
    def open_prediction(self) -> Prediction:
        return prediction_in(self.freed[0], "open", self.bench, self.candidate_id)

    @cached_property
    def ratios(self) -> tuple[Ratio, ...]:
        shorted = {m.number: m.f_hz for m in modes_of(self.shorted_prediction)}
        opened = {m.number: m.f_hz for m in modes_of(self.open_prediction)}
        return tuple(
            Ratio(c.mode, c.k2, c.u_k2, (opened[c.mode] / shorted[c.mode]) ** 2 - 1.0)
            for c in self.evidence.couplings
            if c.mode in shorted
        )

    @cached_property
    def capacitance(self) -> float | None:
        """Measured over expected: of the bonded part by the model, or of what the same patch had before."""
        measured = self.evidence.capacitance_f
        groups = self.shorted_prediction.groups
        if measured is None or len(groups) != 1:
            return None
        at = self.evidence.capacitance_hz
        near = min(groups[0].metered, key=lambda m: abs(math.log(m.frequency_hz / at)))
        if near.near_mode is not None or not 1.0 / AT_METER < near.frequency_hz / at < AT_METER:
            return None
        expected = near.capacitance_f
        if self.evidence.before_f is not None:
            loose = sum(_loose_capacitance(self.project, self.candidate_id))
            expected *= self.evidence.before_f / loose if loose > 0.0 else 1.0
        return measured / expected if expected > 0.0 else None

    @cached_property
    def loading_ohm(self) -> float | None:
        """The resistance across 'open' leads that the damping of the open runs tells, beyond what was entered."""
        found = []
        predicted = {m.number: m.zeta for m in modes_of(self.open_prediction)}
        inherent = {m.number: m.zeta for m in modes_of(self.shorted_prediction)}
        group = self.shorted_prediction.groups[0] if self.shorted_prediction.groups else None
        for ratio in self.ratios:
            s, o = self.evidence.shorted.get(ratio.mode), self.evidence.opened.get(ratio.mode)
            if s is None or o is None or group is None or ratio.predicted < LEAST_K2:
                continue
            stated = max(predicted[ratio.mode] - inherent[ratio.mode], 0.0)
            extra = o.zeta - s.zeta - stated
            if extra < max(4.0 * math.hypot(s.u_zeta, o.u_zeta), 0.1 * s.zeta, 5e-5) or ratio.measured <= 0.0:
                continue
            tau = tau_adding(ratio.predicted, extra)
            if tau < 1.0 / LOADS * 3.0:
                found.append(tau / (2.0 * math.pi * s.f_hz * group.modal_capacitance_f[ratio.mode - 1]))
        return found[0] if found else None

    def verdict(self) -> Verdict:
        freed = self.freed[1]
        judged = [r for r in self.ratios if r.judged]
        if not self.ratios:
            return self._said("not judged", "The bond cannot be judged yet.", "A shorted and an open record of the same part are needed, with one mode found in both, or an impedance sweep.")
        if not judged:
            return self._said("not judged", "The bond cannot be judged from this.", self._why_not())
        weights = np.array([1.0 / (r.u_ratio**2 + 0.02**2) for r in judged])
        mean = float((weights * [r.ratio for r in judged]).sum() / weights.sum())
        u_mean = float(1.0 / math.sqrt(weights.sum()))
        numbers = self._numbers(judged)
        capacitance = self.capacitance
        loading = self.loading_ohm
        softer = {"": "", "root": " The root is softer than drawn.", "mass": " A mass hangs on it that was not entered."}[freed]
        if mean < NOTHING:
            return self._said("polarity or lead", "Hardly any coupling: polarity or a lead.", f"{numbers} {self._on_polarity()}", mean)
        missing = self._missing()
        if missing is not None:
            off, count = missing
            return self._said("polarity or lead", f"{off} of the {count} ceramics {'is' if off == 1 else 'are'} not on the leads.", f"{numbers} Capacitance is {words.percent(capacitance or 0.0, 0)} of what was expected, as {count - off} of {count} ceramics give. Measure each at its own leads; where all are there, compare the label of the patch.", mean)
        if capacitance is not None and self.evidence.before_f is None and not OTHER_PATCH[0] < capacitance < OTHER_PATCH[1]:
            return self._said("wrong patch", "This is not the patch of the drawing.", f"{numbers} Capacitance is {words.percent(capacitance, 0)} of what was expected; suppliers hold 20 %. Compare the label, and count the patches on the leads.", mean)
        if loading is not None:
            return self._said("instrument", "The instrument loads the leads: they are not open.", f"The open run has more damping than the shorted one, as {words.engineering(loading, 'ohm', 2)} across the leads gives. {numbers} Enter the instrument's input, or take a probe of ten times the resistance, and judge the bond then.", mean)
        spread = float(np.ptp([r.ratio for r in judged]))
        if GOOD[0] <= mean <= GOOD[1] and spread <= UNEVEN + 2.0 * max(r.u_ratio for r in judged):
            even = _uneven(judged)
            return self._said("good", f"The bond is good.{softer}", f"{numbers}{even}", mean)
        if mean > GOOD[1] and spread <= UNEVEN:
            return self._said("wrong patch", "More coupling than the drawing allows.", f"{numbers} Another patch, a thinner part or other constants than entered: compare the label, weigh the part.", mean)
        strongest = max(judged, key=lambda r: r.predicted).ratio
        if mean < SUSPECT or (spread > UNEVEN and strongest < SUSPECT) or (capacitance is not None and not CAPACITANCE_DOWN < capacitance - 1.0 < CAPACITANCE_UP):
            return self._low(mean, numbers, capacitance, softer)
        sure = "" if mean + 2.0 * u_mean < GOOD[0] else " It is within twice the uncertainty of good."
        cause = (
            "The modes differ: a patch out of place, or an end that has come off"
            if spread > UNEVEN
            else "A thick or soft bond line, a patch out of place, or a small debond"
        )
        return self._said("suspect", f"The bond is suspect.{softer}", f"{numbers}{sure} {cause}: measure the capacitance before and after, and look at the ends.", mean)

    def _low(self, mean: float, numbers: str, capacitance: float | None, softer: str) -> Verdict:
        if capacitance is not None and capacitance - 1.0 >= CAPACITANCE_UP:
            return self._said("debond", f"Part of the patch has come off.{softer}", f"{numbers} The capacitance is up by {words.percent(capacitance - 1.0, 1)}: ceramic that is free again holds more charge. Tap along its ends.", mean)
        if capacitance is not None and capacitance - 1.0 <= CAPACITANCE_DOWN:
            return self._said("crack", f"The ceramic is cracked or has lost an electrode.{softer}", f"{numbers} The capacitance is down by {words.percent(1.0 - capacitance, 1)}. Measure it at each lead, and look along the ceramic.", mean)
        told = "" if capacitance is None else f" The capacitance is as expected ({words.percent(capacitance, 0)}): no crack and no lost electrode."
        return self._said("debond", f"Debond, crack or wrong patch.{softer}", f"{numbers}{told} Measure the capacitance before and after bonding: up is a debonded end, down a crack.", mean)

    def _missing(self) -> tuple[int, int] | None:
        """How many of how many like ceramics in parallel are off the leads, by the capacitance; None where it does not tell."""
        candidate = self.project.candidate(self.candidate_id)
        each = [
            held / patch.ceramics
            for held, patch in zip(_loose_capacitance(self.project, self.candidate_id), candidate.patches, strict=True)
            for _ in range(patch.ceramics)
        ]
        count, capacitance = len(each), self.capacitance
        series = any(g.wiring == "series" for g in candidate.groups)
        if capacitance is None or count < 2 or series or max(each) > 1.01 * min(each):
            return None
        left = round(capacitance * count)
        return (count - left, count) if 0 < left < count and abs(capacitance - left / count) < SHARE_LEFT else None

    def _why_not(self) -> str:
        weak = [r for r in self.ratios if r.predicted < LEAST_K2]
        unsure = [r for r in self.ratios if r.predicted >= LEAST_K2]
        parts = []
        if unsure:
            parts.append("; ".join(f"K² of mode {r.mode} is {words.coupling(r.measured)} ± {words.coupling(r.u_measured)}, predicted {words.coupling(r.predicted)}" for r in unsure))
            parts.append("The records do not tell the frequencies well enough: record longer, and alternate shorted and open more often")
        if weak and not unsure:
            parts.append("Every mode found in both has less than 0.05 % of coupling, which a small part of the patch decides")
        return ". ".join(parts) + "."

    def _numbers(self, judged: list[Ratio]) -> str:
        _, cause, _ = self.freed
        told = words_of_ratios(judged, cause)
        capacitance = self.capacitance
        if capacitance is not None and self.evidence.capacitance_f is not None:
            told += f" Capacitance {words.capacitance(self.evidence.capacitance_f)}, {words.fixed(capacitance, 2)} of expected."
        return told

    def _on_polarity(self) -> str:
        candidate = self.project.candidate(self.candidate_id)
        several = any(len(g.members) > 1 for g in candidate.groups) or any(p.face == "both" for p in candidate.patches)
        capacitance = self.capacitance
        if capacitance is not None and capacitance < 0.1:
            return "There is no capacitance either: a lead is off."
        if several:
            return "One half works against the other: exchange the leads of one patch of the pair, and press the tip down to see each dot's sign."
        return "A lead is off or shorted, or the ceramic is not poled: press the tip down and look for a voltage."

    def _said(self, code: Code, title: str, text: str, mean: float | None = None) -> Verdict:
        _, cause, cause_text = self.freed
        told = f"{text} {cause_text}".strip()
        serious = [d.text for d in self.evidence.doubts if d.code in ("clipped", "double hit", "gain control", "short", "sensor mass")]
        if serious:
            told = f"{told} {serious[0]}"
        return Verdict(
            code, title, told, self.ratios, mean, cause, cause_text,
            self.capacitance if self.ratios else None, self.loading_ohm if self.ratios else None,
        )  # fmt: skip


def words_of_ratios(ratios: list[Ratio], cause: Cause = "") -> str:
    """K² of modes over the prediction: "K² of modes 1 and 2 is 0.97 and 0.96 of the prediction."."""
    freed = {"": "", "root": " once the root is freed", "mass": " once the mass is corrected"}[cause]
    numbers, values = [str(r.mode) for r in ratios], [words.fixed(r.ratio, 2) for r in ratios]
    modes = f"mode {numbers[0]}" if len(numbers) == 1 else f"modes {', '.join(numbers[:-1])} and {numbers[-1]}"
    shown = values[0] if len(values) == 1 else f"{', '.join(values[:-1])} and {values[-1]}"
    return f"K² of {modes} is {shown} of the prediction{freed}."


def _uneven(judged: list[Ratio]) -> str:
    """A word where mode 1 alone is off, which the root does more than the adhesive."""
    first = next((r for r in judged if r.mode == 1), None)
    others = [r.ratio for r in judged if r.mode != 1]
    if first is None or not others or abs(first.ratio / float(np.mean(others)) - 1.0) < 0.08:
        return ""
    return " Mode 1 is off against the others: it is the worst to judge a bond with, since the root is mixed in."


def _rms(values: list[float]) -> float:
    return math.sqrt(sum(v * v for v in values) / len(values)) if values else 0.0


def _loose_capacitance(project: Project, candidate_id: str) -> list[float]:
    """Free capacitance of every ceramic of the candidate before it is bonded, F."""
    return [
        free_capacitance_f(patch, project.package(patch.package)) * patch.ceramics
        for patch in project.candidate(candidate_id).patches
    ]
