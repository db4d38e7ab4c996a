"""What good parts scatter to, from the tolerance study: the band that a measured value is held against."""

from __future__ import annotations

from core.measured.evaluate import Compared
from core.project.model import Project
from core.study.tolerance.pass_bands import PassBands, Reading
from core.study.tolerance.tolerance import ToleranceResult

Bands = dict[Compared, tuple[float, float]]


def pass_bands(project: Project, study: ToleranceResult | None, compared: tuple[Compared, ...]) -> Bands:
    """P10 and P90 of each value over its prediction.

    Values that the study does not have (with another resistor than the circuit's) and studies that are not
    of the active candidate, or not complete, give no band.
    """
    if study is None or not study.complete or study.candidate != project.active:
        return {}
    bands = PassBands(study)
    groups = project.candidate().groups
    out: Bands = {}
    for c in compared:
        reading = _reading(c, groups[0].id if len(groups) == 1 else "")
        found = None if reading is None else bands.of(reading)
        if found is not None and c.predicted > 0.0:
            out[c] = (found.band.p10 / c.predicted, found.band.p90 / c.predicted)
    return out


def _reading(c: Compared, group: str) -> Reading | None:
    if c.quantity == "capacitance":
        return Reading("bonded_f", 0, group)
    if c.mode is None:
        return None
    if c.quantity == "coupling":
        return Reading("k2", c.mode, group)
    if c.quantity == "frequency":
        return Reading("f_short_hz", c.mode) if c.state == "shorted" else Reading("f_open_hz", c.mode, group) if c.state == "open" else None
    return Reading("zeta_short", c.mode) if c.state == "shorted" else None
