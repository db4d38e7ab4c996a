"""A circuit as the parts between its leads: what netlist, parts list and schematic are made from.

A kind says its network once, as ideal parts between nodes; what an electronics engineer builds each of them
from (a coil or a simulated inductor, an amplifier for a negative capacitance) is chosen from the value in
`core.circuit.realise`. Node "0" is the common return of all leads, "lead" the positive lead of a circuit on
one group, "lead1", "lead2" ... those of a circuit on several. Any other name is a node of its own.

At a place of the structure force is the voltage and velocity the current: a resistor is a damper, a
capacitor a compliance, an inductor a mass.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

What = Literal["resistor", "inductor", "capacitor", "negative capacitor", "switch"]
COMMON = "0"
LEAD = "lead"


@dataclass(frozen=True)
class Part:
    """An ideal part: `name` as drawn ("R", "L1", "Cn"), its value in SI (of a negative capacitor the
    amount), the two nodes it joins, and the name of the circuit's value that it is, "" where it follows from others."""

    name: str
    what: What
    value: float
    ends: tuple[str, str]
    parameter: str = ""

    @property
    def is_grounded(self) -> bool:
        """Whether one end lies on the common return."""
        return COMMON in self.ends


Network = tuple[Part, ...]


def leads_of(n: int) -> tuple[str, ...]:
    """Names of the nodes a circuit on n groups hangs on."""
    return (LEAD,) if n == 1 else tuple(f"{LEAD}{i + 1}" for i in range(n))


def side_by_side(*parts: tuple[str, What, float, str]) -> Network:
    """Parts (name, what, value, parameter) in parallel across the leads."""
    return tuple(Part(name, what, value, (LEAD, COMMON), key) for name, what, value, key in parts)


def in_line(*parts: tuple[str, What, float, str]) -> Network:
    """Parts (name, what, value, parameter) one after the other from the lead to the return; what is nothing but a wire
    (a resistor or an inductor of zero) is left out as long as something remains."""
    kept = [part for part in parts if part[2] != 0.0 or part[1] not in ("resistor", "inductor")] or [parts[0]]
    nodes = [LEAD, *(f"n{i + 1}" for i in range(len(kept) - 1)), COMMON]
    return tuple(
        Part(name, what, value, (nodes[i], nodes[i + 1]), key) for i, (name, what, value, key) in enumerate(kept)
    )
