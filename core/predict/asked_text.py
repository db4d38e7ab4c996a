"""What is asked for and whether it is met, in the words every place uses."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from core import units
from core.predict.asked import Answer, Verdict
from core.project.service import Asked, Service
from core.units import words


def asked_text(service: Service) -> str:
    """ "peak −40 % on modes 1 and 2", "0.30 % damping on mode 1", "settled to 5 % within 0.2 s"."""
    asked = service.asked
    if not asked.modes:
        return "nothing asked for"
    if asked.quantity == "settling":
        return f"settled to {words.share(service.settle_to)} within {units.show_with_unit(asked.values[0], 's')}"
    word = {"peak": "peak ", "damping": "damping "}[asked.quantity]
    if len(set(asked.values)) == 1:
        return f"{word}{wanted_text(asked, asked.modes[0])} on {modes_text(asked.modes)}"
    each = (f"{wanted_text(asked, mode)} on mode {mode}" for mode in asked.modes)
    return word + ", ".join(each)


def modes_text(modes: Sequence[int]) -> str:
    """ "mode 1", "modes 1 and 2", "modes 1, 2 and 4"."""
    if len(modes) == 1:
        return f"mode {modes[0]}"
    return f"modes {', '.join(map(str, modes[:-1]))} and {modes[-1]}"


def wanted_text(asked: Asked, mode: int) -> str:
    """What is wanted of one mode."""
    if asked.quantity == "settling":
        return units.show_with_unit(asked.values[0], "s")
    return amount_text(asked, asked.value(mode))


def amount_text(asked: Asked, value: float, *, fine: bool = False) -> str:
    """A value of the asked quantity: "−40 %" of a peak, "0.30 %" of damping, "0.2 s"; `fine` adds a
    decimal to a large per cent."""
    if asked.quantity == "settling":
        return words.seconds(value)
    if asked.quantity == "damping":
        return words.damping(value)
    return _percent(value, fine)


def needed_text(asked: Asked, mode: int, zeta: float) -> str:
    """What a mark at a damping ratio stands for: "−40 % needs 1.00 %", "0.30 % asked for"."""
    if asked.quantity == "damping":
        return f"{words.percent(zeta)} asked for"
    return f"{wanted_text(asked, mode)} needs {words.percent(zeta)}"


def reached_text(asked: Asked, verdict: Verdict) -> str:
    """What is reached, told fine enough to differ from what is wanted."""
    if verdict.reached is None:
        return words.NO_VALUE
    return amount_text(asked, verdict.reached, fine=abs(verdict.short) < 0.01)


def state_text(met: bool | None) -> str:
    """Whether what is asked for is met, in a word or two."""
    return {True: "met", False: "missed", None: "not judged"}[met]


def short_text(asked: Asked, verdict: Verdict) -> str:
    """By how much: "16 points short", "0.14 points to spare", "1.38 s too long"."""
    if verdict.reached is None:
        return verdict.why
    if not isfinite(verdict.short):
        return "never settles"
    size = abs(verdict.short)
    late, early = ("too long", "to spare") if asked.quantity == "settling" else ("short", "to spare")
    word = late if verdict.short > 0 else early
    if asked.quantity == "settling":
        return f"{words.seconds(size)} {word}"
    return f"{_rounded(100 * size)} points {word}"


def verdict_text(answer: Answer, verdict: Verdict) -> str:
    """One sentence: "Mode 1: −24 % of −40 % wanted at −10 °C: missed, 16 points short"."""
    asked = answer.asked
    what = "Ring-down" if verdict.mode is None else f"Mode {verdict.mode}"
    at = f"at {words.celsius(answer.temperature_c)} under {answer.load}"
    wanted = wanted_text(asked, verdict.mode or 1)
    if verdict.reached is None:
        return f"{what}: {wanted} wanted {at}: {state_text(verdict.met)}, {verdict.why}."
    reached = reached_text(asked, verdict)
    return (
        f"{what}: {reached} where {wanted} is wanted, {at}: "
        f"{state_text(verdict.met)}, {short_text(asked, verdict)}."
    )


def answer_text(answer: Answer) -> str:
    """The whole in a few words: "met", or "missed: mode 1 16 points short, mode 2 30 points short"."""
    told = [v for v in answer.verdicts if v.met is answer.met] if answer.met is not True else []
    if not told:
        return state_text(answer.met) if answer.verdicts else "nothing asked for"
    parts = (f"{'' if v.mode is None else f'mode {v.mode} '}{short_text(answer.asked, v)}" for v in told)
    return f"{state_text(answer.met)}: {', '.join(parts)}"


def _percent(ratio: float, fine: bool = False) -> str:
    value = 100 * ratio
    digits = 0 if (abs(value) >= 9.95 and not fine) or abs(value - round(value)) < 0.005 else 1
    return f"{words.fixed(value, digits)} %"


def _rounded(size: float) -> str:
    """Two figures and no more than a person needs; what rounds to nothing says so."""
    if size >= 9.95:
        return words.fixed(size, 0)
    if size < 0.005:
        return "under 0.01"
    return words.significant(size, 2)
