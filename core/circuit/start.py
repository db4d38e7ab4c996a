"""Where a circuit's values begin that no rule sets, on the very patches: what a person then changes."""

from __future__ import annotations

from core.circuit import branches, negative_capacitance
from core.circuit.added_capacitance import ADDED
from core.circuit.kind import CircuitKind, numbered

SPARE = 0.3
"""Of its limit, how far a negative capacitance begins from where it fails: what a soft ceramic changes by over some
60 K, and the rounding to a part."""


def start_values(kind: CircuitKind, blocked_f: float, free_f: float) -> dict[str, float]:
    """Capacitances of the kind that suit a group of these capacitances, by name: a negative one within its limits, one
    that is added or stands in a branch as large as the patches'."""
    names = {p.name for p in kind.parameters}
    if not blocked_f > 0.0 or not names:
        return {}
    wanted = {ADDED.name: blocked_f}
    wanted |= {numbered(branches.CAPACITANCE.name, n): blocked_f for n in range(1, kind.branches + 1)}
    if kind.key == negative_capacitance.PARALLEL.key:
        wanted[negative_capacitance.NAME] = (1.0 - SPARE) * blocked_f
    if kind.key == negative_capacitance.SERIES.key:
        wanted[negative_capacitance.NAME] = (1.0 + SPARE) * free_f
    return {name: value for name, value in wanted.items() if name in names}
