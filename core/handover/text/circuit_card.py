"""The circuit card for the electronics bench: schematic, wiring, values and parts, adjustment, safety, failures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from core.circuit.at_rest import stored_f
from core.handover.schematic.figure import schematic_figure
from core.handover.schematic.schematic import schematic
from core.handover.sheet.identity import title_of
from core.handover.sheet.package_data import capacitance_tolerance
from core.handover.text.circuit_adjust import adjustment
from core.handover.text.circuit_wiring import wiring_table
from core.handover.text.document import Block, Bullets, Caution, Document, Heading, Paragraph, Table
from core.handover.text.loop_block import loop_blocks
from core.handover.text.pages import LEFT_MM, PAGES_MM, RIGHT_MM
from core.handover.text.parts_page import parts_blocks
from core.handover.text.shop import WRITE, candidate_of, identity, lead_cautions, validity
from core.predict.electrics.failure import HEADS, failures
from core.predict.electrics.leads import SOURCE, Leads, volts_up_to
from core.predict.group_result import GroupResult, Metered
from core.predict.mode_result import ModeResult
from core.predict.prediction import Prediction
from core.project.candidate import Candidate, Group, Tuning
from core.project.model import Project
from core.project.patch import Package
from core.project.wiring_words import joined_leads
from core.study.temperature.temperature import AtTemperature, GroupAt, TemperatureStudy
from core.units import words

SHOWN_MODES = 3
WIDTH_MM = PAGES_MM["A4"][0] - LEFT_MM - RIGHT_MM


@dataclass(frozen=True)
class Electrical:
    """A group with what the prediction and the temperature study say of it."""

    group: Group
    result: GroupResult
    at: tuple[tuple[AtTemperature, GroupAt], ...]
    tolerance: float
    """Relative, of the capacitance."""


def circuit_card(
    project: Project, candidate_id: str | None, prediction: Prediction, temperature: TemperatureStudy | None
) -> Document:
    """The card of a candidate from its prediction and, where there is one, its temperature study."""
    candidate = candidate_of(project, candidate_id)
    leads = prediction.leads
    blocks: list[Block] = [Caution("CAUTION", tuple(lead_cautions(prediction)))]
    groups = _groups(project, candidate, prediction, temperature)
    if not groups:
        blocks.append(Paragraph("No patch is wired to a circuit in this candidate."))
    for one in groups:
        blocks += _group_blocks(project, prediction, one, leads)
    blocks += loop_blocks(prediction)
    blocks += parts_blocks(candidate, prediction)
    if groups:
        found = failures(project, candidate.id)
        rows = tuple(row.cells for row in found)
        blocks += [
            Heading(f"When something fails: mode {found[0].mode}"),
            Table(HEADS, rows, (2.4, 1.4, 1.2, 1.8, 2.2)),
        ]
    blocks += [Heading("Bench check before the circuit leaves"), Bullets(_bench())]
    blocks += validity(prediction)
    return Document(
        "CIRCUIT CARD", "the electronics bench", title_of(project, candidate), identity(project, candidate), tuple(blocks)
    )


def _groups(
    project: Project, candidate: Candidate, prediction: Prediction, study: TemperatureStudy | None
) -> list[Electrical]:
    results = {g.id: g for g in prediction.groups}
    found = []
    for group in candidate.groups:
        if group.id in results:
            points = tuple(
                (point, at) for point in (study.points if study else ()) for at in point.groups if at.id == group.id
            )
            packages = [_package(project, candidate, member.patch) for member in group.members]
            tolerance = max((capacitance_tolerance(p) for p in packages), default=0.2)
            found.append(Electrical(group, results[group.id], points, tolerance))
    return found


def _package(project: Project, candidate: Candidate, patch_id: str) -> Package:
    return project.package(candidate.patch(patch_id).package)


def _group_blocks(
    project: Project, prediction: Prediction, one: Electrical, leads: Leads | None
) -> Iterator[Block]:
    yield Heading(f"Group {one.group.id}: {one.result.circuit_label}")
    candidate, place = project.candidate(prediction.candidate), project.sheet.connector_place.strip()
    drawn = schematic(project, prediction, one.group.id, with_swing=True)
    yield schematic_figure(drawn, "Circuit of the group, values in effect and volts at the leads; symbols of IEC 60617.", WIDTH_MM)
    yield _wiring(candidate, one.group, place)
    yield wiring_table(candidate, one.group, place or WRITE)
    yield _values(one)
    yield _capacitances(project, prediction, one)
    if len({at.free_capacitance_f for _, at in one.at}) > 1:
        yield _over_temperature(one)
    yield Paragraph(_range(one))
    mode = _served(prediction, candidate.groups.index(one.group))
    if mode is not None:
        yield Heading(f"Group {one.group.id}: adjustment")
        yield adjustment(one.result, mode, one.group.circuit.tuning is not None)
    if one.result.branches > 1 and mode is not None:
        yield _off_tune(prediction, one)
    yield Heading(f"Group {one.group.id}: voltage, charge, bleed resistor")
    blocks = stored_f(prediction.solved.system.connections[[g.id for g in candidate.groups].index(one.group.id)]) is not None
    yield Bullets(tuple(_safety(one, leads, blocks)))
    if one.result.remarks:
        yield Bullets(one.result.remarks)


def _wiring(candidate: Candidate, group: Group, place: str) -> Paragraph:
    extra = ""
    if group.instrument is not None:
        i = group.instrument
        extra = (
            f" In parallel: {i.name}, {words.part(i.resistance_ohm, 'ohm')}, "
            f"{words.capacitance(i.capacitance_f)}."
        )
    return Paragraph(f"Connector at {place or WRITE}: {joined_leads(candidate, group)}; the dot marks the positive lead.{extra}")


def _off_tune(prediction: Prediction, one: Electrical) -> Table:
    """What a branch that is off does to every branch's mode: as tuned, too small and too large."""
    tuning = one.group.circuit.tuning
    modes = [] if tuning is None else [m for m in tuning.modes(one.result.branches) if m <= len(prediction.modes)]
    rows = []
    for price in one.result.prices:
        if price.unit == "ohm":
            continue
        told = (words.three(*(words.damping(float(v[m - 1])) for v in (price.low, price.at_present, price.high))) for m in modes)
        rows.append((price.label, words.share(price.missed - 1.0), *told))
    heads = ("Off", "by", *(f"Damping of mode {m}: less, as it is, more" for m in modes))
    return Table(heads, tuple(rows), (2.4, 0.8, *(2.4,) * len(modes)))


def _range(one: Electrical) -> str:
    """The capacitance the circuit may meet, over temperature and with the spread of packages."""
    met = [one.result.free_capacitance_f, *(at.free_capacitance_f for _, at in one.at)]
    low, high = min(met), max(met)
    told = "at the reference temperature" if len(met) == 1 else "from cold to hot"
    spread = words.between(words.capacitance(low * (1.0 - one.tolerance)), words.capacitance(high * (1.0 + one.tolerance)))
    span = words.capacitance(low) if low == high else words.between(words.capacitance(low), words.capacitance(high))
    return f"Free capacitance {told}: {span}; with the spread of packages {spread}."


def _served(prediction: Prediction, group: int) -> ModeResult | None:
    """The mode that the group's circuit serves; None where it is not among those shown."""
    served = prediction.solved.serves[group]
    return prediction.modes[served] if served < len(prediction.modes) else None


def _values(one: Electrical) -> Table:
    tuning = one.group.circuit.tuning
    rule = "entered by hand" if tuning is None else f"{_modes(tuning, one.result.branches)}, {tuning.rule}, goal {tuning.goal}"
    rows = []
    for value in one.result.values:
        low, high = _trim(one, value.name, value.value)
        span = words.between(words.engineering(low, value.unit), words.engineering(high, value.unit))
        rows.append((value.label, value.told, span if value.unit else "", rule))  # fmt: skip
    if not rows:
        rows = [(one.result.circuit_label, "no value", "none", rule if tuning else "as wired")]
    return Table(("Part", "Nominal", "Trim range to provide", "Follows from"), tuple(rows), (1.8, 1.6, 2.6, 3.0))


def _modes(tuning: Tuning, branches: int) -> str:
    modes = tuning.modes(branches)
    return f"mode {modes[0]}" if len(modes) == 1 else f"modes {', '.join(map(str, modes))}"


def _trim(one: Electrical, name: str, nominal: float) -> tuple[float, float]:
    """What a spread of the capacitance and the service temperatures ask for.

    Resistance and inductance of a tuned circuit go as one over the capacitance.
    """
    wanted = [nominal, *(dict(at.retrimmed).get(name, nominal) for _, at in one.at)]
    low, high = min(wanted), max(wanted)
    if name.startswith(("resistance", "inductance")):
        return low / (1 + one.tolerance), high / (1 - min(one.tolerance, 0.9))
    return low * (1 - one.tolerance), high * (1 + one.tolerance)


def _capacitances(project: Project, prediction: Prediction, one: Electrical) -> Table:
    result = one.result
    rows = [
        ("Free, on the part", words.capacitance(result.free_capacitance_f), "at rest, far below mode 1"),
        *(_read(one_read) for one_read in result.metered),
        ("Blocked", words.capacitance(result.blocked_capacitance_f), "far above the modes; not for tuning"),
    ]
    tuning = one.group.circuit.tuning
    served = 0 if tuning is None else tuning.mode
    for mode, value in zip(prediction.modes, result.modal_capacitance_f, strict=False):
        if mode.number <= SHOWN_MODES or mode.number == served:
            use = "THE CIRCUIT IS TUNED WITH THIS ONE" if mode.number == served else "for a circuit on that mode"
            rows.append((f"Seen by mode {mode.number}, {words.frequency(mode.f_short_hz)}", words.capacitance(value), use))
    rows.append(("Spread between packages", f"± {words.share(one.tolerance)}", "measure each, trim to it"))
    heads = (f"Capacitance at {words.celsius(project.service.reference_c)}", "Value", "Use")
    return Table(heads, tuple(rows), (2.6, 1.5, 3.4))


def _read(one: Metered) -> tuple[str, str, str]:
    """A row that says what a meter shows, and when not to believe it."""
    use = "for comparison with the meter"
    if one.near_mode is not None:
        use = f"bent by mode {one.near_mode} nearby: do not take it for the free one"
    return (f"A meter at {words.frequency(one.frequency_hz)} reads", words.capacitance(one.capacitance_f), use)


def _over_temperature(one: Electrical) -> Table:
    rows = []
    names = [value for value in one.result.values]
    for point, at in one.at:
        retrimmed = dict(at.retrimmed)
        again = ", ".join(words.part(retrimmed[v.name], v.unit) for v in names if v.name in retrimmed)
        detuning = "" if at.detuning is None else words.shift(at.detuning)
        rows.append((f"{point.name}, {words.celsius(point.temperature_c)}", words.capacitance(at.free_capacitance_f),
                     words.shift(at.capacitance_shift), detuning,
                     again or "nothing to trim"))  # fmt: skip
    heads = ("Temperature", "Free capacitance", "Change", "Detuning, values held", "Re-trimmed there")
    return Table(heads, tuple(rows), (1.8, 1.6, 1.1, 2.0, 2.2))


def _safety(one: Electrical, leads: Leads | None, blocks: bool) -> Iterator[str]:
    result, safety = one.result, one.result.safety
    yield f"Under the load the parts see {result.under_load}."
    if safety.largest is None:
        yield f"Nothing is given that would make a voltage: measure it, {WRITE} V."
    else:
        yield f"Rate for these leads open: {volts_up_to(safety.volts)} ({safety.largest.cause}); charge and energy {safety.stored}."
        own = leads.of(f"group {one.group.id}") if leads else None
        if own and own.with_circuit:
            connected = own.with_circuit
            yield f"Connected: up to {volts_up_to(connected.volts)} ({connected.cause})."
        yield f"Touch: {safety.touch} ({SOURCE}.)"
    place = "" if safety.bleed.cost is None else " It sits on the patch's side of the connector; measure the insulation without it."
    yield f"{safety.bleed.sentence}{place}"
    resistance = next((v.value for v in result.values if v.name == "resistance_ohm"), None)
    if blocks and one.group.circuit.kind != "open":
        yield "Connected, the circuit lets no steady current through: the charge stays, connected or not."
    elif resistance:
        yield (
            f"Connected, the circuit itself bleeds: {words.part(resistance, 'ohm')} with the patch has a time "
            f"constant of {words.seconds(resistance * safety.capacitance_f)}. Unplugged it does not."
        )


def _bench() -> tuple[str, ...]:
    return (
        "Measure the group's own capacitance at the connector, part at room temperature: ______ nF. "
        "Trim to it, not to the nominal value.",
        "Resistance of a coil counts into the resistance of the circuit; measure it at the mode's frequency.",
        "A probe of 1 MΩ is a shunt: use 10 MΩ or a buffer to look at an open patch.",
        "Polarity: press test at the connector before the circuit is plugged in.",
    )
