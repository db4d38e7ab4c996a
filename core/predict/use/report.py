"""A pick-up and a shaker as dictionaries for JSON (SI, unit in every key); what does not exist is null."""

from __future__ import annotations

from typing import Any

from core.predict.use.drive import Driving
from core.predict.use.sense import Sensing
from core.predict.use.text import cautions


def sense_json(s: Sensing) -> dict[str, Any]:
    """What the group gives."""
    return {
        "point_m": s.point_m,
        "input_resistance_ohm": s.input.resistance_ohm,
        "input_capacitance_f": s.input.capacitance_f,
        "input_is_assumed": s.input_is_assumed,
        "reads": "charge" if s.reads_charge else "voltage",
        "feedback_f": s.solved.project.sense.feedback_f if s.reads_charge else None,
        "feedback_ohm": s.solved.project.sense.feedback_ohm if s.reads_charge else None,
        "corner_hz": s.corner_hz,
        "slow_v_per_n": s.slow_v_per_n,
        "slow_v_per_m": s.slow_v_per_m,
        "slow_c_per_n": s.slow_c_per_n,
        "modes": [
            {
                "number": m.number,
                "frequency_hz": m.frequency_hz,
                "v_per_m": m.v_per_m,
                "c_per_m": m.c_per_m,
                "v_per_g": m.v_per_g,
                "v_per_n": m.v_per_n,
                "v_per_strain": m.v_per_strain,
                "smallest_m": m.smallest_m,
            }
            for m in s.modes
        ],
    }


def drive_json(d: Driving) -> dict[str, Any]:
    """What the group moves, what its volts stop at, and the cautions for its leads."""
    low, high = d.field_limits_v
    return {
        "point_m": d.point_m,
        "slow_m_per_v": d.slow_m_per_v,
        "held_n_per_v": d.n_per_v if d.load_line is not None else None,
        "lowest_v": low,
        "highest_v": high,
        "amplitude_v": d.drive.amplitude_v,
        "modes": [
            {
                "number": m.number,
                "frequency_hz": m.frequency_hz,
                "m_per_v": m.m_per_v,
                "current_a": m.current_a,
                "allowed_v": m.allowed_v,
                "stops": m.stops,
            }
            for m in d.modes
        ],
        "cautions": list(cautions(d)),
    }
