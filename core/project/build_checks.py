"""Problems of what the circuits of a candidate are built from: sizes no part has, prices below nothing."""

from __future__ import annotations

from core.project.candidate import Candidate
from core.project.checking import Found, number
from core.project.fields import FIELDS

NUMBERS = ("largest_coil_h", "coil_time_s", "supply_v", "gain_bandwidth_hz")


def build_problems(found: Found, candidate: Candidate) -> None:
    """Everything wrong with a candidate's parts."""
    path, build = f"candidates[{candidate.id}].build", candidate.build
    for name in NUMBERS:
        field = FIELDS[f"build.{name}"]
        number(found, f"{path}.{name}", f"{field.label} of candidate {candidate.id}", getattr(build, name), field.range)
    for part, price in build.prices.items():
        number(found, f"{path}.prices.{part}", f"Price of {part}", price, FIELDS["build.prices"].range)
