"""The parts list as a paper: what to buy for the circuits, and what amplifiers must swing."""

from __future__ import annotations

from math import isfinite

from core.handover.parts_list import PartsList, parts_list
from core.handover.sheet.identity import title_of
from core.handover.sheet.notes import counted
from core.handover.text.document import Block, Bullets, Document, Heading, Paragraph, Table
from core.handover.text.shop import (
    WRITE,
    candidate_of,
    driven_blocks,
    identity,
    under_validity,
    unstable_texts,
)
from core.predict.electrics.board import Simulated
from core.predict.electrics.safety import DEFERS
from core.predict.prediction import Prediction
from core.project.candidate import Candidate
from core.project.model import Project
from core.units import words


def parts_table(listed: PartsList) -> Table:
    """The list as it stands on paper, the total last."""
    rows = [
        (
            str(line.quantity), f"{line.group} {line.places}".strip(), line.what, line.value_told,
            "" if line.tolerance is None else f"± {words.share(line.tolerance)}", line.rating, line.asked,
            WRITE[:6] if line.price is None else words.money(line.total or 0.0),
        )
        for line in listed.lines
    ]  # fmt: skip
    missing = f", {listed.without_price} without a price" if listed.without_price else ""
    rows.append((str(listed.count), "", f"in all{missing}", "", "", "", "", WRITE[:6] if listed.total is None else words.money(listed.total)))
    heads = ("No.", "Part", "What", "Value", "Tolerance", "Rating", "At the worst load", "Price")
    return Table(heads, tuple(rows), (0.5, 1.5, 2.4, 1.1, 1.0, 1.5, 1.6, 0.9), right=(0, 7), strong=(len(rows) - 1,))


def simulated_words(one: Simulated) -> str:
    """A simulated inductor or negative capacitance in words: supply, swing, where it clips, what is left, noise, power."""
    unit = "H" if one.what == "inductor" else "F"
    value = words.part(one.value, unit)
    name = f"{value} simulated" if one.what == "inductor" else f"negative capacitance of {value}"
    parts = [f"{one.name} of group {one.group}, {name} by {one.amplifiers} amplifier{'s' if one.amplifiers > 1 else ''}"]
    if one.swing_v > 0.0 and isfinite(one.swing_v):
        parts.append(
            f"{words.voltage(one.volts)} across it and {words.voltage(one.swing_v)} at an output under {one.load}; "
            f"the supply allows {words.voltage(one.limit_v)}"
        )
        if one.clips_at < 1.0:
            parts.append(f"it clips from {one.clips_at_words} on")
        else:
            parts.append(f"it clips at {one.clips_at_words}, {words.times(one.clips_at)} that load")
        left = words.damping(one.left) if one.left == one.left else "nothing: it does not hold"
        parts.append(f"at twice the load that clips, mode {one.mode} keeps {left} of {words.damping(one.whole)} (by the fundamental)")
    if one.noise_v == one.noise_v:
        parts.append(f"noise {words.engineering(one.noise_v, 'V')} on the leads in the octave about mode {one.mode}")
    parts.append(f"{words.power(one.supply_w)} from the supply at rest")
    if one.bias_ohm is not None:
        parts.append(
            f"its input rests on capacitors: {words.part(one.bias_ohm, 'ohm')} or more across {one.name}Cr carries the bias current, "
            "left out of the prediction"
        )
    return "; ".join(parts) + "."


def parts_blocks(candidate: Candidate, prediction: Prediction) -> list[Block]:
    """The list, what no usual part holds, and what amplifiers simulate; nothing where there is nothing to buy."""
    listed, series = parts_list(prediction), candidate.build.series
    if not listed.lines:
        return []
    told = "at values of their own (trimmers or selected)" if series == "exact" else f"from {series} of IEC 60063"
    blocks: list[Block] = [
        Heading(f"Parts of candidate {candidate.id}"),
        parts_table(listed),
        Paragraph(f"Parts {told}; everything is predicted with these values."),
    ]
    beyond = tuple(f"{line.group} {line.places}: {line.asked} at the worst load ({line.cause})" for line in listed.lines if line.beyond)
    if beyond:
        blocks += [Heading("Beyond what these parts hold"), Bullets(beyond)]
    simulated = prediction.solved.board.simulated
    if simulated:
        blocks += [Heading("Simulated by amplifiers"), Bullets(tuple(map(simulated_words, simulated)))]
    return blocks


def parts_document(project: Project, candidate_id: str, prediction: Prediction) -> Document:
    """The parts list as a paper."""
    candidate = candidate_of(project, candidate_id)
    blocks = parts_blocks(candidate, prediction) or [
        Heading(f"Parts of candidate {candidate.id}"), Paragraph("No circuit of this candidate has a part to buy."),
    ]  # fmt: skip
    blocks = [*driven_blocks(prediction, DEFERS), *blocks, *under_validity((*unstable_texts(prediction), *counted(prediction.remarks)))]
    return Document("PARTS LIST", "the electronics bench and purchasing", title_of(project, candidate), identity(project, candidate), tuple(blocks))


def parts_told(prediction: Prediction) -> str:
    """The list in a few words: "10 parts, 12.50, 3 without a price"."""
    listed = parts_list(prediction)
    return listed.told if listed.lines else "none"
