"""A time column to an even axis: rounding of the digits is taken out, gaps and drift are bridged and said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.measured.record import Array, MeasuredError
from core.units import words

NOT_RISING = "The time column does not rise. Say which column holds the time, or type the sample interval."
ROUNDED = 0.6
"""Share of a step that a time may be off by for its digits alone; more is an uneven record."""


@dataclass(frozen=True)
class EvenAxis:
    """Start and step in s, the channels on that axis, and what was done to get there ("" for nothing)."""

    start: float
    step: float
    values: list[Array]
    remark: str


def even_axis(time_s: Array, values: list[Array]) -> EvenAxis:
    """The even axis behind a column of times; MeasuredError where times do not rise."""
    good = np.isfinite(time_s)
    remark = ""
    if not good.all():
        time_s, values = time_s[good], [v[good] for v in values]
    if len(time_s) < 4:
        raise MeasuredError(f"The record has {len(time_s)} samples. Export the whole record: a decay needs thousands.")
    steps = np.diff(time_s)
    if not time_s[-1] > time_s[0] and not (steps > 0.0).mean() > 0.5:
        raise MeasuredError(NOT_RISING)
    if steps.min() < 0.0:
        cut = int(np.flatnonzero(steps < 0.0)[0]) + 1
        if cut < 4:
            raise MeasuredError("The time column starts over after a few samples. Export one record a file.")
        remark = f"The time starts over after {words.seconds(float(time_s[cut - 1]))}; what follows was left out."
        time_s, values, steps = time_s[:cut], [v[:cut] for v in values], steps[: cut - 1]
    count = len(time_s)
    step = float(time_s[-1] - time_s[0]) / (count - 1)
    if not step > 0.0:
        raise MeasuredError(NOT_RISING)
    off = float(np.abs(time_s - (time_s[0] + step * np.arange(count))).max())
    if off <= ROUNDED * step or _digits_only(steps, step, off):
        return EvenAxis(float(time_s[0]), step, values, remark)
    step = float(np.median(np.diff(time_s)))
    wanted = round(float(time_s[-1] - time_s[0]) / step) + 1
    if wanted > 4 * count:
        raise MeasuredError("The time column has gaps longer than the record itself. Export one record a file.")
    even = time_s[0] + step * np.arange(wanted)
    values = [np.interp(even, time_s, v) for v in values]
    return EvenAxis(float(time_s[0]), step, values, f"{remark} The samples are not even in time; they were brought onto even steps of {words.seconds(step)}.".strip())


def _digits_only(steps: Array, step: float, off: float) -> bool:
    """Whether times are uneven only since they were written with few digits: steps are whole multiples of
    one digit, and no time is further off than one."""
    digit = float(np.min(steps[steps > 0.0], initial=np.inf))
    if not np.isfinite(digit) or digit > 1e3 * step or off > 1.01 * digit:
        return False
    ratio = steps / digit
    return bool(np.abs(ratio - np.round(ratio)).max() < 1e-2)
