"""The tolerance study as a table: each mode's bands, then what its spread comes from."""

from __future__ import annotations

from core.study.tolerance.ranking import told_causes
from core.study.tolerance.tolerance import Band, ModeSpread, ToleranceResult
from core.units import words


def tolerance_table(result: ToleranceResult) -> list[list[str]]:
    """Rows of cells with a heading, as the page shows it."""
    table = [["Quantity", "P10", "P50", "P90"]]
    for mode in result.modes:
        table += _bands(mode)
    for mode in result.modes:
        told, others = told_causes(mode.causes, result.progress.done, len(mode.causes))
        rows = [*((one.cause.label, one.text) for one in told), ("all others together", others)]
        table += [[f"Mode {mode.number}, share of the damping's scatter: {label}", share, "", ""] for label, share in rows]
    return table


def _bands(mode: ModeSpread) -> list[list[str]]:
    shown: list[tuple[str, Band | None, object]] = [
        ("damping ratio", mode.zeta, words.damping),
        ("frequency, shorted", mode.f_short_hz, words.frequency),
        ("K²", mode.k2, words.coupling),
        ("peak change", mode.peak_change_db, words.decibel),
    ]
    return [
        [f"Mode {mode.number}, {name}", *(show(value) for value in (band.p10, band.p50, band.p90))]  # type: ignore[operator]
        for name, band, show in shown
        if band is not None
    ]
