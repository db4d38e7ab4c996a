"""Published experiments as project files, and what the program predicts for them beside what was measured.

`python -m tests.published.experiments` prints the table; with `--write` it also replaces the one in README.md
and in the help page. Sources stand in the notes of each project. No constant is fitted to a measurement.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from core.predict.predict import predict
from core.predict.prediction import Prediction
from core.project import library, store
from core.project.model import Project
from core.units import words

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
PLACES = (ROOT / "README.md", ROOT / "resources" / "help" / "measured.md")
HEAD = "| published experiment | quantity | measured | predicted | off | band |"

Reading = Callable[[Prediction], float]


def shorted(mode: int = 1) -> Reading:
    return lambda p: p.modes[mode - 1].f_short_hz


def opened(mode: int = 1) -> Reading:
    return lambda p: p.modes[mode - 1].f_open_hz


def coupling(mode: int = 1) -> Reading:
    return lambda p: p.modes[mode - 1].k2


def voltage(p: Prediction) -> float:
    """At the resonance, per gn of base acceleration: the files shake with a tenth of that, and no limit is broken."""
    return 10.0 * p.groups[0].voltage_peak_v


def tip_per_volt(p: Prediction) -> float:
    return abs(p.groups[0].tip_m_per_v)


@dataclass(frozen=True)
class Measured:
    """One measured value. `band` is how far the prediction may be off, relative, for what is not stated (root, bond,
    rotary inertia, spread of d31) and for the measurement itself; `memory` marks a value not read in the source."""

    quantity: str
    value: float
    unit: str
    reading: Reading
    band: tuple[float, float]
    candidate: str = "A"
    memory: bool = False
    paper_model: bool = False
    """A published calculation stands where the measurement is printed as curves only."""


FREQUENCY = (-0.01, 0.06)
"""A clamp is never rigid and masses are never points: both lower the measured frequency only."""
COUPLING = (-0.20, 0.20)
"""K^2 goes with d31 squared, which varies by 10 % within a batch, and with the root."""
AMPLITUDE = (-0.20, 0.20)

EXPERIMENTS: dict[str, tuple[str, tuple[Measured, ...]]] = {
    "broad-bimorph": (
        "broad bimorph with tip mass, Erturk and Inman 2009",
        (
            Measured("f1 at 1 kΩ, as shorted", 45.6, "Hz", shorted(), FREQUENCY),
            Measured("f1 at 470 kΩ, as open", 48.4, "Hz", opened(), FREQUENCY),
            Measured("K² of mode 1", 48.4**2 / 45.6**2 - 1.0, "%", coupling(), COUPLING),
            Measured("voltage at 1 kΩ per gn", 1.57, "V", voltage, AMPLITUDE),
            Measured("voltage at 470 kΩ per gn", 84.0, "V", voltage, AMPLITUDE, candidate="B"),
        ),
    ),
    "slim-bimorph": (
        "slim bimorph, Erturk and Inman 2011",
        (
            Measured("f1 shorted", 502.5, "Hz", shorted(), FREQUENCY),
            Measured("f1 open", 524.7, "Hz", opened(), FREQUENCY),
            Measured("K² of mode 1", 524.7**2 / 502.5**2 - 1.0, "%", coupling(), COUPLING),
            Measured("voltage at 470 Ω per gn", 0.148, "V", voltage, AMPLITUDE),
        ),
    ),
    "strip-with-wafers": (
        "strip with four wafers, Takacs and Rohal-Ilkiv 2012",
        (
            Measured("f1", 8.223, "Hz", shorted(), FREQUENCY),
            Measured("tip per volt on P1 and P2", 1.894e-6, "m", tip_per_volt, (-0.15, 0.20)),
        ),
    ),
    "bimorph-2007": (
        "bimorph, du Toit and Wardle 2007",
        (
            Measured("f1 shorted", 107.0, "Hz", shorted(), FREQUENCY, memory=True),
            Measured("f1 open", 113.0, "Hz", opened(), FREQUENCY, memory=True),
            Measured("K² of mode 1", 113.0**2 / 107.0**2 - 1.0, "%", coupling(), (-0.30, 0.30), memory=True),
        ),
    ),
    "films": (
        "bimorph of two films without a base, Tzou 1989",
        (
            Measured("tip per volt", 3.15e-7, "m", tip_per_volt, (-0.15, 0.15), memory=True),
            Measured("tip per volt", 3.45e-7, "m", tip_per_volt, (-0.02, 0.02), paper_model=True),
        ),
    ),
    "clamped-strip": (
        "clamped strip with two masses, Shin, Hong and Jeong 2012",
        (
            Measured("f1", 39.0, "Hz", shorted(1), (-0.03, 0.04), paper_model=True),
            Measured("f2", 101.0, "Hz", shorted(2), (-0.03, 0.04), paper_model=True),
            Measured("f3", 208.0, "Hz", shorted(3), (-0.03, 0.04), paper_model=True),
        ),
    ),
}


def project_of(key: str) -> Project:
    """The experiment's project: a shipped one, or a file beside this module."""
    shipped = dict(library.validation_examples())
    return library.example(key) if key in shipped else store.load(HERE / f"{key}.quietspan")


def compared() -> Iterator[tuple[str, str, Measured, float]]:
    """Key, experiment, measured value and the prediction of it, one by one."""
    for key, (name, values) in EXPERIMENTS.items():
        project = project_of(key)
        found = {id: predict(project, id) for id in dict.fromkeys(m.candidate for m in values)}
        for measured in values:
            yield key, name, measured, measured.reading(found[measured.candidate])


def table() -> str:
    """Measured beside predicted as a Markdown table."""
    lines = [HEAD, "|---|---|---|---|---|---|"]
    told = ""
    for _, name, m, predicted in compared():
        mark = " (from memory)" if m.memory else " (the paper's model)" if m.paper_model else ""
        off = 100.0 * (predicted / m.value - 1.0)
        low, high = (f"{100.0 * edge:+.0f}".replace("-", words.MINUS) for edge in m.band)
        lines.append(
            f"| {'' if name == told else name} | {m.quantity} | {_shown(m.value, m.unit)}{mark} | {_shown(predicted, m.unit)} "
            f"| {f'{off:+.1f}'.replace('-', words.MINUS)} % | {low} to {high} % |"
        )
        told = name
    return "\n".join(lines)


def _shown(value: float, unit: str) -> str:
    if unit == "%":
        return f"{100.0 * value:.1f} %"
    return words.engineering(value, unit) if unit != "Hz" else f"{value:.4g} Hz"


def written(text: str) -> str | None:
    """The table that stands in a page; None without one."""
    start = text.find(HEAD)
    if start < 0:
        return None
    lines = []
    for line in text[start:].splitlines():
        if not line.startswith("|"):
            break
        lines.append(line)
    return "\n".join(lines)
