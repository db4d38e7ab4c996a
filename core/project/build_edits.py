"""What a candidate's circuits are built from, changed; pure, old project in, new out."""

from __future__ import annotations

from msgspec.structs import replace

from core.project import edit
from core.project.model import Project


def with_price(project: Project, candidate_id: str, part: str, price: float | None) -> Project:
    """The candidate with the price of one part of its list, by the key of its line; None forgets it."""
    candidate = project.candidate(candidate_id)
    prices = {name: each for name, each in candidate.build.prices.items() if name != part}
    if price is not None:
        prices[part] = price
    return edit.with_candidate(project, replace(candidate, build=replace(candidate.build, prices=prices)))
