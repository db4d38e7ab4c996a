"""From the files of one part to modes, coupling, the comparison with the prediction, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from core.measured.coupling import Coupling, Sweep, couplings, read_sweep
from core.measured.modes import Identified, identify_decay, identify_response
from core.measured.predicted import (
    LEAST_K2,
    StateMode,
    instrument_damping,
    modal_masses,
    modes_of,
    prediction_in,
)
from core.measured.quality import doubts_of
from core.measured.record import Block, MeasuredError, Recording
from core.measured.response import is_shaken
from core.measured.runs import Mean, Run, means
from core.measured.transfer import Transfer, identify_shaken, transfer_doubts, transfers
from core.measured.verdict import Evidence, Verdict, judge
from core.predict.prediction import Prediction
from core.project.measurement import Bench, Leads
from core.project.model import Project

Quantity = Literal["frequency", "coupling", "damping", "capacitance"]
MOST_MODES = 3


@dataclass(frozen=True, eq=False)
class Entry:
    """A file read, with what hung on the leads (None for an impedance sweep) and what to look at."""

    recording: Recording
    leads: Leads | None = None
    resistance_ohm: float | None = None
    window_s: tuple[float, float] | None = None
    exponential_window_s: float | None = None

    @property
    def name(self) -> str:
        return self.recording.name


@dataclass(frozen=True)
class Compared:
    """A measured value beside the prediction of the very state it was measured in."""

    quantity: Quantity
    state: str
    mode: int | None
    predicted: float
    measured: float
    uncertainty: float
    at_hz: float | None = None
    """The meter's frequency, of a capacitance."""

    @property
    def ratio(self) -> float:
        return self.measured / self.predicted if self.predicted else float("nan")


@dataclass(frozen=True)
class Inherent:
    """Damping of the shorted part by mode: of the fit, and at small and at large swing where it differs."""

    mode: int
    zeta: float
    u_zeta: float
    small: float | None = None
    large: float | None = None


@dataclass(frozen=True, eq=False)
class Evaluation:
    """Everything that was found in the files of one part."""

    runs: tuple[Run, ...]
    shorted: dict[int, Mean]
    opened: dict[int, Mean]
    with_resistor: dict[float, dict[int, Mean]]
    couplings: tuple[Coupling, ...]
    sweep: Sweep | None
    inherent: tuple[Inherent, ...]
    compared: tuple[Compared, ...]
    verdict: Verdict | None
    troubles: tuple[str, ...]
    """What could not be used, in words; the rest goes on without it."""
    blocks: dict[str, Block] = field(default_factory=dict, repr=False)
    """The block of each run by its name, for drawing."""
    transfers: dict[str, Transfer] = field(default_factory=dict, repr=False)
    """Response function and coherence by run, where there are any."""


def evaluate(
    entries: tuple[Entry, ...],
    project: Project | None = None,
    candidate_id: str | None = None,
    *,
    bench: Bench | None = None,
    capacitance_f: float | None = None,
    capacitance_before_f: float | None = None,
    modes: int = MOST_MODES,
) -> Evaluation:
    """Identify every file, average the repeats, and judge against a valid project where there is one."""
    bench = bench or Bench()
    drawn = prediction_in(project, "shorted", bench, candidate_id) if project is not None else None
    expected = () if drawn is None else tuple(m.f_hz for m in modes_of(drawn))[: modes + 1]
    masses = {} if drawn is None else modal_masses(drawn, bench.sensor_x_m)
    shunts = {} if drawn is None else instrument_damping(drawn, bench.instrument)
    runs: list[Run] = []
    blocks: dict[str, Block] = {}
    troubles: list[str] = []
    sweep: Sweep | None = None
    for order, entry in enumerate(entries):
        try:
            impedance = entry.recording.block("impedance")
            if impedance is not None:
                sweep = read_sweep(impedance, expected[:modes])
                blocks[entry.name] = impedance
                continue
            block, found = _identified(entry, expected, modes)
        except MeasuredError as error:
            troubles.append(str(error) if entry.name in str(error) else f"{entry.name}: {error}")
            continue
        doubts = doubts_of(entry.recording, block, found, sensor_kg=bench.sensor_kg, modal_mass_kg=masses, shunt_zeta=shunts if entry.leads == "open" else None)
        runs.append(Run(entry.name, entry.leads or "shorted", found, entry.resistance_ohm, doubts, order))
        blocks[entry.name] = block
    across = transfers(tuple(runs), blocks, {entry.name: entry.recording for entry in entries}, expected, modes)
    made = tuple(
        replace(run, doubts=(*run.doubts, *transfer_doubts(run, across[run.name]))) if run.name in across else run for run in runs
    )
    shorted, opened = means(made, "shorted"), means(made, "open")
    resistors = sorted({r.resistance_ohm for r in made if r.leads == "resistor" and r.resistance_ohm})
    by_resistor = {r: means(made, "resistor", r) for r in resistors}
    found_k2 = couplings(made) or (sweep.couplings if sweep is not None else ())
    if capacitance_f is None and sweep is not None:
        capacitance_f, at_hz = sweep.capacitance_f, sweep.at_hz
    else:
        at_hz = 1000.0
    verdict = None
    compared: tuple[Compared, ...] = ()
    if project is not None and drawn is not None:
        found_all = _Found(shorted, opened, by_resistor, found_k2, capacitance_f, at_hz)
        compared = _compared(project, candidate_id, bench, drawn, found_all)
        if project.candidate(candidate_id).patches:
            told = tuple(d for r in made for d in r.doubts)
            if not shorted and sweep is not None:
                shorted_for = {c.mode: Mean(c.mode, c.f_short_hz, 0.0, sweep.zeta_short[c.mode], 0.0, 1) for c in found_k2}
            else:
                shorted_for = shorted
            evidence = Evidence(shorted_for, opened, found_k2, capacitance_f, at_hz, capacitance_before_f, told)
            verdict = judge(project, evidence, bench, candidate_id)
    return Evaluation(
        made, shorted, opened, by_resistor, found_k2, sweep, _inherent(made, shorted), compared, verdict, tuple(troubles), blocks,
        across,
    )  # fmt: skip


def _identified(entry: Entry, expected: tuple[float, ...], modes: int) -> tuple[Block, Identified]:
    block = entry.recording.block("time")
    if block is not None:
        identify = identify_shaken if is_shaken(block) else identify_decay
        found = identify(
            block, expected_hz=expected, window_s=entry.window_s, exponential_window_s=entry.exponential_window_s, count=modes
        )
        return block, found
    block = entry.recording.block("response function")
    if block is None:
        raise MeasuredError("There is neither a time record nor a response function in it.")
    return block, identify_response(block, expected_hz=expected, exponential_window_s=entry.exponential_window_s, count=modes)


def _inherent(runs: tuple[Run, ...], shorted: dict[int, Mean]) -> tuple[Inherent, ...]:
    out = []
    for n, mean in shorted.items():
        lines = [m.line for r in runs if r.leads == "shorted" and (m := r.found.mode(n)) is not None and m.line is not None]
        bent = [line for line in lines if line.zeta_small is not None and line.zeta_large is not None]
        small = sum(line.zeta_small or 0.0 for line in bent) / len(bent) if bent else None
        large = sum(line.zeta_large or 0.0 for line in bent) / len(bent) if bent else None
        out.append(Inherent(n, mean.zeta, mean.u_zeta, small, large))
    return tuple(out)


@dataclass(frozen=True)
class _Found:
    """What the records give: modes by state (and by resistor, ohm), couplings, and a capacitance read at a frequency."""

    shorted: dict[int, Mean]
    opened: dict[int, Mean]
    by_resistor: dict[float, dict[int, Mean]]
    couplings: tuple[Coupling, ...]
    capacitance_f: float | None
    at_hz: float


def _compared(
    project: Project, candidate_id: str | None, bench: Bench, drawn: Prediction, found: _Found
) -> tuple[Compared, ...]:
    """Every measured value beside its prediction: frequencies, damping, K^2 and capacitance."""
    out: list[Compared] = []
    plain = {m.number: m for m in modes_of(drawn)}
    out += _of_state("shorted", plain, found.shorted, ("frequency", "damping"))
    if found.opened or found.couplings:
        open_modes = {m.number: m for m in modes_of(prediction_in(project, "open", bench, candidate_id))}
        out += _of_state("open", open_modes, found.opened, ("frequency",))
        for c in found.couplings:
            if c.mode in plain and c.mode in open_modes:
                k2 = (open_modes[c.mode].f_hz / plain[c.mode].f_hz) ** 2 - 1.0
                if k2 >= LEAST_K2:
                    out.append(Compared("coupling", "open over shorted", c.mode, k2, c.k2, c.u_k2))
    for ohm, means_there in found.by_resistor.items():
        state = {m.number: m for m in modes_of(prediction_in(project, "resistor", bench, candidate_id, ohm))}
        out += _of_state(f"{ohm:g}", state, means_there, ("frequency", "damping"))
    if found.capacitance_f is not None and len(drawn.groups) == 1:
        for reading in drawn.groups[0].metered:
            if reading.near_mode is None and 1 / 1.3 < reading.frequency_hz / found.at_hz < 1.3:
                out.append(Compared("capacitance", "bonded", None, reading.capacitance_f, found.capacitance_f, 0.0, reading.frequency_hz))
    return tuple(out)


def _of_state(
    state: str, predicted: dict[int, StateMode], found: dict[int, Mean], quantities: tuple[Quantity, ...]
) -> list[Compared]:
    out = []
    for quantity in quantities:
        for n, mean in found.items():
            if n not in predicted:
                continue
            if quantity == "frequency":
                out.append(Compared("frequency", state, n, predicted[n].f_hz, mean.f_hz, mean.u_f_hz))
            else:
                out.append(Compared("damping", state, n, predicted[n].zeta, mean.zeta, mean.u_zeta))
    return out
