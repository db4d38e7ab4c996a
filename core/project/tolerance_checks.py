"""Problems of the tolerances a person gave for inputs."""

from __future__ import annotations

from core import units
from core.project.checking import Found, Range, number, tell
from core.project.labels import field_of, label_of
from core.project.model import Tolerance

RELATIVE = Range("%", 0.0, 0.95)
PLACE = Range("mm", 0.0, 1.0)
EITHER_SIGN = ("d31_c_n", "x_start_m")
"""Endings of paths whose values may be negative or zero."""


def tolerance_problems(found: Found, tolerances: dict[str, Tolerance]) -> None:
    """Tolerances out of range, and ranges of unknown inputs that are empty or reach nothing."""
    for path, tolerance in tolerances.items():
        where, what = f"tolerances[{path}]", f"Tolerance of {label_of(path)}"
        allowed = PLACE if path.endswith("x_start_m") else RELATIVE
        number(found, f"{where}.plus_minus", what, tolerance.plus_minus, allowed, "Type a smaller one.")
        if tolerance.unknown is not None:
            _range(found, f"{where}.unknown", path, tolerance.unknown)


def _range(found: Found, where: str, path: str, unknown: tuple[float, float]) -> None:
    low, high = unknown
    either = path.endswith(EITHER_SIGN)
    field = field_of(path)
    unit = "" if field is None else field.unit
    allowed = Range(unit, -1e15, 1e15) if either else Range(unit, 0.0, 1e15, above=True)
    cure = "Type a range the value can be in."
    fine = number(found, where, f"Lower end of the range of {label_of(path)}", low, allowed, cure)
    fine &= number(found, where, f"Upper end of the range of {label_of(path)}", high, allowed, cure)
    if fine and not low < high:
        ends = (units.show_with_unit(end, unit or "1") for end in (high, low))
        told = ", before it starts at ".join(ends)
        tell(found, where, f"The range of {label_of(path)} ends at {told}. Swap the two.")
