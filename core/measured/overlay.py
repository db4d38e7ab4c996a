"""The response measured and the one predicted for the very state measured, to be drawn over each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.measured.predicted import in_state
from core.measured.record import Array, Block
from core.measured.runs import Run
from core.measured.transfer import Transfer
from core.predict.predict import predict
from core.project.measurement import Bench
from core.project.model import Project

POINTS = 500
MOST = 4000
KINDS = {"m/N": "receptance", "m/(N s)": "mobility", "m/(s2 N)": "accelerance"}


@dataclass(frozen=True, eq=False)
class Overlay:
    """Amplitudes over frequency; `scaled` where the measured curve has no unit that can be compared, and was
    brought to the predicted one's highest peak."""

    predicted_hz: Array
    predicted: Array
    measured_hz: Array
    measured: Array
    unit: str
    scaled: bool


def overlay_of(
    project: Project, run: Run, block: Block, bench: Bench, candidate_id: str | None = None, *, transfer: Transfer | None = None
) -> Overlay | None:
    """The overlay of one run, by the response function in `transfer` where there is one; None where there is
    nothing to draw."""
    standing = in_state(project, run.leads, bench, candidate_id, run.resistance_ohm)
    response = predict(standing, points=POINTS, temperature_c=bench.temperature_c).response
    hertz, predicted = response.frequency_hz, np.abs(response.after)
    channel = run.found.channel
    if transfer is not None and transfer.response is not None:
        block = transfer.response
        channel = block.channels[0]
    if block.kind == "response function":
        f, values = block.axis, np.abs(np.asarray(channel.values, dtype=complex))
    else:
        first = round((run.found.window_s[0] - block.start) / block.step)
        last = round((run.found.window_s[1] - block.start) / block.step)
        part = np.asarray(run.found.channel.values, dtype=float)[max(first, 0) : last]
        f = np.asarray(np.fft.rfftfreq(len(part), block.step), dtype=float)
        values = np.abs(np.fft.rfft(part - part.mean()))
    inside = (f >= hertz[0]) & (f <= hertz[-1]) & (values > 0.0)
    if inside.sum() < 8 or not np.isfinite(predicted).any():
        return None
    f, values = _few(np.asarray(f[inside], dtype=float), np.asarray(values[inside], dtype=float))
    comparable = block.kind == "response function" and channel.unit in KINDS and standing.view.output == KINDS[channel.unit]
    if not comparable:
        values = values * float(np.nanmax(predicted)) / float(values.max())
    return Overlay(hertz, predicted, f, values, response.unit, not comparable)


def _few(f: Array, values: Array) -> tuple[Array, Array]:
    """The largest of each share of lines, where there are more than a screen shows."""
    if len(f) <= MOST:
        return f, values
    share = len(f) // MOST + 1
    count = share * (len(f) // share)
    blocks = values[:count].reshape(-1, share)
    top = blocks.argmax(axis=1)
    rows = np.arange(len(blocks))
    return f[:count].reshape(-1, share)[rows, top], blocks[rows, top]
