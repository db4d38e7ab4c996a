"""A prediction as a dictionary for JSON (SI, unit in every key) and as text for the terminal."""

from __future__ import annotations

from typing import Any

from core.circuit.switching import Switching
from core.predict.absorber_result import AbsorberResult
from core.predict.electrics.clipping import ClipSign
from core.predict.electrics.failure import Failure, failures
from core.predict.electrics.leads import LeadVoltage
from core.predict.electrics.price import Price
from core.predict.electrics.safety import DEFERS, GroupSafety
from core.predict.electrics.stability import StabilityRegion
from core.predict.electrics.stop import StopSign
from core.predict.group_result import GroupResult, PlateResult
from core.predict.loop.text import loop_rows
from core.predict.mode_result import ModeResult, Pole, TorsionMode
from core.predict.prediction import Array, ComplexArray, Limit, Prediction
from core.predict.report.text import ROUNDING, prediction_text
from core.predict.report.torsion_text import reach
from core.predict.use.driven import DrivenLeads
from core.predict.use.report import drive_json, sense_json
from core.project.model import Project
from core.units.as_json import json_ready

JSON_VERSION = 1

__all__ = ["JSON_VERSION", "prediction_json", "prediction_text"]


def prediction_json(project: Project, prediction: Prediction, *, with_prices: bool = False) -> dict[str, Any]:
    """Everything of the prediction but the shapes and the decay, ready for `json.dumps`; what it costs to miss each
    circuit's values only `with_prices`, since it varies and tunes every circuit anew.

    A value that does not exist (an unstable mode's damping, an unloaded limit's margin) is null.
    """
    candidate = project.candidate(prediction.candidate)
    response, ring = prediction.response, prediction.ring_down
    told = {
        "format": "quietspan prediction",
        "version": JSON_VERSION,
        "project": project.name,
        "candidate": {"id": candidate.id, "name": candidate.name},
        "before": prediction.before_label,
        "stable": not prediction.unstable,
        "unstable": list(prediction.unstable),
        "stop": _stop(prediction.stop),
        "clips": _clips(prediction.clips),
        "modes": [_mode(m, bool(prediction.unstable)) for m in prediction.modes],
        "service_swing": [
            {"mode": s.mode, "zeta_inherent": s.zeta_inherent, "zeta": s.zeta, "peak_change_db": s.peak_change_db}
            for s in prediction.at_service
        ],
        "groups": [
            _group(g)
            | ({"prices": [_price(p) for p in g.prices]} if with_prices else {})
            | {"over_frequency": _over_frequency(g, response.frequency_hz)}
            for g in prediction.groups
        ],
        "tuned_masses": [_tuned_mass(a) for a in prediction.absorbers],
        "circuit_poles": [_pole(p, bool(prediction.unstable)) for p in prediction.circuit_poles],
        "patches": [_plate(p) for p in prediction.plates],
        "safety_note": DEFERS,
        "driven": [_driven(one) for one in prediction.driven],
        "loop": _loop(prediction),
        "failures": [_failure(one) for one in failures(project, prediction.candidate)],
        "leads": [_leads(one) for one in prediction.leads.found] if prediction.leads else [],
        "limits": [_limit(item) for item in prediction.limits],
        "response": {
            "label": response.label,
            "unit": response.unit,
            "peak_before": response.peak_before,
            "peak_after": response.peak_after,
            "mean_square_change_db": response.mean_square_change_db,
            "frequency_hz": response.frequency_hz,
            "before": _curve(response.before),
            "after": _curve(response.after),
        },
        "ring_down": {
            "settle_to": ring.settle_to,
            "settle_before_s": ring.settle_before_s,
            "settle_after_s": ring.settle_after_s,
            "half_life_before_s": ring.half_life_before_s,
            "half_life_after_s": ring.half_life_after_s,
        },
        "total_mass_kg": prediction.total_mass_kg,
        "bare_mass_kg": prediction.bare_mass_kg,
        "added_mass_kg": prediction.added_mass_kg,
        "tip_stiffness_n_m": prediction.tip_stiffness_n_m,
        "torsion_hz": list(prediction.torsion_hz),
        "torsion": [_torsion(t) for t in prediction.torsion],
        "remarks": [
            {"code": r.code, "severity": r.severity, "text": r.text, "x_m": r.x_m} for r in prediction.remarks
        ],
        "assumed_inputs": list(prediction.assumed_inputs),
    }
    return json_ready(told)


def _curve(values: ComplexArray) -> dict[str, Array]:
    return {"real": values.real, "imag": values.imag}


def _torsion(one: TorsionMode) -> dict[str, Any]:
    return {
        "name": one.name,
        "f_hz": one.f_hz,
        "k2": one.k2,
        "zeta": one.zeta,
        "k2_note": "" if one.is_reached else reach(one),
        "edge_x_m": one.x_m,
        "edge_deflection": one.edge,
        "other_edge_deflection": one.other_edge,
    }


def _plate(one: PlateResult) -> dict[str, Any]:
    return {
        "patch": one.patch,
        "face": one.face,
        "blocked_capacitance_f": one.blocked_capacitance_f,
        "free_capacitance_f": one.free_capacitance_f,
        "strain_lowest": one.strain[0],
        "strain_highest": one.strain[1],
        "voltage_lowest_v": one.voltage_v[0],
        "voltage_highest_v": one.voltage_v[1],
        "bond_shear_pa": one.bond_shear_pa,
        "bond_length_m": list(one.bond_length_m),
    }


def _mode(m: ModeResult, unstable: bool) -> dict[str, Any]:
    return {
        "number": m.number,
        "name": m.name,
        "f_short_hz": m.f_short_hz,
        "f_open_hz": m.f_open_hz,
        "k2": m.k2,
        "k_eff2": m.k_eff2,
        "group_k2": list(m.group_k2),
        "ceramic_energy_share": m.ceramic_share,
        "package_energy_share": m.package_share,
        "layer_energy_shares": dict(m.layer_shares),
        "electric_energy_share": m.electric_share,
        "electrode_use": m.electrode_use,
        "zeta_inherent": m.zeta_inherent,
        "zeta_before": m.zeta_before,
        "zeta": m.zeta,
        "poles": [_pole(p, unstable) for p in m.poles],
        "peak_change_db": m.peak_change_db,
        "strain_nodes_m": list(m.strain_nodes_m),
    }


def _pole(p: Pole, unstable: bool) -> dict[str, Any]:
    """Where anything grows no damping is told, not even of the poles that do not."""
    return {
        "real_rad_s": p.value_rad_s.real,
        "imag_rad_s": p.value_rad_s.imag,
        "frequency_hz": p.frequency_hz,
        "damping_ratio": p.damping_ratio if p.damping_ratio >= -ROUNDING and not unstable else None,
        "mechanical_share": p.mechanical_share,
    }


def _group(g: GroupResult) -> dict[str, Any]:
    return {
        "id": g.id,
        "blocked_capacitance_f": g.blocked_capacitance_f,
        "free_capacitance_f": g.free_capacitance_f,
        "modal_capacitance_f": list(g.modal_capacitance_f),
        "circuit": g.circuit,
        "values": {v.name: v.value for v in g.values},
        "stability": None if g.stability is None else _stability(g.stability),
        "switched": None if g.switching is None else _switched(g.switching),
        "metered": [
            {"frequency_hz": m.frequency_hz, "capacitance_f": m.capacitance_f, "near_mode": m.near_mode}
            for m in g.metered
        ],
        "open_v_per_n": g.open_v_per_n,
        "tip_m_per_v": g.tip_m_per_v,
        "blocked_n_per_v": g.blocked_n_per_v,
        "sense": sense_json(g.sensing),
        "drive": drive_json(g.driving),
        "voltage_peak_v": g.voltage_peak_v,
        "voltage_is": g.voltage_meaning,
        "current_peak_a": g.current_peak_a,
        "power_w": g.power_w,
        "power_is": g.power_meaning,
        "energy_j": g.energy_j,
        "safety": _safety(g.safety),
        "remarks": list(g.remarks),
    }


def _over_frequency(g: GroupResult, frequency_hz: Array) -> dict[str, Any]:
    """At the frequencies of the response."""
    found = g.over_frequency(frequency_hz)
    return {
        "patches_ohm": _curve(found.patches_ohm),
        "capacitance_f": found.capacitance_f,
        "circuit_ohm": _curve(found.circuit_ohm),
        "voltage_v": found.voltage_v,
    }


def _price(p: Price) -> dict[str, Any]:
    return {
        "name": p.name, "mode": p.mode, "present": p.present, "tuned": p.tuned, "missed_by": p.missed,
        "damping_low": p.low, "damping_high": p.high,
        "cost": p.cost,
    }  # fmt: skip


def _stability(region: StabilityRegion) -> dict[str, Any]:
    return {
        "holds": "above" if region.holds_above else "below",
        "nearest_f": region.nearest_f,
        "at": [
            {"temperature_c": at.temperature_c, "limit_f": at.setting.limit_f, "margin": at.setting.room}
            for at in region.travel
        ],
    }


def _switched(found: Switching) -> dict[str, Any]:
    return {
        "mode": found.mode + 1,
        "damping_equivalent": found.equivalent,
        "damping_steady": found.steady,
        "damping_decay": found.decay,
        "extremes_in_a_period": found.extremes_seen,
    }


def _tuned_mass(a: AbsorberResult) -> dict[str, Any]:
    return {
        "id": a.id,
        "x_m": a.x_m,
        "mass_kg": a.mass_kg,
        "frequency_hz": a.frequency_hz,
        "damping_ratio": a.damping_ratio,
        "stiffness_n_m": a.stiffness_n_m,
        "damper_n_s_m": a.damper_n_s_m,
        "mass_ratios": list(a.mass_ratios),
        "stroke_m": a.stroke_m,
        "stroke_is": a.size_meaning,
        "allowed_stroke_m": a.allowed_stroke_m,
        "force_n": a.force_n,
        "power_w": a.power_w,
        "power_is": a.power_meaning,
        "energy_j": a.energy_j,
        "remarks": list(a.remarks),
    }


def _stop(sign: StopSign | None) -> dict[str, Any] | None:
    if sign is None:
        return None
    return {
        "mode": sign.growth.mode,
        "frequency_hz": sign.growth.frequency_hz,
        "rate_1_s": sign.growth.rate_1_s,
        "text": f"{sign.title}. {sign.detail}",
        "holds": sign.holds.setting if sign.holds else None,
    }


def _clips(sign: ClipSign | None) -> dict[str, Any] | None:
    if sign is None:
        return None
    return {"text": f"{sign.title}. {sign.detail}", "holds": sign.holds.setting if sign.holds else None}


def _safety(one: GroupSafety) -> dict[str, Any]:
    bleed = one.bleed
    return {
        "open_v": one.volts,
        "cause": one.largest.cause if one.largest else None,
        "charge_c": one.charge_c,
        "energy_j": one.energy_j,
        "touch": one.touch,
        "bleed_ohm": bleed.ohm,
        "bleed_is": "fitted" if bleed.fitted else "proposed",
        "bleed_to_touch_s": bleed.to_touch_s,
        "bleed_to_1_v_s": bleed.to_nothing_s,
        "bleed_takes_damping": bleed.cost,
    }


def _failure(one: Failure) -> dict[str, Any]:
    return {
        "what": one.what,
        "name": one.name,
        "mode": one.mode,
        "zeta": one.damping,
        "frequency_hz": one.frequency_hz,
        "volts": one.volts,
        "cause": one.cause,
        "safe": one.is_safe,
        "verdict": one.verdict,
    }


def _driven(one: DrivenLeads) -> dict[str, Any]:
    return {
        "group": one.group,
        "by": one.by,
        "volts": one.peak_v,
        "charge_c": one.charge_c,
        "energy_j": one.energy_j,
        "bleed_ohm": one.bleed_ohm,
        "bleed_fitted": one.fitted,
        "to_touch_s": one.to_touch_s,
        "cautions": list(one.cautions),
    }


def _loop(prediction: Prediction) -> dict[str, Any] | None:
    """The closed loop of the candidate; null where it has none."""
    loop = prediction.solved.loop
    if loop is None or not prediction.solved.candidate.loop_is_closed:
        return None
    groups, limit = prediction.solved.candidate.groups, loop.limit
    return {
        "sensing": groups[loop.sensing].id,
        "driven": groups[loop.driven].id,
        "law": loop.design.law,
        "times": loop.design.times,
        "highest_times": loop.highest,
        "grows_first_mode": None if limit is None else limit.mode,
        "grows_first_hz": None if limit is None else limit.frequency_hz,
        "gain_margin_db": loop.margins.gain_db if loop.law_decays else None,
        "phase_margin_rad": loop.margins.phase_rad,
        "delay_margin_s": loop.margins.delay_s,
        "law_decays": loop.law_decays,
        "told": [list(row) for row in loop_rows(loop)],
    }


def _leads(one: LeadVoltage) -> dict[str, Any]:
    return {
        "where": one.where,
        "volts": one.volts,
        "steady": one.steady,
        "open": one.is_open,
        "cause": one.cause,
    }


def _limit(item: Limit) -> dict[str, Any]:
    return {
        "name": item.name,
        "patch": item.patch,
        "value": item.value,
        "allowable": item.allowable,
        "unit": item.unit,
        "margin": item.margin,
        "x_m": item.x_m,
        "load": item.load,
        "load_at_limit": item.load_at_limit,
        "source": item.source,
    }
