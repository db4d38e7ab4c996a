"""What a wound coil loses: the resistance of its winding, and a conductance beside its inductance for the core.

    Z = R_w + s L/(1 + s L G_c)

With a resistance R more in line, and i the current of the inductance, k = 1/(1 + (R + R_w) G_c):

    I = k (i + G_c V),    L i' = k (V - (R + R_w) i)

which is passive for any values, part by part (`core.circuit.kind`).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from core.beam.varied import Number
from core.circuit.kind import Array, ComplexArray, Parameter, Values, numbered, ratio
from core.circuit.network import Network, Part

WINDING = Parameter("winding_ohm", "Winding of the coil", "kohm", 0.0, 1e9, 0.0, loss=True)
CORE = Parameter("core_s", "Core loss of the coil", "uS", 0.0, 1.0, 0.0, loss=True)
LOSSES = (WINDING, CORE)
"""Of every kind with an inductor; both zero for an ideal one."""
LEAST_SHARE = 1e-3
"""Of the best loss, what is asked for at the least beside the coil's own: as good as none, and still a value to
vary by factors."""


def winding_ohm(values: Values, branch: int = 0) -> Number:
    """Resistance of the winding, ohm; `branch` from 1 in a circuit with several, 0 in one."""
    return values.get(numbered(WINDING.name, branch), 0.0)


def core_s(values: Values, branch: int = 0) -> Number:
    """Conductance beside the inductance that stands for the core, S; `branch` as above."""
    return values.get(numbered(CORE.name, branch), 0.0)


def pair(values: Values, s: ComplexArray, more_ohm: Number = 0.0, branch: int = 0) -> tuple[ComplexArray, ComplexArray]:
    """(a, b) of the coil with a resistance more in line."""
    reactance = values[numbered("inductance_h", branch)] * s
    through = 1.0 + reactance * core_s(values, branch)
    return (more_ohm + winding_ohm(values, branch)) * through + reactance, through


def states(values: Values, more_ohm: Number = 0.0, branch: int = 0) -> tuple[Array, Array, Array]:
    """k G_c, k/sqrt(L) and k (R + R_w)/L: conductance, coupling and decay of the coil's one state."""
    inductance = values[numbered("inductance_h", branch)]
    line, core = more_ohm + winding_ohm(values, branch), core_s(values, branch)
    k = 1.0 / (1.0 + np.asarray(line * core))
    return np.asarray(k * core), np.asarray(k * ratio(1.0, inductance) ** 0.5), np.asarray(k * ratio(line, inductance))


def parts(values: Mapping[str, float], first: str, last: str, branch: int = 0) -> Network:
    """The coil between two nodes: winding, inductance, and what stands for the core beside it; a loss of zero is left
    out, and an inductance of zero once something else remains."""
    end = str(branch) if branch else ""
    winding, core = float(winding_ohm(values, branch)), float(core_s(values, branch))
    inductance = values[numbered("inductance_h", branch)]
    inner, out = first, []
    if winding:
        inner = f"w{end}" if inductance else last
        out.append(Part(f"Rw{end}", "resistor", winding, (first, inner), numbered(WINDING.name, branch)))
    if inductance or not winding:
        out.append(Part(f"L{end}", "inductor", inductance, (inner, last), numbered("inductance_h", branch)))
    if core and inductance:
        out.append(Part(f"Rc{end}", "resistor", 1.0 / core, (inner, last)))
    return tuple(out)


def left_in_line(values: Values, wanted_ohm: Number, reactance_ohm: Number, branch: int = 0) -> Number:
    """Resistance still wanted in line with a coil so that both lose what `wanted_ohm` would at that reactance
    (omega L); all but none where the coil's own loss is enough or more."""
    own = winding_ohm(values, branch) + reactance_ohm**2 * core_s(values, branch)
    return _left(wanted_ohm, own)


def left_beside(values: Values, wanted_s: Number, reactance_ohm: Number, branch: int = 0) -> Number:
    """Conductance still wanted beside a coil so that both lose what `wanted_s` would; all but none where the coil's own
    loss is enough or more."""
    own = core_s(values, branch) + winding_ohm(values, branch) / reactance_ohm**2
    return _left(wanted_s, own)


def _left(wanted: Number, own: Number) -> Number:
    left, least = wanted - own, LEAST_SHARE * wanted
    return np.maximum(left, least) if isinstance(left, np.ndarray) else max(left, least)
