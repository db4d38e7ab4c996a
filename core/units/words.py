"""Every computed number as a person reads it: the figures it deserves, its prefix, its unit, a true minus.

One function for each kind of quantity. The window, the documents and the command line all call these,
so a quantity reads the same wherever it stands. What a person typed is shown by `core.units.show`,
which leaves it the digits it was typed with.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, inf, isfinite, isnan, log10

_PREFIXES = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_UNIT_SIGNS = {"ohm": "Ω", "farad": "F", "henry": "H", "volt": "V", "watt": "W"}

_TRADE_UNITS = {"1": (1e6, "µε"), "strain": (1e6, "µε"), "V/m": (1e-6, "kV/mm"), "degC": (1.0, "°C"), "kg": (1e3, "g")}
"""What the trade uses for an SI unit, where it is not the SI unit with a prefix."""

_LEVEL_UNITS = {
    "1": (1.0, ""), "of the start": (1e2, "% of the start"), "strain": (1e6, "µε"), "1/N": (1e6, "µε/N"),
    "s²": (1e3, "mm per m/s²"), "s²/m": (1e6, "µε per m/s²"), "V s²/m": (1.0, "V per m/s²"),
    "A s²/m": (1e6, "µA per m/s²"),
}  # fmt: skip
"""Units of a response that take no prefix of their own."""

_RAISED = str.maketrans("0123456789\N{MINUS SIGN}", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")

NO_VALUE = "\N{EN DASH}"
MINUS = "\N{MINUS SIGN}"
UNSTABLE = "unstable"
NOT_LOADED = "not loaded"
ALL_GONE = "never"
LEAST_PLAIN, LARGEST_PLAIN = 1e-12, 1e15
"""What is less or more stands in powers of ten."""
LARGEST_DB = 6000.0
"""More is more than a number holds."""


# ---- plain numbers -----------------------------------------------------------------------------


def significant(value: float, digits: int = 3) -> str:
    """`value` with that many significant digits and a true minus sign; in powers of ten only where a page of zeros would stand
    otherwise."""
    if isnan(value):
        return NO_VALUE
    if not isfinite(value):
        return "unbounded" if value > 0 else MINUS + "unbounded"
    if value == 0.0:
        return "0"
    if not LEAST_PLAIN <= abs(value) < LARGEST_PLAIN:
        return _in_powers(value, digits)
    decimals = max(digits - 1 - floor(log10(abs(value))), 0)
    rounded = round(value, decimals)
    if rounded and floor(log10(abs(rounded))) > floor(log10(abs(value))):
        decimals = max(decimals - 1, 0)
    return minus(f"{value:.{decimals}f}")


def _in_powers(value: float, digits: int) -> str:
    mantissa, power = f"{value:.{digits - 1}e}".split("e")
    return f"{minus(mantissa)}·{power_of_ten(1, int(power))}"


def fixed(value: float, decimals: int = 1) -> str:
    """`value` with that many decimals; what rounds to nothing has no sign, what no page holds is in powers of ten."""
    if not isfinite(value) or abs(value) >= LARGEST_PLAIN:
        return significant(value)
    text = f"{value:.{decimals}f}"
    return minus(text.lstrip("-") if float(text) == 0.0 else text)


def signed(value: float, decimals: int = 1) -> str:
    """`fixed` with its sign shown, "+1.2"; what rounds to nothing has none."""
    text = fixed(value, decimals)
    return f"+{text}" if value > 0 and text != fixed(0.0, decimals) else text


def plain(value: float) -> str:
    """A number as it was given, without trailing zeros: "20", "−12.5"."""
    return minus(f"{value:g}")


def power_of_ten(multiple: int, power: int) -> str:
    """A mark of a logarithmic axis: "10⁻³", "5·10⁷"."""
    raised = minus(str(power)).translate(_RAISED)
    return f"10{raised}" if multiple == 1 else f"{multiple}·10{raised}"


def unitless(text: str) -> str:
    """The number of a text with its unit, for a column whose head names the unit."""
    return text.rpartition(" ")[0] if text[-1:].isalpha() or text.endswith("%") else text


def minus(text: str) -> str:
    """Text of a number with the minus sign of print."""
    return text.replace("-", MINUS)


# ---- several numbers ---------------------------------------------------------------------------


def change(before: str, after: str) -> str:
    """From one value to another, the unit once where they share it: "5.84 → 4.43 s"."""
    return _joined(before, after, " → ")


def between(low: str, high: str) -> str:
    """A range, the unit once where both share it: "0.60 to 0.79 %"; one value where they read alike."""
    return low if low == high else _joined(low, high, " to ")


def three(low: str, middle: str, high: str) -> str:
    """P10, P50 and P90 with the unit once: "0.31 / 0.35 / 0.40 %"."""
    return _joined(_joined(low, middle, " / "), high, " / ")


def _joined(first: str, last: str, sign: str) -> str:
    unit = last.rpartition(" ")[2]
    shared = " " in last and first.endswith(f" {unit}") and not unit[:1].isdigit()
    return f"{first.removesuffix(f' {unit}') if shared else first}{sign}{last}"


# ---- ratios ------------------------------------------------------------------------------------


def percent(ratio: float, decimals: int = 2) -> str:
    """A ratio in per cent with fixed decimals; what would vanish is "under" the last of them.

    Damping ratios and K^2 are told with two decimals, everywhere.
    """
    if isnan(ratio):
        return NO_VALUE
    value = 100.0 * ratio
    if 0.0 < value < 0.5 * 10.0**-decimals:
        return f"under {10.0**-decimals:.{decimals}f} %"
    return f"{fixed(value, decimals)} %"


def damping(zeta: float) -> str:
    """A damping ratio, "4.31 %"; nan is a mode that grows."""
    return UNSTABLE if isnan(zeta) else percent(zeta)


def coupling(k2: float) -> str:
    """K^2 of a mode: "1.89 %"."""
    return percent(k2)


def energy_share(ratio: float) -> str:
    """A share of a mode's strain energy: "12.3 %"."""
    return percent(ratio, 1)


def share(ratio: float) -> str:
    """A share, a tolerance or a level to settle to, in whole per cent: "5 %"; a tenth where it says more."""
    value = 100.0 * ratio
    return f"{significant(value, 2) if 0.0 < abs(value) < 9.95 and value != round(value) else fixed(value, 0)} %"


def shift(ratio: float, decimals: int = 1) -> str:
    """A relative change with its sign: "−2.3 %"; nothing is "0 %"."""
    text = signed(100.0 * ratio, decimals)
    return "0 %" if text == fixed(0.0, decimals) else f"{text} %"


def zeta_change(before: float, after: float) -> str:
    """Damping ratio before and after: "0.30 → 4.31 %"; an unstable mode says so in words."""
    return change(damping(before), damping(after)) if not isnan(after) else f"{percent(before).removesuffix(' %')} → {UNSTABLE}"


def shares(parts: list[float]) -> list[str]:
    """Shares of a whole in whole per cent that add up to what they add up to, largest remainders first."""
    wanted = [100.0 * part for part in parts]
    whole = [floor(part) for part in wanted]
    left = round(sum(wanted)) - sum(whole)
    by_rest = sorted(range(len(parts)), key=lambda n: whole[n] - wanted[n])
    for n in by_rest[: max(left, 0)]:
        whole[n] += 1
    return [f"{part} %" for part in whole]


# ---- levels ------------------------------------------------------------------------------------


def decibel(value: float) -> str:
    """A level change with its sign: "−22.9 dB"; a change that rounds to nothing is "0.0 dB"."""
    if not isfinite(value):
        return "unbounded" if value > 0 else NO_VALUE
    return f"{signed(value)} dB"


def decibel_and_percent(value: float | None) -> str:
    """A change of amplitude in dB and in per cent of what it was: "−22.9 dB (−93 %)"."""
    if value is None:
        return "no peak"
    return f"{decibel(value)} ({amplitude_change(value)})"


def amplitude_change(value_db: float) -> str:
    """A change of amplitude in per cent of what it was: "−24 %", "+3.1 %", "0 %"."""
    percents = 100.0 * (10.0 ** (min(value_db, LARGEST_DB) / 20.0) - 1.0)
    text = signed(percents, 0 if abs(percents) >= 9.95 else 1)
    return f"{'0' if text == '0.0' else text} %"


def level(value: float, unit: str, digits: int = 3) -> str:
    """A point of a response or of a decay in its SI `unit`: "2.31 mm/N", "−19.6 % of the start"."""
    if unit in _LEVEL_UNITS:
        factor, name = _LEVEL_UNITS[unit]
        return f"{significant(value * factor, digits)} {name}".rstrip()
    return engineering(value, unit, digits)


# ---- quantities with a unit --------------------------------------------------------------------


def engineering(value: float, unit: str, digits: int = 3) -> str:
    """`value` in SI with a prefix that keeps it between 1 and 1000: "46.2 kΩ", "67.1 nF"."""
    sign = _UNIT_SIGNS.get(unit, unit)
    if value == 0.0 or not isfinite(value):
        return f"{significant(value, digits)} {sign}"
    rounded = abs(float(f"{value:.{digits}g}"))
    power = 3 * floor(log10(rounded) / 3) if isfinite(rounded) else 9
    power = min(max(power, -12), 9)
    return f"{significant(value / 10.0**power, digits)} {_PREFIXES[power]}{sign}"


def torsion(hertz: Sequence[float], first: int = 1) -> str:
    """Frequencies of torsion: "T1 82.0 Hz, T2 253 Hz"."""
    return ", ".join(f"T{n} {frequency(f)}" for n, f in enumerate(hertz, first))


def frequency(hertz: float) -> str:
    """Frequency with the digits that show a 0.4 % split: "18.28 Hz"."""
    return f"{significant(hertz, 4) if hertz < 1e3 else fixed(hertz)} Hz"


def fine_frequency(hertz: float) -> str:
    """Frequency where shorted and open stand beside each other: "12.3816 Hz"."""
    return f"{significant(hertz, 6)} Hz"


def seconds(value: float) -> str:
    """A time to a hundredth of a second, a tenth from ten on, in ms below a tenth; a decay that never
    comes says so: "0.42 s", "12.5 s", "35.1 ms", "never"."""
    if isnan(value):
        return NO_VALUE
    if value == inf:
        return ALL_GONE
    if 0.0 < abs(value) < 0.1:
        return engineering(value, "s", 3)
    return f"{fixed(value, 2 if abs(value) < 9.995 else 1)} s"


def part(value: float, unit: str) -> str:
    """A circuit's value in effect, with the four figures a tuned one needs: "12.34 kΩ"; a plain number without a unit."""
    if not unit:
        return significant(value)
    return engineering(value, unit, 4)


def capacitance(farad: float) -> str:
    """A capacitance that circuits are tuned with: "69.62 nF"."""
    return engineering(farad, "F", 4)


def voltage(volt: float) -> str:
    """Volts: "12.3 V"."""
    return engineering(volt, "V")


def power(watt: float) -> str:
    """Watts: "154 mW"."""
    return engineering(watt, "W")


def money(amount: float) -> str:
    """A price, in whatever currency it was typed: "12.50"."""
    return fixed(amount, 2)


def mass(kilogram: float) -> str:
    """A mass to three figures, to a tenth of a gram where that is finer: "4.90 g", "160.2 g", "12.3 kg"."""
    if abs(kilogram) >= 10.0:
        return f"{significant(kilogram)} kg"
    gram = 1e3 * kilogram
    return f"{fixed(gram) if abs(gram) >= 100.0 else significant(gram)} g"


def stiffness(n_m: float) -> str:
    """A translational stiffness, in N/mm: "0.7391 N/mm"."""
    return f"{significant(1e-3 * n_m, 4)} N/mm"


def celsius(value: float) -> str:
    """A temperature as it was entered: "−10 °C"."""
    return f"{plain(value)} °C"


def kelvins(value: float) -> str:
    """A difference of temperatures as it was entered: "20 K"."""
    return f"{plain(value)} K"


def millimetres(metres: float, decimals: int = 1) -> str:
    """A place or a distance on the part, to a tenth: "142.9 mm"."""
    return f"{fixed(metres * 1e3, decimals)} mm"


def size(metres: float) -> str:
    """A length that may be thin: to a tenth of a millimetre, below one to two figures: "35.2 mm", "0.35 mm"."""
    if 0.0 < abs(metres) < 1e-3:
        return f"{significant(1e3 * metres, 2)} mm"
    return millimetres(metres)


def times(ratio: float) -> str:
    """An allowable over a value as a plain number: "1.40", "13"; what nothing loads says so."""
    if not isfinite(ratio):
        return NOT_LOADED
    if ratio >= 1e3:
        return "over 1000"
    return significant(ratio, 3 if 0.9 < ratio < 2.0 else 2)


def with_unit(value: float, si_unit: str, digits: int = 3) -> str:
    """A checked quantity in the unit the trade uses for it: "38.0 µε", "0.400 kV/mm", "−40 °C"."""
    if si_unit == "degC":
        return celsius(value)
    if si_unit in _TRADE_UNITS:
        factor, unit = _TRADE_UNITS[si_unit]
        return f"{significant(value * factor, digits)} {unit}"
    return engineering(value, si_unit, digits)


def value_of(value: float, allowable: float, si_unit: str) -> str:
    """A value and its allowable with the unit once, in the prefix of the allowable: "38.0 of 500 µε"."""
    factor, unit = _TRADE_UNITS.get(si_unit, (1.0, ""))
    if not unit:
        limit = engineering(allowable, si_unit)
        unit = limit.partition(" ")[2]
        prefix = unit.removesuffix(_UNIT_SIGNS.get(si_unit, si_unit))
        factor = 10.0 ** -{sign: power for power, sign in _PREFIXES.items()}[prefix]
    return f"{significant(value * factor)} of {significant(allowable * factor)} {unit}"
