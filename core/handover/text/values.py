"""Values in words: as many figures as they deserve, with the prefix a reader expects."""

from __future__ import annotations

import math

PREFIXES = (
    (1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"),
)  # fmt: skip
UNIT_WORDS = {"ohm": "Ω"}
LIMIT_UNITS = {
    "1": (1e6, "µε"), "V/m": (1e-6, "kV/mm"), "Pa": (1e-6, "MPa"), "degC": (1.0, "°C"), "kg": (1e3, "g"),
}  # fmt: skip


def engineering(value: float, unit: str, figures: int = 3) -> str:
    """ "913 H", "117 kΩ"; what is not a number is told as such."""
    unit = UNIT_WORDS.get(unit, unit)
    if math.isnan(value):
        return "unknown"
    if math.isinf(value):
        return "without bound"
    for scale, prefix in PREFIXES:
        if abs(value) >= scale * (1 - 0.5 * 10.0**-figures):
            return f"{significant(value / scale, figures)} {prefix}{unit}"
    return f"0 {unit}" if value == 0 else f"{value:.{figures}g} {unit}"


def significant(value: float, figures: int = 3) -> str:
    """A number to so many figures, without an exponent where a person would write none."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    digits = figures - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, digits)
    return f"{rounded:.{max(0, digits)}f}" if abs(rounded) < 1e6 else f"{rounded:.{figures}g}"


def limit_value(value: float, unit: str) -> str:
    scale, name = LIMIT_UNITS.get(unit, (1.0, unit))
    return f"{significant(value * scale)} {name}".replace("-", "\N{MINUS SIGN}")


def percent(ratio: float, figures: int = 3) -> str:
    return "unstable" if math.isnan(ratio) else f"{significant(100 * ratio, figures)} %"


def peak_change(db: float | None) -> str:
    """A change of a peak in dB and in per cent of the amplitude before."""
    if db is None or not math.isfinite(db):
        return "no peak"
    if round(db, 1) == 0.0:
        return "no change"
    return f"{db:+.1f} dB ({100 * (10 ** (db / 20) - 1):+.0f} %)".replace("-", "\N{MINUS SIGN}")


def seconds(value: float) -> str:
    return "never" if not math.isfinite(value) else f"{significant(value)} s"
