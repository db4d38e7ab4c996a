"""Response function and coherence of a run: from the file, or from the force and the responses of all its repeats.

One blow alone has a coherence of 1 everywhere, which says nothing: it takes repeats in the same state, or one long
record of a shaker, cut into parts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from core.measured.damping import DISAGREEMENT
from core.measured.modes import Identified, identify_response
from core.measured.quality import Doubt
from core.measured.record import Array, Block, MeasuredError, Recording
from core.measured.response import response_function
from core.measured.runs import Run
from core.measured.where import liveliest
from core.units import words

LOW = 0.9
"""Coherence at a peak below which a response function is not believed: common practice in the trade, not a standard."""
PARTS = 8
"""A long record is cut into so many parts, which overlap by half."""


@dataclass(frozen=True, eq=False)
class Transfer:
    """A run's response function and its coherence over the same or its own lines.

    `response` None where the file holds it as the block identified; `coherence` None where nothing tells it;
    `averaged` in words: "3 records", "15 parts", "from the file".
    """

    response: Block | None
    coherence: Block | None
    averaged: str = ""
    found: Identified | None = None
    """Modes in the mean response function of several blows, beside those of the decay of each."""

    def at(self, f_hz: float, zeta: float) -> float | None:
        """Coherence at a peak: the mean over its half-power band, of the line on either side at least; None outside
        the lines. One line of few averages scatters too much to be read alone."""
        if self.coherence is None:
            return None
        hertz, values = self.coherence.axis, np.asarray(self.coherence.channels[0].values, dtype=float)
        if not hertz[0] <= f_hz <= hertz[-1]:
            return None
        k = int(np.searchsorted(hertz, f_hz))
        reach = zeta * f_hz
        low, high = np.searchsorted(hertz, [f_hz - reach, f_hz + reach])
        return float(values[max(min(int(low), k - 1), 0) : max(int(high), k + 1)].mean())


def transfers(
    runs: tuple[Run, ...], blocks: dict[str, Block], recordings: dict[str, Recording], expected_hz: tuple[float, ...], count: int
) -> dict[str, Transfer]:
    """By the run's name; runs without force, response function and coherence are left out. `expected_hz` and `count`
    as for `identify_response`."""
    out = {}
    for run in runs:
        block = blocks[run.name]
        inside = recordings[run.name].block("coherence")
        if block.kind == "response function":
            if inside is not None:
                out[run.name] = Transfer(None, inside, "from the file")
        elif block.force is not None:
            try:
                out[run.name] = _computed(run, block, runs, blocks, expected_hz, count)
            except MeasuredError:
                continue  # records of another rate, or no response: what was found in this one stands
    return out


def _computed(
    run: Run, block: Block, runs: tuple[Run, ...], blocks: dict[str, Block], expected_hz: tuple[float, ...], count: int
) -> Transfer:
    which = next((n for n, c in enumerate(block.responses) if c is run.found.channel), 0)
    alike = tuple(
        other
        for r in runs
        if (r.leads, r.resistance_ohm) == (run.leads, run.resistance_ohm)
        and not r.found.cut_into and r.found.exponential_window_s == run.found.exponential_window_s
        and (other := blocks[r.name]).kind == "time" and other.force is not None and len(other.responses) > which
        and abs(other.step / block.step - 1.0) < 1e-9
    )  # fmt: skip
    if run.found.cut_into:
        return Transfer(*_of_parts(block, which, run.found.window_s), _parts_text())
    response, coherence = response_function(alike, channel=which)
    if len(alike) < 2:
        return Transfer(response, None)
    try:
        # on its own lines a cut decay is only scaled, so a record cut short costs no bias
        found = identify_response(
            response, expected_hz=expected_hz, exponential_window_s=run.found.exponential_window_s, count=count
        )
    except MeasuredError:
        found = None  # what each decay tells stands
    return Transfer(response, coherence, f"{len(alike)} records", found)


def identify_shaken(
    block: Block,
    *,
    expected_hz: tuple[float, ...] = (),
    window_s: tuple[float, float] | None = None,
    exponential_window_s: float | None = None,
    count: int,
) -> Identified:
    """Modes of a record under a continuous force (`is_shaken`), by the response function of its parts.

    Channel and part looked at are the record's own, s, as for a decay. The fit allows for the window; the half-power
    points do not: it widens a peak with five lines between them by 5 %, with ten by 1 % (13.2/(zeta omega T)^2). MeasuredError in words where no mode stands out.
    """
    if not block.responses:
        raise MeasuredError("There is no response beside the force: every channel is a force or left out. Say which channel responds.")
    channel = liveliest(block.responses)
    window = window_s or (block.start, block.start + block.length_s)
    response, _ = _of_parts(block, block.responses.index(channel), window)
    found = identify_response(response, expected_hz=expected_hz, exponential_window_s=exponential_window_s, count=count, hann=True)
    return replace(found, channel=channel, window_s=window, cut_into=PARTS)


def _of_parts(block: Block, which: int, window_s: tuple[float, float]) -> tuple[Block, Block]:
    first, last = (min(max(round((at - block.start) / block.step), 0), block.count) for at in window_s)
    if last - first < 64 * PARTS:
        raise MeasuredError(f"The part of the record to look at is shorter than {64 * PARTS} samples. A continuous force takes a longer record.")
    cut = replace(block, channels=tuple(replace(c, values=c.values[first:last]) for c in block.channels))
    return response_function((cut,), line_spacing_hz=PARTS / cut.length_s, channel=which)


def response_text(transfer: Transfer) -> str:
    """"Response function (3 records): mode 1 19.0701 Hz, damping 0.30 %; ..."; empty where nothing was averaged."""
    if transfer.found is None:
        return ""
    told = "; ".join(f"mode {m.number} {words.fine_frequency(m.f_hz)}, damping {words.damping(m.zeta)}" for m in transfer.found.modes)
    return f"Response function ({transfer.averaged}): {told}"


def shaken_text(run: Run) -> str:
    """How the modes of a record under a continuous force were found; empty for every other."""
    if not run.found.cut_into:
        return ""
    return f"Continuous force: modes by the response function ({_parts_text()}); there is no free decay in it"


def _parts_text() -> str:
    return f"{2 * PARTS - 1} parts"


def coherence_at_modes(run: Run, transfer: Transfer) -> dict[int, float]:
    """Coherence at the peak of each mode found, where it is known."""
    found = {m.number: transfer.at(m.f_hz, m.zeta) for m in run.found.modes}
    return {n: value for n, value in found.items() if value is not None}


def transfer_doubts(run: Run, transfer: Transfer) -> tuple[Doubt, ...]:
    """A remark on every mode whose peak has little coherence, or whose damping in the response function is another."""
    return (*_coherence_doubts(run, transfer), *_disagreements(run, transfer))


def _disagreements(run: Run, transfer: Transfer) -> Iterator[Doubt]:
    for mode in () if transfer.found is None else transfer.found.modes:
        decay = run.found.mode(mode.number)
        if decay is not None and not mode.best.doubt and abs(mode.zeta - decay.zeta) > DISAGREEMENT * abs(decay.zeta):
            off = words.shift(mode.zeta / decay.zeta - 1.0, 0)
            yield Doubt("disagreement", f"Mode {mode.number}: damping {words.damping(mode.zeta)} by the response function ({transfer.averaged}) is {off} off {words.damping(decay.zeta)} of the decay.", mode.number)


def _coherence_doubts(run: Run, transfer: Transfer) -> tuple[Doubt, ...]:
    cure = "Record longer, or push where the mode moves more." if run.found.cut_into else "Strike harder, or where the mode moves more."
    return tuple(
        Doubt("coherence", f"Mode {n}: coherence {words.fixed(value, 2)} at its peak ({transfer.averaged}), under {words.fixed(LOW, 1)}: noise, or something else than the force moves the part. {cure}", n)
        for n, value in coherence_at_modes(run, transfer).items()
        if value < LOW
    )


def coherence_text(run: Run, transfer: Transfer) -> str:
    """"Coherence (3 records): mode 1 0.99, mode 2 0.97"; empty where it is not known."""
    told = ", ".join(f"mode {n} {words.fixed(value, 2)}" for n, value in coherence_at_modes(run, transfer).items())
    return f"Coherence at the peaks ({transfer.averaged}): {told}" if told else ""


def lines_between(block: Block, low_hz: float, high_hz: float) -> tuple[Array, Array]:
    """Lines and values of a coherence within a range, for drawing."""
    inside = (block.axis >= low_hz) & (block.axis <= high_hz)
    return block.axis[inside], np.asarray(block.channels[0].values, dtype=float)[inside]
