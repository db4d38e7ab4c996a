"""The process card: bonding step by step, the ten-minute electrical check, a record for each part.

For the shop: geometry, package data and the sheet's own texts. No result of the prediction.
"""

from __future__ import annotations

from collections.abc import Sequence

from core.handover.drawing.dimensions import number
from core.handover.sheet.identity import title_of
from core.handover.sheet.notes import (
    EXTRA_DROP,
    caution_lines,
    press_test,
    relief_words,
    shown_remarks,
)
from core.handover.sheet.package_data import (
    capacitance_tolerance,
    check_cure,
    heat_limit,
    largest_clamping_drop,
)
from core.handover.sheet.plan_dimensions import written_along
from core.handover.sheet.section_detail import bond_line, shared
from core.handover.sheet.subject import Placed, Subject
from core.handover.template.template_part import flap_side, written_across
from core.handover.text.document import Caution, Document, Heading, Paragraph, Steps, Table
from core.handover.text.shop import (
    WRITE,
    candidate_of,
    ceramics_per_part,
    every_package,
    identity,
    subjects,
    under_validity,
)
from core.measured.bonded import LEAST_INSULATION_OHM
from core.piezo.ceramic import free_capacitance_f
from core.predict.prediction import Remark
from core.project.model import Project
from core.project.structure import Level
from core.units import words

RECORD_ROWS = 8
MOST_ROWS = 60
"""A longer record is made by copying its pages."""
LOSS_LIMIT = 1.5
"""Dissipation factor over the usual one above which a package is looked at again."""


def process_card(
    project: Project,
    candidate_id: str | None = None,
    remarks: Sequence[Remark | str] = (),
    *,
    open_voltage_v: float | None = None,
) -> Document:
    """The card of a candidate. SheetError in words where the layout cannot be built."""
    faces = subjects(project, candidate_id)
    placed = every_package(faces)
    check_cure(project.sheet, tuple(p.package for p in placed))
    blocks = (
        Caution("CAUTION", _cautions(faces, open_voltage_v)),
        Heading("What is bonded where"),
        _places(faces),
        Heading("At hand before the adhesive is mixed"),
        _needed(project, placed),
        Heading("Before bonding"),
        Steps(_before(placed)),
        Heading("Bonding"),
        Steps(_bonding(project, faces[0], placed)),
        Heading("Ten-minute electrical check, before the part goes further"),
        Steps(_check(faces, placed, project.structure.level)),
        Paragraph("In this order, on every part. Leads go back under the clip after each step."),
        Heading("What a finding means"),
        _findings(placed, project.structure.level),
        Heading("Record"),
        _record(project, placed),
        *_more_rows(project, placed),
        Paragraph(f"Adhesive lot {WRITE}   mixed at {WRITE}   room {WRITE} °C   checked by {WRITE}"),
        *under_validity(shown_remarks(faces[0], remarks)),
    )
    candidate = candidate_of(project, candidate_id)
    return Document(
        "PROCESS CARD", "the bonding shop", title_of(project, candidate), identity(project, candidate), blocks,
        at_the_bench=True,
    )  # fmt: skip


def _cautions(faces: Sequence[Subject], open_voltage_v: float | None) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line for subject in faces for line in caution_lines(subject, open_voltage_v)))


def _places(faces: Sequence[Subject]) -> Table:
    rows = []
    for subject in faces:
        for p in subject.placed:
            rows.append((
                p.id, subject.face, written_along(subject, p), written_across(subject, p),
                f"dot at the lead end, leads {p.patch.lead_exit}",
            ))  # fmt: skip
    return Table(("Package", "Face", "Along", "Across, angle", "Polarity, leads"), tuple(rows),
                 (0.8, 1.0, 2.0, 3.0, 2.6))  # fmt: skip


def _needed(project: Project, placed: Sequence[Placed]) -> Table:
    kinds: dict[str, list[Placed]] = {}
    for p in placed:
        kinds.setdefault(p.article, []).append(p)
    sheet = project.sheet
    rows = [
        (f"{ceramics_per_part(group)} x {name}", "clip on the leads, no chip, no crack", f"lot {WRITE}")
        for name, group in kinds.items()
    ]
    rows += [
        (sheet.adhesive.rstrip(". ") or "adhesive", "within its shelf life", f"good until {WRITE}"),
        ("diagram and 1:1 template, same revision", "bars of the template measured", f"bars {WRITE} mm"),
        ("capacitance meter, 1 kHz", "leads compensated", f"due {WRITE}"),
        ("insulation tester, 50 V", "never above 50 V on a package", f"due {WRITE}"),
        ("voltmeter, 10 MΩ or more", "for the press test", f"due {WRITE}"),
    ]
    return Table(("Item", "Condition", "Lot, date"), tuple(rows), (3.2, 2.8, 2.0))


def _before(placed: Sequence[Placed]) -> tuple[str, ...]:
    value = shared(tuple(placed), _capacitance_limits)
    loss = shared(tuple(placed), lambda p: words.share(LOSS_LIMIT * p.package.ceramic.tan_delta.value))
    return (
        "Part and packages at room temperature for an hour; package touched at its edges, gloves on.",
        "Look along the ceramic against the light: a chip or a line in it is a reject.",
        f"Clip off, capacitance at 1 kHz {value}, dissipation factor below {loss}; write both down; clip on.",
        "Dry fit: package on the marked place, dot and lead exit as on the diagram, no keep-out touched.",
    )


def _bonding(project: Project, face: Subject, placed: Sequence[Placed]) -> tuple[str, ...]:
    sheet = project.sheet
    line = shared(tuple(placed), lambda p: f"{bond_line(p.patch.bond.thickness_m)} mm")
    limit = shared(tuple(placed), lambda p: heat_limit(p.package).words)
    relief = shared(tuple(placed), lambda p: relief_words(project, face.candidate, p))
    lay = "Fold the flap of the template over datum A"
    if not flap_side(face):  # inside the part there is no edge to fold it over
        lay = f"Line the template up with datum A ({face.datums.a_name})"
    steps = (
        f"{lay}, tape it down, prick or knife the package corners through; "
        "take it off and check one corner with a rule. The written dimension governs.",
        sheet.surface_preparation,
        "Carbon fibre or bare metal under an electrode that wraps round: insulating layer first.",
        f"{sheet.adhesive.rstrip('. ')}: mix, degas, spread on the part from the middle outward; "
        f"line {line}, set by beads, scrim or weight.",
        "Set the package down at one end and roll it on; push to the marks, "
        "within the tolerances above. "
        "Never slide a blade under it, never press on a point.",
        sheet.cure,
        f"At no time above {limit}, adhesive lamps and irons included.",
        "Fillet all round, none on the connector; wipe what has run over the dot.",
        f"{relief[:1].upper()}{relief[1:]}, leads not bent below "
        f"{shared(tuple(placed), lambda p: number(1e3 * p.package.lead_bend_radius_m))} mm; clip stays on.",
    )
    return tuple(step for step in steps if step.strip())


def _largest_fall(placed: Sequence[Placed], level: Level) -> str:
    return shared(
        tuple(placed), lambda p: words.share(round(largest_clamping_drop(p.package, level) + EXTRA_DROP, 2))
    )


def _check(faces: Sequence[Subject], placed: Sequence[Placed], level: Level) -> tuple[str, ...]:
    drop = _largest_fall(placed, level)
    presses = tuple(dict.fromkeys(press_test(subject) for subject in faces))
    return (
        "Cold to the touch, an hour out of the oven. Clip off: hand away from the leads, short them once.",
        f"Capacitance at 1 kHz: lower than before by no more than {drop}.",
        "Dissipation factor: as before within a tenth of it.",
        f"Insulation above {words.engineering(LEAST_INSULATION_OHM, 'ohm')} at 50 V between the leads, and from each lead to the part, with no bleed "
        "resistor connected yet (unless the supplier says otherwise).",
        *presses,
        "Voids: tap with a pencil or look from the side; below 5 % of the area, none at the ends.",
        "Position with a rule from datum A and datum B, both ends of the package for the angle.",
        "Where the test lab asks for it: tap the part with the leads shorted, then open; note both "
        "frequencies, hand them on.",
    )


def _findings(placed: Sequence[Placed], level: Level) -> Table:
    drop = _largest_fall(placed, level)
    rows = (
        (f"capacitance down by more than {drop}", "crack or lifted electrode until proven otherwise",
         "set aside, tell quality"),
        ("capacitance up, loss up", "moisture or adhesive across the leads", "dry, clean, measure again"),
        ("insulation low", "adhesive on the connector, wrapped electrode on the part", "clean; else reject"),
        ("press test with the wrong sign", "package turned over or leads swapped",
         "turn at the connector, mark it, tell the office"),
        ("no voltage in the press test", "clip still on, broken lead", "look, then measure again"),
        ("void at an end", "too little adhesive, slid package", "reject: the ends carry the load"),
    )  # fmt: skip
    return Table(("Finding", "Likely cause", "Then"), rows, (2.6, 3.0, 2.4))


def _record(project: Project, placed: Sequence[Placed]) -> Table:
    per_part = len(placed)
    rows = min(MOST_ROWS, max(RECORD_ROWS, project.sheet.parts * per_part))
    heads = ("Part, package", "C before nF", "C after nF", "loss %", "MΩ", "press +/\N{MINUS SIGN}",
             "A mm", "B mm", "voids", "good, initials")  # fmt: skip
    blank = ("",) * len(heads)
    return Table(heads, (blank,) * rows, (2.0, 1.3, 1.3, 0.9, 0.9, 1.0, 1.1, 1.1, 0.9, 1.7), room_mm=7.0)


def _more_rows(project: Project, placed: Sequence[Placed]) -> tuple[Paragraph, ...]:
    """What to do where the card has fewer rows than there are packages to record."""
    wanted = project.sheet.parts * len(placed)
    if wanted <= MOST_ROWS:
        return ()
    return (
        Paragraph(f"{wanted} rows are needed for {project.sheet.parts} parts: copy the pages of the record."),
    )


def _capacitance_limits(placed: Placed) -> str:
    value = 1e9 * free_capacitance_f(placed.patch, placed.package)
    tolerance = capacitance_tolerance(placed.package)
    digits = 0 if value >= 100 else 1 if value >= 10 else 2
    return f"{value * (1 - tolerance):.{digits}f} to {value * (1 + tolerance):.{digits}f} nF"
