"""The answer of a pick-up and of a shaker, in the texts that the answer block paints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.results.answer_lines import AnswerLines, ModeLine, Stress
from app.results.row_list import Level
from core.predict.forcing import place
from core.predict.use.text import STOPS, corner_told, input_told
from core.units import words

if TYPE_CHECKING:
    from core.predict.group_result import GroupResult
    from core.predict.use.drive import DrivenMode, Driving
    from core.predict.use.sense import SensedMode, Sensing
    from core.predict.use.waveform import Played
    from core.project.use import Use, Waveform

TIGHT = 0.8
"""Of a limit of the volts, from which it is worth a caution."""
NEAR = 0.2
"""Of mode 1's frequency: a corner above that takes from the mode's voltage."""
SHAPES: dict[Waveform, str] = {"sine": "sine", "square": "square", "triangle": "triangle", "ramp": "slow ramp", "table": "from a file"}


def of_group(group: GroupResult, use: Use, mode: int, *, live: bool) -> tuple[AnswerLines, tuple[str, tuple[str, ...]] | None]:
    """The block's lines and its doubt; None leaves the doubt as it is, for it waits until a hand rests."""
    if use == "sense":
        return sense_lines(group.sensing, group.id, mode), sense_doubt(group.sensing)
    return drive_lines(group.driving, group.id, mode), None if live else drive_doubt(group.driving, _played(group.driving))


def _played(driving: Driving) -> Played | None:
    from core.predict.use.waveform import played  # not before it is asked for

    drive = driving.drive
    return None if drive.waveform == "table" and len(drive.table_s_v) < 2 else played(driving)


def _point(of: Sensing | Driving) -> str:
    return place(of.point_m, of.solved.beam.spec.span_m)


def _plain(
    title: tuple[str, ...],
    about: tuple[str, ...],
    rows: list[ModeLine],
    heads: tuple[str, str],
    line: tuple[str, str],
    limit: Stress,
) -> AnswerLines:
    """Nothing is asked for, so nothing is met or missed."""
    return AnswerLines(title, "open", "", about, tuple(rows), "", line[0], (line[1],), None, limit, heads)


# -- sense ------------------------------------------------------------------------------------------------------


def sense_lines(sensing: Sensing, group: str, mode: int) -> AnswerLines:
    """What slow motion and a mode (from 1) give of the group as a pick-up, the smallest motion seen, and how low it
    reaches."""
    at = _point(sensing)
    noise = words.voltage(sensing.solved.project.sense.noise_v)
    told = input_told(sensing)
    rows = [_slow_sensed(sensing), *(_sensed(m) for m in sensing.modes if m.number == mode)]
    charge = words.engineering(abs(sensing.slow_c_per_n), "C")
    pushed = f"{words.engineering(abs(sensing.slow_v_per_n), 'V')} per N, {charge} per N"
    low = sensing.corner_hz > NEAR * sensing.modes[0].frequency_hz if sensing.modes else False
    fades = Stress(
        ("Slow motion fades", "Slow fades"), words.seconds(sensing.fade_s), (corner_told(sensing), told), "", "caution" if low else "plain"
    )
    title = (f"Sense: group {group}, motion of {at}", f"Sense: {group}, {at}")
    about = (f"on {told}; noise {noise} rms", f"on {told}", told)
    return _plain(title, about, rows, ("gives", "smallest seen"), (pushed, f"force at {at}"), fades)


def _slow_sensed(sensing: Sensing) -> ModeLine:
    per_m, least = sensing.slow_v_per_m, sensing.slow_smallest_m
    return _row("s", "slow", words.NO_VALUE if per_m is None else _per_mm(abs(per_m)), least)


def _sensed(mode: SensedMode) -> ModeLine:
    gives = words.NO_VALUE if mode.v_per_m is None else _per_mm(mode.v_per_m)
    return _row("", words.frequency(mode.frequency_hz), gives, mode.smallest_m, mode.number, None if not mode.blind else False)


def _per_mm(v_per_m: float) -> str:
    return f"{words.engineering(1e-3 * v_per_m, 'V')}/mm"


def _row(mark: str, where: str, gives: str, least_m: float | None, number: int = 0, met: bool | None = None) -> ModeLine:
    least = words.NO_VALUE if least_m is None else words.engineering(least_m, "m", 2)
    short = ("smallest seen", "least seen", "least") if met is None else ("blind spot", "blind")
    return ModeLine(number, where, gives, least, short, met, mark)


def sense_doubt(sensing: Sensing) -> tuple[str, tuple[str, ...]]:
    """What the numbers hang on and nobody entered; empty without."""
    if not sensing.input_is_assumed:
        return "", ()
    return "Input assumed", (f"{input_told(sensing)}: nobody entered what the leads go to", "nobody entered what the leads go to")


# -- drive ------------------------------------------------------------------------------------------------------


def drive_lines(driving: Driving, group: str, mode: int) -> AnswerLines:
    """What slow volts and those at a mode (from 1) move, the force that goes with it, and what stops the volts."""
    drive, at = driving.drive, _point(driving)
    volts = f"{words.voltage(drive.amplitude_v)} to either side"
    bias = f" about {words.voltage(drive.bias_v)}" if drive.bias_v else ""
    shape = SHAPES[drive.waveform] + ("" if drive.waveform == "table" else f" of {words.engineering(drive.frequency_hz, 'Hz')}")
    slow = abs(driving.slow_m_per_v)
    rows = [ModeLine(0, "slow", _per_volt(slow), _either(slow * drive.amplitude_v), (f"at {words.voltage(drive.amplitude_v)}",), None, "s")]
    rows += [_driven(m, drive.amplitude_v) for m in driving.modes if m.number == mode]
    title = (f"Drive: group {group}, motion of {at}", f"Drive: {group}, {at}")
    about = (f"{shape}, {volts}{bias}", f"{volts}{bias}", volts)
    return _plain(title, about, rows, ("per volt", "moves"), _pushes(driving), _field(driving))


def _per_volt(m_per_v: float) -> str:
    return f"{words.engineering(m_per_v, 'm')}/V"


def _either(metres: float) -> str:
    return f"±{words.engineering(metres, 'm')}"


def _driven(mode: DrivenMode, volts: float) -> ModeLine:
    beyond = volts > mode.allowed_v
    most = words.engineering(mode.allowed_v, "V", 2)
    short = (f"{STOPS[mode.stops]} above {most}", f"most {most}") if beyond else (f"at {words.voltage(volts)}",)
    return ModeLine(mode.number, words.frequency(mode.frequency_hz), _per_volt(mode.m_per_v), _either(mode.stroke_m), short, False if beyond else None)


def _pushes(driving: Driving) -> tuple[str, str]:
    """Blocked force and free stroke; against a load, what is left of both."""
    line = driving.load_line
    if line is None:
        return "no stroke here", "cannot move, or nothing holds the part"
    if line.against_n_m or line.against_n:
        return f"{words.engineering(line.stroke_m, 'm')} with {words.engineering(line.force_n, 'N')}", "against the load"
    return f"{words.engineering(line.blocked_n, 'N')} blocked, {words.engineering(line.free_m, 'm')} free", f"in {words.seconds(line.arrives_s)}"


def _field(driving: Driving) -> Stress:
    drive, most = driving.drive, driving.field_v
    share = drive.amplitude_v / most if most > 0.0 else float("inf")
    low, high = driving.field_limits_v
    span = words.between(words.engineering(low, "V", 2), words.engineering(high, "V", 2))
    bias = f" about {words.voltage(drive.bias_v)}" if drive.bias_v else ""
    told = f"{words.voltage(drive.amplitude_v)} to either side{bias}; the ceramic stands {span}"
    level: Level = "danger" if share > 1.0 else "caution" if share > TIGHT else "plain"
    return Stress(("Field in the ceramic", "Field"), words.share(share) if share < 1e3 else words.NO_VALUE, (told, f"stands {span}"), "", level)


def drive_doubt(driving: Driving, shown: Played | None) -> tuple[str, tuple[str, ...]]:
    """What the waveform asks of amplifier and part; `shown` None where there is none to play."""
    heat = f"at most {words.significant(driving.heat.rise_k, 2)} K warmer, {words.power(driving.heat.power_w)} in the dielectric"
    if shown is None:
        return "", ()
    if not shown.follows:
        return "The amplifier cannot follow", (
            f"{words.engineering(shown.peak_a, 'A', 2)} wanted, it gives {words.engineering(driving.drive.amplifier_a, 'A', 2)}; {heat}",
            f"{words.engineering(shown.peak_a, 'A', 2)} wanted, it gives {words.engineering(driving.drive.amplifier_a, 'A', 2)}",
        )
    if shown.overshoot is not None and shown.overshoot > 1.05:
        slow = f"moves {words.engineering(shown.peak_m, 'm')}, {words.times(shown.overshoot)} times what the volts hold at rest"
        return "Overshoots", (f"{slow}; {heat}", slow)
    return "", ()
