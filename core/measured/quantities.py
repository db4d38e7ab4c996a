"""Units as measured files write them, by the house's table; in a record "g" is the acceleration."""

from __future__ import annotations

import re
from dataclasses import dataclass

from core.units.constants import STANDARD_GRAVITY_M_S2 as _G
from core.units.table import SPELLINGS, UNITS, squeeze

_SI = {
    "time": "s", "frequency": "Hz", "length": "m", "velocity": "m/s", "acceleration": "m/s2", "force": "N",
    "voltage": "V", "current": "A", "resistance": "ohm", "capacitance": "F", "angle": "rad",
    "receptance": "m/N", "mobility": "m/(N s)", "accelerance": "m/(s2 N)",
}  # fmt: skip
"""SI unit of each kind of quantity that records hold."""
_OTHER = {"S": ("S", 1.0), "mS": ("S", 1e-3), "uS": ("S", 1e-6), "g": ("m/s2", _G), "G": ("m/s2", _G),
          "mg": ("m/s2", 1e-3 * _G), "strain": ("strain", 1.0)}  # fmt: skip
_IN_BRACKETS = re.compile(r"[(\[{<]\s*([^)\]}>]{1,14}?)\s*[)\]}>]")
_PARTED = re.compile(r"[\s_/:]+")


@dataclass(frozen=True)
class FileUnit:
    """SI unit of what a file's unit measures, the factor to it, and the unit as written."""

    si: str
    factor: float
    text: str


def unit_of(text: str) -> FileUnit | None:
    """The unit that a text names alone ("mm", "[m/s^2]", "(ms)"); None for any other text."""
    bare = text.strip().strip("()[]{}<>\"' ")
    key = squeeze(bare).replace("μ", "u")
    if key in _OTHER:
        return FileUnit(*_OTHER[key], bare)
    known = UNITS.get(SPELLINGS.get(squeeze(bare), "")) if bare not in ("", "-", "'", '"') else None
    if known is None:
        return None
    if known.key == "ue":
        return FileUnit("strain", 1e-6, bare)
    si = _SI.get(known.dimension)
    return None if si is None else FileUnit(si, known.mul / known.div, bare)


def unit_in(name: str) -> FileUnit | None:
    """The unit that a column's name carries: "Channel A (mV)", "time_ms", "f/Hz"."""
    for inside in _IN_BRACKETS.findall(name):
        found = unit_of(inside)
        if found is not None:
            return found
    parts = _PARTED.split(name.strip())
    return unit_of(parts[-1]) if len(parts) > 1 else None
