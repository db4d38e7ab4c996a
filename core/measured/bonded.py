"""The bonding record judged: every reading of a part against the pass band of the tolerance study."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from core.measured.evaluate import MOST_MODES
from core.measured.predicted import LEAST_K2
from core.predict.prediction import Prediction
from core.project.bonded import BondedPart
from core.study.tolerance.pass_bands import Measured, PassBands, Reading
from core.units import words

LEAST_INSULATION_OHM = 100e6
"""At 50 V, unless the supplier says otherwise."""
TOLD_MODES = 2
"""Modes whose frequencies the record asks for."""
Verdict = Literal["passes", "look again", "not a good part", "nothing read"]
PRESS_WORDS = {"right": "right", "wrong": "wrong sign", "none": "no voltage"}


@dataclass(frozen=True)
class OutOfBand:
    """A reading that is not as a good part's, in words; `beyond` where no good part comes to it at all."""

    what: str
    text: str
    beyond: bool
    reading: Reading | None = None
    """None for insulation and press test, which have a limit and no band."""


@dataclass(frozen=True)
class Judged:
    """A part's readings judged."""

    part: BondedPart
    out: tuple[OutOfBand, ...]
    read: int
    """How many readings there were to judge."""

    @property
    def verdict(self) -> Verdict:
        if any(one.beyond for one in self.out):
            return "not a good part"
        if self.out:
            return "look again"
        return "passes" if self.read else "nothing read"

    @property
    def text(self) -> str:
        """The verdict, and every reading that is out: "look again: C after 44.10 nF (46.73 to 71.19 nF)"."""
        return self.verdict if not self.out else f"{self.verdict}: {'; '.join(one.text for one in self.out)}"


def judge_part(part: BondedPart, bands: PassBands | None) -> Judged:
    """Every reading of a part against its band; without bands only insulation and press test are judged."""
    out: list[OutOfBand] = []
    count = 0
    for reading, value in readings_of(part):
        found = None if bands is None else bands.of(reading)
        if found is None:
            continue
        count += 1
        if not found.holds(value):
            name = reading_name(reading)
            band = words.between(reading_words(reading.quantity, found.band.p10), reading_words(reading.quantity, found.band.p90))
            text = f"{name} {reading_words(reading.quantity, value)} ({band})"
            out.append(OutOfBand(name, text, not found.explains(value), reading))
    if part.insulation_ohm is not None:
        count += 1
        if part.insulation_ohm < LEAST_INSULATION_OHM:
            told, least = (words.engineering(v, "ohm") for v in (part.insulation_ohm, LEAST_INSULATION_OHM))
            out.append(OutOfBand("insulation", f"insulation {told} (over {least})", True))
    if part.press is not None:
        count += 1
        if part.press != "right":
            out.append(OutOfBand("press test", f"press test: {PRESS_WORDS[part.press]}", True))
    return Judged(part, tuple(out), count)


def readings_of(part: BondedPart) -> Iterator[tuple[Reading, float]]:
    """Everything of a part that has a band, with its value."""
    if part.before_f is not None:
        yield Reading("unbonded_f", 0, part.group), part.before_f
    if part.after_f is not None:
        yield Reading("bonded_f", 0, part.group), part.after_f
    if part.before_f is not None and part.after_f is not None and part.before_f > 0.0:
        yield Reading("bonding", 0, part.group), part.after_f / part.before_f
    for mode in part.modes:
        if mode.f_short_hz is not None:
            yield Reading("f_short_hz", mode.number), mode.f_short_hz
        if mode.f_open_hz is not None:
            yield Reading("f_open_hz", mode.number, part.group), mode.f_open_hz
        if mode.k2 is not None:
            yield Reading("k2", mode.number, part.group), mode.k2


def reading_name(reading: Reading) -> str:
    """What a reading is called at the bench: "C before", "f1 open", "K² of mode 2"."""
    n = reading.mode
    return {
        "unbonded_f": "C before", "bonded_f": "C after", "bonding": "change of C", "f_short_hz": f"f{n} shorted",
        "f_open_hz": f"f{n} open", "k2": f"K² of mode {n}", "zeta_short": f"damping of mode {n}, shorted",
        "zeta": f"damping of mode {n}",
    }[reading.quantity]  # fmt: skip


def reading_words(quantity: Measured, value: float) -> str:
    """A value of that kind with its unit."""
    if quantity in ("f_short_hz", "f_open_hz"):
        return words.frequency(value)
    if quantity == "k2":
        return words.coupling(value)
    if quantity in ("zeta", "zeta_short"):
        return words.damping(value)
    return words.shift(value - 1.0) if quantity == "bonding" else words.capacitance(value)


def band_words(bands: PassBands | None, reading: Reading) -> str:
    """P10 to P90 of a reading: "12.31 to 12.44 Hz"; empty where it was not studied."""
    found = None if bands is None else bands.of(reading)
    if found is None:
        return ""
    return words.between(*(reading_words(reading.quantity, value) for value in (found.band.p10, found.band.p90)))


def modes_asked(prediction: Prediction, parts: tuple[BondedPart, ...] = ()) -> tuple[int, ...]:
    """Modes whose frequencies the record asks for: those that say most of the bond, and those read already."""
    strongest = sorted(prediction.modes[:MOST_MODES], key=lambda m: -m.k2)[:TOLD_MODES]
    asked = {m.number for m in strongest if m.k2 >= LEAST_K2} or {m.number for m in prediction.modes[:1]}
    return tuple(sorted(asked | {m.number for part in parts for m in part.modes if not m.empty}))
