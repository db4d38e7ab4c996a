"""A prediction as text for the terminal, in display units."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from core.predict.prediction import Limit, ModeResult, Prediction
from core.project.model import Project

_LIMIT_UNITS = {
    "1": (1e6, "µε"),
    "V/m": (1e-6, "kV/mm"),
    "Pa": (1e-6, "MPa"),
    "degC": (1.0, "°C"),
    "kg": (1e3, "g"),
}
ROUNDING = 1e-9
"""A damping ratio this little below zero is rounding; further below, the pole grows."""
_PREFIXES = (
    (1e9, "G"),
    (1e6, "M"),
    (1e3, "k"),
    (1.0, ""),
    (1e-3, "m"),
    (1e-6, "µ"),
    (1e-9, "n"),
    (1e-12, "p"),
)


def prediction_text(project: Project, prediction: Prediction) -> str:
    """The prediction as lines: modes, poles, groups, limits, ring-down, remarks."""
    candidate = project.candidate(prediction.candidate)
    parts = [
        [f"{project.name}, candidate {candidate.id} {candidate.name}".rstrip()],
        [f"Before: {prediction.before_label}. Circuits and all modes solved together."],
        list(prediction.unstable),
        ["", "Modes", *_table(_MODE_HEADS, [_mode_row(m) for m in prediction.modes])],
        ["", "Poles", *_table(_POLE_HEADS, list(_pole_rows(prediction)))],
        ["", "Groups", *_group_lines(prediction)] if prediction.groups else [],
        ["", *_response_lines(prediction)],
        ["", "Limits, worst first", *_table(_LIMIT_HEADS, [_limit_row(item) for item in prediction.limits])]
        if prediction.limits
        else [],
        ["", *_mass_lines(prediction)],
        ["", "Remarks", *(f"  {r.severity}: {r.text}" for r in prediction.remarks)]
        if prediction.remarks
        else [],
        ["", "Leans on assumed inputs", *("  " + line for line in prediction.assumed_inputs)]
        if prediction.assumed_inputs
        else [],
    ]
    return "\n".join(line for part in parts for line in part)


_MODE_HEADS = (
    "mode",
    "f short Hz",
    "f open Hz",
    "K² %",
    "k_eff² %",
    "ceramic %",
    "package %",
    "inherent %",
    "before %",
    "damping %",
    "peak dB",
)


def _mode_row(m: ModeResult) -> Sequence[str]:
    peak = "no peak" if m.peak_change_db is None else f"{m.peak_change_db:+.1f}"
    damping = "unstable" if math.isnan(m.zeta) else f"{100 * m.zeta:.3f}"
    return (
        str(m.number),
        f"{m.f_short_hz:.3f}",
        f"{m.f_open_hz:.3f}",
        f"{100 * m.k2:.4f}",
        f"{100 * m.k_eff2:.4f}",
        f"{100 * m.ceramic_share:.2f}",
        f"{100 * m.package_share:.2f}",
        f"{100 * m.zeta_inherent:.3f}",
        f"{100 * m.zeta_before:.3f}",
        damping,
        peak,
    )


_POLE_HEADS = ("mode", "Hz", "damping %", "mechanical %", "real 1/s", "imaginary rad/s")


def _pole_rows(prediction: Prediction) -> Iterator[Sequence[str]]:
    for m in prediction.modes:
        for p in m.poles:
            yield (
                str(m.number),
                f"{p.frequency_hz:.3f}",
                f"{100 * max(p.damping_ratio, 0.0):.4f}" if p.damping_ratio >= -ROUNDING else "unstable",
                f"{100 * p.mechanical_share:.1f}",
                f"{p.value_rad_s.real:.5g}",
                f"{p.value_rad_s.imag:.6g}",
            )


def _group_lines(prediction: Prediction) -> Iterator[str]:
    for g in prediction.groups:
        values = ", ".join(f"{v.label.lower()} {_engineering(v.value, v.unit)}" for v in g.values)
        yield f"  {g.id}: {g.circuit_label}" + (f", {values}" if values else "")
        yield (
            f"      capacitance blocked {_engineering(g.blocked_capacitance_f, 'F')}, "
            f"free {_engineering(g.free_capacitance_f, 'F')}; under the load "
            f"{_engineering(g.voltage_peak_v, 'V')} peak, {_engineering(g.power_w, 'W')} mean"
        )
        yield from (f"      {text}" for text in g.remarks)


def _response_lines(prediction: Prediction) -> Iterator[str]:
    r, ring = prediction.response, prediction.ring_down
    yield f"Response: {r.label}, {r.unit}"
    if math.isinf(r.peak_after):
        yield f"  highest {r.peak_before:.4g} before, without bound after"
    elif math.isnan(r.mean_square_change_db):
        yield f"  highest {r.peak_after:.4g} with the circuits"
    else:
        yield (
            f"  highest {r.peak_before:.4g} before, {r.peak_after:.4g} after; "
            f"mean square {r.mean_square_change_db:+.2f} dB"
        )
    yield (
        f"Ring-down: settles to {100 * ring.settle_to:.3g} % in {_seconds(ring.settle_before_s)} before, "
        f"{_seconds(ring.settle_after_s)} after; half-life {_seconds(ring.half_life_before_s)} before, "
        f"{_seconds(ring.half_life_after_s)} after"
    )


_LIMIT_HEADS = ("patch", "check", "value", "allowed", "margin", "at mm", "load", "reached at", "source")


def _limit_row(item: Limit) -> Sequence[str]:
    scale, unit = _LIMIT_UNITS.get(item.unit, (1.0, item.unit))
    margin = "not loaded" if math.isinf(item.margin) else f"{item.margin:.2f}"
    return (
        item.patch or "",
        item.name,
        f"{item.value * scale:.3g} {unit}" if math.isfinite(item.value) else "unbounded",
        f"{item.allowable * scale:.3g} {unit}",
        margin + (" BEYOND" if item.margin < 1 else ""),
        "" if item.x_m is None else f"{1e3 * item.x_m:.1f}",
        item.load,
        item.load_at_limit,
        item.source,
    )


def _mass_lines(prediction: Prediction) -> Iterator[str]:
    total, added = 1e3 * prediction.total_mass_kg, 1e3 * prediction.added_mass_kg
    yield f"Mass: {total:.2f} g, of which patches {added:.2f} g"
    if prediction.tip_stiffness_n_m is not None:
        yield f"Tip stiffness, bare: {prediction.tip_stiffness_n_m:.5g} N/m"


def _table(heads: Sequence[str], rows: list[Sequence[str]]) -> Iterator[str]:
    """Columns as wide as they need; numbers to the right, words to the left, the last unpadded."""
    widths = [max(len(h), *(len(row[i]) for row in rows)) if rows else len(h) for i, h in enumerate(heads)]
    left = [any(row[i][:1].isalpha() for row in rows) for i in range(len(heads))]
    for row in (heads, *rows):
        cells = [
            c.ljust(w) if on_left else c.rjust(w) for c, w, on_left in zip(row, widths, left, strict=True)
        ]
        yield ("  " + "  ".join(cells)).rstrip()


def _engineering(value: float, unit: str) -> str:
    if not math.isfinite(value):
        return "without bound"
    if value == 0:
        return f"0 {unit}"
    for scale, prefix in _PREFIXES:
        if abs(value) >= scale * 0.9995:
            return f"{value / scale:.4g} {prefix}{unit}"
    return f"{value:.3g} {unit}"


def _seconds(value: float) -> str:
    return "never" if math.isinf(value) else f"{value:.3g} s"
