"""The temperature study as a dictionary for JSON (SI, unit in every key) and as lines of text."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from core.study.temperature.temperature import AtTemperature, TemperatureStudy, constant_words
from core.units import words
from core.units.as_json import json_ready


def temperature_json(study: TemperatureStudy) -> list[dict[str, Any]]:
    """One entry a temperature, cold first; an unstable mode's damping is null."""
    return json_ready([_point(p) for p in study.points])


def _point(p: AtTemperature) -> dict[str, Any]:
    return {
        "name": p.name,
        "temperature_c": p.temperature_c,
        "modes": [
            {
                "number": m.number,
                "f_short_hz": m.f_short_hz,
                "k2": m.k2,
                "zeta_before": m.zeta_before,
                "zeta": m.zeta,
                "zeta_retrimmed": m.zeta_retrimmed,
                "peak_change_db": m.peak_change_db,
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


def temperature_text(study: TemperatureStudy) -> str:
    """Cold, reference and hot beside each other, mode by mode and group by group."""
    return "\n".join(_lines(study))


def _lines(study: TemperatureStudy) -> Iterator[str]:
    at = words.three(*(words.celsius(p.temperature_c) for p in study.points))
    yield f"Temperature: cold / reference / hot, {at}, circuit values held"
    for index, first in enumerate(study.points[0].modes):
        of_mode = [p.modes[index] for p in study.points]
        yield (
            f"  mode {first.number}: f short {words.three(*(words.frequency(m.f_short_hz) for m in of_mode))}, "
            f"K² {words.three(*(words.coupling(m.k2) for m in of_mode))}, "
            f"damping {words.three(*(words.damping(m.zeta) for m in of_mode))}, "
            f"re-trimmed {words.three(*(words.damping(m.zeta_retrimmed) for m in of_mode))}"
        )
    for index, group in enumerate(study.points[0].groups):
        of_group = [p.groups[index] for p in study.points]
        line = (
            f"  {group.id}: free capacitance "
            f"{words.three(*(words.capacitance(g.free_capacitance_f) for g in of_group))} "
            f"({words.three(*(words.shift(g.capacitance_shift) for g in of_group))})"
        )
        if group.detuning is not None:
            what = "electrical resonance" if group.resonant else "1/(R C ω)"
            shift = words.three(*(words.shift(g.detuning or 0.0) for g in of_group))
            line += f", {what} against mode {group.mode} {shift}"
        yield line
    if study.constant:
        yield f"  {constant_words(study)}"
