"""The circuits that can hang on a group. A new one is one file and one line here."""

from __future__ import annotations

from core.circuit import open as open_leads
from core.circuit import parallel_rl, resistor, series_rl, shorted
from core.circuit.added_capacitance import with_added_capacitance
from core.circuit.kind import CircuitKind

CIRCUITS: dict[str, CircuitKind] = {
    "shorted": shorted.KIND,
    "open": open_leads.KIND,
    "resistor": resistor.KIND,
    "series R-L": series_rl.KIND,
    "parallel R-L": parallel_rl.KIND,
    **{
        kind.key: kind
        for kind in map(with_added_capacitance, (resistor.KIND, series_rl.KIND, parallel_rl.KIND))
    },
}
