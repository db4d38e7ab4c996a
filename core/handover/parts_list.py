"""The parts list of a candidate: what to buy for its circuits, how many, to which tolerance and rating, at what price.

A rating is the next usual one above what the worst load of the service asks: voltage with half as much again, heat at twice
the mean, and of a peak that passes at what short-time overload allows (2.5 times the rated voltage, so 6.25 times the rated
heat: IEC 60115-1, from memory). A price is what a person typed (`Build.prices`, by the part's key), each.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite, pi

from core.circuit.realise import Component
from core.circuit.registry import CIRCUITS
from core.circuit.switched import INVERSION, inductor_h, quality_of
from core.predict.electrics.board import NOT_BOUGHT, QUIESCENT_A, ComponentLoad
from core.predict.prediction import Prediction
from core.project.candidate import Build, Candidate, Group
from core.units import words

VOLTAGE_RATINGS_V = (25.0, 50.0, 100.0, 200.0, 250.0, 400.0, 630.0, 1000.0, 1600.0, 2500.0)
POWER_RATINGS_W = (0.125, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 25.0, 50.0)
VOLTAGE_RESERVE, MEAN_RESERVE, OVERLOAD_HEAT = 1.5, 2.0, 6.25
UNITS = {"resistor": "ohm", "capacitor": "F", "coil": "H", "amplifier": "Hz"}


@dataclass(frozen=True)
class PartLine:
    """A line of the list: `key` under which its price is kept, the places of the parts ("LR1, LR2"), how many, what, its
    value in SI with unit, tolerance (relative; None for none), rating, what the worst load asks of it, the price each and of
    all (None where nobody typed one), and whether no usual rating holds."""

    key: str
    group: str
    places: str
    quantity: int
    what: str
    value: float | None
    unit: str
    tolerance: float | None
    rating: str
    asked: str
    cause: str
    price: float | None
    beyond: bool = False

    @property
    def total(self) -> float | None:
        return None if self.price is None else self.price * self.quantity

    @property
    def value_told(self) -> str:
        return "" if self.value is None else words.part(self.value, self.unit)


@dataclass(frozen=True)
class PartsList:
    """The lines of a list, with their count and their sum."""

    lines: tuple[PartLine, ...]

    @property
    def count(self) -> int:
        return sum(line.quantity for line in self.lines)

    @property
    def total(self) -> float | None:
        """Of the lines with a price; None where none has one."""
        priced = [line.total for line in self.lines if line.total is not None]
        return sum(priced) if priced else None

    @property
    def without_price(self) -> int:
        return sum(line.price is None for line in self.lines)

    @property
    def told(self) -> str:
        """In a few words: "10 parts, 12.50, 3 without a price"."""
        parts = [f"{self.count} parts"]
        if self.total is not None:
            parts.append(words.money(self.total))
            if self.without_price:
                parts.append(f"{self.without_price} without a price")
        return ", ".join(parts)


def parts_list(prediction: Prediction) -> PartsList:
    """What a candidate's circuits are built from, line by line; empty where no circuit has a part."""
    solved = prediction.solved
    candidate, board = solved.candidate, solved.board
    lines: list[PartLine] = []
    for group in candidate.groups:
        own = [one for one in board.loads if one.group == group.id and _is_bought(one.component)]
        switched = list(_switched(prediction, group))
        lines += [*_gathered(group.id, own, candidate.build), *switched]
        if own or switched or group.id in _looped(candidate):
            lines.append(_plain_line(f"{group.id} J", group.id, "J", "connector, 2 way, locking, shorts when parted", candidate))
    if board.simulated:
        count = sum(one.amplifiers for one in board.simulated)
        supply, current = candidate.build.supply_v, QUIESCENT_A * count
        what = f"supply, {words.plain(supply)} V each way, {words.engineering(current, 'A')} at rest"
        lines.append(_plain_line("V", "", "V", what, candidate))
    lines += _of_loop(candidate)
    return PartsList(tuple(lines))


def _switched(prediction: Prediction, group: Group) -> Iterator[PartLine]:
    """What makes a switched circuit: two transistors back to back, the coil where it has one, what finds the extremes."""
    result = next(one for one in prediction.groups if one.id == group.id)
    if not CIRCUITS[group.circuit.kind].worked_out:
        return
    values = {one.name: one.value for one in result.values}
    served = prediction.solved.serves[prediction.groups.index(result)]
    frequency = prediction.modes[min(served, len(prediction.modes) - 1)].f_short_hz
    leads = prediction.leads.of(f"group {group.id}") if prediction.leads is not None else None
    worst = None if leads is None else leads.with_circuit
    volts, cause = (0.0, "") if worst is None else (worst.volts, worst.cause)
    rating, beyond = _next(volts * VOLTAGE_RESERVE, VOLTAGE_RATINGS_V, "V")
    held = (rating, words.voltage(volts) if isfinite(volts) else "without bound", cause)
    prices = prediction.solved.candidate.build.prices

    def line(place: str, count: int, what: str, size: tuple[float | None, str, float | None], load: tuple[str, str, str]) -> PartLine:
        key = f"{group.id} {place}"
        return PartLine(key, group.id, place, count, what, *size, *load, prices.get(key), beyond and load is held)

    yield line("S", 2, "transistor, field-effect, the two back to back as the switch", (None, "", None), held)
    inversion = values.get(INVERSION.name, 0.0)
    if inversion > 0.0:
        quality = words.significant(quality_of(inversion), 2)
        henry = inductor_h(2.0 * pi * frequency, result.free_capacitance_f)
        yield line("L", 1, f"coil, wound, this or less, quality {quality} or more ringing with the patches", (henry, "H", None), held)
    told = f"detector of extremes and driver of the switch, mode {served + 1} at {words.frequency(frequency)}, with its supply"
    yield line("D", 1, told, (None, "", None), ("", "", ""))


def _looped(candidate: Candidate) -> tuple[str, ...]:
    """Groups that a closed loop listens to and drives."""
    ends = candidate.loop_ends if candidate.loop_is_closed else None
    return () if ends is None else tuple(candidate.groups[g].id for g in ends)


def _of_loop(candidate: Candidate) -> Iterator[PartLine]:
    """What a closed loop is made of."""
    groups, loop = _looped(candidate), candidate.loop
    if groups:
        sensing, driven = groups
        amplifier = f"amplifier, ±{words.engineering(loop.amplifier_v, 'V')}, {words.engineering(loop.amplifier_a, 'A')}, {words.engineering(loop.bandwidth_hz, 'Hz')}"
        processor = f"signal processor, {words.engineering(loop.sampling_hz, 'Hz')}, one input, one output"
        yield _plain_line(f"{driven} A", driven, "A", amplifier, candidate)
        yield _plain_line(f"{sensing} L", sensing, "L", processor, candidate)


def _is_bought(part: Component) -> bool:
    return part.bought and part.name not in NOT_BOUGHT and not (part.what == "resistor" and part.value == 0.0)


def _plain_line(key: str, group: str, place: str, what: str, candidate: Candidate) -> PartLine:
    return PartLine(key, group, place, 1, what, None, "", None, "", "", "", candidate.build.prices.get(key))


def _gathered(group: str, loads: list[ComponentLoad], build: Build) -> Iterator[PartLine]:
    """Parts that are bought as one article on one line."""
    found: dict[tuple[object, ...], list[ComponentLoad]] = {}
    for one in loads:
        rating, _ = _rating(one, build)
        part = one.component
        found.setdefault((part.what, part.value, part.tolerance, rating), []).append(one)
    for same in found.values():
        part = same[0].component
        worst = max(same, key=lambda one: one.volts)
        rating, beyond = _rating(worst, build)
        key = f"{group} {part.name}"
        yield PartLine(
            key, group, ", ".join(one.component.name for one in same), len(same), _what(part), part.value,
            UNITS[part.what], None if part.what == "amplifier" else part.tolerance, rating, _asked(worst), worst.volts_cause,
            build.prices.get(key), beyond,
        )  # fmt: skip


def _what(part: Component) -> str:
    return {
        "resistor": "resistor, metal film", "capacitor": "capacitor, film or C0G", "coil": "coil, wound",
        "amplifier": "operational amplifier, field-effect inputs",
    }[part.what]  # fmt: skip


def _rating(one: ComponentLoad, build: Build) -> tuple[str, bool]:
    """In words, and whether no usual rating reaches so far."""
    part = one.component
    if part.what == "amplifier":
        swing = build.supply_v
        return f"± {words.plain(swing)} V", one.volts > swing
    volts, over = _next(one.volts * VOLTAGE_RESERVE, VOLTAGE_RATINGS_V, "V")
    if part.what != "resistor":
        return volts, over
    need = one.watts / OVERLOAD_HEAT if one.watts_are_peak else one.watts * MEAN_RESERVE
    watts, hot = _next(need, POWER_RATINGS_W, "W")
    return f"{watts}, {volts}", over or hot


def _next(need: float, ratings: tuple[float, ...], unit: str) -> tuple[str, bool]:
    for rating in ratings:
        if rating >= need:
            return f"{words.plain(rating)} {unit}", False
    if not isfinite(need):
        return f"no {unit} is enough", True
    return f"above {words.engineering(need, unit)}", True


def _asked(one: ComponentLoad) -> str:
    """What the worst load asks: volts, watts of a resistor, and the energy that passes once or is stored."""
    if not isfinite(one.volts):
        return "without bound"
    told = words.voltage(one.volts)
    if one.component.what == "resistor":
        told += f", {words.power(one.watts)}{' peak' if one.watts_are_peak else ''}"
    if one.joules > 0.0 and (one.watts_are_peak or one.component.what == "capacitor"):
        told += f", {words.engineering(one.joules, 'J')}"
    return told


HEADS = ("quantity", "part", "what", "value", "unit", "tolerance", "rating", "at the worst load", "load", "price each", "price")


def parts_csv(prediction: Prediction) -> str:
    """The list as comma-separated values, numbers in SI with a point, the total last."""
    listed = parts_list(prediction)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEADS)
    for line in listed.lines:
        writer.writerow((
            line.quantity, f"{line.group} {line.places}".strip(), line.what, "" if line.value is None else line.value, line.unit,
            "" if line.tolerance is None else line.tolerance, line.rating, line.asked, line.cause,
            "" if line.price is None else line.price, "" if line.total is None else line.total,
        ))  # fmt: skip
    writer.writerow((listed.count, "total", *[""] * 8, "" if listed.total is None else listed.total))
    return text.getvalue()
