"""A tolerance study as JSON (SI, unit in every key), as a table of samples, and as lines of text."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from core.study.tolerance.ranking import Cause, told_causes
from core.study.tolerance.tolerance import Band, ModeSpread, ToleranceResult
from core.units import words
from core.units.as_json import json_ready

CAUSES_TOLD = 6
SPREADS = {
    "limits": "tolerances are the limits of a uniform spread",
    "two sigma": "tolerances are two standard deviations of a normal spread",
}


def tolerance_json(result: ToleranceResult) -> dict[str, Any]:
    """Bands and causes; nan (no pole counts) is null."""
    told = {
        "candidate": result.candidate,
        "samples": result.progress.done,
        "seed": result.seed,
        "spread": result.spread,
        "inputs": [
            {
                "path": i.path,
                "label": i.label,
                "nominal": i.nominal,
                "low": i.low,
                "high": i.high,
                "known": i.known,
            }
            for i in result.inputs
        ],
        "modes": [_mode(m) for m in result.modes],
    }
    return json_ready(told)


def _mode(m: ModeSpread) -> dict[str, Any]:
    return {
        "number": m.number,
        "zeta": _band(m.zeta),
        "f_short_hz": _band(m.f_short_hz),
        "k2": _band(m.k2),
        "peak_change_db": _band(m.peak_change_db),
        "samples_without_a_pole": m.lost,
        "causes_of_zeta": [
            {"path": c.path, "label": c.label, "share": c.share, "rank_correlation": c.correlation}
            for c in m.causes
        ],
    }


def _band(b: Band | None) -> dict[str, float] | None:
    return None if b is None else {"p10": b.p10, "p50": b.p50, "p90": b.p90}


def sample_table(result: ToleranceResult) -> list[list[str]]:
    """One row a sample: every input in SI, then damping, frequency, K^2 and peak change per mode."""
    modes = [m.number for m in result.modes]
    heads = [i.path for i in result.inputs]
    for name in ("zeta", "f_short_hz", "k2", "peak_change_db"):
        heads += [f"{name}_mode_{n}" for n in modes]
    s = result.samples
    rows = [heads]
    for k in range(len(s.values)):
        parts = (s.values[k], s.zeta[k], s.f_short_hz[k], s.k2[k], s.peak_change_db[k])
        rows.append([repr(v) for part in parts for v in part.tolist()])
    return rows


def tolerance_text(result: ToleranceResult) -> str:
    """Bands per mode and the main causes, in display units."""
    return "\n".join(_lines(result))


def _lines(result: ToleranceResult) -> Iterator[str]:
    yield (
        f"Tolerance of candidate {result.candidate}: {result.progress.done} samples, seed {result.seed}, "
        f"{len(result.inputs)} inputs vary; {SPREADS[result.spread]}"
    )
    yield "P10 / P50 / P90 with the circuits as built:"
    for m in result.modes:
        line = (
            f"  mode {m.number}: damping {_three(m.zeta, words.damping)}, f short "
            f"{_three(m.f_short_hz, words.frequency)}, K² {_three(m.k2, words.coupling)}"
        )
        if m.peak_change_db is not None:
            line += f", peak {_three(m.peak_change_db, words.decibel)}"
        yield line
    target = result.modes[min(result.target_mode, len(result.modes)) - 1]
    yield f"Main causes of the spread of mode {target.number}'s damping:"
    told, others = told_causes(target.causes, result.progress.done, CAUSES_TOLD)
    for one in told:
        yield f"  {one.text:>5}  {one.cause.label}, {direction_words(one.cause)}"
    yield f"  {others:>5}  all others together"


def direction_words(cause: Cause) -> str:
    """Which way an input counts."""
    return {1: "more gives more", -1: "more gives less", 0: "off either way gives less"}[cause.direction]


def _three(b: Band, show: Callable[[float], str]) -> str:
    return words.three(show(b.p10), show(b.p50), show(b.p90))
