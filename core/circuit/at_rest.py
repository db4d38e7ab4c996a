"""What becomes of charge at rest: which leads keep it, and what their circuits then store beside the patches.

A circuit conducts at rest, or it blocks: open leads, a capacitor in line with whatever else, a negative one in line.
What blocks stores c V, c = Y(s)/s at s to 0, so that a charge Q of the patches stands at V = Q/(C + c): less than on open
leads behind a capacitor, more behind a negative one, and with the other sign once that is larger than C. A connection of
several leads may conduct at some and draw nothing from others: a closed loop lets the charge it reads stand, and its
amplifier holds the driven leads at the law's gain at rest times what stands there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number
from core.circuit.kind import ComplexArray, Port
from core.circuit.system import Connection, CoupledSystem

Array = NDArray[np.float64]

AT_REST = 1e-6 + 0j
"""1/s; stands in for a rate of nothing, at which a coil is a short."""


def stored_f(connection: Connection) -> Number | None:
    """What the circuit stores per volt at rest, F, of one layout or of many (P,); None where it conducts, or joins several
    leads. What hangs beside it (an instrument) and its capacitor straight across the leads are not counted: the latter counts
    with the patches."""
    if connection.port().short or len(connection.leads) > 1:
        return None
    lead = np.broadcast_shapes(*(np.shape(v) for v in connection.values.values()))
    if connection.immittance(np.zeros((*lead, 1), dtype=complex))[1].any():
        return None
    a, b = connection.immittance(np.full((*lead, 1), AT_REST))
    if not a.all():  # a wire all through
        return None
    stored = (b / (a * AT_REST)).real[..., 0]
    return stored if stored.ndim else float(stored)


def held_ports(system: CoupledSystem) -> dict[int, Number]:
    """Ports that keep a charge for ever, instruments counted, with what their circuits store per volt, F."""
    held: dict[int, Number] = dict.fromkeys(range(system.n_ports), 0.0)
    for i, connection in enumerate(system.connections):
        leads = system.leads(i)
        if len(leads) > 1:
            conducting = [port for row, port in enumerate(leads) if _pair_at_rest(connection)[1][..., row, :].any()]
        else:
            stored = None if connection.instrument_s != 0.0 else stored_f(connection)
            conducting = list(leads) if stored is None else []
            if stored is not None and leads[0] in held:
                held[leads[0]] = held[leads[0]] + stored
        for port in conducting:
            held.pop(port, None)
    return held


def volts_at_rest(system: CoupledSystem, charge_c: Array, free_f: Array | None = None) -> Array:
    """(..., P) volts across the ports once nothing flows any more, from the charges (..., P) that bend or heat bring on the
    patches: nothing across what conducts. Of many layouts the charges are (layouts, S, P). `free_f` stands for the system's."""
    held = held_ports(system)
    volts = np.zeros(charge_c.shape)
    if held:
        ports = list(held)
        follow = _following(system, ports)
        stored = np.stack(np.broadcast_arrays(*held.values()), axis=-1)
        whole = ((system.free_f if free_f is None else free_f) @ follow)[..., ports, :] + stored[..., None, :] * np.eye(len(ports))
        own = np.linalg.solve(whole, np.swapaxes(charge_c[..., ports], -1, -2) if charge_c.ndim > 1 else charge_c[ports, None])
        volts = np.swapaxes(follow @ own, -1, -2) if charge_c.ndim > 1 else (follow @ own)[..., 0]
    return np.asarray(volts)


def _following(system: CoupledSystem, held: list[int]) -> Array:
    """(..., P, H) volts of every port per volt on those that keep their charge: their own, and what amplifiers hold."""
    out = np.eye(system.n_ports)[:, held]
    for i, connection in enumerate(system.connections):
        leads = system.leads(i)
        if len(leads) == 1:
            continue
        a, b = _pair_at_rest(connection)
        lead = b.shape[:-2]
        out = np.broadcast_to(out, (*np.broadcast_shapes(lead, out.shape[:-2]), *out.shape[-2:])).copy()
        for row, port in enumerate(leads):
            others = [column for column in range(len(leads)) if column != row and leads[column] in held]
            if port in held:
                continue
            beside = connection.instrument_s if row == 0 else 0.0
            own = b[..., row, row] + a[..., row, row] * beside
            for column in others:
                out[..., port, held.index(leads[column])] = (-b[..., row, column] / own).real
    return out


def _pair_at_rest(connection: Connection) -> tuple[ComplexArray, ComplexArray]:
    """(a, b) (..., n, n) of a connection of several leads, at a rate of all but nothing: a law that integrates stays finite."""
    a, b = connection.immittance(np.array([AT_REST]))
    return a[..., 0, :, :], b[..., 0, :, :]


def states_at_rest(port: Port, volts: Array) -> Array:
    """(k,) states of what hangs on leads that have stood at those volts (n,)."""
    if not port.states or not volts.any():
        return np.zeros(port.states)
    n, flow = len(volts), port.flow
    return np.asarray(-np.linalg.solve(flow[n:, n:], flow[n:, :n] @ volts))
