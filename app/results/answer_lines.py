"""What the answer block says, as texts: the block paints them, candidates and tests read them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan, log10
from typing import TYPE_CHECKING, Literal

from app.drawing.limit_marks import short_name
from core.predict.asked import Answer, Verdict, asked_modes
from core.predict.asked_text import asked_text, modes_text, reached_text, short_text, wanted_text
from core.predict.loads.limit_words import share_words, value_words
from core.predict.mode_result import ModeResult
from core.predict.prediction import Limit, Prediction
from core.project.model import Project
from core.units import words
from core.units.sentence import inside

if TYPE_CHECKING:
    from core.study.doubts import Doubt

State = Literal["met", "missed", "open", "waits"]
TIGHT = 1.5
"""Margins below this are worth a caution."""


@dataclass(frozen=True)
class ModeLine:
    """One mode the question is about: `short` says how far it misses, or has to spare."""

    number: int
    frequency: str
    damping: str
    peak: str
    short: tuple[str, ...] = ()
    """From the longest wording to the shortest."""
    met: bool | None = None
    mark: str = ""
    """What stands in the disc of a row that is of no mode."""


@dataclass(frozen=True)
class Stress:
    """A limit in a line: `level` as in the list of limits."""

    names: tuple[str, ...]
    share: str
    details: tuple[str, ...]
    """From the longest wording to the shortest."""
    more: str
    level: Literal["plain", "caution", "danger"]


@dataclass(frozen=True)
class AnswerLines:
    """All of the block; `state` colours it, `settling` is the ring-down's own line."""

    title: tuple[str, ...]
    state: State
    badge: str
    about: tuple[str, ...]
    modes: tuple[ModeLine, ...]
    more_modes: str
    settling: str
    settling_short: tuple[str, ...]
    settling_met: bool | None
    limit: Stress | None
    heads: tuple[str, str] = ("damping", "peak")
    """What the two figures of a row are."""


MOST_ROWS = 3
"""More modes asked for than these share one line."""


def answer_lines(
    project: Project, prediction: Prediction, answer: Answer | None, limits: Sequence[Limit]
) -> AnswerLines:
    """`answer` None: what is asked for waits for the hand to rest, and `prediction` is told meanwhile. `limits`: worst
    first, those of a moment ago while a hand moves."""
    service = project.service
    asked = service.asked
    shown = prediction if answer is None else answer.prediction
    verdicts = {} if answer is None else {v.mode: v for v in answer.verdicts}
    state = _state(answer, bool(asked.modes))
    ring = shown.ring_down if asked.quantity == "settling" and asked.modes else None
    verdict = verdicts.get(None)
    numbers = asked_modes(project)
    modes = [_mode_line(shown, n, verdicts.get(n), answer) for n in numbers]
    return AnswerLines(
        title=_titles(project),
        state=state,
        badge={"met": "met", "missed": "missed", "waits": "moving", "open": "not judged"}[state]
        if asked.modes
        else "",
        about=_abouts(circuit_text(shown), _at(project, answer), _under(project, answer)),
        modes=tuple(line for line in modes[:MOST_ROWS] if line is not None),
        more_modes=_more(modes[MOST_ROWS:]),
        settling=f"settles in {words.change(words.seconds(ring.settle_before_s), words.seconds(ring.settle_after_s))}"
        if ring is not None
        else "",
        settling_short=() if ring is None else _short(answer, verdict),
        settling_met=None if verdict is None else verdict.met,
        limit=worst_limit(limits),
    )


def circuit_text(prediction: Prediction) -> str:
    """ "resistor 90.5 kΩ", of several groups each with its name; then the tuned masses."""
    if not prediction.groups and not prediction.absorbers:
        return "no patch"
    several = len(prediction.groups) > 1
    parts = []
    for group in prediction.groups:
        values = ", ".join(part.told for part in group.values)
        name = inside(group.circuit_label)
        text = f"{name} {values}".rstrip()
        parts.append(f"{group.id} {text}" if several else text)
    parts += [f"tuned mass {words.mass(one.mass_kg)}" for one in prediction.absorbers]
    return ", ".join(parts)


def doubt_lines(doubt: Doubt) -> tuple[str, tuple[str, ...]]:
    """The strongest doubt: its input, and what the answer may become, from the longest wording to the shortest."""
    if doubt.quantity == "settling":
        ends = words.between(words.seconds(doubt.low), words.seconds(doubt.high))
        told: tuple[str, ...] = (f"assumed; it may settle in {ends}", f"settles in {ends}", ends)
    else:
        one = words.damping if doubt.quantity == "damping" else share_change
        ends = words.between(one(doubt.low), one(doubt.high))
        what = "damping" if doubt.quantity == "damping" else "peak"
        told = (
            f"assumed; {what} of mode {doubt.mode} may be {ends}",
            f"assumed; mode {doubt.mode}: {ends}",
            f"mode {doubt.mode}: {ends}",
            ends,
        )
    label = f"{doubt.label} taken as rigid" if doubt.path.endswith(".kind") else doubt.label
    return label, told


def share_change(share: float) -> str:
    """A change of a peak given as a share, in per cent."""
    return words.amplitude_change(20.0 * log10(1.0 + share)) if share > -1.0 else f"{words.MINUS}100 %"


def state_sign(met: bool | None) -> str:
    """The sign that goes with a verdict, so that colour is not the only one."""
    return {True: "✓", False: "✕", None: "?"}[met]


def worst_limit(limits: Sequence[Limit]) -> Stress | None:
    """The worst margin in a line, and how many more are broken or tight."""
    if not limits:
        return None
    worst = limits[0]
    place = "" if worst.x_m is None else f" at {words.millimetres(worst.x_m)}"
    where = f"{worst.patch}{place}" if worst.patch else place.strip()
    value = value_words(worst)
    short = worst.load.rpartition(",")[0] or worst.load
    told = ((value, worst.load, where), (value, short, where), (value, where), (value,))
    details = tuple(" · ".join(part for part in parts if part) for parts in told)
    return Stress((worst.name, short_name(worst.name).capitalize()), share_words(worst), details, _others(limits), limit_level(worst))


def limit_level(limit: Limit) -> Literal["plain", "caution", "danger"]:
    """Broken, tight, or neither."""
    return "danger" if limit.margin < 1.0 else "caution" if limit.margin < TIGHT else "plain"


def limits_brief(limits: Sequence[Limit]) -> str:
    """How many are broken and the worst, for one line."""
    if not limits:
        return "no patch"
    broken = sum(limit.margin < 1.0 for limit in limits)
    worst = f"worst {share_words(limits[0])}"
    return f"{broken} of {len(limits)} beyond, {worst}" if broken else worst


def _others(limits: Sequence[Limit]) -> str:
    broken = sum(limit.margin < 1.0 for limit in limits)
    if broken > 1:
        return f"{broken - 1} more"
    rest = len(limits) - 1
    return f"{rest} more" if rest else ""


def _state(answer: Answer | None, asked: bool) -> State:
    if not asked:
        return "open"
    if answer is None:
        return "waits"
    return "open" if answer.met is None else "met" if answer.met else "missed"


def _titles(project: Project) -> tuple[str, ...]:
    """From the longest wording to the shortest."""
    service = project.service
    asked = service.asked
    if not asked.modes:
        return (f"{modes_text(asked_modes(project)).capitalize()}: nothing asked for yet", "Nothing asked for yet")
    text = asked_text(service)
    numbers = ", ".join(map(str, asked.modes))
    brief = f"{wanted_text(asked, asked.modes[0])} on {'modes' if len(asked.modes) > 1 else 'mode'} {numbers}"
    if asked.quantity == "settling":
        brief = f"settled in {wanted_text(asked, asked.modes[0])}"
    elif len(set(asked.values)) > 1:
        each = ", ".join(f"{n}: {wanted_text(asked, n)}" for n in asked.modes)
        return (f"Asked for: {text}", f"Asked for: {each}", each)
    return (f"Asked for: {text}", f"Asked for: {brief}", brief)


def _abouts(circuit: str, at: str, load: str) -> tuple[str, ...]:
    """Circuit, temperature and load in a line, from the longest wording to the shortest."""
    brief = circuit.split(", ")[0] + (" …" if "," in circuit else "")
    told = ((circuit, at, load), (circuit, at, _clipped(load, 24)), (brief, at, _clipped(load, 24)), (brief, at))
    return tuple(" · ".join(parts) for parts in told)


def _clipped(text: str, longest: int) -> str:
    """A name no longer than that, ended with dots at a word."""
    if len(text) <= longest:
        return text
    return text[: longest - 1].rpartition(" ")[0] + " …"


def _at(project: Project, answer: Answer | None) -> str:
    at = project.service.reference_c if answer is None else answer.temperature_c
    return f"at {words.celsius(at)}"


def _under(project: Project, answer: Answer | None) -> str:
    if answer is not None:
        return answer.load
    loads, active = project.service.loads, project.service.active_load
    return loads[active].name if active < len(loads) else loads[0].name


def _mode_line(shown: Prediction, number: int, verdict: Verdict | None, answer: Answer | None) -> ModeLine | None:
    mode = next((m for m in shown.modes if m.number == number), None)
    if mode is None:
        return None
    return ModeLine(
        number,
        words.frequency(mode.f_short_hz),
        words.zeta_change(mode.zeta_before, mode.zeta),
        peak_text(mode),
        _short(answer, verdict),
        None if verdict is None else verdict.met,
    )


def peak_text(mode: ModeResult) -> str:
    """The change of a mode's peak in per cent: "−24 %"."""
    if isnan(mode.zeta) or mode.peak_change_db is None:
        return "" if isnan(mode.zeta) else "no peak"
    return words.amplitude_change(mode.peak_change_db)


def _short(answer: Answer | None, verdict: Verdict | None) -> tuple[str, ...]:
    """By how much, from the longest wording to a sign with the figure."""
    if answer is None or verdict is None:
        return ()
    text = short_text(answer.asked, verdict)
    brief = text.replace(" points", "")
    figure = brief.split(" ")[0] if brief[:1].isdigit() else ""
    return (text, brief, brief.replace(" to spare", " spare"), f"{state_sign(verdict.met)} {figure}".strip())


def _more(lines: Sequence[ModeLine | None]) -> str:
    """Modes beyond the rows there are, in one line."""
    told = [
        f"{line.number} {line.peak or line.damping}{'' if line.met is None else ' ' + state_sign(line.met)}"
        for line in lines
        if line is not None
    ]
    return f"and mode {', '.join(told)}" if told else ""


def result_line(answer: Answer) -> str:
    """The result of what is asked in a few words, for a candidate: "−24, −10 %", "1.58 s"."""
    asked = answer.asked
    if not asked.modes:
        first = answer.prediction.modes[:1]
        return words.zeta_change(first[0].zeta_before, first[0].zeta) if first else ""
    texts = [reached_text(asked, verdict) for verdict in answer.verdicts]
    return ", ".join([*(text.removesuffix(" %") for text in texts[:-1]), texts[-1]])
