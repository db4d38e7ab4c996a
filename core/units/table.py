"""Units a person may type at the edges, as plain factors; nothing here is computed at run time.

A unit turns a displayed number into SI by `value * mul / div`: one of the two is 1 and the other a
whole number where possible, so that 37.5 mm becomes exactly the double nearest to 0.0375.
Temperatures are the exception: the project stores degrees Celsius, so "degC" is its own base.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.units.constants import STANDARD_GRAVITY_M_S2


@dataclass(frozen=True)
class Dimension:
    """What a quantity is: in words with its article, an example to type, and its SI unit for pint."""

    name: str
    words: str
    example: str
    pint_unit: str


@dataclass(frozen=True)
class Unit:
    """A unit: SI = value * mul / div (+ offset, for temperatures in kelvin)."""

    key: str
    dimension: str
    mul: float
    div: float
    symbol: str


DIMENSIONS: dict[str, Dimension] = {
    d.name: d
    for d in (
        Dimension("ratio", "a plain number", "0.5", "dimensionless"),
        Dimension("length", "a length", "37.5 mm", "m"),
        Dimension("area", "an area", "12 mm2", "m**2"),
        Dimension("mass", "a mass", "12 g", "kg"),
        Dimension("force", "a force", "45 N", "N"),
        Dimension("stiffness", "a stiffness", "1200 N/m", "N/m"),
        Dimension("rotational stiffness", "a rotational stiffness", "20 kN m/rad", "N*m"),
        Dimension("pressure", "a modulus or stress", "70 GPa", "Pa"),
        Dimension("compliance", "an elastic compliance", "16.4 1/TPa", "1/Pa"),
        Dimension("density", "a density", "2700 kg/m3", "kg/m**3"),
        Dimension("frequency", "a frequency", "18.3 Hz", "1/s"),
        Dimension("angular frequency", "an angular frequency", "115 rad/s", "1/s"),
        Dimension("time", "a time", "0.2 s", "s"),
        Dimension("capacitance", "a capacitance", "68 nF", "F"),
        Dimension("resistance", "a resistance", "12 kohm", "ohm"),
        Dimension("inductance", "an inductance", "26 H", "H"),
        Dimension("conductance", "a conductance", "1.2 uS", "S"),
        Dimension("voltage", "a voltage", "12 V", "V"),
        Dimension("current", "a current", "3 mA", "A"),
        Dimension("slew", "a rate of voltage", "1 V/us", "V/s"),
        Dimension("charge", "a charge", "4 nC", "C"),
        Dimension("power", "a power", "5 mW", "W"),
        Dimension("energy", "an energy", "5 mJ", "J"),
        Dimension("field", "an electric field", "0.4 kV/mm", "V/m"),
        Dimension("velocity", "a velocity", "0.2 m/s", "m/s"),
        Dimension("acceleration", "an acceleration", "3 m/s2", "m/s**2"),
        Dimension("acceleration density", "a spectral density of acceleration", "0.02 g2/Hz", "m**2/s**3"),
        Dimension("impulse", "an impulse", "0.05 N s", "N*s"),
        Dimension("pyroelectric", "a pyroelectric coefficient", "-330 uC/(m2 K)", "C/m**2/K"),
        Dimension("charge constant", "a piezoelectric charge constant", "-171 pm/V", "m/V"),
        Dimension("per kelvin", "a change per kelvin", "0.3 %/K", "1/K"),
        Dimension("temperature", "a temperature", "20 degC", "K"),
        Dimension("temperature rate", "a rate of temperature", "20 K/min", "K/s"),
        Dimension("celsius", "a temperature", "20 degC", "K"),
        Dimension("angle", "an angle", "1 deg", "rad"),
        Dimension("rotary inertia", "a rotary inertia", "0.0005 kg m2", "kg*m**2"),
        Dimension("bending stiffness", "a bending stiffness", "1.4 N m2", "N*m**2"),
        Dimension("mass per length", "a mass per length", "0.16 kg/m", "kg/m"),
        Dimension("curvature", "a curvature", "0.5 1/m", "1/m"),
        Dimension("receptance", "a receptance", "0.2 mm/N", "m/N"),
        Dimension("mobility", "a mobility", "0.02 m/(N s)", "m/N/s"),
        Dimension("accelerance", "an accelerance", "0.5 m/(s2 N)", "1/kg"),
        Dimension("coupling", "a modal coupling", "0.001 N/V", "N/V"),
        Dimension("feedback gain", "a velocity feedback gain", "50 V s/m", "V*s/m"),
    )
}

_PREFIXES: tuple[tuple[str, float, float, str], ...] = (
    ("", 1, 1, ""),
    ("k", 1e3, 1, "k"),
    ("M", 1e6, 1, "M"),
    ("G", 1e9, 1, "G"),
    ("T", 1e12, 1, "T"),
    ("m", 1, 1e3, "m"),
    ("u", 1, 1e6, "µ"),
    ("n", 1, 1e9, "n"),
    ("p", 1, 1e12, "p"),
)
_BASES: tuple[tuple[str, str, str, str], ...] = (
    ("m", "length", "m", "kmunp"), ("N", "force", "N", "kMmu"), ("Pa", "pressure", "Pa", "kMGT"),
    ("Hz", "frequency", "Hz", "kMm"), ("s", "time", "s", "mun"), ("F", "capacitance", "F", "munp"),
    ("ohm", "resistance", "Ω", "kMGm"), ("H", "inductance", "H", "kmun"), ("V", "voltage", "V", "kmu"),
    ("A", "current", "A", "munp"), ("C", "charge", "C", "munp"), ("W", "power", "W", "kmun"),
    ("J", "energy", "J", "kmun"), ("S", "conductance", "S", "mun"),
)  # fmt: skip
_OTHERS: tuple[tuple[str, str, float, float, str], ...] = (
    ("1", "ratio", 1, 1, ""), ("%", "ratio", 1, 1e2, "%"), ("permille", "ratio", 1, 1e3, "‰"),
    ("ppm", "ratio", 1, 1e6, "ppm"), ("ue", "ratio", 1, 1e6, "µε"),
    ("cm", "length", 1, 1e2, "cm"), ("dm", "length", 1, 10, "dm"), ("in", "length", 254, 1e4, "in"),
    ("ft", "length", 3048, 1e4, "ft"), ("mil", "length", 254, 1e7, "mil"),
    ("mm2", "area", 1, 1e6, "mm²"), ("m2", "area", 1, 1, "m²"), ("cm2", "area", 1, 1e4, "cm²"),
    ("kg", "mass", 1, 1, "kg"), ("g", "mass", 1, 1e3, "g"), ("mg", "mass", 1, 1e6, "mg"),
    ("t", "mass", 1e3, 1, "t"), ("lb", "mass", 45359237, 1e8, "lb"), ("oz", "mass", 45359237, 16e8, "oz"),
    ("lbf", "force", 4.4482216152605, 1, "lbf"), ("kgf", "force", STANDARD_GRAVITY_M_S2, 1, "kgf"),
    ("N/m", "stiffness", 1, 1, "N/m"), ("kN/m", "stiffness", 1e3, 1, "kN/m"),
    ("MN/m", "stiffness", 1e6, 1, "MN/m"), ("N/mm", "stiffness", 1e3, 1, "N/mm"),
    ("N/um", "stiffness", 1e6, 1, "N/µm"),
    ("N m/rad", "rotational stiffness", 1, 1, "N m/rad"),
    ("kN m/rad", "rotational stiffness", 1e3, 1, "kN m/rad"),
    ("MN m/rad", "rotational stiffness", 1e6, 1, "MN m/rad"),
    ("N mm/rad", "rotational stiffness", 1, 1e3, "N mm/rad"),
    ("bar", "pressure", 1e5, 1, "bar"), ("psi", "pressure", 6894.757293168361, 1, "psi"),
    ("ksi", "pressure", 6894757.293168361, 1, "ksi"), ("N/mm2", "pressure", 1e6, 1, "N/mm²"),
    ("N/m2", "pressure", 1, 1, "N/m²"),
    ("1/Pa", "compliance", 1, 1, "1/Pa"), ("1/GPa", "compliance", 1, 1e9, "1/GPa"),
    ("1/TPa", "compliance", 1, 1e12, "1/TPa"), ("m2/N", "compliance", 1, 1, "m²/N"),
    ("pm2/N", "compliance", 1, 1e12, "pm²/N"),
    ("kg/m3", "density", 1, 1, "kg/m³"), ("g/cm3", "density", 1e3, 1, "g/cm³"),
    ("kg/dm3", "density", 1e3, 1, "kg/dm³"), ("t/m3", "density", 1e3, 1, "t/m³"),
    ("1/min", "frequency", 1, 60, "1/min"), ("rad/s", "angular frequency", 1, 1, "rad/s"),
    ("min", "time", 60, 1, "min"), ("h", "time", 3600, 1, "h"),
    ("V/s", "slew", 1, 1, "V/s"), ("V/ms", "slew", 1e3, 1, "V/ms"), ("V/us", "slew", 1e6, 1, "V/µs"),
    ("V/m", "field", 1, 1, "V/m"), ("V/mm", "field", 1e3, 1, "V/mm"), ("kV/mm", "field", 1e6, 1, "kV/mm"),
    ("kV/m", "field", 1e3, 1, "kV/m"), ("MV/m", "field", 1e6, 1, "MV/m"), ("kV/cm", "field", 1e5, 1, "kV/cm"),
    ("V/um", "field", 1e6, 1, "V/µm"),
    ("m/s", "velocity", 1, 1, "m/s"), ("mm/s", "velocity", 1, 1e3, "mm/s"),
    ("um/s", "velocity", 1, 1e6, "µm/s"), ("km/h", "velocity", 1, 3.6, "km/h"),
    ("m/s2", "acceleration", 1, 1, "m/s²"), ("mm/s2", "acceleration", 1, 1e3, "mm/s²"),
    ("gn", "acceleration", STANDARD_GRAVITY_M_S2, 1, "gₙ"),
    ("m2/s3", "acceleration density", 1, 1, "(m/s²)²/Hz"),
    ("gn2/Hz", "acceleration density", 96.1703842225, 1, "gₙ²/Hz"),
    ("N s", "impulse", 1, 1, "N s"), ("mN s", "impulse", 1, 1e3, "mN s"),
    ("m/V", "charge constant", 1, 1, "m/V"), ("pm/V", "charge constant", 1, 1e12, "pm/V"),
    ("nm/V", "charge constant", 1, 1e9, "nm/V"), ("C/N", "charge constant", 1, 1, "C/N"),
    ("pC/N", "charge constant", 1, 1e12, "pC/N"),
    ("C/(m2 K)", "pyroelectric", 1, 1, "C/(m² K)"), ("uC/(m2 K)", "pyroelectric", 1, 1e6, "µC/(m² K)"),
    ("nC/(cm2 K)", "pyroelectric", 1, 1e5, "nC/(cm² K)"),
    ("1/K", "per kelvin", 1, 1, "1/K"), ("%/K", "per kelvin", 1, 1e2, "%/K"),
    ("ppm/K", "per kelvin", 1, 1e6, "ppm/K"),
    ("K", "temperature", 1, 1, "K"), ("degC", "celsius", 1, 1, "°C"),
    ("K/s", "temperature rate", 1, 1, "K/s"), ("K/min", "temperature rate", 1, 60, "K/min"),
    ("rad", "angle", 1, 1, "rad"), ("mrad", "angle", 1, 1e3, "mrad"),
    ("deg", "angle", 0.017453292519943295, 1, "°"),
    ("kg m2", "rotary inertia", 1, 1, "kg m²"), ("g m2", "rotary inertia", 1, 1e3, "g m²"),
    ("kg cm2", "rotary inertia", 1, 1e4, "kg cm²"), ("kg mm2", "rotary inertia", 1, 1e6, "kg mm²"),
    ("g cm2", "rotary inertia", 1, 1e7, "g cm²"), ("g mm2", "rotary inertia", 1, 1e9, "g mm²"),
    ("N m2", "bending stiffness", 1, 1, "N m²"), ("N mm2", "bending stiffness", 1, 1e6, "N mm²"),
    ("kg/m", "mass per length", 1, 1, "kg/m"), ("g/m", "mass per length", 1, 1e3, "g/m"),
    ("g/mm", "mass per length", 1, 1, "g/mm"),
    ("1/m", "curvature", 1, 1, "1/m"), ("1/mm", "curvature", 1e3, 1, "1/mm"),
    ("m/N", "receptance", 1, 1, "m/N"), ("mm/N", "receptance", 1, 1e3, "mm/N"),
    ("um/N", "receptance", 1, 1e6, "µm/N"),
    ("m/(N s)", "mobility", 1, 1, "m/(N s)"), ("mm/(N s)", "mobility", 1, 1e3, "mm/(N s)"),
    ("m/(s2 N)", "accelerance", 1, 1, "m/(s² N)"), ("1/kg", "accelerance", 1, 1, "1/kg"),
    ("N/V", "coupling", 1, 1, "N/V"), ("mN/V", "coupling", 1, 1e3, "mN/V"),
    ("V s/m", "feedback gain", 1, 1, "V s/m"), ("V s/mm", "feedback gain", 1e3, 1, "V s/mm"),
)  # fmt: skip

ALIASES: dict[str, str] = {
    "": "1", "-": "1", "strain": "1", "m/m": "1", "percent": "%", "pct": "%", "‰": "permille", "‐": "1",
    "μɛ": "ue", "με": "ue", "µε": "ue", "microstrain": "ue", "ustrain": "ue", "μstrain": "ue",
    "um/m": "ue", "mm/m": "permille", "ustr": "ue",
    "metre": "m", "meter": "m", "metres": "m", "meters": "m", "millimetre": "mm", "millimeter": "mm",
    "micron": "um", "microns": "um", "micrometre": "um", "micrometer": "um",
    "inch": "in", "inches": "in", '"': "in", "″": "in", "''": "in", "thou": "mil", "foot": "ft", "feet": "ft",
    "'": "ft", "′": "ft", "gram": "g", "grams": "g", "gr": "g", "lbs": "lb", "pound": "lb", "ounce": "oz",
    "newton": "N", "hz": "Hz", "khz": "kHz", "HZ": "Hz", "rpm": "1/min", "rev/min": "1/min",
    "sec": "s", "second": "s", "seconds": "s", "msec": "ms", "hour": "h", "hours": "h",
    "volt": "V", "volts": "V", "farad": "F", "henry": "H", "watt": "W",
    "Ohm": "ohm", "ohms": "ohm", "Ohms": "ohm", "OHM": "ohm", "Kohm": "kohm", "KOhm": "kohm",
    "meg": "Mohm", "Meg": "Mohm", "megohm": "Mohm", "kilohm": "kohm",
    "Nm": "N m/rad", "kNm": "kN m/rad", "MNm": "MN m/rad", "Nmm": "N mm/rad",
    "gpa": "GPa", "mpa": "MPa", "Mpa": "MPa", "Gpa": "GPa", "/Pa": "1/Pa", "/GPa": "1/GPa", "/TPa": "1/TPa",
    "Pa-1": "1/Pa", "TPa-1": "1/TPa", "GPa-1": "1/GPa", "10-12m2/N": "pm2/N",
    "kgm-3": "kg/m3", "gcm-3": "g/cm3", "g/cc": "g/cm3", "ms-2": "m/s2", "ms-1": "m/s", "m/s/s": "m/s2",
    "m2s-3": "m2/s3", "(m/s2)2/Hz": "m2/s3", "m2/s4/Hz": "m2/s3", "g2/Hz": "gn2/Hz", "G2/Hz": "gn2/Hz",
    "uC/m2K": "uC/(m2 K)", "uC/m2/K": "uC/(m2 K)", "uCm-2K-1": "uC/(m2 K)", "nC/cm2/K": "nC/(cm2 K)",
    "g0": "gn", "g_n": "gn", "gₙ": "gn", "gee": "gn",
    "/K": "1/K", "K-1": "1/K", "%/degC": "%/K", "%/°C": "%/K", "1/degC": "1/K", "1/°C": "1/K",
    "ppm/degC": "ppm/K", "ppm/°C": "ppm/K", "%K-1": "%/K",
    "°C": "degC", "ºC": "degC", "celsius": "degC", "Celsius": "degC", "degc": "degC", "kelvin": "K",
    "°": "deg", "º": "deg", "degree": "deg", "degrees": "deg",
    "°F": "degF", "ºF": "degF", "fahrenheit": "degF",
    "1/s": "Hz", "s-1": "Hz", "N/μm": "N/um", "V/μm": "V/um", "m-1": "1/m",
    "m/Ns": "m/(N s)", "mm/Ns": "mm/(N s)", "m/s2N": "m/(s2 N)", "m/s2/N": "m/(s2 N)",
}  # fmt: skip


def squeeze(text: str) -> str:
    """Unit text without blanks, multiplication signs and carets: the key the table is looked up by."""
    for sign in (" ", "\t", "·", "⋅", "*", "×", "^", ".", "\u202f"):
        text = text.replace(sign, "")
    return text.replace("µ", "μ").replace("−", "-").replace("Ω", "ohm").replace("Ω", "ohm")


def _build() -> tuple[dict[str, Unit], dict[str, str]]:
    units: dict[str, Unit] = {}
    for base, dimension, symbol, allowed in _BASES:
        for prefix, mul, div, shown in _PREFIXES:
            if prefix == "" or prefix in allowed:
                units[prefix + base] = Unit(prefix + base, dimension, mul, div, shown + symbol)
    for key, dimension, mul, div, symbol in _OTHERS:
        units[key] = Unit(key, dimension, mul, div, symbol)
    units["degF"] = Unit("degF", "celsius", 5, 9, "°F")
    spellings: dict[str, str] = {}
    for key, unit in units.items():
        for text in (key, unit.symbol, key.replace("u", "μ", 1) if key.startswith("u") else key):
            spellings.setdefault(squeeze(text), key)
    for text, key in ALIASES.items():
        spellings.setdefault(squeeze(text), key)
    return units, spellings


UNITS, SPELLINGS = _build()
