"""The purchasing and compliance sheet: what to buy, to which tolerances, what papers go with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, sqrt

from core import units
from core.handover.drawing.dimensions import number
from core.handover.sheet.identity import title_of
from core.handover.sheet.notes import shown_remarks
from core.handover.sheet.package_data import (
    capacitance_tolerance,
    heat_limit,
    is_ceramic,
)
from core.handover.sheet.section_detail import thin
from core.handover.sheet.subject import Placed
from core.handover.text.document import Block, Bullets, Document, Heading, Paragraph, Table
from core.handover.text.shop import (
    CHECK_STATUS,
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
from core.project.material_checks import coupling_squared
from core.project.model import Project
from core.project.record import Constant
from core.units import words

LEAD_SHARE = 0.64
"""Mass share of lead in Pb(Zr,Ti)O3: 207.2 of 326 g/mol, between the zirconate and the titanate."""
SPARE_SHARE = 0.1
CONDITION = "1 kHz, at most 1 V, 20 °C, at least 24 h after poling"


def purchasing_sheet(
    project: Project, candidate_id: str | None = None, remarks: Sequence[Remark | str] = ()
) -> Document:
    """The sheet of a candidate. SheetError in words where the layout cannot be built."""
    faces = subjects(project, candidate_id)
    placed = every_package(faces)
    kinds = _kinds(placed)
    blocks: list[Block] = [Heading("Quantity"), _quantities(project, kinds)]
    for n, group in enumerate(kinds, start=1):
        blocks += [Heading(f"Specification {n}: {group[0].article}"), _specification(group[0])]
    blocks += [
        Paragraph(
            f"Electrical values are those of the loose package: {CONDITION}. Where no tolerance is "
            "stated here, ask for the maker's and write it on the order."
        ),
        Heading("Alternates"),
        Bullets(tuple(_alternates(project))),
        Heading("Lead and other substances"),
        Bullets(tuple(_substances(placed))),
        Heading("Packing, storage, shelf life"),
        Bullets(_storage(placed)),
        Heading("Receiving inspection"),
        Bullets(_receiving()),
        Heading("Ordered"),
        _order(kinds),
    ]
    blocks += under_validity(shown_remarks(faces[0], remarks))
    candidate = candidate_of(project, candidate_id)
    return Document(
        "PURCHASING AND COMPLIANCE", "purchasing and the compliance officer",
        title_of(project, candidate), identity(project, candidate), tuple(blocks),
    )  # fmt: skip


def _kinds(placed: Sequence[Placed]) -> list[list[Placed]]:
    """Packages that are bought as one article."""
    found: dict[tuple[str, float, float], list[Placed]] = {}
    for p in placed:
        found.setdefault((p.package.name, p.patch.length_m, p.patch.width_m), []).append(p)
    return list(found.values())


def _quantities(project: Project, kinds: Sequence[Sequence[Placed]]) -> Table:
    parts = project.sheet.parts
    rows = []
    for group in kinds:
        each = ceramics_per_part(group)
        need = str(each * parts) if parts else WRITE
        order = str(each * parts + max(2, ceil(SPARE_SHARE * each * parts))) if parts else WRITE
        rows.append((group[0].article, ", ".join(p.id for p in group), str(each),
                     str(parts) if parts else WRITE, need, order))  # fmt: skip
    heads = ("Package", "Places", "per part", "parts", "needed", "order, with spares")
    return Table(heads, tuple(rows), (3.0, 1.2, 0.9, 1.1, 1.1, 1.7), right=(2, 3, 4, 5))


def _specification(placed: Placed) -> Table:
    patch, package = placed.patch, placed.package
    ceramic, margin = package.ceramic, package.margin_m
    length, width = 1e3 * patch.length_m, 1e3 * patch.width_m
    thickness = package.ceramic_thickness_m + package.lower_skin.thickness_m + package.upper_skin.thickness_m
    k31 = sqrt(coupling_squared(ceramic.d31_c_n.value, ceramic.s11e_1_pa.value, ceramic.eps33t_relative.value, ceramic.poisson_ratio.value)[0])
    capacitance = free_capacitance_f(patch, package)
    rows = [
        ("Active material", ceramic.name, "", "maker's certificate"),
        ("Active length x width", f"{number(length)} x {number(width)} mm", "± 0.2 mm", "calliper"),
        ("Active thickness", f"{thin(package.ceramic_thickness_m)} mm", "± 10 %", "micrometer, before packing"),
        ("Package length x width", f"{number(length + 2e3 * margin)} x {number(width + 2e3 * package.beside_m)} mm",
         "± 0.5 mm", "calliper"),
        ("Package thickness", f"{thin(thickness)} mm", "± 15 %", "micrometer, five places"),
        ("Skins, lower and upper", f"{package.lower_skin.material} {thin(package.lower_skin.thickness_m)}, "
         f"{package.upper_skin.material} {thin(package.upper_skin.thickness_m)} mm", "", "certificate"),
        ("d31", units.show_with_unit(ceramic.d31_c_n.value, "pm/V", 0), _tolerance(ceramic.d31_c_n), CONDITION),
        ("Relative permittivity, free", words.significant(ceramic.eps33t_relative.value, 4),
         _tolerance(ceramic.eps33t_relative), CONDITION),
        ("Compliance s11E", units.show_with_unit(ceramic.s11e_1_pa.value, "1/TPa", 1), _tolerance(ceramic.s11e_1_pa),
         "resonance, IEEE Std 176"),
        ("Coupling factor k31", f"{words.significant(k31)} (from the three above)", "", "resonance, IEEE Std 176"),
        ("Dissipation factor", words.share(ceramic.tan_delta.value), _tolerance(ceramic.tan_delta), CONDITION),
        ("Capacitance", words.engineering(capacitance, "F"), f"± {words.share(capacitance_tolerance(package))}",
         CONDITION),
        ("Insulation", f"above {words.engineering(LEAST_INSULATION_OHM, 'ohm')}", "", "50 V, one minute, leads parted, without a bleed resistor"),
        ("Temperature in use", words.between(*(words.celsius(t) for t in package.limits.temperature_c)),
         "", f"never above {words.celsius(round(heat_limit(package).limit_c))} in cure"),
        ("Polarity", "dot on the lead that is positive along the poling", "", "100 %, press test"),
        ("Leads", f"{number(1e3 * package.lead_length_m)} mm, bend radius "
         f"{number(1e3 * package.lead_bend_radius_m)} mm or more", "", "shorting clip fitted"),
    ]  # fmt: skip
    return Table(("Property", "Value", "Tolerance", "Test condition"), tuple(rows), (2.2, 3.0, 1.1, 3.0))


def _tolerance(constant: Constant) -> str:
    return "as stated by the maker" if constant.tolerance is None else f"± {words.share(constant.tolerance)}"


def _alternates(project: Project) -> Iterator[str]:
    stated = project.sheet.alternates.strip().rstrip(".")
    yield f"Approved: {stated}." if stated else f"Approved: none so far. Proposed: {WRITE}"
    yield (
        "Classes such as Navy Type II are broad: the same class from another maker is another material. "
        "It is released anew after capacitance, dissipation factor and one bonded sample have been compared."
    )
    yield "A change of thickness, skin, margin or lead exit is a change of the design, not an alternate."


def _substances(placed: Sequence[Placed]) -> Iterator[str]:
    ceramics = [p for p in placed if is_ceramic(p.package)]
    if not ceramics:
        yield "The active layer is a film without lead. Ask for the maker's material declaration all the same."
        return
    grams = sum(1e3 * _ceramic_kg(p) for p in ceramics)
    yield (
        f"The ceramic contains lead: about {words.significant(grams, 2)} g of ceramic per part, of which about "
        f"{words.significant(LEAD_SHARE * grams, 2)} g is lead (64 % by mass, from the formula of lead zirconate "
        "titanate)."
    )
    yield (
        "2011/65/EU: lead in piezoelectric ceramic falls under a time-limited exemption (Annex III, 7(c)-I). "
        f"Its end differs by product category and moves: {CHECK_STATUS}, date {WRITE}"
    )
    yield f"Candidate list of the EU chemicals regulation, duty to inform down the chain: {CHECK_STATUS}, date {WRITE}"
    yield f"Rules of other markets, and of take-back and disposal at end of life: {CHECK_STATUS}."
    yield "Ask for: material declaration with lot, certificate of conformity, test report per lot."


def _ceramic_kg(placed: Placed) -> float:
    patch, package = placed.patch, placed.package
    volume = patch.length_m * patch.width_m * package.ceramic_thickness_m
    return volume * package.ceramic.density_kg_m3.value * patch.ceramics


def _storage(placed: Sequence[Placed]) -> tuple[str, ...]:
    lowest = min(p.package.limits.temperature_c[0] for p in placed)
    return (
        "Flat, single, in rigid trays; nothing stacked on them. Leads shorted by the clip from the maker on.",
        "Dry, 10 to 35 °C, no sun. Transport in the cold or heat only with the clip on: a change of "
        f"temperature charges an open package. Never below {words.celsius(lowest)}.",
        "Packages: capacitance measured again after twelve months on the shelf; the change written down.",
        f"Adhesive: as on its tin, opened on {WRITE}, good until {WRITE}",
        "No soldering at the package: connectors only, or the maker's lead. A reflow cycle costs activity.",
    )


def _receiving() -> tuple[str, ...]:
    return (
        "Every package: look, capacitance, dissipation factor, polarity dot, clip.",
        "From each lot: two measured for thickness, one for insulation, one bonded to a strip as a reference.",
        "Limits are those of the specification; a lot with its mean off by more than half the tolerance "
        "is told to the design office before it is used.",
    )


def _order(kinds: Sequence[Sequence[Placed]]) -> Table:
    rows = tuple((group[0].article, "", "", "", "") for group in kinds)
    return Table(("Package", "maker, article", "lead time", "price each", "order no., date"), rows,
                 (2.6, 2.4, 1.2, 1.2, 2.0), room_mm=8.0)  # fmt: skip
