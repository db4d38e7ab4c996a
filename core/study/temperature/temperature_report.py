"""The temperature study as a dictionary for JSON (SI, unit in every key) and as lines of text."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from core.study.temperature.temperature import AtTemperature, TemperatureStudy


def temperature_json(study: TemperatureStudy) -> list[dict[str, Any]]:
    """One entry a temperature, cold first; an unstable mode's damping is null."""
    return [_point(p) for p in study.points]


def _point(p: AtTemperature) -> dict[str, Any]:
    return {
        "name": p.name,
        "temperature_c": p.temperature_c,
        "modes": [
            {
                "number": m.number,
                "f_short_hz": m.f_short_hz,
                "k2": m.k2,
                "zeta_before": _number(m.zeta_before),
                "zeta": _number(m.zeta),
                "zeta_retrimmed": _number(m.zeta_retrimmed),
                "peak_change_db": _number(m.peak_change_db),
            }
            for m in p.modes
        ],
        "groups": [
            {
                "id": g.id,
                "serves_mode": g.mode,
                "blocked_capacitance_f": g.blocked_capacitance_f,
                "free_capacitance_f": g.free_capacitance_f,
                "capacitance_shift": g.capacitance_shift,
                "detuning": g.detuning,
                "retrimmed_values": dict(g.retrimmed),
            }
            for g in p.groups
        ],
    }


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def temperature_text(study: TemperatureStudy) -> str:
    """Cold, reference and hot beside each other, mode by mode and group by group."""
    return "\n".join(_lines(study))


def _lines(study: TemperatureStudy) -> Iterator[str]:
    at = " / ".join(f"{p.temperature_c:g}" for p in study.points)
    yield f"Temperature: cold / reference / hot, {at} °C, circuit values held"
    for index, first in enumerate(study.points[0].modes):
        of_mode = [p.modes[index] for p in study.points]
        yield (
            f"  mode {first.number}: f short {_slashed([m.f_short_hz for m in of_mode], '.3f')} Hz, "
            f"K² {_slashed([100 * m.k2 for m in of_mode], '.3f')} %, "
            f"damping {_slashed([100 * m.zeta for m in of_mode], '.3f')} %, "
            f"re-trimmed {_slashed([100 * m.zeta_retrimmed for m in of_mode], '.3f')} %"
        )
    for index, group in enumerate(study.points[0].groups):
        of_group = [p.groups[index] for p in study.points]
        line = (
            f"  {group.id}: free capacitance "
            f"{_slashed([1e9 * g.free_capacitance_f for g in of_group], '.2f')} nF "
            f"({_slashed([100 * g.capacitance_shift for g in of_group], '+.1f')} %)"
        )
        if group.detuning is not None:
            what = "electrical resonance" if group.resonant else "1/(R C ω)"
            shift = _slashed([100 * (g.detuning or 0.0) for g in of_group], "+.2f")
            line += f", {what} against mode {group.mode} {shift} %"
        yield line


def _slashed(values: list[float], form: str) -> str:
    return " / ".join("unstable" if math.isnan(v) else format(v, form) for v in values)
