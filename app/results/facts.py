"""A prediction as rows of facts: limits, groups and circuits, masses; and as one copyable table."""

from __future__ import annotations

from math import isfinite

from app.results.answer_lines import limit_level
from app.results.row_list import Level, Row
from core.predict.absorber_result import AbsorberResult
from core.predict.electrics.leads import SOURCE
from core.predict.electrics.safety import DEFERS
from core.predict.group_result import GroupResult
from core.predict.loads.limit_words import margin_words, share_words, value_words
from core.predict.loads.service_swing import peak_told
from core.predict.mode_result import names_told
from core.predict.prediction import Limit, Prediction, Remark, RingDown
from core.predict.report.torsion_text import torsion_line
from core.units import words

_LEVELS: dict[str, Level] = {"note": "plain", "caution": "caution", "error": "danger"}


def limit_rows(limits: tuple[Limit, ...]) -> tuple[Row, ...]:
    """Worst first, as the prediction orders them."""
    return tuple(_limit_row(limit) for limit in limits)


def _limit_row(limit: Limit) -> Row:
    level = limit_level(limit)
    value = value_words(limit)
    place = "" if limit.x_m is None else f"at {words.millimetres(limit.x_m)}"
    reached = f"reached at {limit.load_at_limit}" if limit.load_at_limit and isfinite(limit.margin) else ""
    where = " ".join(part for part in (limit.patch or "", place) if part)
    # the load at the limit first: it is what the row promises, and the rest is cut where room is short
    second = " · ".join(part for part in (value, reached, where, limit.load) if part)
    tip = f"{limit.name}: {margin_words(limit)}\n{second}\nAllowable from: {limit.source or 'no source given'}"
    return Row(limit.name, share_words(limit), "", second, tip, level)


PER_VOLT = (
    "Per volt on the leads: how far the tip goes (up positive), and the force with which it pushes where it is held.\n"
    "Per newton up at the tip: the voltage of the open leads. All static, far below mode 1."
)


def group_rows(groups: tuple[GroupResult, ...]) -> tuple[Row, ...]:
    """Each group's capacitance and circuit values in effect."""
    rows: list[Row] = []
    for group in groups:
        free, blocked = (
            words.capacitance(c) for c in (group.free_capacitance_f, group.blocked_capacitance_f)
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
            Row(part.label, words.part(part.value, part.unit)) for part in group.values
        )
        rows.append(Row("Static at the tip", "", "", group.per_volt, PER_VOLT))
        rows.append(Row("Voltage, current, power", "", "", group.under_load, "Under the active load."))
    return tuple(rows)


def absorber_rows(absorbers: tuple[AbsorberResult, ...]) -> tuple[Row, ...]:
    """Each tuned mass: values in effect, and what the load does to it."""
    rows: list[Row] = []
    for one in absorbers:
        allowed = one.allowed_stroke_m
        over = allowed is not None and one.stroke_m > allowed
        tip = "\n".join(
            (f"{one.values_told}. Its mass over what each mode moves there:",
             *(f"mode {n}: {words.percent(ratio)}" for n, ratio in enumerate(one.mass_ratios, 1)))
        )  # fmt: skip
        tuned = f"{words.frequency(one.frequency_hz)}, {words.damping(one.damping_ratio)}"
        rows.append(Row(f"Tuned mass {one.id}", words.mass(one.mass_kg), tuned, one.values_told, tip))
        level: Level = "danger" if over else "plain"
        stroke = f"{words.engineering(one.stroke_m, 'm')} {one.size_meaning}"
        rows.append(Row("Stroke, force, heat", stroke, "", one.under_load, "Under the active load.", level))
    return tuple(rows)


def service_rows(p: Prediction) -> tuple[Row, ...]:
    """Damping at the swing of service, beside the modes that are told for a small one."""
    return tuple(
        Row(f"Mode {one.mode} at service swing", words.zeta_change(one.zeta_inherent, one.zeta), "", peak_told(one), "Inherent damping there, and with the circuit; below, what becomes of the peak with the circuit.")
        for one in p.at_service
    )


def lead_rows(p: Prediction) -> tuple[Row, ...]:
    """The largest voltage a person can meet at the leads, and whether they may be touched."""
    leads = p.leads
    driven = tuple(
        Row(f"Driven leads, {one.group}", words.voltage(one.peak_v), one.leads.verdict, one.sentence, f"{one.leads.touch}\n{SOURCE}\n{DEFERS}",
            "plain" if one.leads.is_safe else "caution")
        for one in p.driven
    )
    if leads is None:
        return driven
    largest = leads.largest
    second = f"{largest.where}: {largest.cause} · {leads.touch}"
    tip = "\n".join(f"{words.voltage(one.volts)}  {one.where}: {one.cause}" for one in leads.found)
    level: Level = "plain" if leads.is_safe else "caution"
    rows = [Row("Leads give up to", leads.up_to, leads.verdict, second, f"{tip}\n{SOURCE}\n{DEFERS}", level)]
    several = len(p.groups) > 1
    for group in p.groups:
        safety, bleed = group.safety, group.safety.bleed
        of = f", {group.id}" if several else ""
        rows.append(Row(f"Stored on open leads{of}", words.engineering(safety.charge_c, "C"), words.engineering(safety.energy_j, "J"), f"{safety.stored} · {DEFERS}"))
        gone = bleed.time if bleed.fitted else "none fitted"
        rows.append(Row(f"Bleed resistor{of}", words.engineering(bleed.ohm, "ohm"), gone, bleed.sentence, level="danger" if bleed.fitted and bleed.cost is None else "plain"))
    return (*driven, *rows)


def _capacitance_tip(group: GroupResult) -> str:
    """The capacitance each mode sees: the one a circuit for that mode must be tuned with."""
    seen = (f"mode {n} sees {words.capacitance(c)}" for n, c in enumerate(group.modal_capacitance_f, 1))
    return "\n".join((f"Capacitance of {group.id}, with the dielectric's loss left out", *seen))


TORSION = (
    "Modes in which the part twists about its length, patches left out: a centred patch does not reach them, and no\n"
    "response shows them."
)

WITH_PACKAGES = (
    "Modes in which the part twists about its length, packages on it. Patches on the centreline do not reach them, and no\n"
    "response on the centreline shows them; patches off it or turned may."
)


def mass_rows(p: Prediction) -> tuple[Row, ...]:
    bare = p.bare_mass_kg
    of_it = f"{words.energy_share(p.added_mass_kg / bare)} of the bare part" if bare else ""
    added = Row("Added mass", words.mass(p.added_mass_kg), of_it)
    total = Row("Total mass", words.mass(p.total_mass_kg))
    rows = [added, total]
    if p.tip_stiffness_n_m is not None:
        rows.append(Row("Tip stiffness, bare", words.stiffness(p.tip_stiffness_n_m)))
    if p.torsion:
        rows.append(Row("Torsion", "", "", torsion_line(p.torsion), WITH_PACKAGES))
    elif p.torsion_hz:
        rows.append(Row("Torsion, bare", "", "", words.torsion(p.torsion_hz), TORSION))
    return tuple(rows)


def settling_text(ring: RingDown) -> str:
    """Settling and half-life before and after, in one sentence."""
    settle = words.change(words.seconds(ring.settle_before_s), words.seconds(ring.settle_after_s))
    half = words.change(words.seconds(ring.half_life_before_s), words.seconds(ring.half_life_after_s))
    start = f"{ring.start}: " if ring.start else ""
    return f"{start}settles to {words.share(ring.settle_to)} in {settle} · half-life {half}"


def settling_brief(ring: RingDown) -> str:
    """Settling alone, for one line."""
    change = words.change(words.seconds(ring.settle_before_s), words.seconds(ring.settle_after_s))
    return f"to {words.percent(ring.settle_to, 0)} in {change}"


def remarks_brief(p: Prediction) -> str:
    """How many remarks of which weight there are."""
    levels = [level for level, _ in remark_lines(p)]
    cautions, notes = levels.count("caution"), levels.count("plain")
    told = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in ((cautions, "caution"), (notes, "note")) if n]
    return ", ".join(told)


def remark_lines(p: Prediction) -> list[tuple[Level, str]]:
    """Errors first, then cautions with those of the circuits, then notes."""
    order = {"error": 0, "caution": 1, "note": 2}
    circuits = [
        Remark("circuit", f"{group.id}: {text}" if len(p.groups) > 1 else text, "caution")
        for group in p.groups
        for text in group.remarks
    ]
    circuits += [Remark("tuned mass", f"{one.id}: {text}", "caution") for one in p.absorbers for text in one.remarks]
    ranked = sorted((*p.remarks, *circuits), key=lambda remark: order[remark.severity])
    return [(_LEVELS[remark.severity], remark.text) for remark in ranked]


def results_table(p: Prediction) -> list[list[str]]:
    """Everything the panel shows, as one table for a spreadsheet."""
    table = [["Quantity", "Before", "After", "Note"]]
    for m, told in zip(p.modes, names_told(p.modes), strict=True):
        name = f"Mode {m.number} {told}".rstrip()
        table += [
            [f"{name} frequency, shorted", "", words.frequency(m.f_short_hz), ""],
            [f"{name} frequency, open", "", words.frequency(m.f_open_hz), ""],
            [f"{name} K²", "", words.coupling(m.k2), "(f_oc² − f_sc²)/f_sc²"],
            [f"{name} strain energy in the ceramic", "", words.energy_share(m.ceramic_share), "of the mode's"],
            [
                f"{name} damping ratio",
                words.damping(m.zeta_before),
                words.damping(m.zeta),
                f"before: {p.before_label}",
            ],
            [f"{name} peak change", "", words.decibel_and_percent(m.peak_change_db), p.response.label],
        ]
    ring = p.ring_down
    table += [
        [
            f"Settling to {words.share(ring.settle_to)}",
            words.seconds(ring.settle_before_s),
            words.seconds(ring.settle_after_s),
            "",
        ],
        ["Half-life", words.seconds(ring.half_life_before_s), words.seconds(ring.half_life_after_s), ""],
        ["Mean-square change", "", words.decibel(p.response.mean_square_change_db), "over the load's band"],
    ]
    table += [
        [row.name, "", row.value, " · ".join(part for part in (row.note, row.second) if part)]
        for row in (
            *limit_rows(p.limits), *group_rows(p.groups), *absorber_rows(p.absorbers), *service_rows(p), *lead_rows(p), *mass_rows(p)
        )
    ]
    table += [["Remark", "", "", text] for _, text in remark_lines(p)]
    table += [["Unstable", "", "", text] for text in p.unstable]
    table += [["Assumed input", "", "", text] for text in p.assumed_inputs]
    return table
