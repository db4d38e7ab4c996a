"""The test card for the lab: fixture, states, records, expected values with pass bands, limits of the instruments.

Bands are the tolerance study's own; what a record must hold, what a sensor may weigh and what an input must
have are asked of the functions that later judge the records.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from core.handover.sheet.identity import title_of
from core.handover.text.document import Block, Bullets, Caution, Document, Heading, Paragraph, Steps, Table
from core.handover.text.shop import WRITE, candidate_of, identity, lead_cautions, validity
from core.measured.bonded import LEAST_INSULATION_OHM, band_words, reading_words
from core.measured.damping import least_record_s, widest_spacing_hz
from core.measured.evaluate import MOST_MODES
from core.measured.predicted import LEAST_K2, modal_masses, modes_of
from core.measured.quality import SENSOR_SHIFT, SHUNT_DAMPING, largest_sensor_kg, least_input_ohm
from core.measured.runs import few_runs
from core.predict.group_result import GroupResult
from core.predict.mode_result import ModeResult
from core.predict.prediction import Prediction
from core.predict.remarks.mass_validity import mass_words
from core.predict.use.metered import METER_HZ, clearest
from core.project.bonded import open_hz
from core.project.model import Project
from core.project.structure import Support
from core.study.tolerance.pass_bands import PassBands, Reading
from core.study.tolerance.tolerance import ToleranceResult
from core.units import show_with_unit, words
from core.units.sentence import inside

ALTERNATIONS = 3
SAMPLES_A_CYCLE = 10
NEAR_C = 2.0
"""Temperature between the states: a patch's frequencies move by some tenths of a per cent in ten degrees."""
CABLE = 0.01
"""Of the capacitance: takes as much of K^2."""
NONE = words.NO_VALUE


def lab_card(
    project: Project, candidate_id: str | None, prediction: Prediction, tolerance: ToleranceResult | None
) -> Document:
    """The card of a candidate; without a tolerance study there are no pass bands, and it says so."""
    candidate = candidate_of(project, candidate_id)
    bands = None if tolerance is None else PassBands(tolerance)
    modes = prediction.modes[:MOST_MODES]
    blocks: list[Block] = [
        Caution("CAUTION", (*lead_cautions(prediction), "Never more than 50 V on a package when insulation is measured.")),
        Heading("Fixture"),
        Bullets(tuple(_fixture(project, prediction))),
        Heading("States to measure, in this order"),
        _states(project, prediction),
        Paragraph(
            f"Shorted and open in turn, at least {ALTERNATIONS} times each: a drift then falls out of the difference, and few repeats "
            f"widen the range of their mean, {ALTERNATIONS - 1} by {_wider(ALTERNATIONS - 1)}, {ALTERNATIONS} by {_wider(ALTERNATIONS)} (Student's t). Same fixture, "
            f"same sensor, same strike, within {words.plain(NEAR_C)} °C. Take one file a record and say the state in its name."
        ),
        Heading("Excitation and sensor"),
        Bullets(tuple(_excitation(prediction, modes))),
        Heading("What each record must hold"),
        *_records(prediction, modes),
        Heading("Expected frequency and damping"),
        *_expected(prediction, modes, bands),
    ]
    if prediction.groups:
        blocks += [Heading("Expected coupling K²"), *_coupling(prediction, modes, bands)]
        blocks += [Heading("Expected capacitance"), _capacitance(prediction, bands)]
    blocks += [
        *_on_bands(bands),
        Heading("Before anything is believed"),
        Steps(tuple(_cautions(modes))),
        Table(("Measured by", "Instrument, sensor", "Temperature", "Date"), (("",) * 4,), (2, 3, 1.5, 1.5), room_mm=8.0),
    ]
    blocks += validity(prediction)
    return Document("TEST CARD", "the test lab", title_of(project, candidate), identity(project, candidate), tuple(blocks))


# ---- how it is held, struck and wired ------------------------------------------------------------


def _fixture(project: Project, prediction: Prediction) -> Iterator[str]:
    structure = project.structure
    yield f"Root: {_support_words(structure.root)}. Tip: {_support_words(structure.tip)}. Free span {words.millimetres(structure.span_m)}."
    if structure.root.kind in ("clamped", "elastic"):
        yield (
            "f1 tells how the root is held: find its stiffness from f1 before anything else is judged, and leave the clamp "
            "as it is between the states. Tighten to the same torque, note it, no soft jaws: "
            f"{WRITE} N m."
        )
    if prediction.total_mass_kg > 0.0:
        yield f"With the packages the part weighs {words.mass(prediction.total_mass_kg)} by the model; on the scale: {WRITE}."
    carried = [mass_words(mass) for mass in structure.masses if mass.mass_kg > 0.0]
    if carried:
        yield f"On the part as modelled: {', '.join(dict.fromkeys(carried))}."
    yield f"At {words.celsius(project.service.reference_c)}; the part an hour in the room. Cables taped down at the root, light and slack."


def _support_words(support: Support) -> str:
    if support.kind == "elastic":
        turning = "rigid" if math.isinf(support.k_r_nm_rad) else show_with_unit(support.k_r_nm_rad, "N m/rad", significant=3)
        sideways = "rigid" if math.isinf(support.k_t_n_m) else show_with_unit(support.k_t_n_m, "kN/m", significant=3)
        return f"elastic, against turning {turning}, against sideways motion {sideways}"
    return {
        "clamped": "clamped, taken as rigid",
        "pinned": "pinned",
        "guided": "guided, cannot turn",
        "free": "free",
    }[support.kind]


def _wider(runs: int) -> str:
    return f"{words.percent(few_runs(runs - 1) - 1.0, 0)}"


def _states(project: Project, prediction: Prediction) -> Table:
    candidate = project.candidate(prediction.candidate)
    several = len(prediction.groups) > 1
    rows: list[tuple[str, ...]] = []
    if prediction.groups:
        rows.append(("shorted", "clip across the leads of every group", "frequency, damping"))
    else:
        rows.append(("as it is", "no patch on the part", "frequency, damping"))
    for group in prediction.groups:
        rest = "; the other groups shorted" if several else ""
        rows.append((f"open {group.id}" if several else "open", f"nothing on the leads of {group.id}, no probe below the input named below{rest}", "frequency, damping, K²"))
    for group, given in zip(prediction.groups, candidate.groups, strict=True):
        if group.circuit not in ("shorted", "open"):
            values = ", ".join(f"{inside(v.label)} {v.told}" for v in group.values)
            hung = "" if given.instrument is None else f"; with {given.instrument.name}"
            rows.append(("circuit", f"{group.id}: {inside(group.circuit_label)}, {values or 'as built'}{hung}; write down the value in use {WRITE}", "damping, response"))
    return Table(("State", "On the leads", "Find"), tuple(rows), (1.2, 5.0, 2.0))


def _excitation(prediction: Prediction, modes: tuple[ModeResult, ...]) -> Iterator[str]:
    x = _where_all_move(prediction, len(modes))
    if x is not None:
        numbers = f"modes 1 to {len(modes)}" if len(modes) > 1 else "mode 1"
        yield f"Strike or pluck at {words.millimetres(x, 0)} from the root: {numbers} all move there. Hit once; a second hit is a record to throw away."
    yield "Two swings: as small as the sensor hears, and as large as in service. Damping that depends on the swing is a finding."
    yield "No exponential window. If the analyser must use one, write down its time constant: its damping is taken off."
    yield "Gain control off, range set so that nothing clips; force and response in one file where there is a hammer."
    yield "Sensor: a light spot or one strain gauge before any mass. A mass goes where it is least, or is entered with its place."


def _where_all_move(prediction: Prediction, count: int) -> float | None:
    """The place where the mode that moves least there moves most, against its own largest swing."""
    shapes = prediction.shapes
    swing = np.abs(shapes.deflection[:count])
    top = swing.max(axis=1, initial=0.0)
    if not count or not (top > 0.0).all():
        return None
    return float(shapes.x_m[int(np.argmax((swing / top[:, None]).min(axis=0)))])


# ---- records and instruments ---------------------------------------------------------------------


def record_needs(prediction: Prediction, mode: ModeResult) -> tuple[float, float, float, float]:
    """(length s, line spacing Hz, sensor kg at the tip, input ohm) as printed for a mode: rounded to the side
    on which nothing is remarked of a record."""
    n, zeta, f = mode.number, mode.zeta_inherent, mode.f_short_hz
    masses = modal_masses(prediction)
    inputs = [
        least_input_ohm(zeta, k2, f, group.modal_capacitance_f[n - 1])
        for k2, group in zip(mode.group_k2, prediction.groups, strict=True)
    ]
    return (
        _up(least_record_s(zeta, f)),
        _down(widest_spacing_hz(zeta, f)),
        _down(largest_sensor_kg(masses[n])) if n in masses else math.inf,
        _up(max(inputs, default=0.0)),
    )


def _records(prediction: Prediction, modes: tuple[ModeResult, ...]) -> Iterator[Block]:
    rows = []
    for mode in modes:
        length, spacing, sensor, ohm = record_needs(prediction, mode)
        lines = f"{words.engineering(spacing, 'Hz')}, {words.seconds(_up(1.0 / spacing))}" if spacing > 0.0 else NONE
        rows.append((
            str(mode.number), words.frequency(mode.f_short_hz), words.seconds(length), lines,
            words.mass(sensor) if sensor < prediction.total_mass_kg else "any", words.engineering(ohm, "ohm") if ohm > 0.0 else "any",
        ))  # fmt: skip
    heads = ("Mode", "About", "Decay, at least", "Lines apart at most, record for it", "Sensor at the tip, at most", "Input, at least")
    yield Table(heads, tuple(rows), (0.7, 1.3, 1.4, 2.6, 1.7, 1.5))
    fastest = SAMPLES_A_CYCLE * max((m.f_short_hz for m in modes), default=0.0)
    yield Paragraph(
        "A decay: six time constants. A response function: five lines in the half-power band. A sensor at the tip shifts the "
        f"frequency by {words.percent(SENSOR_SHIFT, 1)} at most. An input on open leads adds at most {words.share(SHUNT_DAMPING)} of the "
        f"damping. Sample {words.engineering(_up(fastest), 'Hz')} or faster."
    )
    if prediction.groups:
        least = min(min(g.modal_capacitance_f) for g in prediction.groups if g.modal_capacitance_f)
        yield Paragraph(
            f"Cable and input together below {words.engineering(_down(CABLE * least), 'F')}: more takes over {words.share(CABLE)} of K²."
        )


def _up(value: float) -> float:
    """To three figures, never less."""
    return _rounded(value, math.ceil)


def _down(value: float) -> float:
    """To three figures, never more."""
    return _rounded(value, math.floor)


def _rounded(value: float, way: Callable[[float], int]) -> float:
    if not 0.0 < value < math.inf:
        return value
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return float(f"{way(round(value / step, 9)) * step:.3g}")


# ---- expected ------------------------------------------------------------------------------------


def _expected(prediction: Prediction, modes: tuple[ModeResult, ...], bands: PassBands | None) -> Iterator[Block]:
    rows: list[tuple[str, ...]] = []
    several = len(prediction.groups) > 1
    circuits = any(g.circuit not in ("shorted", "open") for g in prediction.groups)
    at_poles = {m.number: m.f_hz for m in modes_of(prediction)}
    for mode in modes:
        n = mode.number
        rows.append((
            str(n), "shorted" if prediction.groups else "as it is",
            words.frequency(mode.f_short_hz), band_words(bands, Reading("f_short_hz", n)),
            words.damping(mode.zeta_inherent), band_words(bands, Reading("zeta_short", n)),
        ))  # fmt: skip
        for group, k2 in zip(prediction.groups, mode.group_k2, strict=True):
            f = open_hz(mode.f_short_hz, k2)
            rows.append((
                "", f"open {group.id}" if several else "open",
                words.frequency(f), band_words(bands, Reading("f_open_hz", n, group.id)), words.damping(mode.zeta_inherent), "",
            ))  # fmt: skip
        if circuits:
            rows.append((
                "", "circuit", words.NO_VALUE if math.isnan(mode.zeta) else words.frequency(at_poles[n]), "", words.damping(mode.zeta), band_words(bands, Reading("zeta", n)),
            ))  # fmt: skip
    heads = ("Mode", "State", "Frequency", "passes from ... to", "Damping ratio", "passes from ... to")
    yield Table(heads, tuple(rows), (0.7, 1.2, 1.4, 2.2, 1.4, 2.0))
    if circuits:
        yield Paragraph("With the circuit: the lower damped of the poles where it splits a mode; damping of the whole layout as built.")


def _coupling(prediction: Prediction, modes: tuple[ModeResult, ...], bands: PassBands | None) -> Iterator[Block]:
    rows: list[tuple[str, ...]] = []
    for mode in modes:
        for group, k2 in zip(prediction.groups, mode.group_k2, strict=True):
            judged = "yes" if k2 >= LEAST_K2 else "no: a small part of the patch decides it"
            rows.append((str(mode.number), group.id, words.coupling(k2), band_words(bands, Reading("k2", mode.number, group.id)), judged))
    yield Table(("Mode", "Group", "K²", "passes from ... to", "Bond judged on it"), tuple(rows), (0.7, 0.9, 1.1, 2.2, 3.2))
    yield Paragraph("K² is (open² − shorted²) / shorted² of the frequencies, the other groups shorted.")


def _capacitance(prediction: Prediction, bands: PassBands | None) -> Table:
    rows = [row for group in prediction.groups for row in _capacitances(group, bands)]
    return Table(("Group", "Read", "Expected", "passes from ... to"), tuple(rows), (0.9, 3.4, 1.6, 2.4))


def _capacitances(group: GroupResult, bands: PassBands | None) -> Iterator[tuple[str, ...]]:
    bonded, loose = clearest(group.metered), group.unbonded_capacitance_f
    yield (group.id, f"before bonding, {_at_hz(METER_HZ[-1])}", words.capacitance(loose), band_words(bands, Reading("unbonded_f", 0, group.id)))
    yield ("", f"bonded, {_at_hz(bonded.frequency_hz)}", words.capacitance(bonded.capacitance_f), band_words(bands, Reading("bonded_f", 0, group.id)))
    if loose > 0.0:
        change = band_words(bands, Reading("bonding", 0, group.id))
        yield ("", "change by bonding", reading_words("bonding", bonded.capacitance_f / loose), change)
    yield ("", "insulation, 50 V, no bleed resistor", f"over {words.engineering(LEAST_INSULATION_OHM, 'ohm')}", "")


def _at_hz(hertz: float) -> str:
    return f"{words.plain(hertz)} Hz"


def _on_bands(bands: PassBands | None) -> Iterator[Block]:
    if bands is None:
        yield Paragraph("No pass bands: no tolerance study can be made of this layout, which has no patch or no input that varies.")
        return
    study = bands.study
    yield Paragraph(
        f"Pass bands: P10 to P90 of the tolerance study ({study.progress.done} samples, seed {study.seed}). Eight good parts of ten "
        "lie within each; a value outside is looked at again, not thrown away."
    )


def _cautions(modes: tuple[ModeResult, ...]) -> Iterator[str]:
    yield "Model, then bond, then circuit, in that order: f shorted first, then K², then damping with the circuit."
    yield "Change one thing at a time. A warm afternoon and a cold morning are two things."
    yield "Open is open: a probe of 1 MΩ is a shunt. More damping open than shorted is the instrument, not the bond."
    yield "Press test at the connector: the dot goes to the sign on the placement diagram."
    if any(k2 < LEAST_K2 for mode in modes for k2 in mode.group_k2):
        yield f"Modes with K² under {words.percent(LEAST_K2)} say nothing of the bond."
    yield "Keep every file as recorded, with the serial number of the part; hand on what was thrown away, and why."
