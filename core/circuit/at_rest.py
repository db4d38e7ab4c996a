"""What becomes of charge at rest: which leads keep it, and what their circuits then store beside the patches.

A circuit conducts at rest, or it blocks: open leads, a capacitor in line with whatever else, a negative one in line.
What blocks stores c V, c = Y(s)/s at s to 0, so that a charge Q of the patches stands at V = Q/(C + c): less than on open
leads behind a capacitor, more behind a negative one, and with the other sign once that is larger than C.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import Port
from core.circuit.system import Connection, CoupledSystem

Array = NDArray[np.float64]

AT_REST = 1e-6 + 0j
"""1/s; stands in for a rate of nothing, at which a coil is a short."""


def stored_f(connection: Connection) -> float | None:
    """What the circuit of one layout stores per volt at rest, F; None where it conducts. What hangs beside it (an
    instrument) and its capacitor straight across the leads are not counted: the latter counts with the patches."""
    if connection.port().short or len(connection.leads) > 1:
        return None
    if connection.immittance(np.zeros(1, dtype=complex))[1].any():
        return None
    a, b = connection.immittance(np.array([AT_REST]))
    return float((b / (a * AT_REST)).real[0])


def held_ports(system: CoupledSystem) -> dict[int, float]:
    """Ports of one layout that keep a charge for ever, instruments counted, with what their circuits store per volt, F."""
    held = dict.fromkeys(range(system.n_ports), 0.0)
    for i, connection in enumerate(system.connections):
        stored = None if connection.instrument_s != 0.0 else stored_f(connection)
        for port in system.leads(i):
            if stored is None:
                held.pop(port, None)
            elif port in held:
                held[port] += stored
    return held


def volts_at_rest(system: CoupledSystem, charge_c: Array) -> Array:
    """(..., P) volts across the ports of one layout once nothing flows any more, from the charges (..., P) that bend or heat
    bring on the patches: nothing across what conducts."""
    held = held_ports(system)
    volts = np.zeros(charge_c.shape)
    if held:
        ports = list(held)
        whole = system.free_f[np.ix_(ports, ports)] + np.diag(list(held.values()))
        volts[..., ports] = np.linalg.solve(whole, charge_c[..., ports, None])[..., 0]
    return volts


def states_at_rest(port: Port, volts: Array) -> Array:
    """(k,) states of what hangs on leads that have stood at those volts (n,)."""
    if not port.states or not volts.any():
        return np.zeros(port.states)
    n, flow = len(volts), port.flow
    return np.asarray(-np.linalg.solve(flow[n:, n:], flow[n:, :n] @ volts))
