"""Limits of the amplifier of a closed loop, and of the ceramics it drives.

Under the active load the amplifier must give a voltage and a current; both are told against what it can. Whatever the
load, it can give its largest voltage to either side: the field that makes stands against what the package allows along
and against the poling.
"""

from __future__ import annotations

from math import inf, isfinite

from core.predict.forcing import load_words
from core.predict.prediction import Limit
from core.predict.solved import Solved
from core.units import words

VOLTAGE, CURRENT = "Amplifier voltage", "Amplifier current"
FIELDS = ("Field along the poling, driven", "Field against the poling, driven")


def amplifier_limits(solved: Solved) -> tuple[Limit, ...]:
    """Of a solved layout; empty without a closed loop."""
    candidate, ends = solved.candidate, solved.candidate.loop_ends
    if ends is None or not candidate.loop_is_closed:
        return ()
    driven, design, vibration = ends[1], candidate.loop, solved.vibration
    first = candidate.groups[driven].members[0].patch
    found = [
        _of_load(solved, VOLTAGE, first, float(vibration.inside[driven]), design.amplifier_v, "V"),
        _of_load(solved, CURRENT, first, float(vibration.group_current_a[driven]), design.amplifier_a, "A"),
    ]
    beam = solved.beam
    for j, plate in enumerate(beam.plates):
        field = abs(float(beam.terminals.combine[j, driven])) * design.amplifier_v / plate.thickness_m
        if not field:
            continue
        limits = plate.package.limits
        for name, allowed in zip(FIELDS, (limits.field_along_v_m, limits.field_against_v_m), strict=True):
            margin = allowed.value / field
            source = f"{allowed.source} ({allowed.status})" if allowed.source else allowed.status
            cause = f"amplifier of the loop, ±{words.voltage(design.amplifier_v)}"
            at = f"±{words.voltage(design.amplifier_v * margin)}"
            found.append(Limit(name, plate.patch, field, allowed.value, "V/m", margin, None, cause, at, source))
    worst: dict[tuple[str, str | None], Limit] = {}
    for one in found:
        key = (one.name, one.patch)
        if key not in worst or one.margin < worst[key].margin:
            worst[key] = one
    return tuple(worst.values())


def _of_load(solved: Solved, name: str, patch: str, value: float, allowed: float, unit: str) -> Limit:
    margin = allowed / value if value else inf
    at = load_words(solved.side.forcing.load, margin) if isfinite(value) and value else ""
    return Limit(name, patch, value, allowed, unit, margin, None, solved.vibration.words, at, "amplifier of the loop")
