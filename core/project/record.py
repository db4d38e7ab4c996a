"""What all saved values share: immutable, in SI, a unit in every field name whose type does not tell it.

`x` runs along the span from the support at x = 0 to the tip, `z` is up from the underside, `y` is across,
measured from the centreline, positive to the left when looking from the root to the tip.
"""

from __future__ import annotations

from typing import Literal

import msgspec

Status = Literal["measured", "data sheet", "assumed"]
Face = Literal["top", "underside", "both"]
Profile = float | tuple[float, ...]
"""A single value for the whole span, or one value per station (linear in between)."""


class Record(msgspec.Struct, frozen=True, forbid_unknown_fields=True, cache_hash=True):
    """Base of all saved values: immutable, compared by value, unknown fields refused."""


class Constant(Record, frozen=True):
    """A material constant with its standing.

    `tolerance` and `per_kelvin` are relative (0.2 means +/- 20 %; 0.003 means +0.3 %/K,
    about the reference temperature of the material it belongs to).
    """

    value: float
    tolerance: float | None = None
    per_kelvin: float = 0.0
    status: Status = "assumed"
    source: str = ""
