"""What the shop must read: datums, bond, polarity, leads, keep-outs, inspection, cautions.

Values come from geometry, package data and the sheet's own fields. No result of the prediction
belongs here; remarks on validity are passed in and stand in a note of their own.
"""

from __future__ import annotations

from collections.abc import Sequence

from core.handover.drawing.dimensions import number
from core.handover.sheet.edges import LOOKING
from core.handover.sheet.package_data import (
    capacitance_tolerance,
    heat_limit,
    is_ceramic,
    largest_clamping_drop,
    least_bend_radius_m,
)
from core.handover.sheet.section_detail import bond_line, shared
from core.handover.sheet.subject import Placed, Subject
from core.handover.sheet.tolerances import room_words
from core.handover.sheet.tuned_masses import caution_lines as swinging
from core.handover.sheet.tuned_masses import note_lines as tuned_mass_lines
from core.measured.bonded import LEAST_INSULATION_OHM
from core.piezo.ceramic import free_capacitance_f
from core.predict.electrics.leads import rounded_up
from core.predict.electrics.safety import DEFERS
from core.predict.prediction import Remark
from core.predict.use.driven import driven_groups
from core.project.candidate import Candidate
from core.project.edge_strips import edge_strips
from core.project.model import Project
from core.project.placement.lead import RELIEF_M, lead_run
from core.project.placement.room import edge_distance, near_things
from core.project.plan import package_margins
from core.project.sheet import Sheet
from core.project.structure import KeepOut, Level
from core.project.wiring_words import joined_leads
from core.units import words

Block = tuple[str, tuple[str, ...]]
"""A heading and its paragraphs."""

AROUND_MM = round(1e3 * RELIEF_M)
EXTRA_DROP = 0.05
"""Fall of capacitance beyond what bonding explains that counts as a crack or lifted electrode."""


def note_blocks(subject: Subject, remarks: Sequence[Remark | str]) -> tuple[Block, ...]:
    """Everything beside the views, in the order of the work."""
    bonded = bool(subject.placed)
    blocks = [
        ("Datums and dimensions", _datums(subject)),
        ("Bond", _bond(subject) if bonded else ()),
        ("Polarity", _polarity(subject) if bonded else ()),
        ("Leads", _leads(subject) if bonded else ()),
        ("Keep clear", _keep_clear(subject)),
        ("Edges", _edges(subject)),
        ("Tuned masses", tuned_mass_lines(subject)),
        ("Inspect", _inspect(subject) if bonded else ()),
        ("Validity of the design", shown_remarks(subject, remarks)),
    ]
    return tuple((heading, lines) for heading, lines in blocks if lines)


def _datums(subject: Subject) -> tuple[str, ...]:
    datums, placed = subject.datums, subject.placed
    sizes = shared(placed, lambda p: (
        f": package {_size(p, *package_margins(p.package))}, ceramic {_size(p, 0.0, 0.0)}"))  # fmt: skip
    measured = "package edge" if placed else "axis of the tuned mass"
    at_support = abs(datums.a_mm) < 1e-3
    support = "" if at_support else " The support line is for reference only."
    lines = [
        f"A: {datums.a_name}. B: {datums.b_name}.{support}",
        f"Millimetres, from A and B only; values in brackets are for reference{sizes}.",
        f"Functional: distance from A to the {measured}{_source(subject)}. Not toleranced here: ISO 2768-m.",
    ]
    shown = {p.id for p in placed}
    lines += [
        words for words in room_words(subject.project, subject.candidate.id) if shown & set(words.split())
    ]
    if any(p.turned for p in placed):
        lines.append("A turned package is measured at the middle of its end edge.")
    return tuple(lines)


def _source(subject: Subject) -> str:
    """Where the tolerances come from: a study, a hand, or the values every new sheet starts with."""
    sheet = subject.project.sheet
    source = sheet.tolerance_source.strip().rstrip(".")
    if source:
        return f"; tolerances from {source}"
    usual = Sheet()
    names = ("tolerance_x_m", "tolerance_y_m", "tolerance_angle_rad")
    if all(getattr(sheet, name) == getattr(usual, name) for name in names):
        return "; tolerances are usual values, not calculated for this part"
    return "; tolerances as entered by the designer"


def _size(placed: Placed, end_m: float, side_m: float) -> str:
    patch = placed.patch
    return f"{number(1e3 * (patch.length_m + 2 * end_m))} x {number(1e3 * (patch.width_m + 2 * side_m))}"


def _bond(subject: Subject) -> tuple[str, ...]:
    sheet, placed = subject.project.sheet, subject.placed
    limit = shared(placed, lambda p: heat_limit(p.package).words)
    line = shared(placed, lambda p: bond_line(p.patch.bond.thickness_m))
    return tuple(_sentence(text) for text in (
        sheet.surface_preparation,
        f"{sheet.adhesive.rstrip('. ')}; shelf life good until: ____________",
        f"Bond line {line}, set by beads, scrim or weight; fillet all round, none on the connector",
        f"{_sentence(sheet.cure)} Never above {limit}",
        "Carbon or bare metal under a wrapped electrode: insulating layer first",
    ) if text.strip())  # fmt: skip


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "_")) else text + "."


def _polarity(subject: Subject) -> tuple[str, ...]:
    return (
        "Filled dot: the lead that is positive for a field along the poling P; the same dot is on the part "
        "and on the connector.",
        press_test(subject),
    )


def press_test(subject: Subject) -> str:
    """The one sentence a shop can test, for the face shown and the way the part is held."""
    structure, sign = subject.project.structure, "positive" if subject.face == "top" else "negative"
    patch = "a top-face patch" if subject.face == "top" else "an underside patch"
    if structure.root.kind in ("clamped", "elastic") and structure.tip.kind == "free":
        way = "down" if subject.face == "top" else "down, top face up,"
        return (
            f"Press the tip {way} by hand: the dot of {patch} goes {sign}. Verify one part with a voltmeter."
        )
    return (
        "Bend the part by hand so that the face with the patch is stretched: the dot goes positive. "
        "Verify one part with a voltmeter."
    )


def _leads(subject: Subject) -> tuple[str, ...]:
    words = shared(subject.placed, lambda p: (
        f"exit {p.patch.lead_exit}, {number(1e3 * p.package.lead_length_m)} long, "
        f"bend radius {number(1e3 * p.package.lead_bend_radius_m)} or more; "
        f"{relief_words(subject.project, subject.candidate, p)}"))  # fmt: skip
    lines = [
        f"{words[0].upper()}{words[1:]}; "
        f"connector lands at: {subject.project.sheet.connector_place.strip() or '____________'}",
        "Leads stay shorted by the supplied clip until connection.",
    ]
    return (*lines, *_wiring(subject))


def _wiring(subject: Subject) -> tuple[str, ...]:
    """How ceramics of one group are joined, where there is anything to join."""
    lines = []
    pairs = {p.id for p in subject.placed if p.patch.face == "both"}
    for group in subject.candidate.groups:
        shown = [m for m in group.members if any(m.patch == p.id for p in subject.placed)]
        if not shown or (len(group.members) == 1 and group.members[0].patch not in pairs):
            continue
        lines.append(f"Group {group.id}: {joined_leads(subject.candidate, group)}.")
    return tuple(lines)


def _edges(subject: Subject) -> tuple[str, ...]:
    """Strips along the outline, each once."""
    said = [
        f"{strip.material} along both edges of the outline, {words.between(*(number(1e3 * w) for w in strip.width_m))} wide in a section (ref.)."
        for strip in edge_strips(subject.project.structure)
    ]
    return tuple(dict.fromkeys(said))


def _keep_clear(subject: Subject) -> tuple[str, ...]:
    lines = [_zone(subject, n, zone) for n, zone in enumerate(subject.keep_outs, start=1)]
    if not subject.placed:
        return tuple(lines)
    lines.append(shared(subject.placed, lambda p: _edge_distance(subject, p)) + ".")
    lines.append(
        f"On the package and {AROUND_MM} around it: no bolt, drilling, clamping, sharp bend or curing lamp"
        f"{_nearer(subject)}."
    )
    return tuple(lines)


def _nearer(subject: Subject) -> str:
    """What of the part is nearer than that by design."""
    project, candidate = subject.project, subject.candidate
    found = [
        f"{near.name} {1e3 * near.distance_m:.1f} from {placed.id}"
        for placed in subject.placed
        for near in near_things(project, candidate, placed.patch, AROUND_MM / 1e3)
        if near.kind != "package"
    ]
    return f". Nearer by design: {'; '.join(found)}" if found else ""


def relief_words(project: Project, candidate: Candidate, placed: Placed) -> str:
    """Where the strain relief of a lead goes, as far as there is room for one."""
    run = lead_run(project.structure, project.packages, candidate, placed.patch)
    if run.fits:
        return f"strain relief {AROUND_MM} from the package"
    return (
        f"no room for the strain relief {AROUND_MM} from the package ({run.limit} after {1e3 * run.free_m:.1f}): "
        "agree on another exit before bonding"
    )


def _edge_distance(subject: Subject, placed: Placed) -> str:
    """How far a package stays from the long edges, which may be of metal."""
    room = 1e3 * edge_distance(subject.project, subject.candidate, placed.patch)
    if room < -1e-2:
        return f"Package past the nearest long edge by ({-room:.1f})"
    return f"Package from the nearest long edge ({max(room, 0.0):.1f})"


def _zone(subject: Subject, n: int, zone: KeepOut) -> str:
    xs = [zone.x_start_m, zone.x_end_m]
    if zone.polygon_m is not None:
        xs = [x for x, _ in zone.polygon_m]
    low, high = (1e3 * x - subject.datums.a_mm for x in (min(xs), max(xs)))
    along = " to ".join(number(x) for x in sorted((abs(low), abs(high)))) + " from A"
    if low < 0 < high:
        along = f"from {number(-low)} on the root side of A to {number(high)} on its tip side"
    across = "full width"
    if zone.polygon_m is not None:
        across = _across(subject, [1e3 * y for _, y in zone.polygon_m])
    return f"Z{n} {zone.name}: {along}, {across}."


def _across(subject: Subject, ys_mm: list[float]) -> str:
    """From where to where a keep-out lies, seen from datum B: an edge has the part on one side only."""
    b = subject.datums.b_mm
    off = sorted(y - (b or 0.0) for y in ys_mm)
    if b is not None:
        near, far = sorted((abs(off[0]), abs(off[-1])))
        return f"{number(near)} to {number(far)} from B"
    ends = [f"{number(abs(y))} {'left' if y > 0 else 'right'} of B" for y in (off[0], off[-1])]
    return f"{ends[0]} to {ends[1]}, {LOOKING}"


def _inspect(subject: Subject) -> tuple[str, ...]:
    placed = subject.placed
    value = shared(placed, _capacitance)
    drop = shared(placed, lambda p: _drops(p, subject.project.structure.level))
    return (
        f"Capacitance at 1 kHz before bonding {value}.",
        f"Bonding may lower it by up to {drop}: crack or lifted electrode until proven otherwise.",
        f"Insulation above {words.engineering(LEAST_INSULATION_OHM, 'ohm')} at 50 V, leads parted and no bleed resistor connected, unless the supplier says "
        "otherwise. Voids below 5 % of the area, "
        "none at the ends. Position with a rule from A.",
    )


def _capacitance(placed: Placed) -> str:
    value = free_capacitance_f(placed.patch, placed.package)
    tolerance = capacitance_tolerance(placed.package)
    low, high = (words.engineering(value * (1 + side * tolerance), "F") for side in (-1, 1))
    return f"{words.engineering(value, 'F')} ± {words.share(tolerance)} ({words.between(low, high)})"


def _drops(placed: Placed, level: Level) -> str:
    drop = largest_clamping_drop(placed.package, level)
    return f"{words.share(round(drop, 2))}; a fall of more than {words.share(round(drop + EXTRA_DROP, 2))}"


def public(remarks: Sequence[Remark | str]) -> list[Remark | str]:
    """The remarks without those that only the designer can act on."""
    return [remark for remark in remarks if isinstance(remark, str) or not remark.for_designer]


def counted(remarks: Sequence[Remark | str]) -> list[str]:
    """How many validity remarks there are and where they stand: their words tell results of the model."""
    count = len(public(remarks))
    told = f"{count} remark{'s' if count > 1 else ''} on the validity of the prediction: see the decision record of this model."
    return [told] if count else []


def shown_remarks(subject: Subject, remarks: Sequence[Remark | str]) -> tuple[str, ...]:
    """How many validity remarks there are, and what the design took the packages for."""
    shown = counted(remarks)
    left_out = subject.project.structure.level != "across"
    if left_out and any(p.turned or abs(p.patch.y_m) > 1e-9 for p in subject.placed):
        shown.append("Designed as straight and centred patches on a beam.")
    return tuple(shown)


def caution_lines(subject: Subject, open_voltage_v: float | None) -> tuple[str, ...]:
    """The caution box. `open_voltage_v` is the largest voltage at the leads in service."""
    placed = subject.placed
    if not placed:
        return (*swinging(subject), DEFERS)
    lines = []
    ceramics = tuple(p for p in placed if is_ceramic(p.package))
    if ceramics:
        radius = shared(ceramics, lambda p: f"{1e3 * least_bend_radius_m(p.package):.0f}")
        lines.append(f"Brittle: do not bend the package below radius {radius}; no blade under it.")
        lines.append("Contains lead: gloves, no sanding, collect waste.")
    else:
        lines.append("Film: do not crease, scratch or heat; no blade under it.")
    volts = (
        f"Gives up to {rounded_up(open_voltage_v)} V when bent, struck, heated or cooled"
        if open_voltage_v
        else "Gives hundreds of volts when bent, heated or cooled"
    )
    lines.append(f"{volts}: keep shorted, discharge before touching.")
    for one in driven_groups(subject.project, subject.candidate):
        name = subject.candidate.groups[one.index].id
        lines.append(f"Driven: {name} carries up to {rounded_up(one.peak_v)} V; amplifier off and leads discharged first.")
    lines.append("The patch harms the circuit, not the other way round: connect after discharge.")
    return (*lines, *swinging(subject), DEFERS)
