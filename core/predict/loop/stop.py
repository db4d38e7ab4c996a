"""What is told of a loop that grows, the nearest settings that hold, and where a gain that is typed must stop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, log
from typing import Any

from msgspec.structs import replace

from core.predict.electrics.stop import Holds
from core.predict.loop.design import LAW_GROWS, LoopView, rounded_down
from core.predict.poles import Growth
from core.project.loop import LoopDesign
from core.units import words

QUARTERINGS, HALVINGS = 12, 12
GAINS = ("velocity_gain_s", "amplifier_gain")


@dataclass(frozen=True)
class LoopStop:
    """As a stop sign shows it: what grows, how fast, what holds and the candidate that does."""

    title: str
    detail: str
    cure: str
    holds: Holds | None


def loop_stop(view: LoopView) -> LoopStop | None:
    """Of a loop as it is; None where it holds."""
    if view.is_stable:
        return None
    growth = next(iter(view.growing), None)
    doubles = f"It {growth.doubles} until the amplifier clips. " if growth is not None else ""
    told, holds = [], None
    away = inf
    if view.highest is not None:
        away = log(view.design.times / view.highest)
        highest = words.significant(view.highest)
        told.append(f"The highest gain that holds is × {highest}.")
        holds = Holds(_driven(view), f"Gain × {highest}", replace(view.solved.candidate, loop=replace(view.design, times=view.highest)))
    delay = longest_delay(view)
    if delay is not None:
        longest = words.engineering(delay, "s")
        told.append(f"The longest delay that holds at this gain is {longest}.")
        if log(view.design.delay_s / delay) < away:  # the smaller step back
            loop = replace(view.design, delay_s=delay)
            holds = Holds(_driven(view), f"Delay {longest}", replace(view.solved.candidate, loop=loop))
    if not view.law_decays:
        told = [LAW_GROWS]
    elif not told:
        told.append("No gain is low enough: change the law.")
    return LoopStop(_what(view, growth, "grows", "Drifts"), f"{doubles}No damping is shown while this stands.", " ".join(told), holds)


def _driven(view: LoopView) -> str:
    return view.solved.candidate.groups[view.driven].id


def _what(view: LoopView, growth: Growth | None, grows: str, drifts: str) -> str:
    """The mode and its frequency, or that it drifts to one side."""
    if growth is not None and growth.mode is not None and growth.frequency_hz is not None:
        return f"Mode {growth.mode} {grows}, {words.frequency(growth.frequency_hz)}"
    limit = view.limit
    if growth is None and limit is not None and limit.mode is not None:
        return f"Mode {limit.mode} {grows}, {words.frequency(limit.frequency_hz)}"
    return f"{drifts} to one side"


def longest_delay(view: LoopView) -> float | None:
    """Below the delay there is, at this gain, to three figures; None where it grows without any, too."""
    if not view.design.delay_s:
        return None

    def at(share: float) -> LoopDesign:
        return replace(view.design, delay_s=share * view.design.delay_s)

    share = _furthest(view, at) if view.at(at(0.0)).is_stable else 0.0
    return rounded_down(at(share).delay_s) if share else None


def stopped(view: LoopView, wanted: LoopDesign) -> tuple[LoopDesign, LoopStop] | None:
    """The design on the way from the view's to one with other gains at which it still holds, and what would grow beyond
    it; None where the wanted one holds, or where the present one does not."""
    beyond = view.at(wanted)
    if beyond.is_stable or not view.is_stable:
        return None
    held = _towards(view.design, wanted, _furthest(view, lambda share: _towards(view.design, wanted, share)))
    asked, kept = _differing(wanted, view.design), _differing(held, view.design, wanted)
    # what grows first, not what grows fastest far beyond
    first = view.at(held)
    what = _what(first, None if first.limit is not None else next(iter(beyond.growing), None), "would grow", "It would drift")
    detail = f"{words.significant(asked)} was asked for; {words.significant(kept, 4)} is the highest that holds, and is set."
    return held, LoopStop(what, detail, "", None)


def _furthest(view: LoopView, at: Callable[[float], LoopDesign]) -> float:
    """The largest share found at which a design holds, 0 holding and 1 not."""
    low, high = 0.0, 1.0
    for _ in range(QUARTERINGS):  # what was typed may be a thousand times too large
        if view.at(at(0.25 * high)).is_stable:
            low = 0.25 * high
            break
        high *= 0.25
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if view.at(at(middle)).is_stable:
            low = middle
        else:
            high = middle
    return low


def _towards(old: LoopDesign, new: LoopDesign, share: float) -> LoopDesign:
    """With every gain a share of the way from one to the other."""
    changed: dict[str, Any] = {name: _between(getattr(old, name), getattr(new, name), share) for name in GAINS}
    if len(old.filters) == len(new.filters):
        changed["filters"] = tuple(
            replace(b, gain=_between(a.gain, b.gain, share)) for a, b in zip(old.filters, new.filters, strict=True)
        )
    return replace(new, **changed)


def _between(old: float, new: float, share: float) -> float:
    return old + share * (new - old)


def _differing(one: LoopDesign, base: LoopDesign, as_in: LoopDesign | None = None) -> float:
    """The first gain of `one` in which `as_in` (or itself) is another than in `base`."""
    other = as_in or one
    for name in GAINS:
        if getattr(other, name) != getattr(base, name):
            return float(getattr(one, name))
    for own, a, b in zip(one.filters, other.filters, base.filters, strict=False):
        if a.gain != b.gain:
            return own.gain
    return one.times
