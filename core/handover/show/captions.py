"""What the show says: the page, its animation and the status line take their words from here."""

from __future__ import annotations

from dataclasses import dataclass

from core.handover.show.programme import Programme, octaves_up
from core.predict.swing import Swing
from core.units import words

PREDICTED = "Predicted by calculation, not measured. The part that is bonded decides."


@dataclass(frozen=True)
class Caption:
    """All plain text."""

    title: str
    about: str
    before: str
    after: str
    settles_before: str
    settles_after: str
    caution: str = PREDICTED


def caption(swing: Swing, candidate: str, circuit: str, before: str, temperature_c: float, drawn_times: float) -> Caption:
    """`circuit` and `before` in the words of the answer block and of the response; `drawn_times` how many times as
    large the motion is drawn."""
    ring = swing.ring
    larger = f" Motion drawn {words.times(drawn_times)} times as large." if ring.unit == "m" and drawn_times < 1e6 else ""
    start = ring.start[:1].upper() + ring.start[1:]
    return Caption(
        title=f"Ring-down of {candidate}: {before}, and with the circuit",
        about=f"{start}; the time runs from there. Predicted, at {words.celsius(temperature_c)}.{larger}",
        before=f"Before: {before}",
        after=f"After: {circuit}",
        settles_before=settles(ring.settle_to, ring.settle_before_s),
        settles_after=settles(ring.settle_to, ring.settle_after_s),
    )


def settles(to: float, after_s: float) -> str:
    """ "settles to 5 % in 4.52 s"."""
    return f"settles to {words.percent(to, 0)} in {words.seconds(after_s)}"


def slow_words(shown: Programme) -> str:
    """ "19.8 Hz is drawn as 2.5 swings a second"."""
    f_hz = shown.swing.f_hz
    return f"{words.frequency(f_hz)} is drawn as {words.significant(f_hz / shown.slow, 2)} swings a second"


def heard_words(swing: Swing) -> str:
    """How high it is put to be heard: "three octaves up: 19.8 Hz is heard as 158 Hz"."""
    octaves = octaves_up(swing.f_hz)
    if not octaves:
        return f"{words.frequency(swing.f_hz)}, at its own pitch"
    number = ("one octave", "two octaves", "three octaves", "four octaves")[octaves - 1] if octaves <= 4 else f"{octaves} octaves"
    return f"{number} up: {words.frequency(swing.f_hz)} is heard as {words.frequency(swing.f_hz * 2.0**octaves)}"
