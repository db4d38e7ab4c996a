"""What the circuits of a candidate are built from, and what every load of the service does to each component.

Voltages are the worst of every load case with the circuit as it is, and of the change of temperature of the
service through the circuit. Heat in a resistor: the mean at the worst frequency, the mean of a random load, or the peak of
what happens once. Currents into the inputs of amplifiers count as nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.circuit import instrument
from core.circuit.at_rest import AT_REST
from core.circuit.board import noise_v2_hz, voltages
from core.circuit.connect import beside_f
from core.circuit.damping import mode_damping
from core.circuit.kind import branch_of
from core.circuit.network import LEAD, Network, Part, leads_of
from core.circuit.realise import Component, is_simulated, realised
from core.circuit.system import CoupledSystem
from core.circuit.transfer import LEAST_ZETA
from core.predict.forcing import forcing, load_words
from core.predict.loads.heat import lead_heat_v, ramp_of
from core.predict.loads.loading import SIGMAS, load_sentence
from core.predict.loads.peaks import peaks, squared_once
from core.predict.loads.random_load import is_random
from core.predict.loads.transient import is_transient
from core.predict.solved import Solved
from core.project.candidate import Build

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

NOT_BOUGHT = ("R in", "C in")
"""An instrument's input and its cable."""
HEADROOM_V = 1.5
"""What an ordinary amplifier leaves between its rail and its output (from memory)."""
QUIESCENT_A = 1.5e-3
"""Supply current of an ordinary amplifier (from memory)."""
OVERLOAD = 2.0
"""How many times the load at which an amplifier clips the damping that is left is told for."""
BIAS_SHARE = 100.0
"""Of a capacitor's reactance at the mode, for a resistor beside it that the mode hardly sees."""
OCTAVE = 2.0**0.5


@dataclass(frozen=True)
class ComponentLoad:
    """A component of a group's circuit: peak of the voltage across it (of an amplifier at its output), V; heat in it,
    W (0 where it turns none into heat), and whether that is a peak; the causes of both; energy, J: of a resistor what one
    load that happens once turns into heat, of a capacitor what it stores at the most."""

    group: str
    component: Component
    volts: float
    volts_cause: str
    watts: float
    watts_cause: str
    watts_are_peak: bool
    joules: float


@dataclass(frozen=True)
class Simulated:
    """An inductor or a negative capacitance that amplifiers simulate.

    value : SI, H or F; volts : peak across it; swing_v : peak of its amplifiers' outputs; limit_v : what they can swing;
    clips_at : factor on the load under which they clip; clips_at_words : that load; load : its cause; left : damping ratio
    of the mode served at twice that load, nan where it does not hold; whole : the same below it; noise_v : root mean square on the leads in the octave around the
    mode; supply_w : taken from the supply at rest; bias_ohm : where an input rests on capacitors only, the least resistor across
    the capacitor back to it that carries its bias current and lets through a hundredth of what that does at the mode.
    """

    group: str
    name: str
    what: str
    value: float
    amplifiers: int
    mode: int
    volts: float
    swing_v: float
    limit_v: float
    clips_at: float
    clips_at_words: str
    load: str
    left: float
    whole: float
    noise_v: float
    supply_w: float
    bias_ohm: float | None = None

    @property
    def margin(self) -> float:
        return self.limit_v / self.swing_v if self.swing_v > 0.0 else float("inf")


@dataclass(frozen=True)
class Board:
    """The loads of every component, group by group, and what amplifiers simulate."""

    loads: tuple[ComponentLoad, ...]
    simulated: tuple[Simulated, ...]


def networks(solved: Solved) -> list[Network]:
    """What hangs on every port as ideal parts, with what hangs beside it."""
    groups = solved.candidate.groups
    out: list[Network] = []
    for i, connection in enumerate(solved.system.connections):
        beside = instrument.beside(groups[i]) if i < len(groups) else ()
        kind = connection.kind
        out.append((*beside, *(kind.equivalent or kind.network)(connection.numbers)))
    return out


def components(solved: Solved, port: int) -> tuple[Component, ...]:
    """What the circuit on a port (from 0) is built from, with what hangs beside it."""
    build = solved.candidate.build
    if port >= len(solved.candidate.groups):  # a mass, a spring and a damper
        build = Build(largest_coil_h=float("inf"))
    network, omega = networks(solved)[port], solved.system.omega_rad_s
    own = {part.name: float(omega[served(solved, port, part)]) for part in network if part.what == "inductor"}
    return realised(network, build, float(omega[served(solved, port)]), own)


def served(solved: Solved, port: int, part: Part | None = None) -> int:
    """Index of the mode that a circuit, or the branch that a part is in, serves; of a tuned mass's the first."""
    groups = solved.candidate.groups
    if port >= len(groups):
        return 0
    tuning = groups[port].circuit.tuning
    branch = 1 if part is None else branch_of(part.parameter)
    if tuning is None or branch == 1:
        return solved.serves[port]
    kind = solved.system.connections[port].kind
    return min(tuning.modes(kind.branches)[branch - 1], solved.system.n_modes) - 1


def board(solved: Solved) -> Board:
    """The whole board of a candidate. Where a circuit is unstable every voltage is unbounded."""
    groups = range(len(solved.candidate.groups))
    parts = [(*components(solved, g), *_probes(solved, g)) for g in groups]
    sizes, causes = _worst(solved, parts)
    loads, simulated, at = [], [], 0
    for g in groups:
        own = slice(at, at + len(parts[g]))
        at += len(parts[g])
        its = [replace(cause, squared=cause.squared[own]) for cause in causes]
        loads += _loads(solved, g, parts[g], sizes[:, own], its)
        simulated += _simulated(solved, g, parts[g], sizes[:, own])
    return Board(tuple(loads), tuple(simulated))


def _joins(parts: tuple[Component, ...]) -> bool:
    """Whether parts hang on several leads."""
    return not any(LEAD in part.ends for part in parts)


@dataclass(frozen=True)
class _Cause:
    """A load by its words, and how its peaks count as heat: divided by `heat`, as a peak or a mean."""

    words: str
    heat: float
    is_peak: bool
    squared: Array
    """(K,) time integral of the squares of all voltages, V^2 s, where it happens once; else nothing."""


def _worst(solved: Solved, parts: list[tuple[Component, ...]]) -> tuple[Array, list[_Cause]]:
    """(causes, K) largest voltage across every component of every group, and the causes."""
    project, beam, system = solved.project, solved.beam, solved.system
    live = [not c.port().short for c in system.connections]

    def read(s: ComplexArray) -> ComplexArray:
        out: ComplexArray = np.zeros((len(s), size, system.n_ports), dtype=complex)
        at = 0
        for g, own in enumerate(parts):
            # what hangs beside a joined connection hangs on its first lead
            ports = system.leads(g) if _joins(own) else system.leads(g)[:1]
            if own and live[g]:
                out[:, at : at + len(own), ports] = voltages(own, leads_of(len(ports)), s)
            at += len(own)
        return out

    size = sum(map(len, parts))
    rows, causes = [], []
    for load in project.service.loads if beam.plates else ():
        words = load_sentence(forcing(beam, load, project.view), beam.spec.span_m)
        rows.append(
            np.full(size, np.inf) if solved.unstable else peaks(project, beam, system, solved.spectra, load, read)
        )
        heat = 1.0 if is_transient(load) else SIGMAS**2 if is_random(load) else 2.0
        squared = np.zeros(size) if solved.unstable else squared_once(project, beam, system, load, read)
        causes.append(_Cause(words, heat, is_transient(load), squared))
    ramp = ramp_of(project.service)
    if ramp is not None and beam.plates and ramp.time_s > 0.0:
        volts = np.zeros(system.n_ports)
        volts[: len(beam.group_ids)] = lead_heat_v(beam, system, ramp)
        with np.errstate(invalid="ignore"):
            still = np.abs(read(np.array([AT_REST]))[0])
            rows.append(np.nan_to_num(still @ np.abs(volts), nan=np.inf, posinf=np.inf))
        causes.append(_Cause(ramp.words, 1.0, True, np.zeros(size)))
    return np.array(rows).reshape(len(causes), size), causes


def _loads(
    solved: Solved, group: int, parts: tuple[Component, ...], sizes: Array, causes: list[_Cause]
) -> list[ComponentLoad]:
    out = []
    for k, part in enumerate(parts):
        if np.isinf(part.value):
            continue
        volts = sizes[:, k]
        heat = np.zeros(len(causes))
        if part.what == "resistor" and part.value > 0.0:
            heat = volts**2 / part.value / np.array([cause.heat for cause in causes])
        i, j = (int(np.argmax(x)) if len(causes) else -1 for x in (volts, heat))
        out.append(
            ComponentLoad(
                group=solved.candidate.groups[group].id,
                component=part,
                volts=float(volts[i]) if causes else 0.0,
                volts_cause=causes[i].words if causes else "",
                watts=float(heat[j]) if causes else 0.0,
                watts_cause=causes[j].words if causes else "",
                watts_are_peak=causes[j].is_peak if causes else False,
                joules=_energy(part, float(volts.max(initial=0.0)), [float(c.squared[k]) for c in causes]),
            )
        )
    return out


def _energy(part: Component, volts: float, squared: list[float]) -> float:
    if part.what == "resistor" and part.value > 0.0:
        return max(squared, default=0.0) / part.value
    return 0.5 * part.value * volts**2 if part.what == "capacitor" else 0.0


def _simulated(solved: Solved, group: int, parts: tuple[Component, ...], sizes: Array) -> list[Simulated]:
    out = []
    build = solved.candidate.build
    for ideal in networks(solved)[group]:
        mode = served(solved, group, ideal)
        own = [k for k, part in enumerate(parts) if part.of == ideal.name and part.what == "amplifier"]
        if not own:
            continue
        loads = solved.project.service.loads
        worst = sizes[: len(loads), own].max(axis=1) if len(loads) else np.zeros(0)
        swing = float(worst.max(initial=0.0))
        limit = max(build.supply_v - HEADROOM_V, 0.0)
        times = limit / swing if swing > 0.0 else float("inf")
        cause = loads[int(np.argmax(worst))] if swing > 0.0 else None
        probe = [k for k, part in enumerate(parts) if part.name == ideal.name and np.isinf(part.value)]
        holds = cause is not None and 0.0 < times < np.inf
        out.append(
            Simulated(
                group=solved.candidate.groups[group].id,
                name=ideal.name,
                what=ideal.what,
                value=ideal.value,
                amplifiers=len(own),
                mode=mode + 1,
                volts=float(sizes[: len(loads), probe].max(initial=0.0)),
                swing_v=swing,
                limit_v=limit,
                clips_at=times,
                clips_at_words=load_words(cause, times) if cause is not None and holds else "",
                load="" if cause is None else cause.name,
                left=_left(solved, group, ideal, parts, mode),
                whole=float(mode_damping(solved.system, mode + 1)[mode]),
                noise_v=_noise(solved, group, parts, mode),
                supply_w=2.0 * build.supply_v * QUIESCENT_A * len(own),
                bias_ohm=_bias(ideal, parts, float(solved.system.omega_rad_s[mode])),
            )
        )
    return out


def _bias(ideal: Part, parts: tuple[Component, ...], omega: float) -> float | None:
    """100/(omega C_r) of a negative capacitance that no resistor joins to the return."""
    if ideal.what != "negative capacitor" or any(end.startswith(LEAD) for end in ideal.ends):
        return None
    back = next(part.value for part in parts if part.of == ideal.name and part.what == "capacitor")
    return BIAS_SHARE / (omega * back)


def _probes(solved: Solved, group: int) -> Iterator[Component]:
    """What reads the voltage across every ideal part that is simulated and takes no current."""
    for ideal in networks(solved)[group]:
        if is_simulated(ideal, solved.candidate.build):
            yield Component(ideal.name, "resistor", np.inf, ideal.ends, ideal.name, bought=False)


def clipped_share(times: float) -> float:
    """Share of the fundamental that is left of a sine of `times` the height at which it is clipped (describing function of
    a saturation)."""
    if times <= 1.0:
        return 1.0
    r = 1.0 / times
    return float(2.0 / np.pi * (np.arcsin(r) + r * np.sqrt(1.0 - r * r)))


def _left(solved: Solved, group: int, ideal: Part, parts: tuple[Component, ...], mode: int) -> float:
    """Damping ratio of the mode with amplifiers driven to `OVERLOAD` times what they can swing, counting the
    fundamental of what they still give: an inductor that takes less current is a larger one, a negative
    capacitance a smaller one."""
    share = clipped_share(OVERLOAD)
    if ideal.what == "inductor":
        value = ideal.value / share
    else:
        back = next(part.value for part in parts if part.of == ideal.name and part.what == "capacitor")
        value = max(share * (ideal.value + back) - back, 1e-15)
    if not ideal.parameter:
        return float("nan")
    return float(mode_damping(_with(solved.system, group, ideal.parameter, value), mode + 1)[mode])


def _with(system: CoupledSystem, group: int, name: str, value: float) -> CoupledSystem:
    """With another value in a circuit, and what it adds straight across the leads."""
    connection = system.connections[group]
    across = connection.kind.across
    more = float(np.asarray(across({**connection.numbers, name: value}))) - float(np.asarray(across(connection.numbers)))
    capacitance = np.array(system.capacitance_f)
    capacitance[group, group] += more
    return replace(system.with_values(group, {name: value}), capacitance_f=capacitance)


def _noise(solved: Solved, group: int, parts: tuple[Component, ...], mode: int) -> float:
    """Root mean square on the leads in the octave around a mode, V; other groups shorted."""
    system = solved.system
    if len(system.leads(group)) > 1:
        return float("nan")
    spread = np.linspace(-1.0, 1.0, 401) ** 3  # close together at the mode
    omega = float(system.omega_rad_s[mode]) * OCTAVE**spread
    s: ComplexArray = (1j * omega).astype(complex)
    theta = system.theta[:, group]
    zeta = np.maximum(system.zeta, LEAST_ZETA)
    stiff = system.omega_rad_s**2 - omega[:, None] ** 2 + 2j * zeta * system.omega_rad_s * omega[:, None]
    # the parts bring what hangs straight across the leads, a cable too
    own = float(system.capacitance_f[group, group]) - float(beside_f(solved.candidate.groups[group], system.connections[group].numbers))
    patch: ComplexArray = s * (own + (theta**2 / stiff).sum(axis=1)) + omega * float(system.loss_f[group, group])
    density = noise_v2_hz(parts, leads_of(1)[0], patch, s)
    steps = np.diff(omega) / (2.0 * np.pi)
    return float(np.sqrt((0.5 * (density[1:] + density[:-1]) * steps).sum()))
