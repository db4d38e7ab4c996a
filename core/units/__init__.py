"""Display units at the edges: text with a unit in, SI inside, number text out."""

from __future__ import annotations

from core.units.quantity import (
    QuantityError,
    parse,
    show,
    show_scaled,
    show_with_unit,
    si_of,
    symbol,
    to_display,
    to_si,
)

__all__ = ["QuantityError", "parse", "show", "show_scaled", "show_with_unit", "si_of", "symbol", "to_display", "to_si"]
