"""Charge that a change of temperature makes in the ceramics (pyroelectric), and what it does to the leads.

Open leads hold the charge p A dT, on the free capacitance V = -p A dT/C: p of a poled ceramic is negative (its
mechanical part within), so heating gives a field along the poling and cooling one against it. What hangs on
the leads takes it away while the temperature still changes: C V' = -I - p A dT/dt with the circuit's
own states, everything mechanical at rest. A negative capacitance makes the voltage larger, not smaller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.at_rest import volts_at_rest
from core.circuit.states import live_ports
from core.circuit.system import CoupledSystem
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.package import CeramicPlate
from core.project.service import Service
from core.units import words

Array = NDArray[np.float64]

INSTANTS = 65
"""Of the ramp at which the voltage is looked at, from its start to its end; half of them early on."""


@dataclass(frozen=True)
class Ramp:
    """A change of temperature by `span_k` either way, in `time_s` (0: at once)."""

    span_k: float
    time_s: float
    words: str


def ramp_of(service: Service) -> Ramp | None:
    """The change a person stated, else that from the cold to the hot end; None where the temperature stands."""
    stated, rate = service.ramp_span_k, service.ramp_rate_k_s
    span = service.hot_c - service.cold_c if stated is None else stated
    if span <= 0.0:
        return None
    told = (
        f"between {words.celsius(service.cold_c)} and {words.celsius(service.hot_c)}"
        if stated is None
        else f"by {words.kelvins(stated)}"
    )
    at = "at once" if rate is None else f"at {words.kelvins(60.0 * rate)} a minute"
    return Ramp(span, 0.0 if rate is None else span / rate, f"heated or cooled {told} {at}")


def pyroelectric_charge_c(plate: CeramicPlate, change_k: float) -> float:
    """Charge p A dT of a ceramic in the poling direction, with p at the far end of its tolerance."""
    p = plate.package.ceramic.pyroelectric_c_m2_k
    area = plate.width_m * (plate.x_b_m - plate.x_a_m)
    return p.value * (1 + (p.tolerance or 0.0)) * area * change_k


def plate_charges_c(beam: CoupledBeam, span_k: float) -> Array:
    """(J,) of every ceramic, heated by so much."""
    return np.array([pyroelectric_charge_c(plate, span_k) for plate in beam.plates])


def lead_heat_v(beam: CoupledBeam, system: CoupledSystem, ramp: Ramp) -> Array:
    """(G,) largest voltage across the leads of every group while it is heated so, with what `system` hangs on
    them; along the poling positive, cooled it is the opposite. inf where the circuit runs away by itself."""
    groups = len(beam.group_ids)
    charge = np.zeros(system.n_ports)
    charge[:groups] = beam.terminals.combine.T @ plate_charges_c(beam, ramp.span_k)
    free = system.free_f
    live = [p for p in live_ports(system) if p < groups]
    out = np.zeros(groups)
    if not live:
        return out
    free = free[np.ix_(live, live)]
    if np.linalg.eigvalsh(free)[0] <= 0.0:
        out[live] = np.inf
        return out
    push = -np.linalg.solve(free, charge[live])
    if ramp.time_s == 0.0:
        settled = -volts_at_rest(system, charge)[live]
        out[live] = np.where(np.abs(settled) > np.abs(push), settled, push)
        return out
    matrix = _at_rest(system, live, free)
    right = np.zeros(len(matrix))
    right[: len(live)] = push / ramp.time_s
    rate, vectors = np.linalg.eig(matrix)
    if (rate.real * ramp.time_s > 1.0).any():
        out[live] = np.inf
        return out
    amplitude = np.linalg.solve(vectors, right.astype(complex))
    half = INSTANTS // 2
    at = ramp.time_s * np.concatenate([np.geomspace(1e-6, 1.0, half), np.linspace(0.0, 1.0, INSTANTS - half)])
    moved = rate[:, None] * at
    grown = np.where(np.abs(moved) < 1e-12, at, np.expm1(moved) / np.where(rate == 0.0, 1.0, rate)[:, None])
    volts = (vectors[: len(live)] @ (amplitude[:, None] * grown)).real
    out[live] = volts[np.arange(len(live)), np.abs(volts).argmax(axis=1)]
    return out


def plate_heat_v(beam: CoupledBeam, system: CoupledSystem, ramp: Ramp) -> Array:
    """(J,) the same across every ceramic; what floats inside a series group holds its own charge."""
    volts = lead_heat_v(beam, system, ramp)
    inner = beam.wiring.floating
    with np.errstate(invalid="ignore"):
        out = np.nan_to_num(beam.terminals.combine * volts, posinf=np.inf, neginf=-np.inf).sum(axis=1)
    if inner.shape[1]:
        charge = inner.T @ plate_charges_c(beam, ramp.span_k)
        out = out - inner @ np.linalg.solve(inner.T @ beam.blocked_f @ inner, charge)
    return np.asarray(out)


def _at_rest(system: CoupledSystem, live: list[int], free_f: Array) -> Array:
    """State matrix of what hangs on some leads with the structure following at rest: voltages, then the
    circuits' own states."""
    own = [(i, c) for i, c in enumerate(system.connections) if not c.port().short and set(system.leads(i)) <= set(live)]
    size = len(live) + sum(c.port().states for _, c in own)
    matrix = np.zeros((size, size))
    into = np.zeros((len(live), size))
    start = len(live)
    for i, connection in own:
        port = connection.port()
        at = [live.index(p) for p in system.leads(i)]
        inner = list(range(start, start + port.states))
        start += port.states
        flow, n = port.flow, len(at)
        into[np.ix_(at, at)] += flow[:n, :n]
        into[at[0], at[0]] += connection.instrument_s
        into[np.ix_(at, inner)] += flow[:n, n:]
        matrix[np.ix_(inner, at)] -= flow[n:, :n]
        matrix[np.ix_(inner, inner)] -= flow[n:, n:]
    matrix[: len(live)] = -np.linalg.solve(free_f, into)
    return matrix
