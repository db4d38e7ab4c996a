"""What tolerances do to a candidate: bands of damping, frequency, coupling and peaks, and why.

Circuits are built to the values in effect and hold them; every input spreads over its own range
(`uncertain`), sampled by a Latin hypercube. The samples go through the engine in blocks of fixed size, so a seed gives one answer, whatever executor computes it and in whatever
chunks.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from core.circuit.peaks import sizes
from core.piezo.layout import solve
from core.predict.forcing import active_load
from core.predict.grid import response_grid
from core.predict.predict import held_circuits
from core.predict.use.metered import meter_hz, reading_f
from core.project.candidate import Candidate
from core.project.model import Project
from core.study.executors import Job, Progress, Stopwatch, run_chunks
from core.study.layouts import KEPT, Layouts, layouts
from core.study.temperature.temperature import served_modes
from core.study.tolerance.ranking import Cause, main_causes
from core.study.tolerance.samples import Spread, draw, is_possible, variation_of
from core.study.tolerance.uncertain import Uncertain, uncertain_inputs

Array = NDArray[np.float64]

BLOCK = 256
"""Samples solved together; small enough for a processor's cache, and the same in every chunking."""
CHUNK = 2 * BLOCK
CURVES = 4 * BLOCK
"""Samples whose whole response is kept for the band on the curve."""
CURVE_POINTS = 240
QUANTILES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Band:
    """A quantity over the samples: one sample in ten lies below p10, one in ten above p90."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class ModeSpread:
    """What the samples make of one mode, and which inputs that comes from (largest first)."""

    number: int
    zeta: Band
    f_short_hz: Band
    k2: Band
    peak_change_db: Band | None
    causes: tuple[Cause, ...]
    """Of the damping ratio."""
    lost: float
    """Share of samples in which no pole counts for the mode."""


@dataclass(frozen=True)
class ResponseBand:
    """P10, P50 and P90 of the response's size at each frequency, with the circuits."""

    frequency_hz: Array
    p10: Array
    p50: Array
    p90: Array


@dataclass(frozen=True)
class Samples:
    """What was drawn and what came of it, for tables and tests; rows are samples.

    values : (S, inputs) SI; zeta, f_short_hz, k2 (of all groups open together), peak_change_db : (S, modes); zeta_short, with every
    group shorted, (S, modes); group_k2 : (S, modes, groups), the others shorted; unbonded_f, bonded_f :
    (S, groups) capacitance before bonding, and read at `ToleranceResult.meter_hz` after it. Rows not
    yet computed are nan.
    """

    values: Array
    zeta: Array
    f_short_hz: Array
    k2: Array
    peak_change_db: Array
    zeta_short: Array
    group_k2: Array
    unbonded_f: Array
    bonded_f: Array


@dataclass(frozen=True)
class ToleranceResult:
    """The study, complete or as far as it has come."""

    candidate: str
    target_mode: int
    """The mode (from 1) the first tuned circuit serves."""
    inputs: tuple[Uncertain, ...]
    """Those that vary, in the order of the samples' columns."""
    seed: int
    spread: Spread
    modes: tuple[ModeSpread, ...]
    response: ResponseBand | None
    samples: Samples
    progress: Progress
    groups: tuple[str, ...] = ()
    meter_hz: tuple[float, ...] = ()
    """Per group, where its capacitance is read on the bonded part."""

    @property
    def complete(self) -> bool:
        return self.progress.done == self.progress.total


@dataclass(frozen=True)
class Request:
    """What to study; picklable, the same for every chunk."""

    project: Project
    held: Candidate
    inputs: tuple[Uncertain, ...]
    modes: int
    target: int
    """From 0."""
    frequency_rad_s: Array
    """Empty where no response is to be had (nothing holds the part)."""
    meter_hz: tuple[float, ...]
    """Per group."""


class Block(NamedTuple):
    """The quantities of some samples by the names they have in `Samples`; `curves` are responses."""

    zeta: Array
    f_short_hz: Array
    k2: Array
    peak_change_db: Array
    zeta_short: Array
    group_k2: Array
    unbonded_f: Array
    bonded_f: Array
    curves: Array


def request_of(project: Project, candidate_id: str | None = None) -> Request:
    """What the study of a candidate needs. ValueError in words where there is nothing to vary."""
    candidate = project.candidate(candidate_id)
    if not candidate.patches and not candidate.absorbers:
        raise ValueError("There is no patch whose tolerances could count. Add one first.")
    held = held_circuits(project, candidate)
    inputs = tuple(i for i in uncertain_inputs(project, held) if i.varies)
    if not inputs:
        raise ValueError("Every input is taken as exact. Give at least one a tolerance.")
    served = [m for m in served_modes(project, candidate) if m is not None]
    modes = min(project.view.modes_shown, 8)
    beam = solve(project, candidate, n_modes=KEPT)
    frequency = np.zeros(0) if beam.n_rigid else _frequencies(project, beam.omega_rad_s, beam.zeta0)
    meters = tuple(meter_hz(beam, g) for g in range(len(beam.group_ids)))
    return Request(project, held, inputs, modes, served[0] if served else 0, frequency, meters)


def tolerance_study(
    project: Project,
    candidate_id: str | None = None,
    *,
    samples: int = 1000,
    seed: int = 1,
    spread: Spread = "limits",
    executor: Executor | None = None,
    cancelled: Callable[[], bool] | None = None,
    on_partial: Callable[[ToleranceResult], None] | None = None,
    partial_every_s: float = 0.0,
    chunk: int = CHUNK,
) -> ToleranceResult | None:
    """Bands and main causes; None when cancelled.

    candidate_id : None for the active one; samples : how many parts are drawn, from `seed`; spread : what a
    tolerance means; executor : runs the chunks, None in this process; cancelled : asked between chunks;
    on_partial : gets what there is after each chunk, at most every `partial_every_s`; chunk : samples of one.
    Raises KeyError for an unknown candidate, ValueError in words where there is nothing to vary.
    """
    request = request_of(project, candidate_id)
    # Drawn by a worker too: the sampler's library takes long to load, and a window must not wait for it.
    drawn = run_chunks([(draw, (request.inputs, samples, seed, spread))], executor, cancelled)
    values = next((found for _, found in drawn), None)
    if values is None:
        return None
    chunk = max(BLOCK, chunk - chunk % BLOCK)
    starts = range(0, samples, chunk)
    jobs: list[Job] = [(evaluate, (request, values[a : a + chunk], max(CURVES - a, 0))) for a in starts]
    gathered = _Gathered(request, values, seed, spread)
    watch = Stopwatch(samples)
    progress, last = Progress(0, samples, 0.0), 0.0
    for index, block in run_chunks(jobs, executor, cancelled):
        gathered.take(index * chunk, block)
        progress = watch.finished(len(block.zeta))
        due = progress.seconds - last >= partial_every_s
        if on_partial is not None and progress.done < samples and due:
            last = progress.seconds
            on_partial(gathered.result(progress))
    return gathered.result(progress) if progress.done == samples else None


def evaluate(request: Request, values: Array, curves: int) -> Block:
    """All quantities of some samples, whole responses of the first `curves`; pure, for any worker."""
    parts = [
        _possible(request, values[a : a + BLOCK], max(min(curves - a, BLOCK), 0))
        for a in range(0, len(values), BLOCK)
    ]
    return Block(*(np.concatenate(each) for each in zip(*parts, strict=True)))


def _possible(request: Request, values: Array, curves: int) -> Block:
    """A block; samples that no ceramic can be count as lost."""
    real = is_possible(request.project, request.held, request.inputs, values)
    if real.all():
        return _block(request, values, curves)
    nominal = np.array([i.nominal for i in request.inputs])
    block = Block(*(np.array(a) for a in _block(request, np.where(real[:, None], values, nominal), curves)))
    for each in block:
        each[~real[: len(each)]] = np.nan
    return block


def _block(request: Request, values: Array, curves: int) -> Block:
    project, held, modes = request.project, request.held, request.modes
    varied = variation_of(project, held, request.inputs, values)
    found = layouts(project, held, varied, modes, near=True)
    zeta, beam = found.damping(modes), found.beam
    group_k2 = beam.group_k2[:, :modes]
    k2 = beam.k2[:, :modes]
    f = beam.omega_rad_s[:, :modes] / (2.0 * np.pi)
    of_groups = (len(values), len(request.meter_hz))
    bonded = np.zeros(of_groups)
    for g, hertz in enumerate(request.meter_hz):
        bonded[:, g] = reading_f(beam, g, hertz)
    change, curve = np.full_like(zeta, np.nan), np.zeros((0, 0))
    if len(request.frequency_rad_s):
        before, after = found.peaks(tuple(range(modes)))
        with np.errstate(divide="ignore", invalid="ignore"):
            change = 20.0 * np.log10(after / before)
        curve = _curves(found, request.frequency_rad_s, curves)
    unbonded = np.broadcast_to(beam.group_unbonded_f, of_groups)
    return Block(zeta, f, k2, change, beam.zeta0[:, :modes], group_k2, unbonded, bonded, curve)


def _curves(found: Layouts, omega: Array, curves: int) -> Array:
    """(curves, F) response with the circuits of the first samples."""
    rows = np.arange(min(curves, len(found.beam.omega_rad_s)))
    w = np.broadcast_to(omega, (len(rows), len(omega)))
    return sizes(found.system.at(rows), found.aim.at(rows), w)[1]


def _frequencies(project: Project, omega: Array, zeta: Array) -> Array:
    low, high = (2.0 * np.pi * f for f in active_load(project).band_hz)
    use = (omega > low) & (omega < high)
    return response_grid((low, high), omega[use], omega[use] * np.maximum(zeta[use], 0.01), CURVE_POINTS)


class _Gathered:
    """Results as they come, in the order of the samples."""

    def __init__(self, request: Request, values: Array, seed: int, spread: Spread) -> None:
        self._request, self._seed, self._spread = request, seed, spread
        modes, groups = (len(values), request.modes), (len(values), len(request.meter_hz))
        shapes = {"group_k2": (*modes, groups[1]), "unbonded_f": groups, "bonded_f": groups}
        names = [f.name for f in fields(Samples) if f.name != "values"]
        self._samples = Samples(values, **{name: np.full(shapes.get(name, modes), np.nan) for name in names})
        self._curves = np.full((min(CURVES, len(values)), len(request.frequency_rad_s)), np.nan)
        self._done = np.zeros(len(values), dtype=bool)

    def take(self, start: int, block: Block) -> None:
        end = start + len(block.zeta)
        for name, part in block._asdict().items():
            into = self._curves if name == "curves" else getattr(self._samples, name)
            into[start : start + len(part)] = part
        self._done[start:end] = True

    def result(self, progress: Progress) -> ToleranceResult:
        request, done = self._request, self._done
        s = self._samples
        if not done.all():
            s = Samples(**{f.name: _only(getattr(s, f.name), done) for f in fields(Samples)})
        causes = main_causes(request.inputs, s.values[done], s.zeta[done])
        return ToleranceResult(
            candidate=request.held.id,
            target_mode=request.target + 1,
            inputs=request.inputs,
            seed=self._seed,
            spread=self._spread,
            modes=tuple(_mode(s, done, n, causes[n]) for n in range(request.modes)),
            response=self._response(),
            samples=s,
            progress=progress,
            groups=tuple(g.id for g in request.held.groups),
            meter_hz=request.meter_hz,
        )

    def _response(self) -> ResponseBand | None:
        ready = self._done[: len(self._curves)]
        if not self._curves.shape[1] or not ready.any():
            return None
        known = self._curves[ready]
        known = known[np.isfinite(known).all(axis=1)]
        if not len(known):
            return None
        low, middle, high = np.quantile(known, QUANTILES, axis=0)
        return ResponseBand(self._request.frequency_rad_s / (2.0 * np.pi), low, middle, high)


def _only(a: Array, done: NDArray[np.bool_]) -> Array:
    """A copy that later chunks do not change."""
    return np.where(done.reshape(-1, *(1,) * (a.ndim - 1)), a, np.nan)


def _mode(s: Samples, done: NDArray[np.bool_], n: int, causes: tuple[Cause, ...]) -> ModeSpread:
    zeta = s.zeta[done, n]
    peak = s.peak_change_db[done, n]
    return ModeSpread(
        number=n + 1,
        zeta=band_of(zeta) or Band(np.nan, np.nan, np.nan),
        f_short_hz=band_of(s.f_short_hz[done, n]) or Band(np.nan, np.nan, np.nan),
        k2=band_of(s.k2[done, n]) or Band(np.nan, np.nan, np.nan),
        peak_change_db=band_of(peak),
        causes=causes,
        lost=float(np.isnan(zeta).mean()) if len(zeta) else 0.0,
    )


def band_of(values: Array) -> Band | None:
    """P10, P50 and P90 of samples, those without the quantity (nan) left out; None where none has it."""
    known = values[np.isfinite(values)]
    return Band(*(float(q) for q in np.quantile(known, QUANTILES))) if len(known) else None
