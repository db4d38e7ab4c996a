"""The ring-down as sound: true pitch and time in a file, put up and slowed with the picture for the ear."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray

from core.handover.show.programme import Programme, octaves_up
from core.predict.decay import Decay

Array = NDArray[np.float64]

RATE_HZ = 48_000
HIGHEST = 0.45
"""Of the sample rate: what lies above cannot be held by the samples."""
LOUDEST = 0.9
FADE_S = 0.005


def ringing(decay: Decay, length_s: float, *, octaves: int = 0, slow: float = 1.0, rate_hz: int = RATE_HZ) -> Array:
    """(samples,) of the output's deflection, `slow` times as long and `octaves` higher.

    The pitch is that of the part, put up: only the dying away follows the slow-down.
    """
    count = max(int(length_s * slow * rate_hz), 1)
    output = Decay(decay.rate.real / slow + 1j * decay.rate.imag * 2.0**octaves, decay.amplitude[-1])
    held = np.abs(output.rate.imag) < HIGHEST * 2 * np.pi * rate_hz
    return Decay(output.rate[held], output.amplitude[held]).analytic(0.0, 1.0 / rate_hz, count).real


def channels(shown: Programme, *, octaves: int = 0, slow: float = 1.0, rate_hz: int = RATE_HZ) -> Array:
    """(samples, 2) left and right, the largest of both at `LOUDEST`: both ears hear one after the other, or the
    left what is before and the right what is after. The same scale for both: quieter is quieter."""
    both = [
        ringing(decay, shown.length_s, octaves=octaves, slow=slow, rate_hz=rate_hz)
        for decay in (shown.swing.before, shown.swing.after)
    ]
    largest = max(float(np.abs(one).max()) for one in both)
    fade = np.minimum(1.0, np.arange(len(both[0]), 0, -1) / max(FADE_S * rate_hz, 1.0))
    both = [one * fade * (LOUDEST / largest if largest > 0.0 else 0.0) for one in both]
    if shown.order == "in turn":
        both = [np.concatenate(both)] * 2
    return np.stack(both, axis=1)


def heard(shown: Programme, rate_hz: int = RATE_HZ) -> Array:
    """(samples, 2) of what is played beside the picture."""
    return channels(shown, octaves=octaves_up(shown.swing.f_hz), slow=shown.slow, rate_hz=rate_hz)


def wave_file(shown: Programme, rate_hz: int = RATE_HZ) -> bytes:
    """A WAV file of 16 bits at the part's own pitch and time, so that it can be measured like a record."""
    from scipy.io import wavfile  # a file is wanted now and then

    out = io.BytesIO()
    wavfile.write(out, rate_hz, np.round(channels(shown, rate_hz=rate_hz) * 32767.0).astype(np.int16))
    return out.getvalue()
