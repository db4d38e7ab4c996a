"""What a map and a layout found say in words, and why there is none."""

from __future__ import annotations

import numpy as np

from core import units
from core.circuit.registry import CIRCUITS
from core.predict.electrics.electrode import use_remark
from core.predict.group_part import si_unit
from core.project.candidate import Candidate
from core.study.placement.map_values import AXES, OVER, value_text
from core.study.placement.maps import PlacementMap
from core.study.search.goals import Found
from core.units import words

NOT_PREDICTED = "This layout cannot be predicted yet. Mend what is marked in the inputs first."


def failed(what: str, error: Exception) -> str:
    """Why there is no study: an error already in words as it is."""
    return str(error) if isinstance(error, ValueError) else f"{what} could not be made: {error}"


def mm(value_m: float) -> str:
    return units.show_with_unit(value_m, "mm", significant=4)


def cell_text(found: PlacementMap, i: int, j: int) -> str:
    """A cell of the map: where it is, what it has, or why it is not allowed."""
    axis = AXES[found.request.axis]
    over = OVER[found.request.over]
    where = f"{over[:1].upper()}{over[1:]} {mm(found.across_m[i])}, {axis} {mm(found.size_m[j])}"
    reason = found.reason_at(i, j)
    if reason:
        return f"{where}: not allowed, {reason}."
    value = float(found.values[i, j])
    if np.isnan(value):
        return f"{where}: still being worked out."
    text = f"{where}: {found.label} {value_text(value, found.unit)}"
    best = found.best_value
    if best and found.best is not None and (i, j) != found.best:
        text += f", {words.share(value / best)} of the best"
    if found.request.quantity == "electrode use":
        text += f". {use_remark(value)}"
    return text if text.endswith(".") else f"{text}."


def band_text(found: PlacementMap) -> str:
    """The message of the map: the best, and how far start and size reach within 5 % of it."""
    if found.best is None:
        return "No placement on this map is allowed. Point at a cell to see why."
    i, j = found.best
    axis = AXES[found.request.axis]
    island = _island(found.band, found.best)
    over = OVER[found.request.over]
    starts, sizes = found.across_m[island.any(axis=1)], found.size_m[island.any(axis=0)]
    elsewhere = ", and elsewhere as hatched" if (found.band & ~island).any() else ""
    text = (
        f"Best {found.label}: {value_text(found.best_value, found.unit)} at {over} {mm(found.across_m[i])}, "
        f"{axis} {mm(found.size_m[j])}. The hatched band stays within 5 % of it: "
        f"{_reach(over, starts)}, {_reach(axis, sizes)}{elsewhere}."
    )
    if found.at_edge:
        text += f" The best lies at the edge of this map: {'; '.join(found.at_edge)}."
    if found.held:
        text += f" There {found.held}."
    return f"{text} {found.remark}".rstrip()


def _island(band: np.ndarray, start: tuple[int, int]) -> np.ndarray:
    """The connected part of the band around its best cell."""
    island = np.zeros_like(band)
    left = [start]
    while left:
        i, j = left.pop()
        if 0 <= i < band.shape[0] and 0 <= j < band.shape[1] and band[i, j] and not island[i, j]:
            island[i, j] = True
            left += [(i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)]
    return island


def _reach(name: str, values: np.ndarray) -> str:
    low, high = float(values[0]), float(values[-1])
    if low == high:
        return f"{name} {mm(low)}"
    return f"{name} {units.show(low, 'mm', significant=4)} to {mm(high)}"


def circuit_text(candidate: Candidate) -> str:
    """Circuits with their values: "resistor on mode 1: 90.5 kΩ"."""
    parts = []
    for group in candidate.groups:
        units_of = {p.name: si_unit(p) for p in CIRCUITS[group.circuit.kind].parameters}
        values = ", ".join(
            words.part(value, units_of[name]) for name, value in group.circuit.values.items() if name in units_of
        )
        mode = f" on mode {group.circuit.tuning.mode}" if group.circuit.tuning is not None else ""
        parts.append(f"{group.circuit.kind}{mode}" + (f": {values}" if values else ""))
    return "; ".join(dict.fromkeys(parts))


def place_text(candidate: Candidate) -> str:
    """Packages and places: "Type II ... on the top, 16 to 146 mm"."""
    out = []
    for patch in sorted(candidate.patches, key=lambda p: p.x_start_m):
        ends = f"{units.show(patch.x_start_m, 'mm', significant=4)} to {mm(patch.x_end_m)}"
        face = "both faces" if patch.face == "both" else f"the {patch.face}"
        out.append(f"{patch.package} on {face}, {ends}")
    return "; ".join(out)


def time_left(seconds: float) -> str:
    """ "about 4 s left"; nothing below a second."""
    return f", about {words.significant(seconds, 1)} s left" if seconds >= 1.0 else ""


def map_table(found: PlacementMap) -> list[list[str]]:
    """A map as lines of text: starts down, sizes across, both in mm."""
    factor = 100.0 if found.unit == "%" else 1.0
    corner = f"{found.label}, {found.unit}; {OVER[found.request.over]} down, {AXES[found.request.axis]} across, mm"
    head = [corner, *(f"{1e3 * size:.4g}" for size in found.size_m)]
    lines = [
        [f"{1e3 * x:.5g}", *("" if np.isnan(v) else f"{factor * v:.5g}" for v in row)]
        for x, row in zip(found.across_m, found.values, strict=True)
    ]
    return [head, *lines]


def found_table(found: tuple[Found, ...]) -> list[list[str]]:
    """Layouts found as lines of text."""
    head = ["layout", "score", "place", "circuit", "added mass, g", "static strain margin",
            "peak voltage, V", "held by"]  # fmt: skip
    return [head] + [
        [
            str(n),
            item.score_words,
            place_text(item.candidate),
            circuit_text(item.candidate),
            f"{1e3 * item.added_mass_kg:.3g}",
            f"{item.strain_margin:.3g}",
            f"{item.voltage_v:.3g}",
            "; ".join(item.binding),
        ]
        for n, item in enumerate(found, 1)
    ]
