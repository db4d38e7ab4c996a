"""The bonding record for the bench: what every bonded part reads, against the pass bands of the tolerance study.

What was entered stands in the first lines; the lines below are for a pencil.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from core.handover.sheet.identity import title_of
from core.handover.text.document import Block, Bullets, Caution, Document, Heading, Paragraph, Table
from core.handover.text.process_card import MOST_ROWS, RECORD_ROWS
from core.handover.text.shop import WRITE, candidate_of, identity, lead_cautions, validity
from core.measured.bonded import (
    LEAST_INSULATION_OHM,
    PRESS_WORDS,
    Judged,
    band_words,
    judge_part,
    modes_asked,
    reading_name,
    reading_words,
)
from core.predict.prediction import Prediction
from core.predict.use.metered import clearest
from core.project.bonded import BondedPart, read_of
from core.project.model import Project
from core.study.tolerance.pass_bands import PassBands, Reading
from core.study.tolerance.tolerance import ToleranceResult
from core.units import words

SPARE_ROWS = 4
"""For a pencil, where all parts of the batch are entered."""


def bonding_record(
    project: Project, candidate_id: str | None, prediction: Prediction, tolerance: ToleranceResult | None
) -> Document:
    """The record of a candidate's parts; without a tolerance study there are no pass bands, and it says so."""
    candidate = candidate_of(project, candidate_id)
    bands = None if tolerance is None else PassBands(tolerance)
    parts = read_of(project.bonded, candidate.id)
    modes = modes_asked(prediction, parts)
    judged = tuple(judge_part(part, bands) for part in parts)
    blocks: list[Block] = [Caution("CAUTION", tuple(lead_cautions(prediction)))]
    if prediction.groups:
        blocks += [
            Heading("What a good part reads"),
            _good(prediction, modes, bands),
            Paragraph(_on_bands(prediction, modes, bands)),
            Heading("Parts"),
            *_parts(project, prediction, judged, modes),
        ]
        named = tuple(f"{_called(one.part, prediction)}, {one.text}." for one in judged if one.out)
        if named:
            blocks += [Heading("Out of band"), Bullets(named)]
        if judged:
            blocks.append(Paragraph(count_words(judged)))
        blocks += [Heading("How to read"), Bullets(tuple(_how(prediction)))]
    else:
        blocks.append(Paragraph("No patch is wired in this candidate: there is nothing to bond."))
    blocks += validity(prediction)
    return Document("BONDING RECORD", "the bench", title_of(project, candidate), identity(project, candidate), tuple(blocks))


def count_words(judged: Sequence[Judged]) -> str:
    """How many parts there are and how they stand: "12 parts read: 10 pass, 1 look again, 1 not a good part."."""
    counts = {verdict: sum(one.verdict == verdict for one in judged) for verdict in ("passes", "look again", "not a good part", "nothing read")}
    called = {"passes": "pass" if counts["passes"] != 1 else "passes"}
    told = ", ".join(f"{count} {called.get(verdict, verdict)}" for verdict, count in counts.items() if count)
    return f"{len(judged)} part{'s' if len(judged) != 1 else ''} read: {told}."


def _good(prediction: Prediction, modes: Sequence[int], bands: PassBands | None) -> Table:
    rows: list[tuple[str, ...]] = []
    by_number = {m.number: m for m in prediction.modes}
    several = len(prediction.groups) > 1
    for n, group in enumerate(prediction.groups):
        first = [group.id]

        def row(reading: Reading, value: float, first: list[str] = first) -> None:
            rows.append((first.pop() if first else "", reading_name(reading), reading_words(reading.quantity, value), band_words(bands, reading)))

        bonded, loose = clearest(group.metered), group.unbonded_capacitance_f
        row(Reading("unbonded_f", 0, group.id), loose)
        row(Reading("bonded_f", 0, group.id), bonded.capacitance_f)
        if loose > 0.0:
            row(Reading("bonding", 0, group.id), bonded.capacitance_f / loose)
        rows.append(("", "insulation", f"over {words.engineering(LEAST_INSULATION_OHM, 'ohm')}", ""))
        for mode in (by_number[m] for m in modes if m in by_number):
            k2 = mode.group_k2[n]
            row(Reading("f_short_hz", mode.number), mode.f_short_hz)
            row(Reading("f_open_hz", mode.number, group.id), mode.f_short_hz * (1.0 + k2) ** 0.5)
            row(Reading("k2", mode.number, group.id), k2)
    heads, shares = ("Group", "Reading", "Expected", "passes from ... to"), (0.8, 2.4, 2.0, 3.0)
    if several:
        return Table(heads, tuple(rows), shares)
    return Table(heads[1:], tuple(row[1:] for row in rows), shares[1:])


def readings_asked(prediction: Prediction, modes: Sequence[int]) -> list[Reading]:
    """Everything the record asks of a part that has a band."""
    out: list[Reading] = []
    for group in prediction.groups:
        out += [Reading("unbonded_f", 0, group.id), Reading("bonded_f", 0, group.id), Reading("bonding", 0, group.id)]
        for n in modes:
            out += [Reading("f_short_hz", n), Reading("f_open_hz", n, group.id), Reading("k2", n, group.id)]
    return list(dict.fromkeys(out))


def _on_bands(prediction: Prediction, modes: Sequence[int], bands: PassBands | None) -> str:
    if bands is None:
        return "No pass bands: no tolerance study can be made of this layout, in which no input varies."
    study = bands.study
    known = [r for r in readings_asked(prediction, modes) if bands.of(r) is not None]
    share = bands.share_within(known)
    return (
        f"Bands are P10 to P90 of the tolerance study ({study.progress.done} samples, seed {study.seed}): eight good parts of ten "
        f"lie within each, {words.share(share)} within all. Out of a band is looked at again; out of every sample is not a good part."
    )


def _called(part: BondedPart, prediction: Prediction) -> str:
    return f"{part.serial}, {part.group}" if len(prediction.groups) > 1 else part.serial


def _parts(project: Project, prediction: Prediction, judged: Sequence[Judged], modes: Sequence[int]) -> Iterator[Block]:
    heads = ["Serial number", "C before nF", "C after nF", "MΩ", "press"]
    for n in modes:
        heads += [f"f{n} shorted", f"f{n} open", f"K² {n} %"]
    rows = [_row(one, prediction, modes) for one in judged]
    wanted = project.sheet.parts * max(len(prediction.groups), 1)
    blank = max(min(wanted, MOST_ROWS) - len(rows), SPARE_ROWS if rows else RECORD_ROWS)
    rows += [("",) * (len(heads) + 1)] * blank
    shares = (2.0, 1.3, 1.3, 1.0, 1.2, *((1.3, 1.2, 1.0) * len(modes)), 1.7)
    yield Table((*heads, "verdict"), tuple(rows), shares, room_mm=7.0)
    if wanted > MOST_ROWS:
        yield Paragraph(f"{wanted} lines are needed for {project.sheet.parts} parts: copy the pages of the record.")
    yield Paragraph(f"Meter {WRITE}   room {WRITE} °C   date {WRITE}   checked by {WRITE}")


def _row(one: Judged, prediction: Prediction, modes: Sequence[int]) -> tuple[str, ...]:
    """A part's readings; what is out of its band is marked."""
    part, out = one.part, {found.what for found in one.out}

    def cell(name: str, value: float | None, show: str) -> str:
        return "" if value is None else f"{show} !" if name in out else show

    row = [
        _called(part, prediction),
        cell("C before", part.before_f, words.significant(1e9 * (part.before_f or 0.0), 4)),
        cell("C after", part.after_f, words.significant(1e9 * (part.after_f or 0.0), 4)),
        cell("insulation", part.insulation_ohm, words.significant(1e-6 * (part.insulation_ohm or 0.0), 3)),
        "" if part.press is None else PRESS_WORDS[part.press],
    ]
    for n in modes:
        mode = part.mode(n)
        row += [
            cell(f"f{n} shorted", mode.f_short_hz, words.unitless(words.frequency(mode.f_short_hz or 0.0))),
            cell(f"f{n} open", mode.f_open_hz, words.unitless(words.frequency(mode.f_open_hz or 0.0))),
            cell(f"K² of mode {n}", mode.k2, words.unitless(words.coupling(mode.k2 or 0.0))),
        ]
    return (*row, one.verdict)


def _how(prediction: Prediction) -> Iterator[str]:
    hertz = "; ".join(
        f"{f'{g.id} ' if len(prediction.groups) > 1 else ''}after bonding at {words.plain(clearest(g.metered).frequency_hz)} Hz" for g in prediction.groups
    )
    yield f"Capacitance before bonding at 1000 Hz, {hertz}; clip off, leads compensated. Wire the loose packages of a group as they will be."
    yield "Insulation at 50 V, no bleed resistor. Press test as on the placement diagram: right, wrong sign, or no voltage."
    yield "Tap the part with the leads shorted, then open (nothing on them); K² is (open² − shorted²) / shorted²."
    yield "C down by more than its band and K² down: a crack. C up and K² down: an end has come off. Both out from the start: another patch."
