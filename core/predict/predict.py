"""The whole prediction of one candidate: modes, damping, response, ring-down, limits, remarks."""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.kind import Parameter
from core.circuit.optimum import Aim
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import Connection, CoupledSystem
from core.piezo.layout import CoupledBeam, solve
from core.predict import growing
from core.predict.advice import circuit_remarks
from core.predict.fields import Fields, fields, shapes, strain_nodes
from core.predict.forcing import Forcing, active_load, forcing, response_words
from core.predict.leads import lead_voltages
from core.predict.limits import check_limits, static_bends
from core.predict.loading import Vibration, vibrate
from core.predict.metered import METER_HZ, metered
from core.predict.patch_output import at_patch, patch_words, without_before
from core.predict.poles import circuit_poles, mode_damping, mode_poles, unstable_sentences
from core.predict.prediction import (
    GroupResult,
    ModeResult,
    PartValue,
    PlateResult,
    Prediction,
    Response,
    Shapes,
)
from core.predict.response import Sampled, Side, response, sample
from core.predict.ringdown import ring_down
from core.predict.transient import transient
from core.predict.validity import Case, remarks
from core.project.candidate import Candidate
from core.project.material import Material
from core.project.model import Project
from core.project.provenance import assumed, gathered
from core.project.served import tuned_modes
from core.project.service import Service
from core.project.structure import Structure

MODES_BEYOND = 3
FEWEST_KEPT = 8
MOST_IN_BAND = 30
BEFORE_LABELS = {"patch shorted": "patches shorted", "bare structure": "bare structure"}


def predict(
    project: Project,
    candidate_id: str | None = None,
    *,
    points: int = 400,
    temperature_c: float | None = None,
) -> Prediction:
    """Prediction of a valid project's candidate (None: the active one).

    `points` is the length of the response curves. At `temperature_c` every constant follows its
    coefficient while the circuits hold the values they are tuned to at the reference temperature;
    None is the reference. Raises KeyError for an unknown candidate, material, package or circuit.
    """
    candidate = project.candidate(candidate_id)
    if temperature_c is not None:
        candidate = held_circuits(project, candidate)
    modes = project.view.modes_shown
    kept = modes_kept(project, bare(project))
    beam = solve(project, candidate, n_modes=kept, temperature_c=temperature_c)
    bare_beam = bare(project, kept, temperature_c)
    modes = min(modes, len(beam.omega_rad_s))
    item = forcing(beam, active_load(project), project.view)
    item = dataclasses.replace(item, served=_served(project, candidate_id))
    system = coupled_system(beam, candidate, item.tuning_aim)
    found = spectra(system, modes)
    side, other = Side(system, item), _bare_side(project, bare_beam, item.served)
    sampled = sample(side, found, other, modes=modes, points=points)
    return _assemble(project, candidate, beam, bare_beam, side, other, found, sampled, modes)


def _served(project: Project, candidate_id: str | None) -> int | None:
    """Index of the mode the circuits are tuned on, else of the first asked for; None where neither says."""
    modes = (*tuned_modes(project.candidate(candidate_id)), *project.service.asked.modes)
    return modes[0] - 1 if modes else None


def modes_kept(project: Project, bare_beam: CoupledBeam) -> int:
    """Modes to keep: those shown, those in the load's band, and a few above for accuracy (a millionth
    of the damping, with the static residual of the rest)."""
    high = 2 * np.pi * active_load(project).band_hz[1]
    in_band = int(np.searchsorted(bare_beam.beam.omega_rad_s, high))
    return max(FEWEST_KEPT, max(project.view.modes_shown, min(in_band, MOST_IN_BAND)) + MODES_BEYOND)


def held_circuits(project: Project, candidate: Candidate) -> Candidate:
    """The candidate with every circuit fixed at the values it is tuned to at the reference temperature."""
    if all(group.circuit.tuning is None for group in candidate.groups):
        return candidate
    beam = solve(project, candidate, n_modes=modes_kept(project, bare(project)))
    return hold(candidate, coupled_system(beam, candidate, forcing(beam, active_load(project), project.view).tuning_aim))


def hold(candidate: Candidate, system: CoupledSystem) -> Candidate:
    """The candidate with its circuits fixed at the values in effect in `system`."""
    groups = tuple(
        replace(g, circuit=replace(g.circuit, values=dict(c.values), tuning=None))
        for g, c in zip(candidate.groups, system.connections, strict=True)
    )
    return replace(candidate, groups=groups)


def bare(
    project: Project, n_modes: int = FEWEST_KEPT, temperature_c: float | None = None
) -> CoupledBeam:
    """The structure without patches, solved once per structure."""
    return _bare(project.structure, project.materials, n_modes, project.at_c(temperature_c))


@lru_cache(maxsize=4)
def _bare(
    structure: Structure, materials: tuple[Material, ...], n_modes: int, temperature_c: float
) -> CoupledBeam:
    nothing = Project(
        name="",
        structure=structure,
        materials=materials,
        packages=(),
        candidates=(),
        active="",
        service=Service(loads=()),
    )
    return solve(nothing, Candidate("", ""), n_modes=n_modes, temperature_c=temperature_c)


def _bare_side(project: Project, beam: CoupledBeam, served: int | None) -> Side | None:
    if project.view.before != "bare structure":
        return None
    item = dataclasses.replace(forcing(beam, active_load(project), project.view), served=served)
    return Side(coupled_system(beam, Candidate("", "")), item)


def _assemble(
    project: Project,
    candidate: Candidate,
    beam: CoupledBeam,
    bare_beam: CoupledBeam,
    side: Side,
    other: Side | None,
    found: list[Spectrum],
    sampled: Sampled,
    modes: int,
) -> Prediction:
    over_x = fields(beam)
    drawn = shapes(over_x, modes)
    bends = static_bends(over_x, project.service, side.system)
    before_label = BEFORE_LABELS[project.view.before]
    moved = transient(side.system, side.forcing)
    ring = ring_down(side, other, moved, project.service.settle_to)
    curves, peaks = _response(project, candidate, over_x, side, found, sampled, modes)
    unstable = unstable_sentences(found)
    if unstable:
        peaks, curves, ring = (None,) * modes, growing.curves(curves), growing.decay(ring)
        vibration = growing.vibration(over_x, side)
    else:
        vibration = vibrate(over_x, side, sampled, moved)
    find_leads = lru_cache(maxsize=1)(lambda: lead_voltages(project, beam, side.system, found, bends))
    case = Case(project, candidate, over_x, side.system, bends, modes, find_leads)
    return Prediction(
        candidate=candidate.id,
        modes=_modes(beam, side, other, found, peaks, drawn, modes),
        groups=_groups(candidate, beam, side.system, vibration, modes),
        response=curves,
        ring_down=ring,
        limits=check_limits(over_x, vibration, bends, side.forcing.load, project.service),
        remarks=remarks(case),
        shapes=drawn,
        before_label=before_label,
        total_mass_kg=beam.total_mass_kg,
        added_mass_kg=beam.added_mass_kg,
        tip_stiffness_n_m=bare_beam.tip_stiffness_n_m,
        bare_mass_kg=bare_beam.total_mass_kg,
        unstable=unstable,
        plates=_plates(over_x, vibration),
        circuit_poles=circuit_poles(found),
        assumed_inputs=gathered(assumed(project, candidate.id)),
        find_leads=find_leads,
    )


def _response(
    project: Project,
    candidate: Candidate,
    over_x: Fields,
    side: Side,
    found: list[Spectrum],
    sampled: Sampled,
    modes: int,
) -> tuple[Response, tuple[float | None, ...]]:
    """The response to show and its change of peak per mode: at the output point, or at a patch."""
    view, span = project.view, over_x.beam.spec.span_m
    item = at_patch(over_x, candidate, side.forcing, view)
    if item is None:
        words = response_words(side.forcing, view, span)
        curves = response(sampled, side.forcing.load, *words, BEFORE_LABELS[view.before])
        if side.forcing.output_held:
            return dataclasses.replace(curves, mean_square_change_db=np.nan), (None,) * modes
        return curves, sampled.peak_change_db
    shown = sample(Side(side.system, item), found, None, modes=modes, points=sampled.points)
    words = patch_words(item, candidate, view, span)
    curves = response(shown, side.forcing.load, *words, BEFORE_LABELS["patch shorted"])
    return (without_before(curves) if view.output == "voltage" else curves), shown.peak_change_db


def _modes(
    beam: CoupledBeam,
    side: Side,
    other: Side | None,
    found: list[Spectrum],
    peaks: tuple[float | None, ...],
    drawn: Shapes,
    modes: int,
) -> tuple[ModeResult, ...]:
    before = side.system if other is None else other.system
    out = []
    layers = [(name, share.tolist()) for name, share in beam.layer_share.items()]
    use, nodes = beam.electrode_use, strain_nodes(drawn, beam)
    # what the floating nodes of series groups hold: (theta b . q)^2/2 of U = omega^2 q^2/2
    electric = ((beam.theta @ beam.terminals.stiffeners) ** 2).sum(axis=-1) / beam.omega_rad_s**2
    for n in range(modes):
        f, k2 = float(beam.omega_rad_s[n]) / (2 * np.pi), float(beam.k2[n])
        out.append(
            ModeResult(
                number=n + 1,
                f_short_hz=f,
                f_open_hz=f * (1 + k2) ** 0.5,
                k2=k2,
                k_eff2=k2 / (1 + k2),
                group_k2=tuple(beam.group_k2[n].tolist()),
                ceramic_share=float(beam.ceramic_share[n]),
                package_share=float(beam.package_share[n]),
                electrode_use=float(use[n]) if np.isfinite(use[n]) else None,
                zeta_inherent=float(beam.zeta0[n]),
                zeta=mode_damping(found[n], n),
                zeta_before=float(before.zeta[min(n, len(before.zeta) - 1)]),
                poles=mode_poles(found[n], n),
                peak_change_db=peaks[n],
                layer_shares=tuple((name, share[n]) for name, share in layers),
                strain_nodes_m=nodes[n],
                electric_share=float(electric[n]),
            )
        )
    return tuple(out)


def _plates(over_x: Fields, vibration: Vibration) -> tuple[PlateResult, ...]:
    beam = over_x.beam
    return tuple(
        PlateResult(
            patch=plate.patch,
            face="top" if plate.on_top else "underside",
            blocked_capacitance_f=float(beam.blocked_f[j, j]),
            free_capacitance_f=float(beam.free_f[j, j]),
            strain=state.strain,
            voltage_v=state.voltage,
            bond_shear_pa=state.shear_pa,
            bond_length_m=plate.shear_lag_m,
        )
        for j, (plate, state) in enumerate(zip(beam.plates, vibration.plates, strict=True))
    )


def _groups(
    candidate: Candidate, beam: CoupledBeam, system: CoupledSystem, vibration: Vibration, modes: int
) -> tuple[GroupResult, ...]:
    out = []
    tip = -beam.deflection_row(beam.spec.span_m)
    for g, (group, connection) in enumerate(zip(candidate.groups, system.connections, strict=True)):
        out.append(
            GroupResult(
                id=group.id,
                blocked_capacitance_f=float(beam.group_blocked_f[g, g]),
                free_capacitance_f=float(beam.group_free_f[g, g]),
                circuit=connection.kind.key,
                circuit_label=connection.kind.label,
                values=part_values(connection),
                remarks=circuit_remarks(beam, group, g, connection),
                voltage_peak_v=float(vibration.group_voltage_v[g]),
                power_w=float(vibration.group_power_w[g]),
                modal_capacitance_f=tuple(beam.modal_capacitance_f[:modes, g].tolist()),
                current_peak_a=float(vibration.group_current_a[g]),
                energy_j=None if np.isnan(vibration.group_energy_j[g]) else float(vibration.group_energy_j[g]),
                tip_m_per_v=float(tip @ beam.group_theta_rows[g]),
                open_v_per_n=float(tip @ beam.group_theta_rows[g]) / max(float(beam.group_free_f[g, g]), 1e-300),
                metered=tuple(metered(system, beam, g, f) for f in METER_HZ),
                voltage_meaning=vibration.meaning,
                power_meaning=vibration.power_meaning,
            )
        )
    return tuple(out)


def part_values(connection: Connection) -> tuple[PartValue, ...]:
    """The circuit's values in effect, SI."""
    return tuple(
        PartValue(p.name, p.label, si_unit(p), connection.numbers[p.name]) for p in connection.kind.parameters
    )


def si_unit(parameter: Parameter) -> str:
    """SI unit of a circuit value, from the ending of its name."""
    return {"ohm": "ohm", "h": "H", "f": "F"}.get(parameter.name.rsplit("_", 1)[-1], "")


__all__ = ["Aim", "Fields", "Forcing", "bare", "part_values", "predict"]
