"""What an engineer builds an ideal circuit from: resistors, capacitors, coils, and amplifiers for what no coil or
capacitor can be.

An inductor up to the largest coil is wound. A larger one is simulated by the two-amplifier gyrator (Antoniou
1969): with R1, R2, R3, C and R5 one after the other from the node to the return, one amplifier holds the node
and the middle, the other the far end and the middle at one voltage, so that

    Z = s C R1 R3 R5/R2,      the amplifiers swing V (1 + 1/(s C R5)) and V (1 - R2/(s C R3 R5)).

One that has no end on the return takes two such chains with R5 between them (floating form). A negative
capacitance is one amplifier with C_r back to the node, whose other input has the share R2/(R1 + R2) of the output:
-C = -C_r R1/R2, the amplifier swings V (1 + R1/R2). In line with a resistor the node is the inverting input, straight across the
leads the other one: so the very condition under which the ideal circuit holds is the amplifier's own.

All but one of the parts of a chain are decades, so the last one carries the digits of the value: where that is a
preferred value, every part is.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from core.circuit.network import COMMON, LEAD, Network, Part
from core.circuit.preferred import TOLERANCE, Pair, best, nearest
from core.project.candidate import Build

Built = Literal["resistor", "capacitor", "coil", "amplifier"]

LARGEST_CAPACITOR_F = 1e-6
"""Of film, in a gyrator."""
DIVIDER_OHM = 1e5
"""R2 of a negative capacitance: large against what the amplifier can drive, small against its input."""
LEAST_RATIO = 0.7
"""Of omega L to the resistance of a gyrator's chain."""
EXACT_TOLERANCE = 0.01
"""Of a part that is asked for at a value of its own."""
NOT_BUILT = ("winding", "core", "equivalent")
"""How the values of parts begin that nobody builds."""


@dataclass(frozen=True)
class Component:
    """Something with a place on the board: `name` as in lists and netlist, value in SI (of an amplifier its
    gain-bandwidth product in Hz), the nodes it joins (of an amplifier input +, input -, output), the name of the
    ideal part it belongs to, its tolerance, and whether it is bought: what a coil loses and what stands for a switch
    are not, and only that may be a capacitor of less than nothing."""

    name: str
    what: Built
    value: float
    ends: tuple[str, ...]
    of: str
    tolerance: float = EXACT_TOLERANCE
    bought: bool = True


def realised(
    network: Network, build: Build, omega_rad_s: float, own_rad_s: Mapping[str, float] | None = None
) -> tuple[Component, ...]:
    """Every component of a circuit; omega_rad_s is the frequency at which a gyrator swings least, `own_rad_s` that of
    inductors by the name of their part where it differs."""
    own = own_rad_s or {}
    return tuple(c for part in network for c in _realised(part, build, own.get(part.name, omega_rad_s)))


def is_simulated(part: Part, build: Build) -> bool:
    """Whether amplifiers take the place of a part."""
    if _is_not_built(part):
        return False
    return part.what == "negative capacitor" or (part.what == "inductor" and part.value > build.largest_coil_h)


def _realised(part: Part, build: Build, omega: float) -> Iterator[Component]:
    if _is_not_built(part):
        value = -part.value if part.what == "negative capacitor" else part.value
        what: Built = "resistor" if part.what == "resistor" else "capacitor"
        yield Component(part.name, what, value, part.ends, part.name, bought=False)
    elif part.what == "negative capacitor":
        yield from _negative(part, build)
    elif part.what == "inductor" and is_simulated(part, build):
        yield from _gyrator(part, build, omega)
    elif part.what == "inductor":
        value = part.value if build.series == "exact" else float(nearest(part.value, build.series))
        yield Component(part.name, "coil", value, part.ends, part.name, _tolerance(build))
    elif part.what == "switch":
        raise ValueError(f"{part.name} is a switch: its drive is no part of the circuit.")
    else:
        yield from _bought(part.name, part.what, part.value, part.ends, part.name, build)


def _is_not_built(part: Part) -> bool:
    """What a coil loses by itself, and what stands for a switch."""
    return part.parameter.startswith(NOT_BUILT) or part.name.startswith("Rc")


def _tolerance(build: Build) -> float:
    return EXACT_TOLERANCE if build.series == "exact" else TOLERANCE[build.series]


def _bought(
    name: str, what: Literal["resistor", "capacitor"], value: float, ends: tuple[str, str], of: str, build: Build
) -> Iterator[Component]:
    """A resistor or a capacitor, or the two of a series that make it."""
    pair = Pair(value) if build.series == "exact" else best(value, build.series, build.pairs)
    if pair.second is None:
        yield Component(name, what, pair.first, ends, of, _tolerance(build))
        return
    in_line = pair.adds == (what == "resistor")
    middle = f"{name}m"
    both = ((ends[0], middle), (middle, ends[1])) if in_line else (ends, ends)
    for letter, size, at in zip("ab", (pair.first, pair.second), both, strict=True):
        yield Component(f"{name}{letter}", what, size, at, of, _tolerance(build))


def _decade_below(value: float) -> float:
    return 10.0 ** math.floor(math.log10(value) + 1e-9)


def _gyrator(part: Part, build: Build, omega: float) -> Iterator[Component]:
    """Resistors of a decade from omega L/7 to omega L/0.7: no amplifier swings more than 1.75 times the voltage, and
    its finite gain costs little (the far chain's gain is omega L over the resistance)."""
    resistance = min(max(_decade_below(omega * part.value / LEAST_RATIO), 1e2), 1e6)
    capacitance = min(_decade_below(part.value / resistance**2), LARGEST_CAPACITOR_F)
    last = part.value / (capacitance * resistance)
    name = part.name
    if part.is_grounded:
        node = next(end for end in part.ends if end != COMMON)
        far = yield from _chain(name, "", node, resistance, capacitance, build)
        yield from _bought(f"{name}R5", "resistor", last, (far, COMMON), name, build)
        return
    first = yield from _chain(name, "", part.ends[0], resistance, capacitance, build)
    second = yield from _chain(name, "'", part.ends[1], resistance, capacitance, build)
    yield from _bought(f"{name}R5", "resistor", last, (first, second), name, build)


def _chain(
    name: str, mark: str, node: str, resistance: float, capacitance: float, build: Build
) -> Generator[Component, None, str]:
    """R1, R2, R3 and C with their two amplifiers; gives the far end."""
    upper, middle, lower, far = (f"{name}{mark}{letter}" for letter in "uvwx")
    tolerance = min(_tolerance(build), EXACT_TOLERANCE)
    for index, ends in enumerate(((node, upper), (upper, middle), (middle, lower)), start=1):
        yield Component(f"{name}R{index}{mark}", "resistor", resistance, ends, name, tolerance)
    yield Component(f"{name}C{mark}", "capacitor", capacitance, (lower, far), name, tolerance)
    yield Component(f"{name}N1{mark}", "amplifier", build.gain_bandwidth_hz, (node, middle, lower), name)
    yield Component(f"{name}N2{mark}", "amplifier", build.gain_bandwidth_hz, (far, middle, upper), name)
    return far


def _negative(part: Part, build: Build) -> Iterator[Component]:
    """C_r of the decade above the capacitance, so that the amplifier swings at most twice the voltage."""
    if not part.is_grounded:
        raise ValueError(f"{part.name}: a negative capacitance is built with one end on the common return.")
    node = next(end for end in part.ends if end != COMMON)
    name, out, share = part.name, f"{part.name}o", f"{part.name}i"
    capacitance = _decade_above(part.value)
    tolerance = min(_tolerance(build), EXACT_TOLERANCE)
    inputs = (node, share) if node == LEAD or node.startswith(LEAD) else (share, node)
    yield Component(f"{name}Cr", "capacitor", capacitance, (node, out), name, tolerance)
    yield from _bought(f"{name}R1", "resistor", part.value / capacitance * DIVIDER_OHM, (out, share), name, build)
    yield Component(f"{name}R2", "resistor", DIVIDER_OHM, (share, COMMON), name, tolerance)
    yield Component(f"{name}N1", "amplifier", build.gain_bandwidth_hz, (*inputs, out), name)


def _decade_above(value: float) -> float:
    return 10.0 ** math.ceil(math.log10(value) - 1e-9)
