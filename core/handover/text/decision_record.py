"""The decision record: two pages for the customer - question, candidates, choice, before and after,
limits, the assumptions it leans on, and how far it can be trusted."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from core.handover.drawing.items import Item, SheetError
from core.handover.releases import changes, reference
from core.handover.sheet.identity import title_of
from core.handover.sheet.layout import Box
from core.handover.text.asked_words import answers, cell, exceeded, target_words
from core.handover.text.document import Block, Bullets, Caution, Document, Figure, Heading, Paragraph, Table
from core.handover.text.layout_sketch import layout_sketch, places, sketch_height_mm
from core.handover.text.loop_block import loop_blocks
from core.handover.text.pages import LEFT_MM, PAGES_MM, RIGHT_MM
from core.handover.text.parts_page import parts_told
from core.handover.text.plots import response_plot, ring_down_plot
from core.handover.text.shop import WRITE, candidate_of, driven_blocks, identity, remark_texts, unstable_texts
from core.predict.asked import Answer
from core.predict.electrics.failure import BEHAVIOUR, HEADS, failures
from core.predict.electrics.safety import DEFERS
from core.predict.electrics.supply import supply_of
from core.predict.loads.limit_words import margin_cell, margin_words
from core.predict.mode_result import ModeResult, names_told
from core.predict.prediction import Limit, Prediction
from core.predict.report.torsion_text import torsion_line
from core.project.candidate import Candidate
from core.project.labels import label_of
from core.project.model import Project
from core.project.provenance import inputs, origin_of
from core.project.served import served_mode
from core.study.temperature.temperature import TemperatureStudy
from core.study.tolerance.ranking import told_causes
from core.study.tolerance.tolerance import ToleranceResult
from core.units import words

MOST_CANDIDATES = 4
MOST_MODES = 3
MOST_LIMITS = 7
MOST_EXCEEDED = 2
MOST_ASSUMED = 8
MOST_CHANGES = 8
MOST_CAUSES = 5
MOST_MEASURED = 8
PAGES = 2


def decision_record(
    project: Project,
    candidate_id: str | None,
    predictions: Mapping[str, Prediction],
    temperature: TemperatureStudy | None = None,
    tolerance: ToleranceResult | None = None,
) -> Document:
    """The record of a candidate against the others that have a prediction.

    SheetError in words where the chosen one has none.
    """
    chosen = candidate_of(project, candidate_id)
    if chosen.id not in predictions:
        raise SheetError(f"Candidate {chosen.id} has no prediction: mend its inputs first.")
    prediction = predictions[chosen.id]
    shown = _shown(project, chosen, predictions)
    asked = answers(project, shown, predictions)
    blocks: list[Block] = [
        Heading("Question"),
        Paragraph(project.sheet.question.strip() or WRITE),
        Paragraph(target_words(project, asked.get(chosen.id))),
        Heading("Candidates side by side"),
        _sketch(project, shown),
        _side_by_side(project, shown, predictions, chosen, asked),
        *_left_out(project, shown, predictions),
        Heading("Choice"),
        Paragraph(_choice(project, chosen)),
        *_exceeded(prediction),
        *_figures(project, prediction),
        Heading("Limits of the choice, worst first"),
        *_limits(prediction),
        *_safety(project, prediction),
        *_temperature(temperature),
        *_measured(project, chosen),
        *_changed(project, chosen),
        Heading("What this rests on"),
        *_spread(project, tolerance),
        Bullets(tuple(_assumptions(project, prediction))),
        Heading("How far to trust it"),
        Bullets((*unstable_texts(prediction), *remark_texts(prediction.remarks), *_standing(project, prediction))),
        Table(("Decided by", "For", "Date"), (("", "customer", ""), ("", "design", "")), (3, 2, 2), room_mm=8.0),
    ]
    return Document(
        "DECISION RECORD", "the customer", title_of(project, chosen), identity(project, chosen), tuple(blocks), PAGES
    )


def _shown(project: Project, chosen: Candidate, predictions: Mapping[str, Prediction]) -> list[Candidate]:
    """Candidates with a prediction in their order; the chosen one is among them whatever their number."""
    able = [c for c in project.candidates if c.id in predictions]
    kept = able[:MOST_CANDIDATES]
    if chosen not in kept:
        kept = [*kept[:-1], chosen]
    return kept


def _left_out(
    project: Project, shown: Sequence[Candidate], predictions: Mapping[str, Prediction]
) -> Iterator[Block]:
    out = [c for c in project.candidates if c not in shown]
    if out:
        told = ", ".join(
            f"{c.id} ({'no room' if c.id in predictions else 'cannot be predicted as entered'})" for c in out
        )
        yield Paragraph(f"Not shown: {told}.")


def _choice(project: Project, chosen: Candidate) -> str:
    said = project.sheet.choice.strip()
    name = f"Candidate {chosen.id}, {chosen.name}".rstrip(", ")
    return f"{name}. {said or chosen.note or f'Reason: {WRITE}'}"


def _exceeded(prediction: Prediction) -> Iterator[Block]:
    """Beside the choice what it does not stand."""
    broken = exceeded(prediction)
    if broken:
        yield Caution("LIMITS EXCEEDED BY THE CHOICE", (f"{broken}.",))


def _sketch(project: Project, shown: Sequence[Candidate]) -> Figure:
    width = PAGES_MM["A4"][0] - LEFT_MM - RIGHT_MM
    return Figure(
        sketch_height_mm(project, shown, width),
        lambda box: layout_sketch(project, shown, box),
        "Layouts to one scale, root at the left; dashed lies on the underside.",
        tuple(f"{c.id}: {places(c)}." for c in shown),
    )


# ---- side by side ----------------------------------------------------------------------------


def _side_by_side(
    project: Project, shown: Sequence[Candidate], predictions: Mapping[str, Prediction], chosen: Candidate,
    asked: Mapping[str, Answer],
) -> Table:  # fmt: skip
    found = [predictions[c.id] for c in shown]
    heads = ("", *(f"{c.called}{' (chosen)' if c is chosen else ''}" for c in shown))
    rows: list[tuple[str, ...]] = []

    def row(label: str, tell: Callable[[Prediction], str]) -> None:
        rows.append((label, *(tell(p) for p in found)))

    if asked:
        rows.append(("What was asked for", *(cell(asked.get(c.id)) for c in shown)))
    modes = min(MOST_MODES, project.view.modes_shown, *(len(p.modes) for p in found))
    names = names_told(found[0].modes)
    for n in range(modes):
        f = found[0].modes[n].f_short_hz
        row(f"Damping ratio, mode {n + 1}{f' {names[n]}'.rstrip()} ({words.frequency(f)} in {shown[0].id})",
            lambda p, n=n: words.zeta_change(p.modes[n].zeta_before, p.modes[n].zeta))  # type: ignore[misc]
        row(f"Peak, mode {n + 1}", lambda p, n=n: words.decibel_and_percent(p.modes[n].peak_change_db))  # type: ignore[misc]
    if any(p.torsion for p in found):
        row("Torsion", lambda p: torsion_line(p.torsion) if p.torsion else words.NO_VALUE)
    settle = found[0].ring_down.settle_to
    row(f"Settles to {words.share(settle)}",
        lambda p: words.change(words.seconds(p.ring_down.settle_before_s), words.seconds(p.ring_down.settle_after_s)))  # fmt: skip
    row("Half-life of the vibration",
        lambda p: words.change(words.seconds(p.ring_down.half_life_before_s), words.seconds(p.ring_down.half_life_after_s)))  # fmt: skip
    row("Limits exceeded", lambda p: exceeded(p, MOST_EXCEEDED) or "none")
    row("Nearest limit", lambda p: _margin(p.limits[0]) if p.limits else words.NOT_LOADED)
    row("Added mass", lambda p: words.mass(p.added_mass_kg))
    row("Circuit", _circuits)
    row("Parts of the circuit", parts_told)
    row("Supply", lambda p: supply_of(p.solved).told)
    fails = {p.candidate: failures(project, p.candidate) for p in found}
    for one in BEHAVIOUR:
        rows.append((f"{one.label}: mode {fails[found[0].candidate][0].mode}", *(one.told(fails[p.candidate]) for p in found)))
    if any(p.absorbers for p in found):
        row("Tuned mass", lambda p: "; ".join(a.briefly for a in p.absorbers) or "none")
        row("Its stroke", lambda p: ", ".join(
            f"{words.engineering(a.stroke_m, 'm')} {a.size_meaning}" for a in p.absorbers) or words.NO_VALUE)  # fmt: skip
    return Table(tuple(heads), tuple(rows), (2.6, *(2.2 for _ in found)))


def _margin(limit: Limit) -> str:
    return f"{limit.name}: {margin_words(limit)}" if limit.margin != float("inf") else words.NOT_LOADED


def _circuits(prediction: Prediction) -> str:
    told = []
    for group in prediction.groups:
        values = ", ".join(v.told for v in group.values)
        told.append(f"{group.circuit_label}: {values}" if values else group.circuit_label)
    return "; ".join(told) or "none"


# ---- before and after ------------------------------------------------------------------------


def _figures(project: Project, prediction: Prediction) -> Iterator[Block]:
    response, ring = prediction.response, prediction.ring_down
    at = f"at {words.celsius(project.service.reference_c)}, small motion"

    served = _served(project, prediction)

    def draw(box: Box) -> Sequence[Item]:
        third = (box.width - 6.0) / 3
        boxes = [Box(box.left + n * (third + 3.0), box.top, box.left + n * (third + 3.0) + third, box.bottom)
                 for n in range(3)]  # fmt: skip
        return (
            *response_plot(response, boxes[0]),
            *(response_plot(response, boxes[1], _band(served)) if served else ()),
            *ring_down_plot(ring, boxes[2], prediction.before_label),
        )

    yield Figure(
        54.0, draw,
        f"Whole band, mode {served.number if served else 1} alone, decay. Before is: {prediction.before_label}. "
        f"Decay: {ring.start}; {at}.",
        (
            f"{response.label}: highest {words.level(response.peak_before, response.unit)} before, "
            f"{words.level(response.peak_after, response.unit)} with the circuit.",
            f"Settles to {words.share(ring.settle_to)} in {words.seconds(ring.settle_before_s)} before, "
            f"{words.seconds(ring.settle_after_s)} with the circuit.",
        ),
    )  # fmt: skip


def _served(project: Project, prediction: Prediction) -> ModeResult | None:
    """The mode the first tuned circuit serves, else the first."""
    candidate = project.candidate(prediction.candidate)
    number = served_mode(project, candidate)
    return next((m for m in prediction.modes if m.number == number), None)


def _band(mode: ModeResult) -> tuple[float, float]:
    """Around a mode, wide enough to show how broad its peak has become."""
    wide = min(0.3, max(0.04, 5 * mode.zeta if mode.zeta == mode.zeta else 0.3))
    return (mode.f_short_hz * (1 - wide), mode.f_short_hz * (1 + wide))


def _limits(prediction: Prediction) -> Iterator[Block]:
    """The worst checks, and under them where each allowable is from."""
    rows = []
    worst = prediction.limits[:MOST_LIMITS]
    sources = list(dict.fromkeys(limit.source for limit in worst if limit.source))
    for limit in worst:
        source = f"[{sources.index(limit.source) + 1}]" if limit.source else ""
        rows.append((
            f"{limit.name} {limit.patch or ''}".strip(), words.with_unit(limit.value, limit.unit),
            f"{words.with_unit(limit.allowable, limit.unit)} {source}".strip(),
            margin_cell(limit), limit.load, limit.load_at_limit,
        ))  # fmt: skip
    if not rows:
        yield Paragraph("No package is loaded in this candidate.")
        return
    heads = ("Check", "Value", "Allowed", "Margin", "Under", "Reached at")
    yield Table(heads, tuple(rows), (2.6, 1.3, 1.6, 1.0, 2.6, 1.2))
    rest = prediction.limits[len(worst) :]
    if rest:
        yield Paragraph(f"And {len(rest)} more, none nearer than that of {rest[0].name}: {margin_words(rest[0])}.")
    yield Bullets(tuple(f"[{n}] {source}" for n, source in enumerate(sources, start=1)))


def _safety(project: Project, prediction: Prediction) -> Iterator[Block]:
    """What the leads may give, and what is left when something fails."""
    if not prediction.groups:
        return
    yield Heading("Safety, and when something fails")
    leads = prediction.leads
    if leads:
        yield Paragraph(f"Leads give up to {leads.up_to} ({leads.largest.where}: {leads.largest.cause}). {leads.touch}")
    yield from loop_blocks(prediction)
    yield from driven_blocks(prediction)
    found = failures(project, prediction.candidate)
    yield Table((f"Of mode {found[0].mode}", *HEADS[1:]), tuple(row.cells for row in found), (2.6, 1.4, 1.2, 1.8, 2.2))
    yield Paragraph(DEFERS)


def _temperature(study: TemperatureStudy | None) -> Iterator[Block]:
    if study is None or study.is_flat:
        return
    modes = [m.number for m in study.points[0].modes][:MOST_MODES]
    rows = tuple(
        (f"{p.name}, {words.celsius(p.temperature_c)}", *(words.damping(p.modes[k].zeta) for k in range(len(modes))))
        for p in study.points
    )
    yield Heading("Damping ratio over temperature, circuit values held")
    yield Table(("", *(f"mode {n}" for n in modes)), rows, (2.0, *(1.5 for _ in modes)))


def _measured(project: Project, chosen: Candidate) -> Iterator[Block]:
    """What the prototype did, as it was kept on the page of measurements."""
    kept = next((m.kept for m in project.measurements if m.candidate == chosen.id), None)
    if kept is None:
        return
    yield Heading("What the prototype did")
    yield Paragraph(f"{kept.title} {kept.text}".strip())
    if kept.rows:
        rows = kept.rows[:MOST_MEASURED]
        yield Table(("Measured over predicted", "predicted", "measured", "ratio"), rows, (3.0, 1.4, 1.4, 1.0), right=(1, 2, 3))
        if len(kept.rows) > MOST_MEASURED:
            yield Paragraph(f"And {len(kept.rows) - MOST_MEASURED} more, in the project file.")


def _changed(project: Project, chosen: Candidate) -> Iterator[Block]:
    """Inputs that differ from the last released revision."""
    released = reference(project, chosen)
    if released is None:
        return
    found = changes(project, released, chosen.id)
    yield Heading(f"Changed since revision {released.index} of {released.date}")
    if not found:
        yield Paragraph("Nothing.")
        return
    rows = tuple((d.label, d.reference, d.other) for d in found[:MOST_CHANGES])
    yield Table(("Input", f"revision {released.index}", "now"), rows, (2.4, 2.6, 2.6))
    if len(found) > MOST_CHANGES:
        yield Paragraph(f"And {len(found) - MOST_CHANGES} more, listed in the project file.")


# ---- what it rests on ------------------------------------------------------------------------


def _spread(project: Project, study: ToleranceResult | None) -> Iterator[Block]:
    """The inputs that matter most for the mode that is served, each with its standing."""
    if study is None or not study.modes:
        return
    mode = study.modes[min(study.target_mode, len(study.modes)) - 1]
    standing = {entry.path: entry for entry in inputs(project, study.candidate)}
    yield Paragraph(
        f"With every input off by its tolerance, mode {mode.number} gets a damping ratio between "
        f"{words.damping(mode.zeta.p10)} and {words.damping(mode.zeta.p90)} in eight cases of ten "
        f"({study.progress.done} samples, seed {study.seed}). The scatter comes from:"
    )
    told, others = told_causes(mode.causes, study.progress.done, MOST_CAUSES)
    rows: list[tuple[str, ...]] = []
    for one in told:
        entry = standing.get(one.cause.path)
        origin = origin_of(project.origins, one.cause.path)
        status, source = (entry.status, entry.source) if entry else (origin.status, origin.source)
        rows.append((one.cause.label, one.text, status, source))
    if rows:
        rows.append(("All others together", others, "", ""))
        yield Table(("Input", "Share", "Standing", "Source"), tuple(rows), (2.6, 0.8, 1.0, 4.0))


def _assumptions(project: Project, prediction: Prediction) -> Iterator[str]:
    assumed = prediction.assumed_inputs
    if assumed:
        more = len(assumed) - MOST_ASSUMED
        yield (
            "Assumed, not measured: " + "; ".join(assumed[:MOST_ASSUMED])
            + (f"; and {more} more, see the file" if more > 0 else "") + "."
        )  # fmt: skip
    else:
        yield "No input in use is marked as assumed."
    labels = {entry.path: entry.label for entry in inputs(project, prediction.candidate)}
    for status in ("measured", "data sheet"):
        told = [
            labels.get(path, label_of(path)) + (f" ({o.source})" if o.source else "")
            for path, o in project.origins.items() if o.status == status
        ]  # fmt: skip
        if told:
            rest = f"; and {len(told) - 4} more" if len(told) > 4 else ""
            yield f"{status.capitalize()}: {'; '.join(told[:4])}{rest}."
    yield "Constants of ceramics and adhesives carry their source and tolerance in the project file."


def _standing(project: Project, prediction: Prediction) -> Iterator[str]:
    yield (
        f"A prediction for {words.celsius(project.service.reference_c)}, small motion and the load named; the part with "
        f"the patch is compared with: {prediction.before_label}. A sample decides."
    )
