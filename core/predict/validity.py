"""Doubts about the beam model and findings a reader must not miss, as remarks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.beam.spec import BeamSpec
from core.circuit.system import CoupledSystem
from core.piezo.layout import CoupledBeam
from core.predict.fields import Fields
from core.predict.forcing import active_load, forcing, place
from core.predict.leads import Leads
from core.predict.limits import StaticBend
from core.predict.patch_validity import open_leads, patch_remarks, placement_remarks
from core.predict.prediction import Remark
from core.project.candidate import Candidate, Group
from core.project.checking import by_identity
from core.project.model import Project
from core.project.service import BaseLoad, Release
from core.project.structure import Structure
from core.units import words
from core.units.words import between, celsius, millimetres, percent, share, size

Array = NDArray[np.float64]

SLENDER = 10.0
WIDE = 3.0
SMALL_ROTATION_RAD = 0.2
TOO_FAR = 3e4
"""Ratio of the highest to the lowest frequency shown up to which six digits are left."""
STEEP = 6.0
"""Ratio of thicknesses at neighbouring stations up to which mode 8 is right to 1e-7; at 20 it is 4e-5."""
OPPOSED = 0.5
"""Patches whose charges leave less than this share of what they could give together work against each
other: K^2 is below a quarter."""
CANCELLED = 1e-3
"""A group whose coupling is below this share of what its ceramics could do has cancelled."""


@dataclass(frozen=True)
class Case:
    """What the remarks are drawn from."""

    project: Project
    candidate: Candidate
    sampled: Fields
    system: CoupledSystem
    bends: tuple[StaticBend, ...]
    modes: int
    find_leads: Callable[[], Leads | None]
    """The largest voltages at the leads; dear, so asked for only where leads are open."""

    @cached_property
    def means(self) -> dict[str, float]:
        """Means over the span of what the one-line estimates need."""
        x, sec = self.sampled.x_m, self.sampled.section
        width = self.sampled.width_m
        values = np.stack([sec.axial, sec.bending, sec.mass, width, sec.mass * width**2 / 12])
        length = x[:, 1:] - x[:, :-1]
        total = ((values[..., 1:] + values[..., :-1]) * length).sum(axis=(1, 2)) / (2 * length.sum())
        return dict(zip(("axial", "bending", "mass", "width", "polar"), total.tolist(), strict=True))

    @property
    def beam(self) -> CoupledBeam:
        return self.sampled.beam


def remarks(case: Case) -> tuple[Remark, ...]:
    """Every remark, errors first."""
    found = [
        *_slenderness(case),
        *_longitudinal(case),
        *_plate_like(case),
        *placement_remarks(case.project, case.candidate),
        *patch_remarks(case.beam, case.candidate),
        *_polarity(case),
        *open_leads(case.candidate, case.find_leads),
        *_rotation(case),
        *_temperature(case),
        *_output(case),
        *_scales(case),
        *_support(case),
        *_steep(case.project.structure, case.beam.spec),
        *_outline(case.project.structure),
    ]
    rank = {"error": 0, "caution": 1, "note": 2}
    return tuple(sorted(found, key=lambda r: rank[r.severity]))


def _slenderness(case: Case) -> Iterator[Remark]:
    span = case.beam.spec.span_m
    ratio = span / float(case.sampled.section.top_m.max())
    if ratio < SLENDER:
        yield Remark(
            "short span",
            f"Span over thickness is {ratio:.1f}, below {SLENDER:.0f}: shear deformation, left "
            "out here, lowers the true frequencies.",
            "caution",
        )
    modes = min(case.modes, len(case.beam.omega_rad_s))
    if modes == 0:
        return
    sec = case.sampled.section
    half_wave = np.pi * (sec.bending / (sec.mass * case.beam.omega_rad_s[modes - 1] ** 2)) ** 0.25
    local = half_wave / sec.top_m
    worst = int(local.argmin())
    smallest = float(local.ravel()[worst])
    if smallest < SLENDER:
        high = 1.7 * (SLENDER / smallest) ** 2
        yield Remark(
            "short wave",
            f"Half a wavelength of mode {modes} is only {smallest:.1f} thicknesses: its frequency "
            f"is about {high:.1f} % high in a metal, more over a soft core.",
            "caution" if smallest < 5 else "note",
            float(case.sampled.x_m.ravel()[worst]),
        )


@by_identity
def _steep(structure: Structure, spec: BeamSpec) -> tuple[Remark, ...]:
    """Stretches between two stations along which the thickness changes more than the elements follow
    to a millionth."""
    x = np.array(structure.stations_m)
    thickness = spec.total_thickness_m(x)
    smaller = np.maximum(np.minimum(thickness[1:], thickness[:-1]), 1e-300)
    ratio = np.maximum(thickness[1:], thickness[:-1]) / smaller
    return tuple(
        Remark(
            "steep taper",
            f"The thickness changes {ratio[i]:.0f}-fold between the stations at {millimetres(float(x[i]))} and "
            f"{millimetres(x[i + 1])}: high modes lose accuracy. Add a station there.",
            "note",
            float(x[i]),
        )
        for i in np.flatnonzero(ratio > STEEP).tolist()
    )


def _longitudinal(case: Case) -> Iterator[Remark]:
    m = case.means
    omega = case.beam.omega_rad_s
    modes = min(case.modes, len(omega))
    if modes == 0:
        return
    estimate = (m["axial"] / m["mass"]) ** 0.5 / (4 * case.beam.spec.span_m)
    if estimate < omega[modes - 1] / (2 * np.pi):
        yield Remark(
            "longitudinal",
            f"A longitudinal mode near {estimate:.0f} Hz lies among the modes shown; bending "
            "alone does not describe it.",
            "note",
        )


def _plate_like(case: Case) -> Iterator[Remark]:
    m = case.means
    span, omega = case.beam.spec.span_m, case.beam.omega_rad_s
    ratio = span / m["width"]
    if ratio < WIDE:
        yield Remark(
            "plate",
            f"Span over width is {ratio:.1f}, below {WIDE:.0f}: this part is a plate and twists; bending "
            "of a beam is a first guess only.",
            "caution",
        )
    poisson = 0.3
    torsion = (2 * m["bending"] / (1 + poisson) / m["polar"]) ** 0.5 / (4 * span)
    modes = min(case.modes, len(omega))
    if modes and torsion < omega[modes - 1] / (2 * np.pi):
        yield Remark(
            "torsion",
            f"A first torsion mode is to be expected near {torsion:.0f} Hz, among the modes shown; it is "
            "not modelled.",
            "caution" if ratio < WIDE else "note",
        )


def _polarity(case: Case) -> Iterator[Remark]:
    combine, theta = case.beam.terminals.combine, case.beam.theta
    for g, group in enumerate(case.candidate.groups):
        used = np.flatnonzero(combine[:, g])
        if len(used) == 0:
            yield Remark(
                "empty group", f"Group {group.id} holds no patch: its circuit hangs on nothing.", "caution"
            )
            continue
        possible = np.abs(theta[:, used] * combine[used, g]).sum(axis=1)
        actual = np.abs(case.beam.group_theta[:, g])
        if len(used) > 1 and (actual <= CANCELLED * np.maximum(possible, 1e-300)).all():
            words = _cancel_words(case, group, used)
            yield Remark("polarity", words, "error", reverse=case.beam.plates[used[1]].patch)
            continue
        yield from _against_each_other(case, group, g, used)
        yield from _no_coupling(case, group, g)


def _cancel_words(case: Case, group: Group, used: NDArray[np.intp]) -> str:
    plates = [case.beam.plates[j] for j in used[:2]]
    names = " and ".join(f"{p.patch} ({p.face})" for p in plates)
    cure = "Wire the pair for bending." if plates[0].patch == plates[1].patch else "Reverse one of them."
    return (
        f"Group {group.id} has no coupling to bending: with these polarities the charges of {names} cancel "
        f"in every mode, one is pulled while the other is pushed. {cure}"
    )


def _less_capacitance(beam: CoupledBeam, g: int, used: NDArray[np.intp], signs: Array) -> float:
    """Blocked capacitance of a group over that with some patches' leads exchanged: patches over each other share
    strain, along and across."""
    now = beam.terminals.combine[used, g]
    mutual = beam.blocked_f[np.ix_(used, used)]
    exchanged = now * signs
    return float(now @ mutual @ now / (exchanged @ mutual @ exchanged))


def _against_each_other(case: Case, group: Group, g: int, used: NDArray[np.intp]) -> Iterator[Remark]:
    """Patches of a group whose charges take most of each other away on the mode they are there for."""
    tuning, asked = group.circuit.tuning, case.project.service.asked.modes
    number = tuning.mode if tuning is not None else asked[0] if asked else 1
    beam = case.beam
    if number > len(beam.omega_rad_s):
        return
    per_patch: dict[str, float] = {}
    for j in used.tolist():
        plate = beam.plates[j]
        charge = float(beam.theta[number - 1, j] * beam.terminals.combine[j, g])
        per_patch[plate.patch] = per_patch.get(plate.patch, 0.0) + charge
    actual, possible = abs(sum(per_patch.values())), sum(abs(c) for c in per_patch.values())
    k2 = float(beam.group_k2[number - 1, g])
    if len(per_patch) < 2 or actual >= OPPOSED * possible or k2 * (possible / max(actual, 1e-300)) ** 2 < 1e-6:
        return
    sign = np.sign(max(per_patch.values(), key=abs))
    against = min((p for p, c in per_patch.items() if c * sign < 0), key=lambda p: per_patch[p] * sign)
    names = " and ".join(
        f"{p} ({'both faces' if len(faces) > 1 else faces[0]})" for p, faces in _faces(beam, per_patch).items()
    )
    signs = np.array([1.0 if per_patch[beam.plates[j].patch] * sign > 0 else -1.0 for j in used])
    best = k2 * (possible / actual) ** 2 * _less_capacitance(beam, g, used, signs) if actual > 0 else 0.0
    instead = f"; K² is {percent(k2)}, with the leads of {against} exchanged about {percent(best)}" if best else ""
    yield Remark(
        "opposed",
        f"Group {group.id}: on mode {number} the charges of {names} work against each other, one is pulled "
        f"while the other is pushed{instead}. Exchange the leads of {against}.",
        "error",
        reverse=against,
    )


def _faces(beam: CoupledBeam, patches: Iterable[str]) -> dict[str, list[str]]:
    return {p: sorted({plate.face for plate in beam.plates if plate.patch == p}) for p in patches}


def _no_coupling(case: Case, group: Group, g: int) -> Iterator[Remark]:
    tuning = group.circuit.tuning
    if tuning is None or tuning.mode > len(case.beam.omega_rad_s):
        return
    k2 = float(case.beam.group_k2[tuning.mode - 1, g])
    if k2 < 1e-6:
        yield Remark(
            "not reached",
            f"Group {group.id} is tuned to mode {tuning.mode} but hardly reaches it (K² = "
            f"{share(k2)}): the strain under the electrode cancels.",
            "caution",
        )


def _rotation(case: Case) -> Iterator[Remark]:
    beam = case.beam
    items = [(b.words, b.vector) for b in case.bends]
    load = active_load(case.project)
    if isinstance(load, Release) and beam.n_rigid == 0:
        row = beam.deflection_row(beam.spec.span_m if load.x_m is None else load.x_m)
        items.append((load.name, row * (load.deflection_m / max(float(row @ row), 1e-300))))
    if not items:
        return
    slopes = beam.slope_row(beam.spec.span_m * np.array([0.0, 0.5, 1.0]))
    for told, vector in items:
        turn = float(np.abs(slopes @ vector).max())
        if turn > SMALL_ROTATION_RAD:
            yield Remark(
                "large rotation",
                f"Under {told} the part turns by {np.degrees(turn):.0f}°: beyond small rotation, "
                "so strains and voltages there are estimates.",
                "caution",
            )


def _temperature(case: Case) -> Iterator[Remark]:
    service = case.project.service
    wanted = {piece.material for layer in case.project.structure.layers for piece in layer.pieces}
    ranges = [(m.name, m.temperature_range_c) for m in case.project.materials if m.name in wanted]
    ranges += [(p.package.ceramic.name, p.package.ceramic.temperature_range_c) for p in case.beam.plates]
    for name, (low, high) in dict(ranges).items():
        if service.cold_c < low or service.hot_c > high:
            yield Remark(
                "temperature",
                f"Service from {between(celsius(service.cold_c), celsius(service.hot_c))} leaves the range for which "
                f"the constants of {name} are given ({between(celsius(low), celsius(high))}).",
                "caution",
            )


def _outline(structure: Structure) -> Iterator[Remark]:
    if structure.outline is None:
        return
    # imported here: only projects with a drawing's outline need a geometry library
    from core.outline.agreement import disagreement

    found = disagreement(structure)
    if found is not None:
        off_m, x_m = found
        yield Remark(
            "outline",
            f"The width calculated with differs by {size(off_m)} from the true outline at "
            f"{millimetres(x_m)}, which is drawn. Import the outline again, or forget it by right-clicking the plan.",
            "caution",
            x_m,
        )


def _output(case: Case) -> Iterator[Remark]:
    item = forcing(case.beam, active_load(case.project), case.project.view)
    if item.output_held and case.project.view.looked_at(case.candidate) is None:
        at = place(item.output_x_m, case.beam.spec.span_m)
        yield Remark(
            "held output",
            f"The output, {at}, cannot move: there is no response to show and nothing is tuned to it. Choose "
            "another output point.",
            "caution",
            item.output_x_m,
        )


def _scales(case: Case) -> Iterator[Remark]:
    """The eigenproblem keeps 1/omega^2 to sixteen digits of the largest."""
    omega = case.beam.omega_rad_s[: case.modes]
    if len(omega) and omega[-1] / omega[0] > TOO_FAR:
        yield Remark(
            "ill-scaled",
            f"Mode {case.modes} lies {words.significant(float(omega[-1] / omega[0]))} times above mode 1: the high "
            "modes lose digits. Take the large mass away, or show fewer modes.",
            "caution",
        )


def _support(case: Case) -> Iterator[Remark]:
    if case.beam.n_rigid == 0:
        return
    load = active_load(case.project)
    if isinstance(load, BaseLoad):
        yield Remark("not held", "Nothing holds this part: root acceleration cannot drive it.", "caution")
    if case.project.service.static_forces:
        yield Remark("not held", "Nothing holds this part: static forces are not checked.", "caution")
