"""Preferred part values, series E12 and E24 of IEC 60063."""

from __future__ import annotations

import math

SERIES: dict[str, tuple[float, ...]] = {
    "E12": (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2),
    "E24": (
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
        3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
    ),
}  # fmt: skip


def nearest(value: float, series: str) -> float:
    """The value of the series nearest in ratio. KeyError for an unknown series."""
    if value <= 0.0 or not math.isfinite(value):
        return value
    decade = math.floor(math.log10(value))
    tries = [step * 10.0**d for d in (decade - 1, decade, decade + 1) for step in SERIES[series]]
    return float(f"{min(tries, key=lambda t: abs(math.log(t / value))):.3g}")
