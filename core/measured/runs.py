"""Runs of one part on the bench: what hung on the leads, what was found, and the mean over repeats."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from core.measured.modes import Identified
from core.measured.quality import Doubt
from core.project.measurement import Leads

_SHORTED = re.compile(r"short|closed|kurz(?:schl|ge|(?![a-zäöüß]))|(?:^|[^a-z])sc(?:[^a-z]|$)", re.IGNORECASE)
_OPEN = re.compile(r"open|(?<![a-zäöüß])offene?(?![a-zäöüß])|leerlauf|(?:^|[^a-z])oc(?:[^a-z]|$)", re.IGNORECASE)
"""English or German, as the person at the bench names files."""
_RESISTOR = re.compile(r"(\d+(?:[.,]\d+)?)\s*_?(k|M|meg)?(?:ohm|Ω|\u2126|r(?![a-z]))", re.IGNORECASE)
_BARE_KILO = re.compile(r"(?:^|[^a-z0-9])(\d+(?:[.,]\d+)?)\s*(k|M)(?:[^a-z]|$)")


@dataclass(frozen=True, eq=False)
class Run:
    """One record of the part in one state, with what was found in it."""

    name: str
    leads: Leads
    found: Identified
    resistance_ohm: float | None = None
    doubts: tuple[Doubt, ...] = ()
    order: int = 0
    """Place in time among the runs, for what drifts."""


@dataclass(frozen=True)
class Mean:
    """A mode over the repeats of a state: mean, its standard deviation, and how many runs there are.

    With one run the deviation is the run's own; with more it is the spread over them, over the root of
    their number and for as few as they are, or the runs' own where that is larger.
    """

    mode: int
    f_hz: float
    u_f_hz: float
    zeta: float
    u_zeta: float
    runs: int
    spread_f_hz: float = 0.0
    spread_zeta: float = 0.0


def state_of_name(name: str) -> tuple[Leads, float | None] | None:
    """What a file's name says of the leads: ("shorted", None), ("resistor", 120e3); None where nothing."""
    if _SHORTED.search(name):
        return "shorted", None
    if _OPEN.search(name):
        return "open", None
    found = _RESISTOR.search(name) or _BARE_KILO.search(name)
    if found is not None:
        factor = {"": 1.0, "k": 1e3, "m": 1e6, "meg": 1e6}[(found.group(2) or "").lower()]
        value = float(found.group(1).replace(",", ".")) * factor
        return ("resistor", value) if value > 0.0 else None
    return None


def few_runs(freedom: int) -> float:
    """How much wider than the spread of so few runs the range is that holds as much as one standard deviation
    of many, by Student's t at 68.27 %; 1 where nothing is repeated."""
    from scipy.special import stdtrit  # slow to import, needed only here

    return float(stdtrit(freedom, 0.5 + 0.5 * math.erf(math.sqrt(0.5)))) if freedom > 0 else 1.0


def means(runs: tuple[Run, ...], leads: Leads, resistance_ohm: float | None = None) -> dict[int, Mean]:
    """By mode number, the mean over the runs in one state."""
    mine = [
        r for r in runs if r.leads == leads and (leads != "resistor" or resistance_ohm is None or r.resistance_ohm == resistance_ohm)
    ]
    numbers = sorted({m.number for r in mine for m in r.found.modes})
    out = {}
    for n in numbers:
        modes = [m for r in mine if (m := r.found.mode(n)) is not None]
        f, zeta = np.array([m.f_hz for m in modes]), np.array([m.zeta for m in modes])
        u_f, u_zeta = np.array([m.best.u_f_hz for m in modes]), np.array([m.best.u_zeta for m in modes])
        count = len(modes)
        spread_f = float(f.std(ddof=1)) if count > 1 else 0.0
        spread_zeta = float(zeta.std(ddof=1)) if count > 1 else 0.0
        own_f, own_zeta = (float(np.sqrt((u**2).sum()) / count) for u in (u_f, u_zeta))
        root = math.sqrt(count) / few_runs(count - 1)
        out[n] = Mean(
            n, float(f.mean()), max(own_f, spread_f / root), float(zeta.mean()), max(own_zeta, spread_zeta / root),
            count, spread_f, spread_zeta,
        )  # fmt: skip
    return out
