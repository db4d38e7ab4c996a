"""A capacitor across the leads beside another circuit.

It lowers the inductance a resonant circuit needs by C_n/(C_n + C_a), at the cost of coupling: the circuit
meets K^2 C_n/(C_n + C_a) (C_n the capacitance that goes with K^2). What it stores is stored across the
group, so it counts with the group's own capacitance in poles, response and tuning alike.
"""

from __future__ import annotations

from dataclasses import replace

from core.circuit.kind import CircuitKind, Parameter
from core.circuit.network import side_by_side

ADDED = Parameter("added_capacitance_f", "Added capacitance", "nF", 0.0, 1e-3, 1e-7)


def with_added_capacitance(kind: CircuitKind) -> CircuitKind:
    """The kind with a capacitor in parallel, an entry of its own."""
    return replace(
        kind,
        key=f"{kind.key} + C",
        label=f"{kind.label} + C",
        parameters=(*kind.parameters, ADDED),
        across=lambda values: values[ADDED.name],
        network=lambda values: (
            *kind.network(values), *side_by_side(("Ca", "capacitor", values[ADDED.name], ADDED.name))
        ),
    )
