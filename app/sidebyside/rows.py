"""The comparison as rows of text and numbers; the page, the clipboard and the CSV all use these.

No row adds the others up: there is no overall score.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite
from typing import TYPE_CHECKING, Literal

from core.handover.text.parts_page import parts_told
from core.predict.asked import Answer, Verdict
from core.predict.asked_text import reached_text, short_text, state_text, wanted_text
from core.predict.electrics.failure import BEHAVIOUR, Failure
from core.predict.electrics.supply import supply_of
from core.predict.loads.limit_words import margin_words, value_words
from core.predict.prediction import Limit, Prediction
from core.project.service import Asked
from core.units import words

if TYPE_CHECKING:
    from core.study.temperature.temperature import TemperatureStudy

SAME = "same"

Direction = Literal["high", "low", "none"]
Format = Callable[[float], str]


@dataclass(frozen=True)
class Cell:
    """A candidate's value in a row; `difference` is against the reference, in words."""

    text: str
    value: float | None = None
    difference: str = ""
    best: bool = False


@dataclass(frozen=True)
class Row:
    """One compared quantity; `mode` colours a damping bar, `before` is its grey part."""

    label: str
    note: str
    cells: tuple[Cell, ...]
    mode: int | None = None
    before: float = 0.0


def comparison_rows(predictions: Sequence[Prediction | None], reference: int) -> list[Row]:
    """Rows over the candidates in order; None stands for a candidate that cannot be predicted."""
    first = next((p for p in predictions if p is not None), None)
    if first is None:
        return []
    of_modes = _mode_rows(predictions, reference, len(first.modes))
    damping = [row for row in of_modes if row.mode is not None]
    # what may break stands before what is nice to know
    rows = [*damping, *_limit_rows(predictions, reference), *(row for row in of_modes if row.mode is None)]
    rows += _decay_rows(predictions, reference)
    rows += _electrical_rows(predictions, reference)
    return rows


def _row(
    label: str,
    note: str,
    values: Sequence[float | None],
    show: Format,
    reference: int,
    *,
    direction: Direction = "none",
    relative: bool = False,
    **extra: object,
) -> Row:
    base = values[reference]
    best = _best(values, show, direction)
    cells = []
    for place, value in enumerate(values):
        if value is None:
            cells.append(Cell(words.NO_VALUE))
            continue
        difference = "" if place == reference else _difference(value, base, show, relative)
        cells.append(Cell(show(value), value, difference, place in best))
    return Row(label, note, tuple(cells), **extra)  # type: ignore[arg-type]


def _best(values: Sequence[float | None], show: Format, direction: Direction) -> set[int]:
    """Places of the best value; empty when all read alike or there is no better or worse."""
    known = {place: v for place, v in enumerate(values) if v is not None and isfinite(v)}
    if direction == "none" or len(known) < 2:
        return set()
    wanted = max(known.values()) if direction == "high" else min(known.values())
    best = {place for place, v in known.items() if show(v) == show(wanted)}
    return best if len(best) < len(known) else set()


def _difference(value: float, base: float | None, show: Format, relative: bool) -> str:
    if base is None or not (isfinite(value) and isfinite(base)):
        return ""
    if show(value) == show(base):
        return SAME
    if not relative:
        return _signed(value - base, show)
    if base == 0.0:
        return ""
    return words.shift(value / base - 1.0)


def _signed(step: float, show: Format) -> str:
    """A difference with its sign; of two percentages it is told in points, with a third decimal if small."""
    if show is words.damping:
        points = 100.0 * step
        return f"{words.signed(points, 2 if abs(points) >= 0.0095 else 3)} points"
    text = show(step)
    return text if text.startswith(("+", words.MINUS)) else f"+{text}"


def _mode_rows(predictions: Sequence[Prediction | None], reference: int, n_modes: int) -> list[Row]:
    rows = []
    before = _before(predictions)
    for index in range(n_modes):
        modes = [p.modes[index] if p and index < len(p.modes) else None for p in predictions]
        known = [m for m in modes if m is not None]
        rows.append(
            _row(
                f"Damping, mode {index + 1}",
                f"{before} {words.damping(known[0].zeta_before)}",
                [m.zeta if m else None for m in modes],
                words.damping,
                reference,
                direction="high",
                mode=index + 1,
                before=known[0].zeta_before,
            )
        )
    for index in range(n_modes):
        modes = [p.modes[index] if p and index < len(p.modes) else None for p in predictions]
        changes = [m.peak_change_db if m else None for m in modes]
        rows.append(_peak_row(f"Peak, mode {index + 1}", f"against {before}", changes, reference))
    for index in range(n_modes):
        frequencies = [p.modes[index].f_short_hz if p and index < len(p.modes) else None for p in predictions]
        label = f"Frequency, mode {index + 1}"
        rows.append(_row(label, "shorted", frequencies, words.frequency, reference, relative=True))
    return rows


def _before(predictions: Sequence[Prediction | None]) -> str:
    """What the candidates are compared with: where some hold tuned masses, without these."""
    return max((p.before_label for p in predictions if p is not None), key=len)


def _peak_row(label: str, about: str, changes: Sequence[float | None], reference: int) -> Row:
    """Differences of two changes are told in dB only: per cents of different things do not subtract."""
    row = _row(label, about, changes, words.decibel, reference, direction="low")
    cells = tuple(replace(cell, text=words.decibel_and_percent(cell.value)) for cell in row.cells)
    return replace(row, cells=cells)


def _decay_rows(predictions: Sequence[Prediction | None], reference: int) -> list[Row]:
    first = next(p for p in predictions if p is not None)
    ring = first.ring_down
    return [
        _row(
            f"Settles to {words.share(ring.settle_to)}",
            f"{_before(predictions)} {words.seconds(ring.settle_before_s)}",
            [p.ring_down.settle_after_s if p else None for p in predictions],
            words.seconds,
            reference,
            direction="low",
            relative=True,
        ),
        _row(
            "Half-life",
            f"{_before(predictions)} {words.seconds(ring.half_life_before_s)}",
            [p.ring_down.half_life_after_s if p else None for p in predictions],
            words.seconds,
            reference,
            direction="low",
            relative=True,
        ),
        _row(
            "Mean square in the load's band",
            f"against {_before(predictions)}",
            [p.response.mean_square_change_db if p else None for p in predictions],
            words.decibel,
            reference,
            direction="low",
        ),
    ]


def _limit_rows(predictions: Sequence[Prediction | None], reference: int) -> list[Row]:
    """One row a kind of limit, the one nearest to its allowable in any candidate first: the worst of it in each
    candidate, as value of allowable with the margin."""
    least: dict[str, float] = {}
    for limit in (limit for p in predictions if p for limit in p.limits):
        least[limit.name] = min(least.get(limit.name, inf), limit.margin)
    names = sorted(least, key=lambda name: least[name])
    rows = []
    for name in names:
        worst = [_worst(p.limits, name) if p else None for p in predictions]
        values = [limit.value if limit else None for limit in worst]
        row = _row(name, "value of allowable", values, words.significant, reference, relative=True)
        sizes = [None if v is None else abs(v) for v in values]
        best = _best(sizes, words.significant, "low")
        cells = tuple(
            Cell(_limit_text(limit), cell.value, cell.difference, place in best)
            for place, (limit, cell) in enumerate(zip(worst, row.cells, strict=True))
        )
        rows.append(Row(name, "value of allowable, margin", cells))
    return rows


def _worst(limits: Sequence[Limit], name: str) -> Limit | None:
    return min((limit for limit in limits if limit.name == name), key=lambda x: x.margin, default=None)


def _limit_text(limit: Limit | None) -> str:
    if limit is None:
        return words.NO_VALUE
    text = f"{value_words(limit)}\n{margin_words(limit)}"
    return f"✕ {text}" if limit.margin < 1.0 else text


def asked_rows(answers: Sequence[Answer | None]) -> list[Row]:
    """What is asked for, met or missed and by how much; nothing where nothing is asked."""
    first = next((a for a in answers if a is not None), None)
    if first is None:
        return []
    rows = []
    for index, verdict in enumerate(first.verdicts):
        what = "ring-down" if verdict.mode is None else f"mode {verdict.mode}"
        wanted = wanted_text(first.asked, verdict.mode or 1)
        note = f"{wanted} at {words.celsius(first.temperature_c)}"
        cells = []
        for answer in answers:
            told = answer.verdicts[index] if answer is not None and index < len(answer.verdicts) else None
            cells.append(Cell(words.NO_VALUE) if told is None else Cell(_asked_text(first.asked, told), told.reached))
        rows.append(Row(f"Asked for, {what}", note, tuple(cells)))
    return rows


def _asked_text(asked: Asked, verdict: Verdict) -> str:
    sign = {True: "✓", False: "✕", None: "–"}[verdict.met]
    reached = "" if verdict.reached is None else f"{reached_text(asked, verdict)}, "
    return f"{sign} {reached}{state_text(verdict.met)}\n{short_text(asked, verdict)}"


def _electrical_rows(predictions: Sequence[Prediction | None], reference: int) -> list[Row]:
    voltages = [max((g.voltage_peak_v for g in p.groups), default=None) if p else None for p in predictions]
    masses = [p.added_mass_kg if p else None for p in predictions]
    hung = any(p is not None and p.absorbers for p in predictions)
    of_what = "patches with bond, tuned masses" if hung else "patches with bond"
    return [
        _row("Patch voltage", "largest under the load", voltages, words.voltage, reference, relative=True),
        _row("Added mass", of_what, masses, words.mass, reference, direction="low", relative=True),
        *(_absorber_rows(predictions, reference) if hung else ()),
        Row("Circuit", "values in effect", tuple(Cell(_circuits(p)) for p in predictions)),
        *_supply_rows(predictions, reference),
        Row("Capacitance", "free · blocked", tuple(Cell(_capacitances(p)) for p in predictions)),
    ]


def _supply_rows(predictions: Sequence[Prediction | None], reference: int) -> list[Row]:
    """What passive, switched and active candidates need."""
    supplies = [supply_of(p.solved) if p else None for p in predictions]
    taken = [supply.power_w if supply else None for supply in supplies]
    return [
        Row("Supply", "what needs one", tuple(Cell(supply.told if supply else words.NO_VALUE) for supply in supplies)),
        _row("Power from the supply", "at most under the load", taken, words.power, reference, direction="low", relative=True),
        Row("Parts", "number, price", tuple(Cell(parts_told(p) if p else words.NO_VALUE) for p in predictions)),
    ]


def failure_rows(tables: Sequence[tuple[Failure, ...] | None]) -> list[Row]:
    """What is left when something of a candidate fails; none while the tables are still to come."""
    first = next((rows for rows in tables if rows), None)
    if first is None:
        return []
    note = f"damping of mode {first[0].mode} left, verdict"
    return [
        Row(one.label, note, tuple(Cell(words.NO_VALUE if rows is None else one.told(rows).replace(", ", "\n", 1)) for rows in tables))
        for one in BEHAVIOUR
    ]


def _absorber_rows(predictions: Sequence[Prediction | None], reference: int) -> list[Row]:
    strokes = [max((a.stroke_m for a in p.absorbers), default=None) if p else None for p in predictions]
    told = ["\n".join(a.briefly for a in p.absorbers) if p and p.absorbers else words.NO_VALUE for p in predictions]
    return [
        _row("Stroke of a tuned mass", "largest under the load", strokes, _metres, reference, relative=True),
        Row("Tuned mass", "mass, frequency, damping ratio", tuple(map(Cell, told))),
    ]


def _metres(value: float) -> str:
    return words.engineering(value, "m")


def _circuits(p: Prediction | None) -> str:
    if p is None:
        return words.NO_VALUE
    texts = []
    for group in p.groups:
        values = ", ".join(words.part(part.value, part.unit) for part in group.values)
        texts.append(f"{group.circuit_label}: {values}" if values else group.circuit_label)
    return "\n".join(texts) or "nothing connected"


def _capacitances(p: Prediction | None) -> str:
    if p is None:
        return words.NO_VALUE
    return "\n".join(
        f"{words.capacitance(g.free_capacitance_f)} · {words.capacitance(g.blocked_capacitance_f)}"
        for g in p.groups
    )


def cold_rows(studies: Sequence[TemperatureStudy | None], reference: int) -> list[Row]:
    """Damping at the cold end, the circuits as tuned at the reference temperature; none while the
    studies are still to come."""
    first = next((study for study in studies if study is not None), None)
    if first is None:
        return []
    celsius = words.celsius(first.points[0].temperature_c)
    rows = []
    for index in range(len(first.points[0].modes)):
        values = [s.points[0].modes[index].zeta if s is not None else None for s in studies]
        label, note = f"Damping when cold, mode {index + 1}", f"at {celsius}, circuit held"
        rows.append(_row(label, note, values, words.damping, reference, direction="high"))
    return rows


def as_table(letters: Sequence[tuple[str, str]], reference: str, rows: Sequence[Row]) -> list[list[str]]:
    """The rows with headings, differences in columns of their own, for clipboard and CSV."""
    head = ["Quantity", "Note"]
    for letter, name in letters:
        head.append(f"{letter} {name}")
        if letter != reference:
            head.append(f"{letter} against {reference}")
    table = [head]
    for row in rows:
        line = [row.label, row.note]
        for (letter, _), cell in zip(letters, row.cells, strict=True):
            line.append(cell.text)
            if letter != reference:
                line.append(cell.difference)
        table.append(line)
    return table
