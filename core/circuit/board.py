"""Voltages inside a circuit with real parts, per volt on its leads, and the noise it makes on them.

Nodal analysis with ideal amplifiers: an amplifier adds the current of its output as an unknown and the equality of
its two inputs as an equation.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from core.circuit.network import COMMON
from core.circuit.realise import Component

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

WIRE_S = 1e6
"""Conductance of a wire: far above what hangs on any lead, and its rounding far below."""
BOLTZMANN_J_K = 1.380649e-23
ROOM_K = 293.15
AMPLIFIER_NOISE_V = 15e-9
"""V/sqrt(Hz) at the input of an ordinary amplifier with field-effect inputs (from memory)."""


def voltages(parts: Sequence[Component], leads: Sequence[str], s: ComplexArray) -> ComplexArray:
    """(F, K, n) voltage across every component, of an amplifier at its output against the return, per volt on each
    lead with the others at the return, at s (F,)."""
    nodes, matrix = _matrix(parts, s)
    at = [nodes.index(lead) for lead in leads]
    inner = [i for i in range(matrix.shape[-1]) if i not in at]
    driven: ComplexArray = np.zeros((len(s), matrix.shape[-1], len(leads)), dtype=complex)
    driven[:, at, range(len(leads))] = 1.0
    if inner:
        rows = [i for i in range(matrix.shape[-1]) if i not in at]
        square = matrix[:, rows][:, :, inner]
        driven[:, inner] = -np.linalg.solve(square, matrix[:, rows][:, :, at])
    return np.stack([_across(part, nodes, driven) for part in parts], axis=1) if parts else driven[:, :0]


def _across(part: Component, nodes: list[str], volts: ComplexArray) -> ComplexArray:
    def of(node: str) -> ComplexArray:
        return volts[:, nodes.index(node)] if node != COMMON else np.zeros_like(volts[:, 0])

    return of(part.ends[2]) if part.what == "amplifier" else of(part.ends[0]) - of(part.ends[1])


def _matrix(parts: Sequence[Component], s: ComplexArray) -> tuple[list[str], ComplexArray]:
    """Names of the nodes, and the matrix on their voltages and the amplifiers' output currents."""
    nodes = list(dict.fromkeys(end for part in parts for end in part.ends if end != COMMON))
    amplifiers = [part for part in parts if part.what == "amplifier"]
    size = len(nodes) + len(amplifiers)
    out: ComplexArray = np.zeros((len(s), size, size), dtype=complex)
    for part in parts:
        if part.what != "amplifier":
            flow = admittance(part, s)
            at = [nodes.index(end) for end in part.ends if end != COMMON]
            for i in at:
                for j in at:
                    out[:, i, j] += flow if i == j else -flow
    for k, part in enumerate(amplifiers, start=len(nodes)):
        for end, sign in zip(part.ends[:2], (1.0, -1.0), strict=True):
            if end != COMMON:
                out[:, k, nodes.index(end)] += sign
        if part.ends[2] != COMMON:
            out[:, nodes.index(part.ends[2]), k] -= 1.0
    return nodes, out


def admittance(part: Component, s: ComplexArray) -> ComplexArray:
    """Current over voltage of a component that is no amplifier, S."""
    if part.value == 0.0 and part.what != "capacitor":
        return np.full_like(s, WIRE_S)
    if part.what == "resistor":
        return np.full_like(s, 1.0 / part.value)
    return np.asarray(1.0 / (s * part.value) if part.what == "coil" else s * part.value)


def noise_v2_hz(parts: Sequence[Component], lead: str, patch_s: ComplexArray, s: ComplexArray) -> Array:
    """(F,) density of the noise on the lead, V^2/Hz, with the admittance of the patch there at s: thermal noise of
    every resistor (4 k T/R) and that of every amplifier's input."""
    nodes, matrix = _matrix(parts, s)
    at = nodes.index(lead)
    matrix = matrix.copy()
    matrix[:, at, at] += patch_s
    pick = np.zeros((matrix.shape[-1], 1))
    pick[at] = 1.0
    right = np.broadcast_to(pick, (len(s), *pick.shape))
    answer: ComplexArray = np.linalg.solve(np.swapaxes(matrix, -1, -2), right)[..., 0].astype(complex)
    out, k = np.zeros(len(s)), len(nodes)
    for part in parts:
        if part.what == "amplifier":
            out += np.abs(answer[:, k]) ** 2 * AMPLIFIER_NOISE_V**2
            k += 1
        elif part.what == "resistor" and part.value > 0.0:
            across = _across(part, nodes, answer[..., None])[:, 0]
            out += np.abs(across) ** 2 * 4.0 * BOLTZMANN_J_K * ROOM_K / part.value
    return out
