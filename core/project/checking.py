"""The pieces problems are told with: Problem, numbers against ranges, unique names, a memo.

Messages name the thing, its value, the allowed range and the cure, in display units.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from operator import is_
from typing import Any, TypeVar

from core import units
from core.project.files import shortened
from core.project.ranges import Range
from core.project.record import Constant, Profile
from core.units.sentence import inside

LONGEST_MESSAGE = 300
"""From here on, names of a message are shortened: a file may hold any text as a name."""
_LONGEST_NAME = 60
_LONG_NAME = re.compile(r'"([^"]{61,})"|[^\s"]{61,}')


@dataclass(frozen=True)
class Problem:
    """Something that keeps a project from being predicted: where, and what to do about it. A caution
    keeps nothing from it and should not stay."""

    path: str
    message: str
    caution: bool = False

    def __post_init__(self) -> None:
        if len(self.message) > LONGEST_MESSAGE:
            object.__setattr__(self, "message", _LONG_NAME.sub(_cut, self.message))


def _cut(match: re.Match[str]) -> str:
    return (
        f'"{shortened(match[1], _LONGEST_NAME)}"'
        if match[1] is not None
        else shortened(match[0], _LONGEST_NAME)
    )


Found = list[Problem]


def tell(found: Found, path: str, message: str) -> None:
    """Add a problem."""
    found.append(Problem(path, message))


T = TypeVar("T")


def number(found: Found, path: str, what: str, value: float, allowed: Range, cure: str = "") -> bool:
    """Report a value outside its range or not finite; True if it is fine."""
    if math.isfinite(value) and allowed.holds(value):
        return True
    if math.isfinite(value):
        is_text = f"is {units.show_with_unit(value, allowed.unit)}"
    else:
        is_text = "is not a finite number"
    found.append(
        Problem(path, f"{what} {is_text}; it must be {allowed.words()}.{' ' + cure if cure else ''}")
    )
    return False


def constant(found: Found, path: str, what: str, value: Constant, allowed: Range) -> bool:
    """`number` for a constant and its tolerance and temperature coefficient."""
    fine = number(found, f"{path}.value", what, value.value, allowed, "Type the value of the data sheet.")
    if value.tolerance is not None:
        number(found, f"{path}.tolerance", f"Tolerance of {inside(what)}", value.tolerance, TOLERANCE)
    number(found, f"{path}.per_kelvin", f"Change per kelvin of {inside(what)}", value.per_kelvin, PER_KELVIN)
    return fine


TOLERANCE = Range("%", 0.0, 10.0)
PER_KELVIN = Range("%/K", -0.1, 0.1)


def check_profile(
    found: Found, stations_m: tuple[float, ...], path: str, what: str, profile: Profile, allowed: Range
) -> bool:
    """Report a profile of the wrong length or with values out of range; True if it is fine."""
    if not isinstance(profile, tuple):
        return number(found, path, what, profile, allowed)
    if len(profile) != len(stations_m):
        found.append(
            Problem(
                path,
                f"{what} has {len(profile)} values for {len(stations_m)} stations. "
                "Give one value per station, or a single one for all.",
            )
        )
        return False
    fine = True
    for i, value in enumerate(profile):
        fine &= number(found, f"{path}[{i}]", f"{what} at {mm(stations_m[i])}", value, allowed)
    return fine


def unique(found: Found, path: str, what: str, names: Iterable[str]) -> None:
    """Report names that are empty or occur twice."""
    seen: set[str] = set()
    for name in names:
        if not name.strip():
            found.append(Problem(path, f"A {what} has no name. Give it one."))
        elif name in seen:
            several = what + ("es" if what.endswith("ch") else "s")
            tell(found, path, f'Two {several} are called "{name}". Rename one.')
        seen.add(name)


def mm(value_m: float) -> str:
    """A length in millimetres with one decimal, more where it needs them: "312.0 mm"."""
    shown = units.show(value_m, "mm")
    if "e" in shown:
        return f"{shown} mm"
    decimals = min(max(1, len(shown.partition(".")[2])), 4)
    return units.show_with_unit(value_m, "mm", decimals)


REMEMBERED = 8
"""Calls, of each function."""


def by_identity(function: Callable[..., T]) -> Callable[..., T]:
    """Memo of the last few calls of a pure function, arguments compared by identity.

    While a patch is dragged the structure stays the same object, and comparing or hashing all of
    it would cost more than the check. The arguments are kept, so an identity cannot be reused.
    """
    kept: tuple[tuple[tuple[Any, ...], T], ...] = ()

    def remembered(*arguments: Any) -> T:
        nonlocal kept
        seen = kept  # a whole one, whatever another thread remembers meanwhile
        for place, (known, result) in enumerate(seen):
            if len(known) == len(arguments) and all(map(is_, known, arguments)):
                if place:  # what stays while another moves must not be pushed out by it
                    kept = (seen[place], *seen[:place], *seen[place + 1 :])
                return result
        result = function(*arguments)
        kept = ((arguments, result), *kept[: REMEMBERED - 1])
        return result

    remembered.__doc__ = function.__doc__
    remembered.__name__ = function.__name__
    return remembered
