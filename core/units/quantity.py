"""Numbers with units at the edges: typed text to SI, SI to the number on screen.

`parse` reads what a person types ("0.5in", "12 kΩ", "37,5", "1 1/2 in", "2×10^-3"); a number
without a unit is in the display unit. Temperatures come out in the unit the field keeps: the
project stores degrees Celsius, so "degC" is not turned into kelvin. "g" is the gram except in
a field that holds an acceleration.
"""

from __future__ import annotations

import math

from core.units.number import NumberError, split_number
from core.units.table import DIMENSIONS, SPELLINGS, UNITS, Unit, squeeze

_KELVIN = 273.15
_BARE_PREFIXES = ("k", "K", "M", "G", "n", "p", "u", "μ")
_TURN = 2.0 * math.pi


class QuantityError(ValueError):
    """Typed text that is not the quantity asked for; the message says what was expected."""


def _unit(unit: str) -> Unit:
    known = UNITS.get(unit)
    if known is None:
        key = SPELLINGS.get(squeeze(unit))
        if key is None:
            raise KeyError(f"no display unit {unit!r}")
        known = UNITS[key]
    return known


def to_si(value: float, unit: str) -> float:
    """SI value of a number shown in `unit`; degC stays degC. KeyError for an unknown unit."""
    u = _unit(unit)
    if u.key == "degF":
        return (value - 32.0) * 5.0 / 9.0
    return value * u.mul / u.div


def to_display(value_si: float, unit: str) -> float:
    """Number in `unit` of an SI value; the inverse of `to_si`."""
    u = _unit(unit)
    if u.key == "degF":
        return value_si * 9.0 / 5.0 + 32.0
    return value_si * u.div / u.mul


def si_of(unit: str) -> str:
    """The unit without a factor of what is shown in `unit`: "m" of "mm", "degC" of itself."""
    shown = _unit(unit)
    return next(u.key for u in UNITS.values() if u.dimension == shown.dimension and u.mul == u.div == 1)


def symbol(unit: str) -> str:
    """The unit as printed beside a number: "um" gives "µm", "1" gives nothing."""
    return _unit(unit).symbol


def parse(text: str, unit: str) -> float:
    """SI value of typed text; a plain number counts in `unit`.

    Raises QuantityError in words for text that is no number, an unknown unit, a unit of
    another dimension, or a number that is not finite.
    """
    wanted = _unit(unit)
    try:
        number, unit_text = split_number(text)
    except NumberError as fault:
        raise QuantityError(_expected(str(fault), wanted)) from None
    if unit_text == "":
        value = to_si(number, wanted.key)
    else:
        value = _from_typed_unit(text, number, unit_text, wanted)
    if not math.isfinite(value):
        raise QuantityError(_expected(f'"{_short(text)}" is too large a number.', wanted))
    return value


def _from_typed_unit(text: str, number: float, unit_text: str, wanted: Unit) -> float:
    given = _known(unit_text, wanted)
    if given is None:
        from core.units.unusual import UnusualUnitError, convert  # pint is slow to load

        try:
            return convert(number, unit_text, DIMENSIONS[wanted.dimension].pint_unit)
        except UnusualUnitError as fault:
            unknown = f': "{_short(unit_text)}" is not a unit known here;'
            what = f" is {fault.words};" if fault.words else unknown
            raise QuantityError(
                f'"{_short(text)}"{what} {DIMENSIONS[wanted.dimension].words} was expected, '
                f'for example "{_example(wanted)}".'
            ) from None
    value = to_si(number, given.key)
    if given.dimension == wanted.dimension:
        return value
    bridged = _bridge(value, given.dimension, wanted.dimension)
    if bridged is None:
        raise QuantityError(
            f'"{_short(text)}" is {DIMENSIONS[given.dimension].words}; '
            f'{DIMENSIONS[wanted.dimension].words} was expected, for example "{_example(wanted)}".'
        )
    return bridged


def _known(unit_text: str, wanted: Unit) -> Unit | None:
    """The table's unit for the typed spelling, seen from the field's dimension."""
    key = squeeze(unit_text)
    if wanted.dimension == "acceleration" and key in ("g", "G"):
        return UNITS["gn"]
    if key in _BARE_PREFIXES:
        base = "g" if wanted.dimension == "mass" else wanted.key.lstrip("kMGTmunp") or wanted.key
        full = UNITS.get({"K": "k", "μ": "u"}.get(key, key) + base)
        if full is not None and full.dimension == wanted.dimension:
            return full
    found = SPELLINGS.get(key)
    return UNITS[found] if found is not None else None


def _bridge(value: float, given: str, wanted: str) -> float | None:
    """Conversions between quantities that a person calls the same."""
    match given, wanted:
        case "frequency", "angular frequency":
            return value * _TURN
        case "angular frequency", "frequency":
            return value / _TURN
        case "temperature", "celsius":
            return value - _KELVIN
        case "celsius", "temperature":
            return value + _KELVIN
        case "energy", "rotational stiffness":
            return value
    return None


def _example(wanted: Unit) -> str:
    return DIMENSIONS[wanted.dimension].example if wanted.key != "%" else "0.3 %"


def _expected(fault: str, wanted: Unit) -> str:
    return f'{fault} Type {DIMENSIONS[wanted.dimension].words}, for example "{_example(wanted)}".'


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 40 else text[:37] + "..."


def show(value_si: float, unit: str, digits: int | None = None, *, significant: int = 6) -> str:
    """Number text of an SI value in `unit`, without the unit.

    With `digits` exactly that many decimals, trailing zeros kept; otherwise up to `significant`
    significant digits and no trailing zeros. A value that is not finite shows as a dash or the
    infinity sign.
    """
    value = to_display(value_si, unit)
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        if math.isinf(value_si):
            return "∞" if value > 0 else "-∞"
        # finite, but not in this unit: what was typed must be told, not infinity
        mantissa, exponent = f"{to_display(value_si * 1e-100, unit):.{significant - 1}e}".split("e")
        return f"{mantissa.rstrip('0').rstrip('.')}e{int(exponent) + 100}"
    if digits is not None:
        text = f"{value:.{digits}f}"
        return text.lstrip("-") if float(text) == 0.0 else text
    if value == 0.0:
        return "0"
    rounded = float(f"{value:.{significant}g}")
    if 1e-5 <= abs(rounded) < 1e9:
        decimals = max(0, significant - 1 - math.floor(math.log10(abs(rounded))))
        text = f"{rounded:.{decimals}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    mantissa, exponent = f"{rounded:.{significant - 1}e}".split("e")
    mantissa = mantissa.rstrip("0").rstrip(".") if "." in mantissa else mantissa
    return f"{mantissa}e{int(exponent)}"


def show_with_unit(value_si: float, unit: str, digits: int | None = None, *, significant: int = 6) -> str:
    """`show` with the minus sign of print, followed by the printed unit: "37.5 mm", "−12 °C", "0.30 %"."""
    text = show(value_si, unit, digits, significant=significant)
    if text.startswith("-"):
        text = f"\N{MINUS SIGN}{text[1:]}"
    printed = symbol(unit)
    if printed == "":
        return text
    return f"{text}{printed}" if printed == "°" else f"{text} {printed}"


_STEPS = (("G", 1e9), ("M", 1e6), ("k", 1e3), ("", 1.0), ("m", 1e-3), ("u", 1e-6), ("n", 1e-9), ("p", 1e-12))


def show_scaled(value_si: float, base: str, *, significant: int = 3) -> str:
    """Number and unit with the prefix that leaves 1 to 999: show_scaled(68.4e-9, "F") is "68.4 nF".

    `base` is an SI unit without prefix ("ohm", "F", "H", "V", "W", "N", "m", "s", "Hz").
    """
    size = abs(value_si)
    chosen = base
    for prefix, factor in _STEPS:
        if prefix + base not in UNITS:
            continue
        chosen = prefix + base
        if size >= factor * (1.0 - 0.5 * 10.0**-significant):
            break
    if size == 0.0 or not math.isfinite(size):
        chosen = base
    return show_with_unit(value_si, chosen, significant=significant)
