"""Response functions and coherence from force and response, averaged over blows or over a long excitation."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.measured.record import Array, Block, Channel, MeasuredError

Estimator = Literal["H1", "H2"]
ACTS = 0.05
"""Of its largest: above this a force acts."""
STRUCK = 0.05
"""A force that acts for less than this share of the record is a blow."""
SHAKEN = 40
"""A force that rises so often is a shaker's, no blow and no release."""


def is_shaken(block: Block) -> bool:
    """Whether the force of a time record goes on, as a shaker's does: such a record holds no free decay."""
    if block.force is None:
        return False
    force = np.asarray(block.force.values, dtype=float)
    pressed = np.abs(force - float(np.median(force)))
    acts = pressed > ACTS * float(pressed.max(initial=0.0))
    return bool(acts.mean() >= STRUCK and np.count_nonzero(acts[1:] & ~acts[:-1]) > SHAKEN)


def response_function(
    blocks: tuple[Block, ...], *, estimator: Estimator = "H1", line_spacing_hz: float | None = None, channel: int = 0
) -> tuple[Block, Block]:
    """Response function (complex, response over force) and coherence of records that hold both.

    Several records of one rate are averaged, a blow each; a single long one is cut into parts of
    1/`line_spacing_hz` that overlap by half under a Hann window. H1 takes noise to be on the response, H2
    on the force. Coherence of a single blow is 1 everywhere and says nothing. MeasuredError in words.
    """
    pairs = [_pair(block, channel) for block in blocks]
    steps = {round(block.step, 12) for block in blocks}
    if not pairs or len(steps) > 1:
        raise MeasuredError("The records have different sample rates. Average those of one rate only.")
    step = blocks[0].step
    if len(pairs) == 1 and line_spacing_hz is not None:
        hertz, sff, sxx, sfx = _welch(*pairs[0], step, line_spacing_hz)
    else:
        count = min(len(force) for force, _ in pairs)
        hertz = np.asarray(np.fft.rfftfreq(count, step), dtype=float)
        spectra = [(np.fft.rfft(f[:count] - f[:count].mean()), np.fft.rfft(x[:count] - x[:count].mean())) for f, x in pairs]
        sff = np.mean([np.abs(f) ** 2 for f, _ in spectra], axis=0)
        sxx = np.mean([np.abs(x) ** 2 for _, x in spectra], axis=0)
        sfx = np.mean([np.conj(f) * x for f, x in spectra], axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        h = sfx / sff if estimator == "H1" else sxx / np.conj(sfx)
        coherence = np.abs(sfx) ** 2 / (sff * sxx)
    good = np.isfinite(h) & (hertz > 0.0)
    unit = {"m": "m/N", "m/s": "m/(N s)", "m/s2": "m/(s2 N)"}.get(blocks[0].responses[channel].unit, "")
    name = blocks[0].responses[channel].name
    axis = np.asarray(hertz[good], dtype=float)
    return (
        Block("response function", (Channel(f"{name}, {estimator}", h[good], unit),), uneven=axis),
        Block("coherence", (Channel(name, np.clip(np.nan_to_num(coherence[good]), 0.0, 1.0)),), uneven=axis),
    )


def _pair(block: Block, channel: int) -> tuple[Array, Array]:
    force = block.force
    if force is None or len(block.responses) <= channel:
        raise MeasuredError("A response function needs a force and a response in one record. Say which channel is the force.")
    return np.asarray(force.values, dtype=float), np.asarray(block.responses[channel].values, dtype=float)


def _welch(
    force: Array, response: Array, step: float, spacing_hz: float
) -> tuple[Array, Array, Array, NDArray[np.complex128]]:
    from scipy import signal  # slow to import, needed only here

    length = int(min(max(round(1.0 / (spacing_hz * step)), 16), len(force)))
    rate = 1.0 / step
    hertz, sff = signal.welch(force, rate, nperseg=length)
    _, sxx = signal.welch(response, rate, nperseg=length)
    _, sfx = signal.csd(force, response, rate, nperseg=length)
    return hertz, sff, sxx, sfx
