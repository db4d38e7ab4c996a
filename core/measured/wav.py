"""WAV from a sound card: frequency and, where the gain was fixed, damping; never a unit."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

from core.measured.record import Block, Channel, MeasuredError, Recording, Understood, with_roles
from core.project import ceilings
from core.project.measurement import Told
from core.units import words

LOW_CUT_HZ = 30.0


def read(path: Path, told: Told) -> Recording:
    """The channels of a WAV file, full scale 1."""
    from scipy.io import wavfile  # slow to import, needed only here

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # chunks that are no sound are of no use to anybody
        rate, data = wavfile.read(path)
    if rate <= 0 or data.ndim > 2 or len(data) < 4:
        raise MeasuredError(f"{path.name} holds no sound: {len(data)} samples at {rate} Hz. Record it again.")
    if data.size > ceilings.MOST_SAMPLES:
        raise MeasuredError(f"{path.name} holds {data.size / 1e6:.0f} million samples; {ceilings.MOST_SAMPLES / 1e6:.0f} can be read. Cut it.")
    columns = data[:, None] if data.ndim == 1 else data
    if columns.dtype == np.uint8:
        scaled = (columns.astype(float) - 128.0) / 128.0
    elif np.issubdtype(columns.dtype, np.integer):
        scaled = columns.astype(float) / float(-np.iinfo(columns.dtype).min)
    else:
        scaled = np.nan_to_num(columns.astype(float), nan=0.0, posinf=0.0, neginf=0.0)
    names = ("left", "right") if scaled.shape[1] == 2 else tuple(f"channel {n + 1}" for n in range(scaled.shape[1]))
    channels = tuple(
        Channel(name, np.ascontiguousarray(scaled[:, n]), "", "response" if scaled[:, n].any() else "left out", "", 1.0)
        for n, name in enumerate(names)
    )
    block = Block("time", channels, 0.0, 1.0 / rate)
    understood = (
        Understood("Time", f"{words.frequency(float(rate))}, {words.seconds(len(data) / rate)}", "header"),
        Understood("Channels", f"{', '.join(names)}; no unit", "file"),
    )
    remarks = (
        "A sound file has no units: frequency and damping only, and damping only where the gain was fixed.",
        f"A sound card cuts off below some {words.frequency(LOW_CUT_HZ)}: a mode there comes out weak.",
    )
    return Recording(path.name, "", "wav", (with_roles(block, told.roles) if told.roles else block,), understood, remarks)
