"""An active loop in words: its law, gains, filters, amplifier, sampling and margins, as labels with values."""

from __future__ import annotations

from core.predict.loop.design import LoopView
from core.predict.loop.stop import LoopStop, loop_stop
from core.project.loop import LoopDesign
from core.units import words

LAWS = {"velocity": "velocity feedback", "position": "position feedback", "typed": "transfer function"}


def loop_rows(view: LoopView) -> tuple[tuple[str, str], ...]:
    """What the bench sets, then how far it is from growing; an unstable loop has its stop in place of margins."""
    design, groups = view.design, view.solved.candidate.groups
    rows = [
        ("Listens, drives", f"{groups[view.sensing].id} listens, {groups[view.driven].id} is driven"),
        ("Law", law_told(design)),
        ("Gain of the law", f"× {words.significant(design.times)}; {view.limit_told}"),
        ("Amplifier", amplifier_told(design)),
        ("Delay, sampling", f"{words.engineering(design.delay_s, 's')}, {words.engineering(design.sampling_hz, 'Hz')}"),
    ]
    stop = loop_stop(view)
    name, lines = ("Margins", view.margin_lines) if stop is None else ("Stop", (f"{stop.title}. {stop.detail}", stop.cure))
    return (*rows, *((name if n == 0 else "", line) for n, line in enumerate(lines)))


def holding_told(view: LoopView) -> str:
    """Whether it holds, and how far it is from growing, in two sentences."""
    stop = loop_stop(view)
    return f"The loop holds. {'. '.join(view.margin_lines[:2])}." if stop is None else " ".join(_stop_told(stop))


def _stop_told(stop: LoopStop) -> tuple[str, ...]:
    return f"{stop.title}. {stop.detail}", stop.cure


def law_told(design: LoopDesign) -> str:
    """ "position feedback: 21.3 Hz, damping 14 %, gain 0.02"."""
    name = LAWS[design.law]
    if design.law == "velocity":
        return f"{name}, {words.engineering(design.velocity_gain_s, 'V s/V')}"
    if design.law == "position":
        filters = (
            f"{words.frequency(f.frequency_hz)}, damping {words.share(f.damping_ratio)}, gain {words.significant(f.gain)}"
            for f in design.filters
        )
        return f"{name}: {'; '.join(filters) or 'no filter yet'}"
    over, under = (" ".join(map(words.plain, values)) for values in (design.numerator, design.denominator))
    return f"{name}: ({over}) / ({under}), powers of s, highest first"


def amplifier_told(design: LoopDesign) -> str:
    """ "gain 20, ±100 V, 60.0 mA, 2 kHz, 50 Ω"."""
    return (
        f"gain {words.significant(design.amplifier_gain)}, ±{words.engineering(design.amplifier_v, 'V')}, "
        f"{words.engineering(design.amplifier_a, 'A')}, {words.engineering(design.bandwidth_hz, 'Hz')}, "
        f"{words.engineering(design.output_ohm, 'ohm')}"
    )
