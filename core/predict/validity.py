"""Doubts about the beam model and findings a reader must not miss, as remarks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from core.circuit.system import CoupledSystem
from core.piezo.layout import CoupledBeam
from core.piezo.package import CeramicPlate
from core.predict.fields import Fields
from core.predict.limits import StaticBend
from core.predict.prediction import Remark
from core.project.model import Candidate, Group, Patch, Project, Release, RootAcceleration

Array = NDArray[np.float64]

SLENDER = 10.0
WIDE = 3.0
THICK_SHARE = 1 / 3
LAG_SHARE = 0.1
SMALL_ROTATION_RAD = 0.2
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

    @cached_property
    def means(self) -> dict[str, float]:
        """Means over the span of what the one-line estimates need."""
        x, sec = self.sampled.x_m, self.sampled.section
        width = self.beam.spec.width.at(x)
        values = np.stack([sec.axial, sec.bending, sec.mass, width, sec.mass * width**2 / 12])
        length = np.diff(x, axis=1)
        total = ((values[..., 1:] + values[..., :-1]) * length).sum(axis=(1, 2)) / (2 * length.sum())
        return dict(zip(("axial", "bending", "mass", "width", "polar"), total.tolist(), strict=True))

    @property
    def beam(self) -> CoupledBeam:
        return self.sampled.beam


def remarks(case: Case) -> tuple[Remark, ...]:
    """Every remark, errors first."""
    found = [
        *_slenderness(case), *_longitudinal(case), *_plate_like(case), *_patches(case), *_polarity(case),
        *_rotation(case), *_temperature(case), *_support(case),
    ]
    rank = {"error": 0, "caution": 1, "note": 2}
    return tuple(sorted(found, key=lambda r: rank[r.severity]))


def _slenderness(case: Case) -> Iterator[Remark]:
    span = case.beam.spec.span_m
    ratio = span / float(case.sampled.section.top_m.max())
    if ratio < SLENDER:
        yield Remark(
            "short span", f"Span over thickness is {ratio:.1f}, below {SLENDER:.0f}: shear deformation, left "
            "out here, lowers the true frequencies.", "caution",
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
            "short wave", f"Half a wavelength of mode {modes} is only {smallest:.1f} thicknesses: its frequency "
            f"is about {high:.1f} % high in a metal, more over a soft core.",
            "caution" if smallest < 5 else "note", float(case.sampled.x_m.ravel()[worst]),
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
            "longitudinal", f"A longitudinal mode near {estimate:.0f} Hz lies among the modes shown; bending "
            "alone does not describe it.", "note",
        )


def _plate_like(case: Case) -> Iterator[Remark]:
    m = case.means
    span, omega = case.beam.spec.span_m, case.beam.omega_rad_s
    ratio = span / m["width"]
    if ratio < WIDE:
        yield Remark(
            "plate", f"Span over width is {ratio:.1f}, below {WIDE:.0f}: this part is a plate and twists; bending "
            "of a beam is a first guess only.", "caution",
        )
    poisson = 0.3
    torsion = (2 * m["bending"] / (1 + poisson) / m["polar"]) ** 0.5 / (4 * span)
    modes = min(case.modes, len(omega))
    if modes and torsion < omega[modes - 1] / (2 * np.pi):
        yield Remark(
            "torsion", f"A first torsion mode is to be expected near {torsion:.0f} Hz, among the modes shown; it is "
            "not modelled.", "caution" if ratio < WIDE else "note",
        )


def _patches(case: Case) -> Iterator[Remark]:
    by_id = {p.id: p for p in case.candidate.patches}
    seen: set[tuple[str, str]] = set()
    for plate in case.beam.plates:
        patch = by_id[plate.patch]
        for remark in _patch_remarks(case, plate, patch):
            if (plate.patch, remark.code) not in seen:
                seen.add((plate.patch, remark.code))
                yield remark


def _patch_remarks(case: Case, plate: CeramicPlate, patch: Patch) -> Iterator[Remark]:
    spec, package = case.beam.spec, plate.package
    length = plate.x_b_m - plate.x_a_m
    if plate.x_b_eff_m <= plate.x_a_eff_m:
        yield Remark(
            "no working length", f"The bond of {patch.id} is too soft or the patch too short: strain needs "
            f"{max(plate.shear_lag_m) * 1e3:.3g} mm at each end to build up and the ceramic is {length * 1e3:.3g} mm "
            "long, so nothing of it works.", "error", plate.x_a_m,
        )
    elif max(plate.shear_lag_m) > LAG_SHARE * length:
        yield Remark(
            "shear lag", f"The bond of {patch.id} needs {max(plate.shear_lag_m) * 1e3:.3g} mm at an end to build up "
            f"strain, over a tenth of its {length * 1e3:.3g} mm: K² leans on the bond's stiffness.",
            "caution", plate.x_a_m,
        )
    if patch.bond.rigid:
        yield Remark(
            "rigid bond", f"{patch.id} is taken as rigidly bonded: K² comes out 10 to 12 % too high.", "note",
        )
    x = np.linspace(max(plate.x_a_m, 0.0), min(plate.x_b_m, spec.span_m), 41)
    thin = float(spec.total_thickness_m(x).min())
    package_m = patch.bond.thickness_m + package.lower_skin.thickness_m + plate.thickness_m \
        + package.upper_skin.thickness_m
    if package_m > THICK_SHARE * thin:
        yield Remark(
            "thick patch", f"{patch.id} is {package_m * 1e3:.3g} mm thick on a structure of {thin * 1e3:.3g} mm: "
            "beyond a third, shear through the patch is no longer small.", "caution", plate.x_a_m,
        )
    reach = 0.5 * plate.width_m + abs(patch.y_m)
    excess = reach - 0.5 * np.minimum(spec.width.at(x), spec.width.at(x, side="left"))
    if excess.max() > 1e-9:
        at = float(x[int(excess.argmax())])
        yield Remark(
            "wide patch", f"The ceramic of {patch.id} overhangs the net width by {excess.max() * 1e3:.3g} mm at "
            f"{at * 1e3:.4g} mm: the part that hangs over is counted as if it were bonded.", "caution", at,
        )
    over = max(package.margin_m - plate.x_a_m, plate.x_b_m + package.margin_m - spec.span_m)
    if over > 1e-9:
        yield Remark(
            "margin outside", f"The margin of {patch.id} hangs {over * 1e3:.3g} mm past the end of the span.",
            "caution", plate.x_a_m,
        )
    if patch.y_m != 0 or patch.angle_rad != 0:
        yield Remark(
            "off centre", f"{patch.id} is calculated as lying straight on the centreline; its offset and turn count "
            "for the drawing only.", "note",
        )


def _polarity(case: Case) -> Iterator[Remark]:
    combine, theta = case.beam.terminals.combine, case.beam.theta
    for g, group in enumerate(case.candidate.groups):
        used = np.flatnonzero(combine[:, g])
        if len(used) == 0:
            yield Remark("empty group", f"Group {group.id} holds no patch: its circuit hangs on nothing.", "caution")
            continue
        possible = np.abs(theta[:, used] * combine[used, g]).sum(axis=1)
        actual = np.abs(case.beam.group_theta[:, g])
        if len(used) > 1 and (actual <= CANCELLED * np.maximum(possible, 1e-300)).all():
            yield Remark("polarity", _cancel_words(case, group, used), "error")
            continue
        yield from _no_coupling(case, group, g)


def _cancel_words(case: Case, group: Group, used: NDArray[np.intp]) -> str:
    names = " and ".join(f"{case.beam.plates[j].patch} ({case.beam.plates[j].face})" for j in used[:2])
    return (
        f"Group {group.id} has no coupling to bending: with these polarities the charges of {names} cancel in every "
        "mode, one is pulled while the other is pushed. Reverse one of them."
    )


def _no_coupling(case: Case, group: Group, g: int) -> Iterator[Remark]:
    tuning = group.circuit.tuning
    if tuning is None or tuning.mode > len(case.beam.omega_rad_s):
        return
    k2 = float(case.beam.group_k2[tuning.mode - 1, g])
    if k2 < 1e-6:
        yield Remark(
            "not reached", f"Group {group.id} is tuned to mode {tuning.mode} but hardly reaches it (K² = "
            f"{k2 * 100:.2g} %): the strain under the electrode cancels.", "caution",
        )


def _rotation(case: Case) -> Iterator[Remark]:
    beam = case.beam
    items = [(b.words, b.vector) for b in case.bends]
    load = case.project.service.loads[min(case.project.service.active_load, len(case.project.service.loads) - 1)]
    if isinstance(load, Release) and beam.n_rigid == 0:
        row = beam.deflection_row(beam.spec.span_m if load.x_m is None else load.x_m)
        items.append((load.name, row * (load.deflection_m / max(float(row @ row), 1e-300))))
    if not items:
        return
    slopes = beam.slope_row(beam.spec.span_m * np.array([0.0, 0.5, 1.0]))
    for words, vector in items:
        turn = float(np.abs(slopes @ vector).max())
        if turn > SMALL_ROTATION_RAD:
            yield Remark(
                "large rotation", f"Under {words} the part turns by {np.degrees(turn):.0f}°: beyond small rotation, "
                "so strains and voltages there are estimates.", "caution",
            )


def _temperature(case: Case) -> Iterator[Remark]:
    service = case.project.service
    wanted = {piece.material for layer in case.project.structure.layers for piece in layer.pieces}
    ranges = [(m.name, m.temperature_range_c) for m in case.project.materials if m.name in wanted]
    ranges += [(p.package.ceramic.name, p.package.ceramic.temperature_range_c) for p in case.beam.plates]
    for name, (low, high) in dict(ranges).items():
        if service.cold_c < low or service.hot_c > high:
            yield Remark(
                "temperature", f"Service from {service.cold_c:g} to {service.hot_c:g} °C leaves the range for which "
                f"the constants of {name} are given ({low:g} to {high:g} °C).", "caution",
            )


def _support(case: Case) -> Iterator[Remark]:
    if case.beam.n_rigid == 0:
        return
    load = case.project.service.loads[min(case.project.service.active_load, len(case.project.service.loads) - 1)]
    if isinstance(load, RootAcceleration):
        yield Remark("not held", "Nothing holds this part: root acceleration cannot drive it.", "caution")
    if case.project.service.static_forces:
        yield Remark("not held", "Nothing holds this part: static forces are not checked.", "caution")
