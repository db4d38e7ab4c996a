"""A prediction as text for the terminal, in display units."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from core.predict.electrics.safety import DEFERS
from core.predict.loads.limit_words import margin_cell, value_words
from core.predict.loads.service_swing import peak_told
from core.predict.loop.text import loop_rows
from core.predict.mode_result import ModeResult, TorsionMode, names_told
from core.predict.prediction import Limit, Prediction, twists_among
from core.predict.report.torsion_text import torsion_line
from core.project.bonded import open_hz
from core.project.model import Project
from core.units import words
from core.units.sentence import inside

ROUNDING = 1e-9
"""A damping ratio this little below zero is rounding; further below, the pole grows."""


def prediction_text(project: Project, prediction: Prediction) -> str:
    """The prediction as lines: modes, poles, groups, limits, ring-down, remarks."""
    candidate = project.candidate(prediction.candidate)
    parts = [
        [f"{project.name}, candidate {candidate.called}"],
        [f"Before: {prediction.before_label}. Circuits and all modes solved together."],
        [*prediction.unstable, *([prediction.stop.cure] if prediction.stop else [])],
        ["", "Modes", *_table(_MODE_HEADS, list(_mode_rows(prediction)))],
        ["", "At service swing", *_service_lines(prediction)] if prediction.at_service else [],
        ["", "Poles", *_table(_POLE_HEADS, list(_pole_rows(prediction)))],
        ["", "Groups", *_group_lines(prediction)] if prediction.groups else [],
        ["", "Tuned masses", *_absorber_lines(prediction)] if prediction.absorbers else [],
        ["", *_response_lines(prediction)],
        ["", "Limits, worst first", *_table(_LIMIT_HEADS, [_limit_row(item) for item in prediction.limits])]
        if prediction.limits
        else [],
        ["", *_mass_lines(prediction)],
        ["", "Remarks", *(f"  {r.severity}: {r.text}" for r in prediction.remarks)]
        if prediction.remarks
        else [],
        ["", "Leans on assumed inputs", *("  " + line for line in prediction.assumed_inputs)]
        if prediction.assumed_inputs
        else [],
    ]
    return "\n".join(line for part in parts for line in part)


def _service_lines(prediction: Prediction) -> Iterator[str]:
    for one in prediction.at_service:
        yield f"  mode {one.mode}: damping {words.zeta_change(one.zeta_inherent, one.zeta)}, inherent and with the circuit; {peak_told(one)}"


_MODE_HEADS = (
    "mode",
    "f short Hz",
    "f open Hz",
    "K² %",
    "k_eff² %",
    "ceramic %",
    "package %",
    "inherent %",
    "before %",
    "damping %",
    "peak dB",
)


def _mode_rows(prediction: Prediction) -> Iterator[Sequence[str]]:
    twists = twists_among(prediction)
    names = names_told(prediction.modes, twists)
    rows = []
    for mode, name in zip(prediction.modes, names, strict=True):
        number, *cells = _mode_row(mode)
        rows.append((mode.f_short_hz, (f"{number} {name}".rstrip(), *cells)))
    for twist in twists:
        hertz = words.unitless(words.frequency(twist.f_hz))
        rows.append((twist.f_hz, (twist.name, hertz, *_twist_cells(twist, hertz))))
    yield from (row for _, row in sorted(rows, key=lambda row: row[0]))


def _twist_cells(twist: TorsionMode, hertz: str) -> Sequence[str]:
    """From the open frequency on; what patches do not reach has none of the rest."""
    rest = len(_MODE_HEADS) - 3
    if twist.k2 is None or twist.zeta is None or not twist.is_reached:
        return hertz, *(words.NO_VALUE,) * rest
    opened = words.unitless(words.frequency(open_hz(twist.f_hz, twist.k2)))
    told = {"K² %": words.unitless(words.coupling(twist.k2)), "damping %": words.unitless(words.damping(twist.zeta))}
    return opened, *(told.get(head, words.NO_VALUE) for head in _MODE_HEADS[3:])


def _mode_row(m: ModeResult) -> Sequence[str]:
    peak = "no peak" if m.peak_change_db is None else words.decibel(m.peak_change_db)
    cells = (
        words.frequency(m.f_short_hz),
        words.frequency(m.f_open_hz),
        words.coupling(m.k2),
        words.coupling(m.k_eff2),
        words.energy_share(m.ceramic_share),
        words.energy_share(m.package_share),
        words.damping(m.zeta_inherent),
        words.damping(m.zeta_before),
    )
    damping = words.damping(m.zeta)
    return (
        str(m.number),
        *(words.unitless(cell) for cell in cells),
        damping if damping == words.UNSTABLE else words.unitless(damping),
        peak if m.peak_change_db is None else words.unitless(peak),
    )


_POLE_HEADS = ("mode", "Hz", "damping %", "mechanical %", "real 1/s", "imaginary rad/s")


def _pole_rows(prediction: Prediction) -> Iterator[Sequence[str]]:
    for m in prediction.modes:
        for p in m.poles:
            yield (
                str(m.number),
                words.unitless(words.frequency(p.frequency_hz)),
                words.unitless(words.damping(max(p.damping_ratio, 0.0)))
                if p.damping_ratio >= -ROUNDING and not prediction.unstable
                else words.UNSTABLE,
                words.unitless(words.energy_share(p.mechanical_share)),
                words.significant(p.value_rad_s.real, 5),
                words.significant(p.value_rad_s.imag, 6),
            )


def _group_lines(prediction: Prediction) -> Iterator[str]:
    for g in prediction.groups:
        values = ", ".join(f"{inside(v.label)} {v.told}" for v in g.values)
        yield f"  {g.id}: {g.circuit_label}" + (f", {values}" if values else "")
        yield (
            f"      capacitance blocked {words.capacitance(g.blocked_capacitance_f)}, "
            f"free {words.capacitance(g.free_capacitance_f)}; under the load {g.under_load}"
        )
        yield f"      static at the tip: {g.per_volt}"
        yield from (f"      {text}" for text in g.remarks)
    loop = prediction.solved.loop
    if loop is not None and prediction.solved.candidate.loop_is_closed:
        yield from (f"  Loop, {inside(label)}: {told}" if label else f"      {told}" for label, told in loop_rows(loop))
    yield from (f"  {text}" for one in prediction.driven for text in one.cautions)
    if prediction.leads:
        largest = prediction.leads.largest
        yield f"  Leads give up to {prediction.leads.up_to} ({largest.where}: {largest.cause}). {prediction.leads.touch}"
    for g in prediction.groups:
        yield f"      {g.id} open: {g.safety.stored}. {g.safety.bleed.sentence}"
    if prediction.groups:
        yield f"  {DEFERS}"


def _absorber_lines(prediction: Prediction) -> Iterator[str]:
    for a in prediction.absorbers:
        yield f"  {a.id}: {a.values_told}"
        yield f"      under the load {a.under_load}"
        yield from (f"      {text}" for text in a.remarks)


def _response_lines(prediction: Prediction) -> Iterator[str]:
    r, ring = prediction.response, prediction.ring_down
    yield f"Response: {r.label}, {r.unit}"
    if math.isinf(r.peak_after):
        yield f"  highest {words.level(r.peak_before, r.unit)} before, without bound after"
    elif math.isnan(r.mean_square_change_db):
        yield f"  highest {words.level(r.peak_after, r.unit)} with the circuits"
    else:
        yield (
            f"  highest {words.change(words.level(r.peak_before, r.unit), words.level(r.peak_after, r.unit))}; "
            f"mean square {words.decibel(r.mean_square_change_db)}"
        )
    yield (
        f"Ring-down: settles to {words.share(ring.settle_to)} in "
        f"{words.change(words.seconds(ring.settle_before_s), words.seconds(ring.settle_after_s))}; half-life "
        f"{words.change(words.seconds(ring.half_life_before_s), words.seconds(ring.half_life_after_s))}"
    )


_LIMIT_HEADS = ("patch", "check", "value", "margin", "at mm", "load", "reached at", "source")


def _limit_row(item: Limit) -> Sequence[str]:
    return (
        item.patch or "",
        item.name,
        value_words(item),
        margin_cell(item),
        "" if item.x_m is None else words.unitless(words.millimetres(item.x_m)),
        item.load,
        item.load_at_limit,
        item.source,
    )


def added_by(prediction: Prediction) -> str:
    """What the added mass is that of."""
    both = [("patches", prediction.plates), ("tuned masses", prediction.absorbers)]
    return " and ".join(name for name, there in both if there) or "patches"


def _mass_lines(prediction: Prediction) -> Iterator[str]:
    total, added = words.mass(prediction.total_mass_kg), words.mass(prediction.added_mass_kg)
    yield f"Mass: {total}, of which {added_by(prediction)} {added}"
    if prediction.torsion:
        yield f"Torsion: {torsion_line(prediction.torsion)}"
    elif prediction.torsion_hz:
        yield f"Torsion, bare: {words.torsion(prediction.torsion_hz)}"
    if prediction.tip_stiffness_n_m is not None:
        yield f"Tip stiffness, bare: {words.stiffness(prediction.tip_stiffness_n_m)}"


def _table(heads: Sequence[str], rows: list[Sequence[str]]) -> Iterator[str]:
    """Columns as wide as they need; numbers to the right, words to the left, the last unpadded."""
    widths = [max(len(h), *(len(row[i]) for row in rows)) if rows else len(h) for i, h in enumerate(heads)]
    left = [any(row[i][:1].isalpha() for row in rows) for i in range(len(heads))]
    for row in (heads, *rows):
        cells = [
            c.ljust(w) if on_left else c.rjust(w) for c, w, on_left in zip(row, widths, left, strict=True)
        ]
        yield ("  " + "  ".join(cells)).rstrip()
