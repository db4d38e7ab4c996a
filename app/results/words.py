"""Numbers as a person reads them: units on every value, as many digits as mean something."""

from __future__ import annotations

from math import floor, inf, isfinite, isnan, log10

_PREFIXES = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_UNIT_SIGNS = {"ohm": "Ω", "farad": "F", "henry": "H", "volt": "V", "watt": "W"}

_CHECKED_UNITS = {"1": (1e6, "µε"), "V/m": (1e-6, "kV/mm"), "degC": (1.0, "°C"), "kg": (1e3, "g")}
"""What the trade uses for an SI unit, where it is not the SI unit with a prefix."""

NO_VALUE = "\N{EN DASH}"
MINUS = "\N{MINUS SIGN}"


def significant(value: float, digits: int = 3) -> str:
    """`value` with that many significant digits, never in powers of ten, with a true minus sign."""
    if isnan(value):
        return NO_VALUE
    if not isfinite(value):
        return "unbounded" if value > 0 else MINUS + "unbounded"
    if value == 0.0:
        return "0"
    decimals = max(digits - 1 - floor(log10(abs(value))), 0)
    rounded = round(value, decimals)
    if rounded and floor(log10(abs(rounded))) > floor(log10(abs(value))):
        decimals = max(decimals - 1, 0)
    return f"{value:.{decimals}f}".replace("-", MINUS)


def engineering(value: float, unit: str, digits: int = 3) -> str:
    """`value` in SI with a prefix that keeps it between 1 and 1000: "46.2 kΩ", "67.1 nF"."""
    sign = _UNIT_SIGNS.get(unit, unit)
    if value == 0.0 or not isfinite(value):
        return f"{significant(value, digits)} {sign}"
    power = 3 * floor(log10(abs(float(f"{value:.{digits}g}"))) / 3)
    power = min(max(power, -12), 9)
    return f"{significant(value / 10.0**power, digits)} {_PREFIXES[power]}{sign}"


def frequency(hertz: float) -> str:
    """Frequency with the digits that show a 0.4 % split: "18.28 Hz"."""
    return f"{significant(hertz, 4) if hertz < 1e3 else f'{hertz:.1f}'} Hz"


def percent(ratio: float, decimals: int = 2) -> str:
    """A ratio in per cent with fixed decimals; what would vanish is "under" the last of them."""
    if isnan(ratio):
        return NO_VALUE
    value = 100.0 * ratio
    if 0.0 < value < 0.5 * 10.0**-decimals:
        return f"under {10.0**-decimals:.{decimals}f} %"
    return f"{value:.{decimals}f} %".replace("-", MINUS)


def zeta_change(before: float, after: float) -> str:
    """Damping ratio before and after: "0.30 → 4.31 %"; an unstable mode says so in words."""
    start = percent(before).removesuffix(" %")
    return f"{start} → unstable" if isnan(after) else f"{start} → {percent(after)}"


def decibel(value: float) -> str:
    """A level change with its sign: "−22.9 dB"; a change that rounds to nothing is "0.0 dB"."""
    if not isfinite(value):
        return "unbounded" if value > 0 else NO_VALUE
    text = f"{value:+.1f}"
    return f"{'0.0' if text in ('+0.0', '-0.0') else text.replace('-', MINUS)} dB"


def decibel_and_percent(value: float | None) -> str:
    """A change of amplitude in dB and in per cent of what it was."""
    if value is None:
        return "no peak"
    change = 100.0 * (10.0 ** (value / 20.0) - 1.0)
    text = f"{change:+.0f}" if abs(change) >= 9.95 else f"{change:+.1f}"
    if float(text) == 0.0:
        text = "0"
    return f"{decibel(value)} ({text.replace('-', MINUS)} %)"


def seconds(value: float) -> str:
    """A time: "0.42 s", "35 ms"; a decay that never comes says so."""
    if isnan(value):
        return NO_VALUE
    if value == inf:
        return "never"
    return f"{significant(value, 3)} s" if value >= 0.1 or value == 0.0 else engineering(value, "s", 3)


def times(margin: float) -> str:
    """A margin as a multiple: "13 ×"; nothing loads it: "not loaded"."""
    if not isfinite(margin):
        return "not loaded"
    if margin >= 1e3:
        return "over 1000 ×"
    return f"{significant(margin, 3 if 0.9 < margin < 2.0 else 2)} ×"


def with_unit(value: float, si_unit: str, digits: int = 3) -> str:
    """A checked quantity in the unit the trade uses for it."""
    if si_unit in _CHECKED_UNITS:
        factor, unit = _CHECKED_UNITS[si_unit]
        return f"{significant(value * factor, digits)} {unit}"
    return engineering(value, si_unit, digits)


def value_of(value: float, allowable: float, si_unit: str) -> str:
    """A value and its allowable with the unit once, in the prefix of the allowable: "38.0 of 500 µε"."""
    factor, unit = _CHECKED_UNITS.get(si_unit, (1.0, ""))
    if not unit:
        limit = engineering(allowable, si_unit)
        unit = limit.partition(" ")[2]
        prefix = unit.removesuffix(_UNIT_SIGNS.get(si_unit, si_unit))
        factor = 10.0 ** -{sign: power for power, sign in _PREFIXES.items()}[prefix]
    return f"{significant(value * factor)} of {significant(allowable * factor)} {unit}"


def millimetres(metres: float, decimals: int = 1) -> str:
    return f"{metres * 1e3:.{decimals}f} mm".replace("-", MINUS)
