"""Where an axis has its marks, and what they say; the axis and the grid behind share them."""

from __future__ import annotations

from math import ceil, floor, log10

from core.units import words

Tick = tuple[float, str, bool]
"""Position in axis coordinates, label, and whether the mark carries its label."""

_LINEAR_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


def log_ticks(low: float, high: float, unit: str = "", *, wanted: int = 5) -> list[Tick]:
    """Marks between two exponents of ten: decades, and 2 and 5 between when there is room.

    Exponents are used as coordinates, so the mark of 1 kHz lies at 3.0. On a stretch too short to hold two
    such marks they stand at round values, as on a linear axis: one number alone tells no scale.
    """
    decades = high - low
    if not 0.0 < decades < 60.0:
        return []
    if decades < 1.0 and sum(low <= floor(low) + log10(m) <= high for m in (1, 2, 5, 10, 20, 50)) < 2:
        round_values = linear_ticks(10.0**low, 10.0**high, unit, wanted=max(wanted - 1, 2))
        return [(log10(value), text, labelled) for value, text, labelled in round_values]
    multiples = (1, 2, 5) if decades * 3 <= 1.5 * (wanted + 1) else (1,)
    skip = max(1, round(decades / wanted)) if multiples == (1,) else 1
    ticks = []
    for power in range(floor(low), ceil(high) + 1):
        for multiple in range(1, 10):
            at = power + log10(multiple)
            if not low <= at <= high:
                continue
            labelled = multiple in multiples and (multiple != 1 or power % skip == 0)
            text = words.engineering(multiple * 10.0**power, unit, 1).strip() if labelled else ""
            ticks.append((at, text, labelled))
    return ticks


def linear_ticks(low: float, high: float, unit: str = "", *, wanted: int = 5) -> list[Tick]:
    """Marks at round values between two numbers, with one prefix for all of them."""
    span = high - low
    if not span > 0.0:
        return []
    rough = span / wanted
    power = 10.0 ** floor(log10(rough))
    step = next(s * power for s in _LINEAR_STEPS if s * power >= rough * 0.999)
    top = max(abs(low), abs(high))
    percent = unit == "of the start"
    thousand = -2 if percent else 3 * floor(log10(top) / 3) if unit else 0
    if thousand == 0 and top < 10.0 and unit == "s":
        thousand = 0 if top >= 0.5 else -3
    unit = "%" if percent else unit
    prefix = "" if percent else {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M"}.get(thousand)
    if prefix is None:
        thousand, prefix = 0, ""
    decimals = max(0, -floor(log10(step / 10.0**thousand) + 1e-9))
    if abs(step / power - 2.5) < 1e-9:
        decimals += 1
    ticks = []
    for number in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1):
        value = number * step
        text = f"{value / 10.0**thousand:.{decimals}f} {prefix}{unit}".strip()
        ticks.append((value, words.minus(text), True))
    return ticks
