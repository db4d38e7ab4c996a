"""Doubts about the beam model and findings a reader must not miss, as remarks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from core.beam.spec import WARPING, BeamSpec
from core.piezo.choice import is_soft, warping_length_m
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.coupling import coupling_single
from core.predict.electrics.clipping import clip_sign
from core.predict.forcing import active_load, place
from core.predict.loads.limits import idle_forces
from core.predict.prediction import Remark
from core.predict.remarks.mass_validity import mass_remarks
from core.predict.remarks.patch_validity import open_leads, patch_remarks, placement_remarks, touch_remarks
from core.predict.report.torsion_text import UNREACHED
from core.predict.solved import Solved
from core.project.candidate import Group
from core.project.checking import by_identity
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


def remarks(solved: Solved) -> tuple[Remark, ...]:
    """Every remark, errors first."""
    found = [
        *_slenderness(solved),
        *_longitudinal(solved),
        *_plate_like(solved),
        *placement_remarks(solved.project, solved.candidate),
        *patch_remarks(solved.beam, solved.candidate),
        *mass_remarks(solved),
        *_polarity(solved),
        *open_leads(solved),
        *_clipping(solved),
        *_rotation(solved),
        *_temperature(solved),
        *_output(solved),
        *_load(solved),
        *_scales(solved),
        *_support(solved),
        *_steep(solved.project.structure, solved.beam.spec),
        *_outline(solved.project.structure),
    ]
    rank = {"error": 0, "caution": 1, "note": 2}
    return tuple(sorted(found, key=lambda r: rank[r.severity]))


def _clipping(solved: Solved) -> Iterator[Remark]:
    sign = clip_sign(solved)
    if sign is not None:
        yield Remark("clipping", f"{sign.title}: {sign.detail} {sign.cure}", "caution")


def errors(solved: Solved) -> tuple[Remark, ...]:
    """Those remarks that are errors, by asking only what can find one."""
    can_be = (
        *touch_remarks(solved.project, solved.candidate),
        *patch_remarks(solved.beam, solved.candidate),
        *_polarity(solved),
    )
    return tuple(remark for remark in can_be if remark.severity == "error")


def _slenderness(solved: Solved) -> Iterator[Remark]:
    span = solved.beam.spec.span_m
    ratio = span / float(solved.over_x.section.top_m.max())
    if solved.beam.spec.level in WARPING:
        yield from _soft_core(solved)
        return
    if ratio < SLENDER:
        yield Remark(
            "short span",
            f"Span over thickness is {words.fixed(ratio)}, below {words.plain(SLENDER)}: shear deformation, left "
            "out here, lowers the true frequencies.",
            "caution",
        )
    modes = min(solved.modes, len(solved.beam.omega_rad_s))
    if modes == 0:
        return
    sec = solved.over_x.section
    half_wave = np.pi * (sec.bending / (sec.mass * solved.beam.omega_rad_s[modes - 1] ** 2)) ** 0.25
    local = half_wave / sec.top_m
    worst = int(local.argmin())
    smallest = float(local.ravel()[worst])
    if smallest < SLENDER:
        high = 1.7 * (SLENDER / smallest) ** 2
        yield Remark(
            "short wave",
            f"Half a wavelength of mode {modes} is only {words.fixed(smallest)} thicknesses: its frequency "
            f"is about {words.fixed(high)} % high in a metal, more over a soft core.",
            "caution" if smallest < 5 else "note",
            float(solved.over_x.x_m.ravel()[worst]),
        )


def _soft_core(solved: Solved) -> Iterator[Remark]:
    """What is left out where a core gives in shear, which is counted: figures from comparisons with plane elasticity and
    a solid of a blade of thin skins on foam."""
    length = warping_length_m(solved.beam.spec)
    if is_soft(solved.beam.spec) and solved.candidate.patches:
        yield Remark(
            "soft core",
            f"A soft core: its shear is counted, and skins bend by themselves over {millimetres(length)}. Not counted are its squeeze "
            "across the thickness, which takes about 4 % of K², and the dent of a patch on a thin skin far "
            "from the root, which takes up to 30 % of K² in mode 1.",
            "note",
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
            f"The thickness changes {words.fixed(float(ratio[i]), 0)}-fold between the stations at {millimetres(float(x[i]))} and "
            f"{millimetres(x[i + 1])}: high modes lose accuracy. Add a station there.",
            "note",
            float(x[i]),
        )
        for i in np.flatnonzero(ratio > STEEP).tolist()
    )


def _longitudinal(solved: Solved) -> Iterator[Remark]:
    m = solved.over_x.means
    omega = solved.beam.omega_rad_s
    modes = min(solved.modes, len(omega))
    if modes == 0:
        return
    estimate = (m["axial"] / m["mass"]) ** 0.5 / (4 * solved.beam.spec.span_m)
    if estimate < omega[modes - 1] / (2 * np.pi):
        yield Remark(
            "longitudinal",
            f"A longitudinal mode near {words.frequency(estimate)} lies among the modes shown; bending "
            "alone does not describe it.",
            "note",
        )


def _plate_like(solved: Solved) -> Iterator[Remark]:
    m = solved.over_x.means
    span, omega = solved.beam.spec.span_m, solved.beam.omega_rad_s
    ratio = span / m["width"]
    if ratio < WIDE:
        plate = f"Span over width is {words.fixed(ratio)}, below {words.plain(WIDE)}: this part is a plate"
        if solved.beam.spec.level == "across":
            # from the comparisons with laminated plates of tests/published
            told = (
                f"{plate}. Against laminated plates as broad, frequencies are within 0.5 %, K² of modes that bend within 6 % and of "
                "modes that curve across within 15 %."
            )
            yield Remark("plate", told, "note")
        else:
            yield Remark("plate", f"{plate} and twists; bending of a beam is a first guess only. The level 'across' takes that.", "caution")
    modes = min(solved.modes, len(omega))
    highest = omega[modes - 1] / (2 * np.pi) if modes else 0.0
    from core.beam.torsion import torsion_hz  # its band solver takes long to load, and a drag does without

    found = solved.twists
    twists = torsion_hz(solved.beam.spec) if found is None else found.frequency_hz
    if twists:
        among = [f"T{i + 1} at {words.frequency(f)}" for i, f in enumerate(twists) if f < highest]
        if among and solved.beam.ceramics.is_askew:
            told = "(with the packages on it); what lies off the centreline or is turned is calculated, and patches may reach that."
        elif found is None:
            told = "(without patches). A straight patch on the centreline does not reach that."
        else:
            told = f"(with the packages on it), which {UNREACHED}."
        if among:
            yield Remark(
                "torsion", f"Among the modes shown the part also twists: {', '.join(among)} {told}",
                "caution" if ratio < WIDE else "note",
            )  # fmt: skip
        return
    poisson = 0.3
    torsion = (2 * m["bending"] / (1 + poisson) / m["polar"]) ** 0.5 / (4 * span)
    if torsion < highest:
        yield Remark(
            "torsion",
            f"A first torsion mode is to be expected near {words.frequency(torsion)}, among the modes shown; it is "
            "not modelled.",
            "caution" if ratio < WIDE else "note",
        )


def _polarity(solved: Solved) -> Iterator[Remark]:
    combine = solved.beam.terminals.combine
    for g, group in enumerate(solved.candidate.groups):
        used = np.flatnonzero(combine[:, g])
        if len(used) == 0:
            yield Remark(
                "empty group", f"Group {group.id} holds no patch: its circuit hangs on nothing.", "caution"
            )
            continue
        if len(used) > 1 and _cancels(solved, g, used):
            words = _cancel_words(solved, group, used)
            yield Remark("polarity", words, "error", reverse=solved.beam.plates[used[1]].patch)
            continue
        yield from _against_each_other(solved, group, g, used)
        yield from _no_coupling(solved, group, g)


def _cancels(solved: Solved, g: int, used: NDArray[np.intp]) -> bool:
    """Whether the charges of a group's ceramics make nothing of each other in every mode."""
    possible = np.abs(solved.beam.theta[:, used] * solved.beam.terminals.combine[used, g]).sum(axis=1)
    return bool((np.abs(solved.beam.group_theta[:, g]) <= CANCELLED * np.maximum(possible, 1e-300)).all())


def _cancel_words(solved: Solved, group: Group, used: NDArray[np.intp]) -> str:
    plates = [solved.beam.plates[j] for j in used[:2]]
    names = " and ".join(f"{p.patch} ({p.face})" for p in plates)
    cure = "Wire the pair for bending." if plates[0].patch == plates[1].patch else "Reverse one of them."
    return (
        f"Group {group.id} has no coupling to bending: with these polarities the charges of {names} cancel "
        f"in every mode, one is pulled while the other is pushed. {cure}"
    )


def _exchanged_k2(beam: CoupledBeam, g: int, used: NDArray[np.intp], signs: Array, number: int) -> float:
    """K^2 of a mode (from 1) with some patches' leads exchanged: patches over each other share strain, along and
    across, so their capacitance changes with it."""
    exchanged = beam.terminals.combine[used, g] * signs
    blocked = exchanged @ beam.blocked_f[np.ix_(used, used)] @ exchanged
    projection = beam.beam.unit @ (exchanged @ beam.theta_rows[used])
    return float(coupling_single(beam.beam.mu_s2, projection, blocked, number)[0][number - 1])


def _against_each_other(solved: Solved, group: Group, g: int, used: NDArray[np.intp]) -> Iterator[Remark]:
    """Patches of a group whose charges take most of each other away on the mode they are there for."""
    tuning, asked = group.circuit.tuning, solved.project.service.asked.modes
    number = tuning.mode if tuning is not None else asked[0] if asked else 1
    beam = solved.beam
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
    best = _exchanged_k2(beam, g, used, signs, number) if actual > 0 else 0.0
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


def _no_coupling(solved: Solved, group: Group, g: int) -> Iterator[Remark]:
    tuning = group.circuit.tuning
    if tuning is None:
        return
    for mode in tuning.modes(solved.system.connections[g].kind.branches):
        k2 = float(solved.beam.group_k2[mode - 1, g]) if mode <= len(solved.beam.omega_rad_s) else 1.0
        if k2 < 1e-6:
            yield Remark(
                "not reached",
                f"Group {group.id} is tuned to mode {mode} but hardly reaches it (K² = "
                f"{share(k2)}): the strain under the electrode cancels.",
                "caution",
            )


def _rotation(solved: Solved) -> Iterator[Remark]:
    beam = solved.beam
    items = [(b.words, b.vector) for b in solved.bends]
    load, row = active_load(solved.project), solved.side.forcing.load_row
    if isinstance(load, Release) and beam.n_rigid == 0 and not solved.side.forcing.load_held:
        items.append((load.name, row * (load.deflection_m / float(row @ row))))
    if not items:
        return
    slopes = beam.slope_row(beam.spec.span_m * np.array([0.0, 0.5, 1.0]))
    for told, vector in items:
        turn = float(np.abs(slopes @ vector).max())
        if turn > SMALL_ROTATION_RAD:
            yield Remark(
                "large rotation",
                f"Under {told} the part turns by {words.fixed(float(np.degrees(turn)), 0)}°: beyond small rotation, "
                "so strains and voltages there are estimates.",
                "caution",
            )


def _temperature(solved: Solved) -> Iterator[Remark]:
    service = solved.project.service
    wanted = {piece.material for layer in solved.project.structure.layers for piece in layer.pieces}
    ranges = [(m.name, m.temperature_range_c) for m in solved.project.materials if m.name in wanted]
    ranges += [(p.package.ceramic.name, p.package.ceramic.temperature_range_c) for p in solved.beam.plates]
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


def _output(solved: Solved) -> Iterator[Remark]:
    item = solved.side.forcing
    if item.output_held and solved.project.view.looked_at(solved.candidate) is None:
        at = place(item.output_x_m, solved.beam.spec.span_m)
        yield Remark(
            "held output",
            f"The output, {at}, cannot move: there is no response to show and nothing is tuned to it. Choose "
            "another output point.",
            "caution",
            item.output_x_m,
        )


def _load(solved: Solved) -> Iterator[Remark]:
    item, span = solved.side.forcing, solved.beam.spec.span_m
    idle = [(f"static force {f.name}", span if f.x_m is None else f.x_m) for f in idle_forces(solved.beam, solved.project.service)]
    if item.load_held:
        idle.append((f"load {item.load.name}", item.load_x_m))
    for what, x_m in idle:
        yield Remark(
            "held load",
            f"The {what} acts at {place(x_m, span)}, which cannot move: it does nothing. Let it act elsewhere.",
            "caution",
            x_m,
        )


def _scales(solved: Solved) -> Iterator[Remark]:
    """The eigenproblem keeps 1/omega^2 to sixteen digits of the largest."""
    omega = solved.beam.omega_rad_s[: solved.modes]
    if len(omega) and omega[-1] / omega[0] > TOO_FAR:
        yield Remark(
            "ill-scaled",
            f"Mode {solved.modes} lies {words.significant(float(omega[-1] / omega[0]))} times above mode 1: the high "
            "modes lose digits. Take the large mass away, or show fewer modes.",
            "caution",
        )


def _support(solved: Solved) -> Iterator[Remark]:
    if solved.beam.n_rigid == 0:
        return
    load = active_load(solved.project)
    if isinstance(load, BaseLoad):
        yield Remark("not held", "Nothing holds this part: root acceleration cannot drive it.", "caution")
    if solved.project.service.static_forces:
        yield Remark("not held", "Nothing holds this part: static forces are not checked.", "caution")
