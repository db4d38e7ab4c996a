"""A prediction as rows of facts: limits, groups and circuits, masses; and as one copyable table."""

from __future__ import annotations

from math import isfinite

from app.results import words
from app.results.row_list import Level, Row
from core.predict.prediction import GroupResult, Limit, Prediction, Remark, RingDown

_LEVELS: dict[str, Level] = {"note": "plain", "caution": "caution", "error": "danger"}


def limit_rows(limits: tuple[Limit, ...]) -> tuple[Row, ...]:
    """Worst first, as the prediction orders them; below 1 is beyond the limit, below 1.5 is tight."""
    return tuple(_limit_row(limit) for limit in limits)


def _limit_row(limit: Limit) -> Row:
    level: Level = "danger" if limit.margin < 1.0 else "caution" if limit.margin < 1.5 else "plain"
    value = words.value_of(limit.value, limit.allowable, limit.unit)
    note = words.times(limit.margin)
    if limit.margin < 1.0:
        note = f"beyond: {note}"
    place = "" if limit.x_m is None else f"at {words.millimetres(limit.x_m)}"
    reached = f"reached at {limit.load_at_limit}" if limit.load_at_limit and isfinite(limit.margin) else ""
    where = " ".join(part for part in (limit.patch or "", place) if part)
    second = " · ".join(part for part in (where, limit.load, reached) if part)
    tip = f"{limit.name}: {value}\n{second}\nAllowable from: {limit.source or 'no source given'}"
    return Row(limit.name, value, note, second, tip, level)


def group_rows(groups: tuple[GroupResult, ...]) -> tuple[Row, ...]:
    """Each group's capacitance and circuit values in effect."""
    rows: list[Row] = []
    for group in groups:
        free, blocked = (
            words.engineering(c, "F") for c in (group.free_capacitance_f, group.blocked_capacitance_f)
        )
        rows.append(
            Row(
                f"Group {group.id}",
                group.circuit_label,
                "",
                f"free {free} · blocked {blocked}",
                _capacitance_tip(group),
            )
        )
        rows.extend(
            Row(part.label, words.engineering(part.value, part.unit, 4)) for part in group.values
        )
        load = f"{words.engineering(group.voltage_peak_v, 'V')} peak"
        power = f"{words.engineering(group.power_w, 'W')} mean"
        rows.append(Row("Voltage, power", f"{load}, {power}", "", "", "Under the active load, at its worst."))
    return tuple(rows)


def _capacitance_tip(group: GroupResult) -> str:
    """The capacitance each mode sees: the one a circuit for that mode must be tuned with."""
    seen = (f"mode {n} sees {words.engineering(c, 'F', 4)}" for n, c in enumerate(group.modal_capacitance_f, 1))
    return "\n".join((f"Capacitance of {group.id}, with the dielectric's loss left out", *seen))


def mass_rows(p: Prediction) -> tuple[Row, ...]:
    share = p.added_mass_kg / p.bare_mass_kg if p.bare_mass_kg else 0.0
    added = Row(
        "Added mass", words.with_unit(p.added_mass_kg, "kg"), f"{words.percent(share, 1)} of the bare part"
    )
    total = Row("Total mass", words.with_unit(p.total_mass_kg, "kg", 4))
    if p.tip_stiffness_n_m is None:
        return (added, total)
    stiffness = Row("Tip stiffness, bare", f"{words.significant(p.tip_stiffness_n_m * 1e-3, 4)} N/mm")
    return (added, total, stiffness)


def settling_text(ring: RingDown) -> str:
    """Settling and half-life before and after, in one sentence."""
    settle = f"{words.seconds(ring.settle_before_s)} → {words.seconds(ring.settle_after_s)}"
    half = f"{words.seconds(ring.half_life_before_s)} → {words.seconds(ring.half_life_after_s)}"
    return f"settles to {words.percent(ring.settle_to, 0)} in {settle} · half-life {half}"


def remark_lines(p: Prediction) -> list[tuple[Level, str]]:
    """Errors first, then cautions with those of the circuits, then notes."""
    order = {"error": 0, "caution": 1, "note": 2}
    circuits = [
        Remark("circuit", f"{group.id}: {text}" if len(p.groups) > 1 else text, "caution")
        for group in p.groups
        for text in group.remarks
    ]
    ranked = sorted((*p.remarks, *circuits), key=lambda remark: order[remark.severity])
    return [(_LEVELS[remark.severity], remark.text) for remark in ranked]


def results_table(p: Prediction) -> list[list[str]]:
    """Everything the panel shows, as one table for a spreadsheet."""
    table = [["Quantity", "Before", "After", "Note"]]
    for m in p.modes:
        name = f"Mode {m.number}"
        table += [
            [f"{name} frequency, shorted", "", words.frequency(m.f_short_hz), ""],
            [f"{name} frequency, open", "", words.frequency(m.f_open_hz), ""],
            [f"{name} K²", "", words.percent(m.k2, 3), "(f_oc² − f_sc²)/f_sc²"],
            [f"{name} strain energy in the ceramic", "", words.percent(m.ceramic_share), "of the mode's"],
            [
                f"{name} damping ratio",
                words.percent(m.zeta_before, 3),
                "unstable" if m.zeta != m.zeta else words.percent(m.zeta, 3),
                f"before: {p.before_label}",
            ],
            [f"{name} peak change", "", words.decibel_and_percent(m.peak_change_db), p.response.label],
        ]
    ring = p.ring_down
    table += [
        [
            f"Settling to {words.percent(ring.settle_to, 0)}",
            words.seconds(ring.settle_before_s),
            words.seconds(ring.settle_after_s),
            "",
        ],
        ["Half-life", words.seconds(ring.half_life_before_s), words.seconds(ring.half_life_after_s), ""],
        ["Mean-square change", "", words.decibel(p.response.mean_square_change_db), "over the load's band"],
    ]
    table += [
        [row.name, "", row.value, " · ".join(part for part in (row.note, row.second) if part)]
        for row in (*limit_rows(p.limits), *group_rows(p.groups), *mass_rows(p))
    ]
    table += [["Remark", "", "", text] for _, text in remark_lines(p)]
    table += [["Unstable", "", "", text] for text in p.unstable]
    table += [["Assumed input", "", "", text] for text in p.assumed_inputs]
    return table
