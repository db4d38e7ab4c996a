"""A circuit by itself, its leads joined or parted: whether its amplifier then runs to the rail.

What the group held in check is gone: a negative capacitance in series with a resistor feeds itself as soon as
its leads are joined, one beside a resistor as soon as they are parted.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import Connection

Array = NDArray[np.float64]

SLOWEST_1_S = 1e-6
"""A growth slower than this is a charge that stands."""


def growth_1_s(connection: Connection, beside_f: float, beside_s: float, joined: bool) -> float:
    """Fastest growth of the circuit's own states, 1/s, 0 where nothing grows.

    beside_f : capacitance straight across the circuit's side of the leads, its own `across` among it; beside_s :
    conductance there (an instrument); joined : the leads together, else parted.
    """
    port = connection.port()
    if port.short:
        return 0.0
    flow = port.flow
    n = flow.shape[-1] - port.states
    own = -flow[n:, n:]
    if not joined:
        leak = flow[:n, :n] + beside_s * np.eye(n)
        if beside_f != 0.0:
            top = np.concatenate([leak, flow[:n, n:]], axis=1) / -beside_f
            own = np.concatenate([top, np.concatenate([-flow[n:, :n], own], axis=1)])
        elif port.states and np.linalg.det(leak) != 0.0:
            own = own + flow[n:, :n] @ np.linalg.solve(leak, flow[:n, n:])
    if not own.size:
        return 0.0
    fastest = float(np.linalg.eigvals(own).real.max())
    # what cancels to nothing stands still
    return fastest if fastest > max(SLOWEST_1_S, 1e-9 * float(np.abs(own).max())) else 0.0
