"""Problems of the structure: stations, outline, lay-up, supports, attachments, marks on it."""

from __future__ import annotations

import math
from itertools import pairwise

from core import units
from core.project.ceilings import MOST_STATIONS
from core.project.checking import Found, Problem, Range, by_identity, check_profile, mm, number, tell, unique
from core.project.fields import FIELDS
from core.project.layup_checks import check_layers
from core.project.material import Material
from core.project.plan import check_points, cut_reach, net_width_at, profile_at
from core.project.ranges import ACROSS, DIAMETER, LENGTH, SPAN
from core.project.structure import GroundSpring, Structure, Support
from core.units.sentence import inside

WIDTH = FIELDS["structure.width_m"].range
LEAST_STIFFNESS = 1e-6
"""Between this and none a spring does nothing but spoil the digits of everything else."""
DAMPING = FIELDS["damping.ratios"].range


@by_identity
def structure_problems(structure: Structure, materials: tuple[Material, ...]) -> tuple[Problem, ...]:
    """Everything wrong with the structure itself."""
    found: Found = []
    if not _stations(found, structure):
        return tuple(found)
    shaped = check_profile(
        found, structure.stations_m, "structure.width_m", "Width", structure.width_m, WIDTH
    )
    before = len(found)
    _cut_outs(found, structure)
    shaped = shaped and len(found) == before
    shaped = check_layers(found, structure, materials, outline_fine=shaped) and shaped
    if shaped and not found:
        _net_width(found, structure)
    _support(found, "structure.root", "root", structure.root)
    _support(found, "structure.tip", "tip", structure.tip)
    _attachments(found, structure)
    _damping(found, structure)
    _marks(found, structure)
    _outline(found, structure)
    _test_values(found, structure)
    return tuple(found)


def on_span(found: Found, path: str, what: str, x_m: float, span_m: float, cure: str) -> bool:
    """Report a place that is not on the span."""
    return number(found, path, what, x_m, Range("mm", 0.0, span_m), cure)


def _stations(found: Found, structure: Structure) -> bool:
    x, path = structure.stations_m, "structure.stations_m"
    if len(x) > MOST_STATIONS:
        return False  # told with the other ceilings
    if len(x) < 2:
        tell(found, path, f"The part has {len(x)} stations; at least two are needed. Add the tip station.")
        return False
    for i, value in enumerate(x):
        if not number(found, f"{path}[{i}]", f"Station {i + 1}", value, LENGTH):
            return False
    if x[0] != 0.0:
        tell(found, f"{path}[0]", f"The first station is at {mm(x[0])}; it must be 0.0 mm, at the support.")
        return False
    if not number(found, f"{path}[{len(x) - 1}]", "The span", x[-1], SPAN, "Check the last station's unit."):
        return False
    for i, (a, b) in enumerate(pairwise(x), start=1):
        if b - a < 1e-6:
            tell(
                found,
                f"{path}[{i}]",
                f"Station {i + 1} at {mm(b)} does not lie beyond station {i} at {mm(a)}. "
                "Stations must increase: put them in order or remove one.",
            )
            return False
    return True


def _cut_outs(found: Found, structure: Structure) -> None:
    for i, cut in enumerate(structure.cut_outs):
        path, what = f"structure.cut_outs[{i}]", f"{'Hole' if cut.kind == 'hole' else 'Slot'} {i + 1}"
        needed = ("diameter_m",) if cut.kind == "hole" else ("length_m", "width_m")
        before = len(found)
        for name in ("diameter_m", "length_m", "width_m"):
            size = DIAMETER if name in needed else LENGTH
            number(found, f"{path}.{name}", f"{what}: {name[:-2]}", getattr(cut, name), size, "Measure it.")
        number(found, f"{path}.y_m", f"{what}: offset", cut.y_m, ACROSS)
        on_span(found, f"{path}.x_m", f"Centre of {what.lower()}", cut.x_m, structure.span_m, "Move it.")
        if len(found) == before:
            round_ = cut.kind == "hole"
            _inside_outline(found, structure, path, what, cut.x_m, cut.y_m, *cut_reach(cut), round_)


def _inside_outline(
    found: Found,
    structure: Structure,
    path: str,
    what: str,
    x: float,
    y: float,
    reach: float,
    half: float,
    round_: bool,
) -> None:
    """A cut-out must leave material on both sides and lie between the ends."""
    tiny = 1e-9
    if x - reach < -tiny or x + reach > structure.span_m + tiny:
        a, b = mm(x - reach), mm(x + reach)
        tell(
            found,
            f"{path}.x_m",
            f"{what} reaches from {a} to {b}, past an end of the span "
            f"(0.0 to {mm(structure.span_m)}). Move it or make it smaller.",
        )
        return
    if isinstance(structure.width_m, tuple) and len(structure.width_m) != len(structure.stations_m):
        return
    worst: tuple[float, float, float, float] | None = None
    for k in range(-4, 5):
        d = reach * k / 4
        side = abs(y) + (math.sqrt(max(half**2 - d**2, 0.0)) if round_ else half)
        edge = profile_at(structure.width_m, structure.stations_m, x + d) / 2
        if side > edge + tiny and (worst is None or side - edge > worst[0]):
            worst = (side - edge, x + d, side, edge)
    if worst is not None:
        _, at, side, edge = worst
        tell(
            found,
            f"{path}.y_m",
            f"{what} reaches {mm(side)} from the centreline at x = {mm(at)}, "
            f"outside the outline ({mm(edge)}). Move it inwards or make it smaller.",
        )


def _net_width(found: Found, structure: Structure) -> None:
    for x in check_points(structure):
        if net_width_at(structure, x) <= 0.0:
            tell(
                found,
                "structure.cut_outs",
                f"Cut-outs leave no width at x = {mm(x)}. Move or shrink one of them.",
            )
            return


def _support(found: Found, path: str, end: str, support: Support) -> None:
    _springs(found, path, "", f" of the {end}", support)
    if support.kind == "elastic" and support.k_t_n_m == 0.0 and support.k_r_nm_rad == 0.0:
        tell(
            found,
            path,
            f"The elastic {end} support has no stiffness (0 N/m and 0 N m/rad). "
            'Type a stiffness above 0, or choose "free".',
        )


def _springs(found: Found, path: str, before: str, after: str, held: Support | GroundSpring) -> None:
    for name, value in (("k_t_n_m", held.k_t_n_m), ("k_r_nm_rad", held.k_r_nm_rad)):
        label, allowed = FIELDS[name].label, FIELDS[name].range
        what = f"{before}{inside(label)}{after}"
        what = what[:1].upper() + what[1:]
        fine = number(found, f"{path}.{name}", what, value, allowed)
        if fine and 0.0 < value < LEAST_STIFFNESS:
            least = units.show_with_unit(LEAST_STIFFNESS, allowed.unit)
            told = (
                f"{what} is {units.show_with_unit(value, allowed.unit)}; type {least} or more, or 0 for none."
            )
            tell(found, f"{path}.{name}", told)


def _attachments(found: Found, structure: Structure) -> None:
    span = structure.span_m
    unique(found, "structure.masses", "mass", (m.name for m in structure.masses))
    unique(found, "structure.springs", "spring", (s.name for s in structure.springs))
    for i, mass in enumerate(structure.masses):
        path, what = f"structure.masses[{i}]", f'Mass "{mass.name}"'
        on_span(found, f"{path}.x_m", f"{what}: position", mass.x_m, span, "Move it onto the span.")
        number(found, f"{path}.mass_kg", f"{what}: mass", mass.mass_kg, FIELDS["masses.mass_kg"].range)
        for name, value in (
            ("rotary_inertia_kg_m2", mass.rotary_inertia_kg_m2), ("roll_inertia_kg_m2", mass.roll_inertia_kg_m2),
            ("ahead_m", mass.ahead_m), ("y_m", mass.y_m),
        ):  # fmt: skip
            field = FIELDS[f"masses.{name}"]
            number(found, f"{path}.{name}", f"{what}: {inside(field.label)}", value, field.range)
    for i, spring in enumerate(structure.springs):
        path, what = f"structure.springs[{i}]", f'Spring "{spring.name}"'
        on_span(found, f"{path}.x_m", f"{what}: position", spring.x_m, span, "Move it onto the span.")
        _springs(found, path, f"{what}: ", "", spring)
        if spring.k_t_n_m == 0.0 and spring.k_r_nm_rad == 0.0:
            tell(found, path, f"{what} has no stiffness. Type a stiffness above 0 or remove it.")


def _damping(found: Found, structure: Structure) -> None:
    ratios = structure.damping.ratios
    if not ratios and not structure.damping.from_loss_factors:
        tell(
            found,
            "structure.damping.ratios",
            "No inherent damping is given. Type a damping ratio, for example 0.3 %.",
        )
    named = (("ratios", ratios, ""), ("service_ratios", structure.damping.service_ratios, " at service swing"))
    for name, values, where in named:
        for i, ratio in enumerate(values):
            number(
                found,
                f"structure.damping.{name}[{i}]",
                f"Inherent damping ratio of mode {i + 1}{where}",
                ratio,
                DAMPING,
                "A lightly damped part has 0.1 to 2 %.",
            )


def _marks(found: Found, structure: Structure) -> None:
    span = structure.span_m
    unique(found, "structure.keep_outs", "keep-out", (k.name for k in structure.keep_outs))
    unique(found, "structure.datums", "datum", (d.name for d in structure.datums))
    for i, zone in enumerate(structure.keep_outs):
        path, what = f"structure.keep_outs[{i}]", f'Keep-out "{zone.name}"'
        numbers = [zone.x_start_m, zone.x_end_m, *(v for corner in zone.polygon_m or () for v in corner)]
        if not all(math.isfinite(v) for v in numbers):
            tell(found, path, f"{what} has a number that is not finite. Type its ends again.")
        elif zone.polygon_m is not None and len(zone.polygon_m) < 3:
            tell(
                found,
                f"{path}.polygon_m",
                f"{what} has {len(zone.polygon_m)} corners; at least three are needed.",
            )
        elif zone.x_end_m <= zone.x_start_m:
            tell(
                found,
                f"{path}.x_end_m",
                f"{what} ends at {mm(zone.x_end_m)}, not beyond its start at {mm(zone.x_start_m)}. "
                "Swap them.",
            )
        elif zone.x_end_m < 0.0 or zone.x_start_m > span:
            tell(
                found,
                path,
                f"{what} lies outside the span (0.0 to {mm(span)}). Move it onto the part or remove it.",
            )
    for i, datum in enumerate(structure.datums):
        on_span(
            found,
            f"structure.datums[{i}].x_m",
            f'Datum "{datum.name}"',
            datum.x_m,
            span,
            "Choose a feature on the part.",
        )
        path, what = f"structure.datums[{i}]", f'Datum "{datum.name}"'
        number(found, f"{path}.y_m", f"{what}: offset", datum.y_m, ACROSS)
        if datum.diameter_m is not None:
            number(found, f"{path}.diameter_m", f"{what}: hole diameter", datum.diameter_m, DIAMETER)


def _outline(found: Found, structure: Structure) -> None:
    """A saved outline must be rings of finite corners."""
    outline = structure.outline
    if outline is None:
        return
    for ring in (outline.exterior, *outline.holes):
        if len(ring) < 3 or not all(
            math.isfinite(v) and abs(v) <= LENGTH.high for point in ring for v in point
        ):
            tell(
                found,
                "structure.outline",
                "The true outline has a ring of fewer than three corners or a corner that is no place "
                "on the part. Import the drawing again.",
            )
            return


def _test_values(found: Found, structure: Structure) -> None:
    if structure.weighed_mass_kg is not None:
        number(
            found,
            "structure.weighed_mass_kg",
            "Weighed mass",
            structure.weighed_mass_kg,
            FIELDS["structure.weighed_mass_kg"].range,
        )
    if structure.dead_weight_stiffness_n_m is not None:
        number(
            found,
            "structure.dead_weight_stiffness_n_m",
            "Stiffness of the dead-weight test",
            structure.dead_weight_stiffness_n_m,
            FIELDS["structure.dead_weight_stiffness_n_m"].range,
        )
