"""What can hang on a group's leads or at a place of the structure. A new one is one file and one line here."""

from __future__ import annotations

from core.circuit import (
    loop_amplifier,
    negative_capacitance,
    parallel_rl,
    resistor,
    series_rl,
    shorted,
    switched,
    tuned_mass,
)
from core.circuit import open as open_leads
from core.circuit.added_capacitance import with_added_capacitance
from core.circuit.current_flowing import current_flowing
from core.circuit.kind import CircuitKind
from core.circuit.series_parallel import series_parallel

PORTS: dict[str, CircuitKind] = {
    "shorted": shorted.KIND,
    "open": open_leads.KIND,
    "resistor": resistor.KIND,
    "series R-L": series_rl.KIND,
    "parallel R-L": parallel_rl.KIND,
    **{
        kind.key: kind
        for kind in map(with_added_capacitance, (resistor.KIND, series_rl.KIND, parallel_rl.KIND))
    },
    **{kind.key: kind for kind in (switched.SHORT, switched.INDUCTOR)},
    **{kind.key: kind for kind in (*map(current_flowing, (2, 3)), *map(series_parallel, (2, 3)))},
    **{kind.key: kind for kind in (negative_capacitance.SERIES, negative_capacitance.PARALLEL)},
    "loop": loop_amplifier.KIND,
    "tuned mass": tuned_mass.KIND,
}
CIRCUITS = {key: kind for key, kind in PORTS.items() if kind.hangs_on == "leads"}
"""Those for the leads of a group."""
