"""The stiffness of the root against turning, from one measured frequency.

A clamp is never a clamp, and its stiffness lowers every frequency: the first thing to find. Frequency
rises with the stiffness, from a hinge to the rigid clamp, so that one measured f1 has one stiffness; f2
and f3 then check whether the root alone explains the difference. A measured f1 above that of the rigid
clamp has none, and the cause is elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Literal

import numpy as np
from msgspec.structs import replace

from core.piezo.layout import solve
from core.project.candidate import Candidate
from core.project.model import Origin, Project
from core.project.structure import Support
from core.study.tolerance.uncertain import clamp_stiffness
from core.units import show_with_unit, words

State = Literal["bare", "shorted", "open"]
"""What the frequencies were measured on: the part without patches, or with them and their leads so."""
STATE_WORDS: dict[State, str] = {"bare": "without patches", "shorted": "leads shorted", "open": "leads open"}

USUAL_UNCERTAINTY = 1e-3
"""Of a frequency read from a record of ten seconds, relative."""
STIFFEST, SOFTEST = 1e5, 1e-3
"""k_r L/EI between which a root is looked for: beyond the first it is as rigid as can be told."""
SIDEWAYS = 1e7
"""k_t L^3/EI of a root that gives by turning only: it moves no frequency shown by 1e-5."""
FAR_OFF = 0.015
"""A check this far off, relative, is not explained by the root."""


class RootError(ValueError):
    """There is no such root; the text says why and what to look at."""


@dataclass(frozen=True)
class Check:
    """A frequency beside the one the root was found from: measured, and with that root."""

    mode: int
    measured_hz: float
    predicted_hz: float

    @property
    def off(self) -> float:
        """Measured over predicted, less one."""
        return self.measured_hz / self.predicted_hz - 1.0

    @property
    def explained(self) -> bool:
        return abs(self.off) <= FAR_OFF


@dataclass(frozen=True)
class RootFound:
    """The root whose f1 is the measured one.

    `low`, `high` bound the stiffness by the measurement's uncertainty; `high` is infinite where the
    rigid clamp lies within it. `clamping` is k_r L/EI, `against_rigid` what this root does to f1.
    """

    support: Support
    low_nm_rad: float
    high_nm_rad: float
    clamping: float
    measured_hz: float
    against_rigid: float
    uncertainty: float
    checks: tuple[Check, ...]

    @property
    def k_r_nm_rad(self) -> float:
        return self.support.k_r_nm_rad

    @property
    def tolerance(self) -> float | None:
        """Half the range over the stiffness; None where it is open upwards."""
        if math.isinf(self.high_nm_rad):
            return None
        return 0.5 * (self.high_nm_rad - self.low_nm_rad) / self.k_r_nm_rad


def find_root(
    project: Project,
    measured_hz: tuple[float | None, ...],
    *,
    candidate_id: str | None = None,
    state: State = "shorted",
    uncertainty: float = USUAL_UNCERTAINTY,
) -> RootFound:
    """The root stiffness whose f1 is the first of `measured_hz`; the others (None: not measured) check it.

    `uncertainty` is relative, of f1. A valid project with a clamped or elastic root; RootError in words
    where no stiffness gives that frequency.
    """
    f1 = measured_hz[0] if measured_hz else None
    if f1 is None or not f1 > 0.0 or not math.isfinite(f1):
        raise RootError("Type the measured f1, in Hz: the root is found from it.")
    if project.structure.root.kind not in ("clamped", "elastic"):
        raise RootError(
            f"The root is {project.structure.root.kind}; a stiffness against turning is found for a clamped or an "
            "elastic root. Change the root support first."
        )
    unit = float(clamp_stiffness(project, "root", 1.0))
    # the ends of the range are asked for again and again
    at = lru_cache(partial(_frequencies, project, candidate_id, state, len(measured_hz), _sideways(project, unit)))
    rigid = at(unit * STIFFEST)[0]
    if f1 > rigid * (1.0 + uncertainty):
        raise RootError(_above_rigid(f1, rigid))
    soft = at(unit * SOFTEST)[0]
    if f1 * (1.0 + uncertainty) < soft:
        raise RootError(
            f"f1 = {words.frequency(f1)} is below what a hinge gives ({words.frequency(soft)}), so no stiffness of "
            "the root explains it. Look at the mass that hangs on the part, its span and its modulus."
        )
    low = _stiffness(at, f1 * (1.0 - uncertainty), unit)
    high = _stiffness(at, f1 * (1.0 + uncertainty), unit)
    k_r = _stiffness(at, f1, unit, low, high)
    if math.isinf(k_r):  # above the rigid clamp, yet within the uncertainty
        k_r = low
    found = at(k_r)
    checks = tuple(
        Check(n + 1, f, found[n])
        for n, f in enumerate(measured_hz[: len(found)])
        if n and f is not None and f > 0.0 and math.isfinite(f)
    )
    support = Support("elastic", _sideways(project, unit), float(f"{k_r:.4g}"))
    return RootFound(support, low, high, k_r / unit, f1, found[0] / rigid - 1.0, uncertainty, checks)


def against_rigid(project: Project, modes: int = 2) -> tuple[float, ...]:
    """What an elastic root does to the first frequencies of the part without patches, relative to a clamp
    that neither turns nor moves; empty where nothing of it vibrates."""
    have = solve(project, Candidate("", "")).omega_rad_s[:modes]
    rigid = solve(with_root(project, Support("clamped")), Candidate("", "")).omega_rad_s[:modes]
    return tuple((have / rigid - 1.0).tolist())


def with_root(project: Project, support: Support) -> Project:
    """The project with another root."""
    return replace(project, structure=replace(project.structure, root=support))


def with_root_found(project: Project, found: RootFound, source: str = "") -> Project:
    """The project with that root, marked as measured; its range becomes its tolerance."""
    told = source or f"f1 = {words.fine_frequency(found.measured_hz)}"
    origins = {path: o for path, o in project.origins.items() if path not in ("structure.root", "structure.root.kind")}
    origins["structure.root.k_r_nm_rad"] = Origin("measured", told, found.tolerance)
    # the sideways stiffness was not measured: it stands for none that matters
    origins.setdefault("structure.root.k_t_n_m", Origin("assumed", "taken as rigid sideways"))
    return replace(with_root(project, found.support), origins=origins)


def root_text(found: RootFound) -> str:
    """The finding in a sentence: "k_r = 238 N m/rad (227 to 250), k_r L/EI = 47: f1 -3.8 % against ..."."""
    k_r = show_with_unit(found.k_r_nm_rad, "N m/rad", significant=3)
    if math.isinf(found.high_nm_rad):
        span = f"at least {show_with_unit(found.low_nm_rad, 'N m/rad', significant=3)}: a rigid clamp is within the uncertainty"
    else:
        span = f"{words.significant(found.low_nm_rad)} to {words.significant(found.high_nm_rad)}"
    return (
        f"k_r = {k_r} ({span}), k_r L/EI = {words.significant(found.clamping, 2)}: "
        f"f1 {words.shift(found.against_rigid)} against a rigid clamp."
    )


def check_text(check: Check) -> str:
    """What a check says of the root."""
    told = (
        f"f{check.mode}: measured {words.frequency(check.measured_hz)}, with this root "
        f"{words.frequency(check.predicted_hz)} ({words.shift(check.off)})"
    )
    if check.explained:
        return f"{told}: the root explains it."
    return f"{told}: not the root alone. Look at modulus, thickness, mass and span before you take it."


def _above_rigid(f1: float, rigid: float) -> str:
    return (
        f"f1 = {words.fine_frequency(f1)} is {words.percent(f1 / rigid - 1.0, 1)} above the rigid clamp "
        f"({words.fine_frequency(rigid)}): no root is stiffer than rigid. The model is too heavy or too soft: look "
        "at its mass (weigh the part), its modulus and thickness (dead-weight test), and its span."
    )


def _sideways(project: Project, unit: float) -> float:
    """k_t that goes with the root looked for: its own where it is elastic, else one that holds."""
    root = project.structure.root
    if root.kind == "elastic" and root.k_t_n_m > 0.0:
        return root.k_t_n_m
    return float(f"{SIDEWAYS * unit / project.structure.span_m**2:.3g}")


def _frequencies(
    project: Project, candidate_id: str | None, state: State, count: int, k_t: float, k_r: float
) -> list[float]:
    """(count) frequencies in Hz with a root of that stiffness."""
    candidate = Candidate("", "") if state == "bare" else project.candidate(candidate_id)
    beam = solve(with_root(project, Support("elastic", k_t, k_r)), candidate)
    omega = beam.omega_rad_s * (np.sqrt(1.0 + beam.k2) if state == "open" else 1.0)
    found: list[float] = (omega[: max(count, 1)] / (2.0 * np.pi)).tolist()
    return found


def _stiffness(
    at: Callable[[float], list[float]], f1: float, unit: float, low: float = 0.0, high: float = math.inf
) -> float:
    """k_r whose f1 is that, known to lie between `low` and `high`; infinite above the stiffest, 0 below the softest."""
    from scipy.optimize import brentq  # slow to import, needed only here

    def above(log_clamping: float) -> float:
        return at(unit * math.exp(log_clamping))[0] - f1

    ends = math.log(max(low / unit, SOFTEST)), math.log(min(high / unit, STIFFEST))
    if above(ends[0]) >= 0.0:
        return 0.0
    if above(ends[1]) <= 0.0:
        return math.inf
    return unit * math.exp(float(brentq(above, *ends, xtol=1e-6)))
