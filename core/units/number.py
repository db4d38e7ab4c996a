"""The number at the front of typed text: decimal point or comma, thousands, fractions, powers of ten."""

from __future__ import annotations

import math
import re
import unicodedata


class NumberError(ValueError):
    """Text without a readable number; the message says what is wrong with it."""


_POWER = re.compile("(?<=10)[⁻⁺]?[⁰¹²³⁴-⁹]+")
_VULGAR = re.compile("[¼½¾⅐-⅞]")
_MINUS = str.maketrans({"−": "-", "–": "-", "‒": "-", "﹣": "-", "⁄": "/", "\u00a0": " ", "\u202f": " ",
                        "\u2009": " ", "\u2007": " ", "’": "'"})  # fmt: skip
_PLAIN = r"(?:\d{1,3}(?:[ '](?:\d{3}))+(?:[.,]\d*)?(?!\d)|\d[\d.,]*|[.,]\d+)"
_FRACTION = re.compile(r"([+-]?)\s*(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)(?![\d.,])")
_NUMBER = re.compile(rf"([+-]?)\s*({_PLAIN})(?:[eE]([+-]?\d+)|\s*[x×·*⋅]\s*10\s*\^?\s*([+-]?\d+))?")
_RECIPROCAL_UNIT = re.compile(r"1\s*/\s*[^\W\d]|10-12\s*m")
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity|∞)", re.IGNORECASE)


def tidy(text: str) -> str:
    """Text in one spelling: ordinary minus, blanks and digits; fractions as a/b."""
    text = _VULGAR.sub(lambda m: " " + m.group(), text)
    text = _POWER.sub(lambda m: "^" + m.group(), text)
    return unicodedata.normalize("NFKC", text).translate(_MINUS).strip()


def split_number(text: str) -> tuple[float, str]:
    """Value and the rest (the unit text) of typed text; NumberError in words otherwise."""
    if not text.strip():
        raise NumberError("Nothing was typed.")
    shown = " ".join(text.split())
    shown = shown if len(shown) <= 40 else shown[:37] + "..."
    if len(text) > 200:
        raise NumberError(f'"{shown}" is not a number.')
    clean = tidy(text)
    if _NOT_FINITE.match(clean):
        raise NumberError(f'"{shown}" is not a finite number.')
    fraction = _FRACTION.match(clean)
    if fraction:
        sign, whole, top, bottom = fraction.groups()
        if int(bottom) == 0:
            raise NumberError(f'"{shown}" divides by zero.')
        value = int(whole or 0) + int(top) / int(bottom)
        return (-value if sign == "-" else value), clean[fraction.end() :].strip()
    match = _NUMBER.match(clean)
    if not match:
        raise NumberError(f'"{shown}" does not start with a number.')
    sign, digits, exponent, power = match.groups()
    rest = clean[match.end() :].strip()
    if rest[:1].isdigit() and not _RECIPROCAL_UNIT.match(rest):
        raise NumberError(f'"{shown}" holds more than one number.')
    value = _value(digits, shown, exponent or power)
    if not math.isfinite(value):
        raise NumberError(f'"{shown}" is too large a number.')
    return (-value if sign == "-" else value), rest


def _value(digits: str, shown: str, exponent: str | None) -> float:
    plain = decimal_text(digits)
    if plain is None:
        raise NumberError(f'"{shown}" has commas and points that do not form one number.')
    if re.fullmatch(r"[1-9]\d{0,2},000", digits):
        whole = digits.split(",")[0]
        raise NumberError(f'"{shown}" can be read as {whole} or as {whole}000: leave the comma out.')
    try:
        return float(plain + (f"e{exponent}" if exponent else ""))
    except (ValueError, OverflowError):
        raise NumberError(f'"{shown}" is not a number.') from None


def decimal_text(digits: str) -> str | None:
    """The digits with a decimal point and no grouping; None where they contradict themselves.

    A single comma is the decimal sign ("37,5"); of two different signs the last is the decimal
    one ("1,234.5", "1.234,5"); a repeated sign groups thousands ("1,234,567").
    """
    digits = digits.replace(" ", "").replace("'", "")
    commas, points = digits.count(","), digits.count(".")
    if commas and points:
        decimal = "," if digits.rfind(",") > digits.rfind(".") else "."
        group = "." if decimal == "," else ","
        if digits.count(decimal) > 1:
            return None
        head, tail = digits.split(decimal)
        return f"{head.replace(group, '')}.{tail}" if _grouped(head, group) else None
    for sign, count in ((",", commas), (".", points)):
        if count > 1:
            return digits.replace(sign, "") if _grouped(digits, sign) else None
    return digits.replace(",", ".")


def _grouped(digits: str, sign: str) -> bool:
    first, *others = digits.split(sign)
    return 1 <= len(first) <= 3 and all(len(part) == 3 for part in others)
