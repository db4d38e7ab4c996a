"""What good parts scatter to, from the tolerance study: the band a measured value is held against."""

from __future__ import annotations

from core.measured.evaluate import Compared
from core.project.model import Project
from core.study.tolerance.tolerance import ToleranceResult

Bands = dict[Compared, tuple[float, float]]


def pass_bands(project: Project, study: ToleranceResult | None, compared: tuple[Compared, ...]) -> Bands:
    """P10 to P90 of each value over its prediction, as shares of the study's own median.

    The study has frequency, K^2 and the damping with the circuits the candidate has; values in other
    states (open, another resistor) and studies of another candidate have no band.
    """
    if study is None or not study.complete or study.candidate != project.active:
        return {}
    by_mode = {m.number: m for m in study.modes}
    out: Bands = {}
    for c in compared:
        mode = None if c.mode is None else by_mode.get(c.mode)
        if mode is None:
            continue
        band = mode.f_short_hz if c.quantity == "frequency" and c.state == "shorted" else mode.k2 if c.quantity == "coupling" else None
        if band is not None and band.p50 > 0.0:
            out[c] = (band.p10 / band.p50, band.p90 / band.p50)
    return out
