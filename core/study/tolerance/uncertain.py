"""What is uncertain about a candidate's inputs: every input with its nominal value and its range.

A tolerance is what a person said of the input (`Project.tolerances`), else the constant's own or
that of its origin, else a common one for its kind. An input that nobody knows has a range in which
any value is as likely as any other; a tolerance is the limits of a uniform spread, or two standard
deviations of a normal one, as the study says.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.beam.spec import beam_spec
from core.circuit.registry import CIRCUITS
from core.piezo.bond import bare_sections
from core.project.at_path import value_at
from core.project.candidate import Candidate
from core.project.fields import FIELDS
from core.project.labels import field_of
from core.project.model import Project, Tolerance
from core.project.provenance import inputs as inputs_with_origin
from core.project.provenance import origin_of
from core.project.record import Constant, Status
from core.project.structure import Support

Array = NDArray[np.float64]
Kind = Literal["value", "factor", "clamp"]

RIGID = 1e4
"""k_r L/EI from here on is a rigid clamp: it changes no frequency by more than 1e-4."""

WIDEST = 0.95
"""A relative tolerance counts up to here: nothing may come out as nothing."""

@dataclass(frozen=True)
class Uncertain:
    """An input and how far it may be off; low = high = nominal where it is taken as exact.

    kind : "value" is a number in SI; "factor" multiplies a whole profile or list, nominal 1;
    "clamp" is the flexibility EI/(k_r L) of a support taken as rigid, nominal 0.
    """

    path: str
    label: str
    kind: Kind
    unit: str
    """Display unit of the value; "" for pure numbers and factors."""
    nominal: float
    low: float
    high: float
    known: bool
    """False where nobody knows: the range is uniform whatever the study's spread."""
    status: Status
    source: str
    said: bool
    """Whether the tolerance is a person's or the data's own, not the common one of its kind."""
    absolute: bool = False
    """Whether the tolerance is told in the value's unit, not in per cent."""

    @property
    def varies(self) -> bool:
        return self.high > self.low

    @property
    def plus_minus(self) -> float:
        """Half the range: relative, or absolute for places."""
        half = 0.5 * (self.high - self.low)
        return half if self.absolute or self.nominal == 0.0 else half / abs(self.nominal)


def uncertain_inputs(project: Project, held: Candidate) -> tuple[Uncertain, ...]:
    """Every input of the candidate that may carry a tolerance, in the order of the work.

    `held` is the candidate with its circuit values in effect fixed (`held_circuits`). Outline,
    stations and cut-outs are drawing dimensions and count as exact.
    """
    rows = [*_places(project, held), *_packages(project, held), *_with_origin(project, held)]
    rows += [*_circuits(project, held), *_absorbers(project, held), *_loop(project, held), *_clamps(project)]
    return tuple({row.path: row for row in rows}.values())


def _made(
    project: Project,
    path: str,
    label: str,
    kind: Kind,
    nominal: float,
    own: float | None,
    status: Status,
    source: str,
    *,
    absolute: bool = False,
) -> Uncertain:
    given = project.tolerances.get(path)
    unknown = given.unknown if given is not None else None
    unit = "" if kind != "value" else _unit(path)
    if unknown is not None:
        low, high = _unknown_range(kind, unknown)
    else:
        relative = given.plus_minus if given is not None else own if own is not None else _common(path)
        half = relative if absolute else min(relative, WIDEST) * abs(nominal)
        low, high = nominal - half, nominal + half
    said = given is not None or own is not None
    return Uncertain(
        path, label, kind, unit, nominal, low, high, unknown is None, status, source, said, absolute
    )


def _unknown_range(kind: Kind, unknown: tuple[float, float]) -> tuple[float, float]:
    """A clamp's range is given as k_r L/EI and sampled in its inverse, which frequencies follow."""
    if kind != "clamp":
        return unknown
    softest, stiffest = unknown
    return (0.0 if stiffest >= RIGID else 1.0 / stiffest), 1.0 / softest


def _common(path: str) -> float:
    """The tolerance of its kind where nobody said anything: a 50 um bond line is 25 to 75 um, resistors and
    wound inductors come at 5 %, ceramics are lapped to about 5 % of half a millimetre."""
    field = field_of(path)
    return 0.0 if field is None else field.usual


def _unit(path: str) -> str:
    field = field_of(path)
    return "" if field is None or field.unit == "1" else field.unit


def _places(project: Project, held: Candidate) -> list[Uncertain]:
    if not project.structure.layers:
        return []  # the part begins and ends where its ceramics do
    out = []
    for patch in held.patches:
        path = f"candidates[{held.id}].patches[{patch.id}].x_start_m"
        own = max(project.sheet.tolerances_x_m)
        out.append(
            _made(
                project,
                path,
                f"Position of {patch.id}",
                "value",
                patch.x_start_m,
                own,
                "data sheet",
                "tolerance of the placement diagram",
                absolute=True,
            )
        )
    return out


def _packages(project: Project, held: Candidate) -> list[Uncertain]:
    out = []
    for name in dict.fromkeys(p.package for p in held.patches):
        path = f"packages[{name}].ceramic_thickness_m"
        label, origin = f"Ceramic thickness of {name}", origin_of(project.origins, path)
        nominal = project.package(name).ceramic_thickness_m
        out.append(
            _made(project, path, label, "value", nominal, origin.tolerance, origin.status, origin.source)
        )
    return out


_VALUES = re.compile(
    r"^(materials\[|packages\[)|\.bond\.(thickness_m|shear_modulus_pa)$"
    r"|^structure\.(masses|springs)\[|^structure\.(root|tip)\.k_"
)
_FACTORS = re.compile(r"^structure\.(layers\[\d+\]\.thickness_m|damping\.ratios)$")
_EXACT = re.compile(r"^materials\[.*\.(poisson_ratio|youngs_modulus_across_pa|shear_modulus_pa|shear_modulus_through_pa)$")


def _with_origin(project: Project, held: Candidate) -> list[Uncertain]:
    """The inputs with an origin that are numbers, or profiles that a factor scales."""
    out = []
    with_held = _with_candidate(project, held)
    for row in inputs_with_origin(with_held, held.id):
        if _EXACT.search(row.path):
            continue
        if _FACTORS.search(row.path):
            out.append(
                _made(project, row.path, row.label, "factor", 1.0, row.tolerance, row.status, row.source)
            )
        elif _VALUES.search(row.path):
            value = value_at(with_held, row.path)
            nominal = value.value if isinstance(value, Constant) else value
            if isinstance(nominal, int | float) and nominal != 0.0:
                out.append(
                    _made(project, row.path, row.label, "value", nominal, row.tolerance, row.status, row.source)
                )
    return out


def _circuits(project: Project, held: Candidate) -> list[Uncertain]:
    out = []
    for group in held.groups:
        kind = CIRCUITS[group.circuit.kind]
        parameters = {p.name: p for p in kind.parameters if not (kind.worked_out and p.name in kind.tuned)}
        for name, nominal in group.circuit.values.items():
            if name not in parameters or nominal == 0.0:
                continue
            path = f"candidates[{held.id}].groups[{group.id}].circuit.values.{name}"
            own, label = origin_of(project.origins, path), f"{parameters[name].label} of group {group.id}"
            out.append(_made(project, path, label, "value", nominal, own.tolerance, own.status, own.source))
    return out


def _absorbers(project: Project, held: Candidate) -> list[Uncertain]:
    """Mass, frequency and damping of every tuned mass; its place is drilled, and exact."""
    out = []
    for absorber in held.absorbers:
        for name, nominal in absorber.values.items():
            if nominal == 0.0:
                continue
            path = f"candidates[{held.id}].absorbers[{absorber.id}].{name}"
            own, label = origin_of(project.origins, path), f"{FIELDS[f'absorbers.{name}'].label} of {absorber.id}"
            out.append(_made(project, path, label, "value", nominal, own.tolerance, own.status, own.source))
    return out


def _loop(project: Project, held: Candidate) -> list[Uncertain]:
    """Gain and output resistance of a closed loop's amplifier; the law is computed, and exact."""
    out = []
    for name in ("amplifier_gain", "output_ohm") if held.loop_is_closed else ():
        path, field = f"candidates[{held.id}].loop.{name}", FIELDS[f"loop.{name}"]
        own = origin_of(project.origins, path)
        out.append(_made(project, path, field.label, "value", getattr(held.loop, name), own.tolerance, own.status, own.source))
    return out


def _clamps(project: Project) -> list[Uncertain]:
    """Supports taken as rigid: exact, unless a person says that nobody knows."""
    out = []
    for end in ("root", "tip"):
        support: Support = getattr(project.structure, end)
        if support.kind == "clamped":
            path, origin = f"structure.{end}.kind", origin_of(project.origins, f"structure.{end}.kind")
            label = f"Clamp at the {end}"
            out.append(_made(project, path, label, "clamp", 0.0, 0.0, origin.status, origin.source))
    return out


def _with_candidate(project: Project, candidate: Candidate) -> Project:
    from msgspec.structs import replace

    kept = tuple(candidate if c.id == candidate.id else c for c in project.candidates)
    return replace(project, candidates=kept)


def clamp_stiffness(project: Project, end: str, flexibility: Array | float) -> Array | float:
    """k_r in N m/rad of a clamp of flexibility EI/(k_r L), EI that of the bare section there."""
    spec = beam_spec(project.structure, project.materials, project.at_c())
    x = 0.0 if end == "root" else spec.span_m
    bending = float(bare_sections(spec, np.array([x])).bending[0, 0])
    return bending / spec.span_m / np.maximum(flexibility, 1.0 / RIGID)


def tolerance_of(row: Uncertain) -> Tolerance:
    """What would have to be saved for this row to come out as it is."""
    if row.known:
        return Tolerance(row.plus_minus)
    if row.kind == "clamp":
        return Tolerance(unknown=(1.0 / row.high, RIGID if row.low == 0.0 else 1.0 / row.low))
    return Tolerance(unknown=(row.low, row.high))
