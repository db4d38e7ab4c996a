"""Leads that a switch closes for a moment at each extreme of the motion: on a wire, or on an inductor.

The voltage jumps to -gamma of itself, gamma = 0 on a wire. In steady sine motion x of one mode the voltage is that of
open leads and a square wave against the motion, V = kappa theta x/C in the first harmonic, for any amplitude. Without a leak

    kappa = 1 + j beta,   beta = (4/pi) (1 + gamma)/(1 - gamma),   eta = beta K^2

(Richard, Guyomar, Audigier & Ching 1999, Proc. SPIE 3672; Richard et al. 2000, Proc. SPIE 3989; Lefeuvre et al. 2006,
J. Intell. Mater. Syst. Struct. 17, 653; from memory, energy per cycle worked anew). With a conductance h omega C beside it
(dielectric, instrument) the voltage between two closings follows V' + h omega V = theta x'/C, which gives

    S = (1 + exp(-h pi))/(1 + h^2),   V_b = S/(1 - gamma exp(-h pi)),   B = -gamma V_b - 1/(1 + h^2)
    kappa = h B S 2/pi + 1/(1 + h^2) + j (h/(1 + h^2) - B S 2/pi),

V_b the voltage just before, in theta X/C. At the mode's frequency the same is met by a resistor and a negative
capacitance side by side,

    1/(omega R C) = beta/|kappa|^2 - h,    C_neg/C = 1 - alpha/|kappa|^2,    kappa = alpha + j beta,

which is what stands here: linear, and right for steady motion in the mode it is made for. It follows the patches by itself, so
its values are worked out, never typed. Where C_neg would use up the blocked capacitance (the switch itself never runs
away) it stays below, and R makes up for it as far as it can. `core.circuit.switching` simulates the switch itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import inf, log, pi

import numpy as np

from core.beam.varied import Number
from core.circuit import resistor
from core.circuit.kind import (
    LARGEST_RESISTANCE_OHM,
    CircuitKind,
    ComplexArray,
    Parameter,
    Port,
    Target,
    Values,
)
from core.circuit.network import Network, in_line, side_by_side

INVERSION = Parameter("inversion_ratio", "Voltage inversion", "1", 0.0, 0.98, 0.6, loss=True)
EQUIVALENT_R = Parameter("equivalent_ohm", "Acts as resistance", "kohm", 0.0, LARGEST_RESISTANCE_OHM, 1e5, loss=True)
EQUIVALENT_C = Parameter("equivalent_f", "Acts as negative capacitance", "nF", 0.0, 1.0, 0.0, loss=True)
MOST_USED = 0.998
"""Of the blocked capacitance, what the equivalent takes at the most."""


QUICK = 10.0
"""How many times faster than the mode inductor and patches ring: the switch is closed for half a ring."""
LEAST = 1e-9
"""Of omega C, what the equivalent conducts at the least."""


def kappa(inversion: Number, leak: Number = 0.0) -> tuple[Number, Number]:
    """Real and imaginary part of the voltage in steady motion over that of open leads; `leak` is h."""
    fallen, over = np.exp(-np.pi * np.asarray(leak)), 1.0 / (1.0 + np.asarray(leak) ** 2)
    s = (1.0 + fallen) * over
    b = -inversion * s / (1.0 - inversion * fallen) - over
    return 2.0 / pi * leak * b * s + over, leak * over - 2.0 / pi * b * s


def quality_of(inversion: float) -> float:
    """Quality factor, (1/R) sqrt(L/C), of the ringing of inductor and patch that inverts so much: gamma = exp(-pi/(2 Q));
    infinite for all of it."""
    return pi / (2.0 * -log(inversion)) if inversion < 1.0 else inf


def inductor_h(omega_rad_s: float, capacitance_f: float) -> float:
    """The largest inductor that inverts the voltage of the patches within a twentieth of the mode's period."""
    return 1.0 / ((QUICK * omega_rad_s) ** 2 * capacitance_f)


def _resistor(values: Values) -> dict[str, Number]:
    return {resistor.RESISTANCE.name: values[EQUIVALENT_R.name]}


def _immittance(values: Values, s: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    return resistor.KIND.immittance(_resistor(values), s)


def _port(values: Values) -> Port:
    return resistor.KIND.port(_resistor(values))


def _closed_form(goal: str, target: Target) -> dict[str, Number]:
    c, leak = target.capacitance_f, target.leak
    alpha, beta = kappa(target.given.get(INVERSION.name, 0.0), leak)
    used = np.minimum(c * (1.0 - alpha / (alpha**2 + beta**2)), MOST_USED * np.asarray(target.blocked_f))
    left = (c - used) / c
    # the loss g/(left^2 + g^2) = beta; 1/(2 left) is the most there is
    whole = 0.5 * (1.0 / beta + np.sqrt(np.maximum(1.0 / beta**2 - 4.0 * left**2, 0.0)))
    conductance = np.maximum(whole - leak, LEAST)
    found = {EQUIVALENT_R.name: 1.0 / (conductance * c * target.omega_rad_s), EQUIVALENT_C.name: used}
    return {n: v if np.ndim(v) else float(v) for n, v in found.items()}


def _across(values: Values) -> Number:
    return -values[EQUIVALENT_C.name]


def _equivalent(values: Mapping[str, float]) -> Network:
    return side_by_side(
        ("Req", "resistor", values[EQUIVALENT_R.name], EQUIVALENT_R.name),
        ("Ceq", "negative capacitor", values[EQUIVALENT_C.name], EQUIVALENT_C.name),
    )


def _drawn_short(values: Mapping[str, float]) -> Network:
    return in_line(("S", "switch", 1.0, ""))


def _drawn_inductor(values: Mapping[str, float]) -> Network:
    """The inductor's own value is free: how far it inverts the voltage stands beside it."""
    return in_line(("S", "switch", 1.0, ""), ("L", "inductor", max(values[INVERSION.name], 1e-9), INVERSION.name))


def _kind(key: str, label: str, drawn: Callable[[Mapping[str, float]], Network], *own: Parameter) -> CircuitKind:
    return CircuitKind(
        key, label, (*own, EQUIVALENT_R, EQUIVALENT_C), _immittance, _port, _closed_form, _across, active=True,
        equivalent=_equivalent, worked_out=True, drawn=drawn,
    )  # fmt: skip


SHORT = _kind("switched short", "Switched on a short", _drawn_short)
INDUCTOR = _kind("switched inductor", "Switched on an inductor", _drawn_inductor, INVERSION)
