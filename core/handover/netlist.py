"""The part, its patches and the circuit with real parts as a netlist for SPICE, ready for .ac and .tran.

Each kept mode is a series branch of inductance, resistance and capacitance at the lead of the group it couples to most,
the equivalent circuit of Butterworth and Van Dyke (IEEE Std 176), theta the coupling of mode n there:

    L_n = 1/theta^2,   R_n = 2 zeta_n omega_n/theta^2,   C_n = theta^2/omega_n^2,   the load a voltage phi_F F/theta in line,

across the capacitance of the group with the share of the modes left out. With several groups the others join the
branch by controlled sources, ideal transformers of ratio theta_p/theta, and capacitors between the leads carry what
the groups share. Node "load" is the load (1 V is 1 N, or 1 m/s^2 of the base), node "out" the deflection at the output
point (1 V is 1 mm), where the truncated modes add their static answer. At a place of the structure with a tuned mass
force is the voltage and velocity the current.

The dielectric's loss is tan delta at every frequency of an AC run, as in the prediction. No linear part has
that in time: a transient run takes the conductance at the frequency of the mode that rings. Rigid-body motion is
not in it. The header says all this to whoever opens the file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import pi

import numpy as np
from numpy.typing import NDArray

from core.circuit.at_rest import AT_REST
from core.circuit.board import voltages
from core.circuit.loop_amplifier import OUTPUT
from core.circuit.network import COMMON, LEAD, leads_of
from core.circuit.realise import Component
from core.handover.drawing.items import SheetError
from core.predict.electrics.board import components, networks
from core.predict.electrics.safety import DEFERS
from core.predict.loads.loading import load_sentence
from core.predict.loads.transient import half_sine, loss_in_time_rad_s, start_of
from core.predict.prediction import Prediction
from core.predict.solved import Solved
from core.project.service import BaseShock, BaseStep, Impact, Release
from core.units import words

Array = NDArray[np.float64]

OUT_PER_M = 1e3
"""Volts at the output per metre."""
COUPLED = 1e-9
"""Of the largest coupling of a mode, below which a group is not joined to it."""
LEAK_OHM = 1e13
"""Across every lead, so that a simulator finds where it rests."""
OPEN_LOOP_GAIN = 1e6
PULSE_POINTS = 64
PERIODS = 30.0
"""Of the mode that rings, in a transient run."""
STEPS = 200.0
"""A period."""
ASCII = str.maketrans({"\N{SUPERSCRIPT TWO}": "2", "\N{MINUS SIGN}": "-", "\N{MICRO SIGN}": "u", "\N{DEGREE SIGN}": "deg "})


def netlist(prediction: Prediction) -> str:
    """The netlist of a candidate as predicted. SheetError where it cannot be written."""
    solved = prediction.solved
    if not solved.system.n_ports:
        raise SheetError(f"Candidate {prediction.candidate} has no patch: there is nothing to make a netlist of.")
    try:
        circuits = [line for i in range(len(networks(solved))) for line in _circuit(solved, i)]
    except ValueError as error:
        raise SheetError(f"No netlist of candidate {prediction.candidate}: {error}") from error
    ring = _ringing(solved)
    lines = [
        *_header(prediction, ring), "", *_load(solved), "", *_structure(solved), "", *_output(solved), "",
        *_patches(solved, ring), "", *circuits, "", *amplifier_lines(), *_runs(solved, ring), ".end",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _ringing(solved: Solved) -> float:
    """rad/s of the mode that rings: what holds most of the start, else the first."""
    omega = solved.system.omega_rad_s
    if _begins_at_rest(solved):
        return float(omega[0])
    q = start_of(solved.system, solved.side.forcing)[0]
    return float(omega[int(np.argmax(np.abs(omega * q)))])


def _begins_at_rest(solved: Solved) -> bool:
    return isinstance(solved.side.forcing.load, Impact | BaseShock | BaseStep)


def _number(value: float) -> str:
    return f"{float(value):.12g}"


def _names(solved: Solved) -> list[str]:
    """Node of the positive lead of every group, of the place of every tuned mass."""
    names = [g.id for g in solved.candidate.groups] + [a.id for a in solved.candidate.absorbers]
    return [_word(name) + ("" if names.index(name) == i else f"_{i}") for i, name in enumerate(names)]


def _word(name: str) -> str:
    """A name as SPICE takes it."""
    return "".join(c if c.isalnum() and c.isascii() else "_" for c in name) or "x"


# ---- what the file says of itself ----------------------------------------------------------------


def _header(prediction: Prediction, ring: float) -> Iterator[str]:
    solved = prediction.solved
    title = " ".join(f"{solved.project.name}, candidate {solved.candidate.id}".split())
    yield f"* {title}"
    yield "* The part with its patches and circuit, for .ac and .tran. Every mode is a series branch at the lead of the group"
    yield "* it couples to most (Butterworth-Van Dyke, IEEE Std 176); other groups join by controlled sources."
    base = solved.side.forcing.aim.load.base
    yield f"* Node load: 1 V is {'1 m/s2 of the base' if base else '1 N'}. Node out: 1 V is 1 mm at the output point, x ="
    item = solved.side.forcing
    yield f"* {_plain(words.millimetres(item.output_x_m))}. The load: {_plain(load_sentence(item, solved.beam.spec.span_m))}."
    yield "* Dielectric loss: tan delta at every frequency of .ac. In .tran no linear part can do that; there it is"
    loss = loss_in_time_rad_s(solved.system, ring)
    at = _plain(words.frequency(loss / 2 / pi))
    told = f"the conductance at {at}, the mode that rings" if loss else "left out: it alone would run away"
    yield f"* {told}."
    yield "* Amplifiers: one pole, the gain-bandwidth product stated; their rails, bias current and noise are not in it."
    yield "* Rigid-body motion is not in it. Inherent damping is that of small swing."
    driven = [text for one in prediction.driven for text in one.cautions]
    for caution in (*driven, DEFERS) if driven else ():
        yield f"* CAUTION: {_plain(caution)}"
    for remark in prediction.unstable:
        yield f"* UNSTABLE: {_plain(remark)}"


def _plain(text: str) -> str:
    return text.translate(ASCII).encode("ascii", "replace").decode().replace("\n", " ")


# ---- load, modes, output -----------------------------------------------------------------------------


def _load(solved: Solved) -> Iterator[str]:
    """The load as a source, and the charges that it drives through the truncated modes."""
    load, item = solved.side.forcing.load, solved.side.forcing.aim.load
    wave = ""
    if isinstance(load, Impact | BaseShock):
        height, length = half_sine(load)
        times = np.linspace(0.0, length, PULSE_POINTS)
        points = " ".join(f"{_number(t)} {_number(height * np.sin(pi * t / length))}" for t in times)
        wave = f" PWL({points})"
    elif isinstance(load, BaseStep):
        wave = f" PWL(0 0 1n {_number(load.level_m_s2)})"
    yield f"Vload load 0 DC 0 AC 1{wave}"
    if np.any(item.electric[: solved.system.n_ports]):
        yield "* charge of the modes left out"
        yield "Cpush load push 1n"
        yield "Vpush push 0 0"
        for name, charge in zip(_names(solved), item.electric, strict=False):
            if charge:
                yield f"Fpush_{name} 0 {name} Vpush {_number(charge / 1e-9)}"


@dataclass(frozen=True)
class Branch:
    """The series branch of a mode: the port (from 0) and the node it hangs on (None and "" for a mode that no port feels),
    its coupling there, and its parts."""

    port: int | None
    at: str
    coupling: float
    inductance_h: float
    resistance_ohm: float
    capacitance_f: float


def branch_of(solved: Solved, mode: int) -> Branch:
    """Of one kept mode, from 0."""
    system = solved.system
    theta, omega, zeta = system.theta[mode], float(system.omega_rad_s[mode]), float(system.zeta[mode])
    port: int | None = int(np.argmax(np.abs(theta)))
    coupling = float(theta[port])
    if coupling == 0.0:
        port, coupling = None, 1.0
    square = coupling**2
    node = "" if port is None else _names(solved)[port]
    return Branch(port, node, coupling, 1.0 / square, 2.0 * zeta * omega / square, square / omega**2)


def _structure(solved: Solved) -> Iterator[str]:
    system, names = solved.system, _names(solved)
    at_rest = np.zeros(system.n_modes)
    start = at_rest if _begins_at_rest(solved) else start_of(system, solved.side.forcing)[0]
    for n in range(system.n_modes):
        theta, omega, zeta = system.theta[n], float(system.omega_rad_s[n]), float(system.zeta[n])
        one = branch_of(solved, n)
        at, scale = one.port, one.coupling
        yield f"* mode {n + 1}: {_number(omega / 2 / pi)} Hz, damping ratio {_number(zeta)}"
        yield f"Vm{n + 1} {one.at or COMMON} m{n + 1}a 0"
        yield f"Lm{n + 1} m{n + 1}a m{n + 1}b {_number(one.inductance_h)}"
        yield f"Rm{n + 1} m{n + 1}b m{n + 1}c {_number(one.resistance_ohm)}"
        held = f" IC={_number(-(omega**2) * start[n] / scale)}" if start[n] else ""
        yield f"Cm{n + 1} m{n + 1}c m{n + 1}d {_number(one.capacitance_f)}{held}"
        others = [p for p in range(system.n_ports) if p != at and abs(theta[p]) > COUPLED * np.abs(theta).max()]
        below = [f"m{n + 1}e{i}" for i in range(len(others))] + [COMMON]
        yield f"Em{n + 1} m{n + 1}d {below[0]} load 0 {_number(solved.side.forcing.aim.load.modal[n] / scale)}"
        for i, p in enumerate(others):
            ratio = _number(theta[p] / scale)
            yield f"Em{n + 1}_{i} {below[i + 1]} {below[i]} {names[p]} 0 {ratio}"
            yield f"Fm{n + 1}_{i} {names[p]} 0 Vm{n + 1} {ratio}"


def _output(solved: Solved) -> Iterator[str]:
    """Deflection as a sum of voltages in line: of the modes, of the truncated ones under load and leads."""
    system, aim = solved.system, solved.side.forcing.aim
    terms = []
    for n in range(system.n_modes):
        scale = branch_of(solved, n).coupling
        gain = -OUT_PER_M * aim.output.modal[n] * scale / system.omega_rad_s[n] ** 2
        terms.append((f"m{n + 1}c", f"m{n + 1}d", float(gain)))
    terms.append(("load", COMMON, OUT_PER_M * float(aim.residual)))
    for name, charge in zip(_names(solved), aim.output.electric, strict=False):
        terms.append((name, COMMON, -OUT_PER_M * float(charge)))
    terms = [term for term in terms if term[2]] or [("load", COMMON, 0.0)]
    yield "* deflection at the output point"
    nodes = ["out", *(f"o{i + 1}" for i in range(len(terms) - 1)), COMMON]
    for i, (high, low, gain) in enumerate(terms):
        yield f"Eout{i + 1} {nodes[i]} {nodes[i + 1]} {high} {low} {_number(gain)}"


# ---- patches ----------------------------------------------------------------------------------------


def _patches(solved: Solved, ring: float) -> Iterator[str]:
    """Capacitance of the groups with the truncated modes' share, what they have in common, and the dielectric's loss."""
    system, names = solved.system, _names(solved)
    own = np.array(system.capacitance_f, dtype=float)
    for i, network in enumerate(networks(solved)):  # the circuit brings its own
        kind = system.connections[i].kind
        if kind.hangs_on == "leads":
            cable = sum(part.value for part in network if part.name == "C in")
            own[i, i] -= cable + float(np.asarray(kind.across(system.connections[i].numbers)))
    volts = np.zeros(len(names)) if _begins_at_rest(solved) else start_of(system, solved.side.forcing)[1]
    loss = loss_in_time_rad_s(system, ring)
    yield "* capacitance of the patches, of the compliance at places, with that of the modes left out"
    for matrix, write in ((own, _capacitor), (np.asarray(system.loss_f), _loss)):
        for i, name in enumerate(names):
            total = float(matrix[i].sum())
            if total:
                yield write(name, COMMON, total, loss)
            for j in range(i):
                if matrix[i, j]:
                    yield write(name, names[j], -float(matrix[i, j]), loss)
    for name, volt in zip(names, volts, strict=True):
        yield f"Rleak_{name} {name} 0 {_number(LEAK_OHM)}"
        if volt:
            yield f".ic V({name})={_number(volt)}"


def _capacitor(first: str, second: str, value: float, loss: float) -> str:
    return f"Cp_{first}{'' if second == COMMON else '_' + second} {first} {second} {_number(value)}"


def _loss(first: str, second: str, value: float, loss: float) -> str:
    between = f"V({first})" if second == COMMON else f"V({first},{second})"
    name = f"Bp_{first}{'' if second == COMMON else '_' + second}"
    rate = f"(hertz > 0 ? {_number(2 * pi)}*hertz : {_number(loss)})"
    return f"{name} {first} {second} I = {between}*{_number(value)}*{rate}"


# ---- circuits ------------------------------------------------------------------------------------------


def _circuit(solved: Solved, port: int) -> Iterator[str]:
    """The circuit of a port with real parts."""
    system, names = solved.system, _names(solved)
    connection = system.connections[port]
    leads = [names[p] for p in system.leads(port)]
    nodes = {COMMON: COMMON, LEAD: leads[0], **dict(zip(leads_of(len(leads)), leads, strict=True))}
    yield f"* circuit of {names[port]}: {_plain(connection.kind.label)}"
    if connection.kind.equivalent is not None:
        yield "* linear equivalent of the switch: right for steady motion in the mode it is made for"
    if connection.kind.key == "loop":
        yield "* the law of the active loop is not in this netlist: its amplifier drives nothing, its output resistance stays"
        yield f"R_{names[port]}_amplifier {names[port]} 0 {_number(connection.numbers[OUTPUT])}"
    base = solved.side.forcing.aim.load.base
    parts = components(solved, port)
    stood = _stood(solved, port, parts)
    for k, part in enumerate(parts):
        for end in part.ends:
            nodes.setdefault(end, f"{names[port]}_{_inner(end)}")
        ends = [nodes[end] for end in part.ends]
        if connection.kind.hangs_on == "place" and base and part.what == "coil":
            # the mass stands against the base, which moves
            inner = f"{names[port]}_base"
            yield f"E_{names[port]}_base {inner} {ends[1]} load 0 {_number(base * part.value)}"
            ends = [ends[0], inner]
        held = f" IC={_number(stood[k])}" if part.what == "capacitor" and stood[k] else ""
        yield component_line(replace(part, ends=tuple(ends)), names[port]) + held


def _stood(solved: Solved, port: int, parts: tuple[Component, ...]) -> Array:
    """(K,) volts that the parts of a circuit have stood at under the static bend of a release."""
    leads = list(solved.system.leads(port))
    volts = np.zeros(solved.system.n_ports) if _begins_at_rest(solved) else start_of(solved.system, solved.side.forcing)[2]
    if not parts or not volts[leads].any():
        return np.zeros(len(parts))
    return np.asarray((voltages(parts, leads_of(len(leads)), np.array([AT_REST]))[0] @ volts[leads]).real)


def _inner(end: str) -> str:
    return _word(end.replace("'", "p"))


def component_line(part: Component, owner: str) -> str:
    """A component whose nodes have their names in the netlist."""
    label = f"{owner}_{_inner(part.name.replace(' ', ''))}"
    ends = " ".join(_inner(end) for end in part.ends)
    if part.what == "amplifier":
        return f"X_{label} {ends} amplifier gbw={_number(part.value)}"
    if part.what == "resistor" and part.value == 0.0:
        return f"V_{label} {ends} 0"
    letter = {"resistor": "R", "capacitor": "C", "coil": "L"}[part.what]
    return f"{letter}_{label} {ends} {_number(part.value)}"


def amplifier_lines() -> Iterator[str]:
    """An operational amplifier with one pole; 1 mS into what makes the gain-bandwidth product."""
    yield "* operational amplifier: one pole"
    yield ".subckt amplifier plus minus out gbw=1meg"
    yield "G1 0 x plus minus 1m"
    yield f"R1 x 0 {_number(OPEN_LOOP_GAIN / 1e-3)}"
    yield f"C1 x 0 {{1m/({_number(2 * pi)}*gbw)}}"
    yield "E1 out 0 x 0 1"
    yield ".ends"


def _runs(solved: Solved, ring: float) -> Iterator[str]:
    low, high = (w / 2 / pi for w in solved.side.forcing.aim.band_rad_s)
    period = 2 * pi / ring
    yield ".options reltol=1e-5 method=gear"
    yield f".ac dec 500 {_number(low)} {_number(high)}"
    yield f".tran {_number(period / STEPS)} {_number(PERIODS * period)} 0 {_number(period / STEPS)} uic"
    yield f".save v(out) {' '.join(f'v({name})' for name in _names(solved))}"
    yield ".print ac vm(out) vp(out)"
    yield ".print tran v(out)"
    if isinstance(solved.side.forcing.load, Release):
        yield "* .tran lets go of the static bend: the modes start bent"

