"""Currents into a network of ideal parts by nodal analysis: what a kind's immittance is held against."""

from __future__ import annotations

import numpy as np

from core.circuit.network import COMMON, Network, Part

WIRE_S = 1e9
"""Of a wire, far beyond every other part."""


def admittance(network: Network, leads: tuple[str, ...], s: np.ndarray) -> np.ndarray:
    """(F, n, n) currents into the leads per voltage on them at s (F,)."""
    nodes = [*leads, *sorted({end for part in network for end in part.ends} - {COMMON, *leads})]
    y = np.zeros((len(s), len(nodes), len(nodes)), dtype=complex)
    for part in network:
        flow = _flow(part, s)
        at = [nodes.index(end) for end in part.ends if end != COMMON]
        for i in at:
            for j in at:
                y[:, i, j] += flow if i == j else -flow
    n = len(leads)
    if len(nodes) == n:
        return y
    return y[:, :n, :n] - y[:, :n, n:] @ np.linalg.solve(y[:, n:, n:], y[:, n:, :n])


def _flow(part: Part, s: np.ndarray) -> np.ndarray:
    if part.what == "resistor":
        return np.full_like(s, WIRE_S if part.value == 0.0 else 1.0 / part.value)
    if part.what == "inductor":
        return np.full_like(s, WIRE_S) if part.value == 0.0 else 1.0 / (s * part.value)
    return s * {"capacitor": 1.0, "negative capacitor": -1.0}[part.what] * part.value
