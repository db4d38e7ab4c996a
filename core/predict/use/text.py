"""A pick-up and a shaker in words: the heads and cells of their tables, and what is to be said beside them."""

from __future__ import annotations

from collections.abc import Callable

from core.predict.electrics.safety import DEFERS
from core.predict.forcing import place
from core.predict.use.bridge import Bridge
from core.predict.use.drive import Driving, Stops
from core.predict.use.driven import driven_as_shaker
from core.predict.use.scope import Trace
from core.predict.use.sense import Sensing
from core.predict.use.waveform import Played
from core.units import words

STOPS: dict[Stops, str] = {"field": "field", "strain": "strain", "current": "current", "rate": "rate"}

SENSE_HEADS = ("Mode", "Hz", "per mm", "charge/mm", "per g", "least")
DRIVE_HEADS = ("Mode", "Hz", "per volt", "moves", "most volts", "current")

def _or_none(value: float | None, told: Callable[[float], str]) -> str:
    return words.NO_VALUE if value is None else told(value)


def sense_rows(sensing: Sensing) -> tuple[tuple[str, ...], ...]:
    """A row a mode and one of slow motion, under SENSE_HEADS."""
    rows = [
        (
            str(mode.number),
            words.unitless(words.frequency(mode.frequency_hz)),
            _or_none(mode.v_per_m, lambda v: words.engineering(1e-3 * v, "V")),
            _or_none(mode.c_per_m, lambda v: words.engineering(1e-3 * v, "C")),
            _or_none(mode.v_per_g, lambda v: words.engineering(v, "V", 3 if v >= 0.01 else 1)),
            _or_none(mode.smallest_m, lambda v: words.engineering(v, "m", 2)),
        )
        for mode in sensing.modes
    ]
    slow, smallest = sensing.slow_v_per_m, sensing.slow_smallest_m
    charge = None if sensing.slow_c_per_m is None else abs(sensing.slow_c_per_m)
    rows.append(
        (
            "slow",
            words.NO_VALUE,
            _or_none(slow, lambda v: words.engineering(1e-3 * abs(v), "V")),
            _or_none(charge, lambda v: words.engineering(1e-3 * v, "C")),
            words.NO_VALUE,
            _or_none(smallest, lambda v: words.engineering(v, "m", 2)),
        )
    )
    return tuple(rows)


def also_sensed(sensing: Sensing, mode: int) -> str:
    """What else a mode (from 1) and a slow push give."""
    strain = sensing.modes[mode - 1].v_per_strain
    parts = [
        f"slow push {words.engineering(abs(sensing.slow_v_per_n), 'V')} per N",
        f"{words.engineering(abs(sensing.slow_c_per_n), 'C')} per N",
    ]
    if strain is not None:
        parts.append(f"mode {mode} {words.engineering(1e-6 * strain, 'V')} per µε")
    return ", ".join(parts)


def input_told(sensing: Sensing) -> str:
    """The input that the leads see: resistance, capacitance, and whose it is."""
    item, sense = sensing.input, sensing.solved.project.sense
    if sensing.reads_charge:
        return f"charge amplifier, {words.engineering(sense.feedback_f, 'F')} and {words.engineering(sense.feedback_ohm, 'ohm')}"
    told = f"{words.engineering(item.resistance_ohm, 'ohm')}, {words.engineering(item.capacitance_f, 'F')}"
    return f"{told}, assumed: a 10:1 probe" if sensing.input_is_assumed else f"{told}, {item.name}"


def corner_told(sensing: Sensing) -> str:
    """How low the input reaches."""
    return (
        f"corner {words.engineering(sensing.corner_hz, 'Hz', 2)}; what lasts fades to 37 % in {words.seconds(sensing.fade_s)}"
    )


def sign_told(sensing: Sensing) -> str:
    """Which way the dot goes, as a shop can test it."""
    if not sensing.slow_v_per_n:
        return "no voltage from a force here"
    down = sensing.slow_v_per_n < 0.0
    at = place(sensing.point_m, sensing.solved.beam.spec.span_m)
    plus = "plus out of the charge amplifier, which inverts" if sensing.reads_charge else "plus at the dot"
    return f"{at} pushed {'down' if down else 'up'}: {plus}"


def reciprocity_told(sensing: Sensing) -> str:
    """The same number both ways."""
    size = abs(sensing.slow_c_per_n)
    return f"{words.engineering(size, 'C')} per N sensed is {words.engineering(size, 'm')} per V driven (reciprocity)"


def load_cell_told(sensing: Sensing) -> tuple[str, ...]:
    """The patch as a load cell; empty where its patch is none."""
    cell = sensing.load_cell
    if cell is None:
        return ()
    source = "d33 of soft ceramics, assumed" if cell.d33_is_assumed else "d33 as entered"
    return (
        f"{words.engineering(cell.v_per_n, 'V')} and {words.engineering(cell.c_per_n, 'C')} per newton on the whole face",
        f"fades to 37 % in {words.seconds(cell.fade_s)}; {source}",
        "preload: twice the largest pull, or it parts",
    )


def screen_told(trace: Trace) -> str:
    """The settings of the oscilloscope."""
    up, across = words.engineering(trace.v_per_division, "V", 2), words.engineering(trace.s_per_division, "s", 2)
    return f"{up} and {across} per division, peak {words.engineering(trace.peak_v, 'V')}"


def blind_told(sensing: Sensing) -> str:
    """Modes that cancel themselves under the patch; '' where none does."""
    blind = [str(mode.number) for mode in sensing.modes if mode.blind]
    if not blind:
        return ""
    if len(blind) == 1:
        return f"Mode {blind[0]} is at a blind spot: it cancels itself under the patch, sensed or driven."
    return f"Modes {', '.join(blind)} are at a blind spot: they cancel themselves under the patch, sensed or driven."


# -- drive ------------------------------------------------------------------------------------------------------


def drive_rows(driving: Driving) -> tuple[tuple[str, ...], ...]:
    """Slow motion and a row a mode, under DRIVE_HEADS."""
    slow = abs(driving.slow_m_per_v)
    amplitude = driving.drive.amplitude_v
    rows = [
        (
            "slow",
            words.NO_VALUE,
            words.engineering(slow, "m"),
            words.engineering(slow * amplitude, "m"),
            words.engineering(driving.field_v, "V", 2),
            words.NO_VALUE,
        )
    ]
    for mode in driving.modes:
        rows.append(
            (
                str(mode.number),
                words.unitless(words.frequency(mode.frequency_hz)),
                words.engineering(mode.m_per_v, "m"),
                words.engineering(mode.stroke_m, "m", 2),
                f"{words.engineering(mode.allowed_v, 'V', 2)} {STOPS[mode.stops]}",
                words.engineering(mode.current_a, "A", 2),
            )
        )
    return tuple(rows)


def also_driven(driving: Driving, mode: int) -> str:
    """The force per volt that holds the point still, slow and at a mode (from 1)."""
    if driving.load_line is None:
        return ""
    at = place(driving.point_m, driving.solved.beam.spec.span_m)
    slow, own = (words.engineering(float(driving.n_per_v[n]), "N") for n in (0, mode))
    return f"{at} held still: {slow} per volt slow, {own} per volt at mode {mode}"


def beyond_told(driving: Driving) -> tuple[str, ...]:
    """What the volts asked for break: the field, and the modes at which they may not stay."""
    drive = driving.drive
    out = []
    low, high = driving.field_limits_v
    if drive.amplitude_v > driving.field_v:
        span = words.between(words.engineering(low, "V", 2), words.engineering(high, "V", 2))
        out.append(f"Beyond the field the ceramic stands: {span} at the leads.")
    broken = [
        f"mode {mode.number} ({words.engineering(mode.stroke_m, 'm', 2)}) above {words.engineering(mode.allowed_v, 'V', 2)}"
        for mode in driving.modes
        if mode.stops == "strain" and drive.amplitude_v > mode.allowed_v
    ]
    if broken:
        out.append(f"At resonance the strain breaks the ceramic: {', '.join(broken)}.")
    return tuple(out)


def load_line_told(driving: Driving) -> str:
    """Free stroke and blocked force."""
    line = driving.load_line
    if line is None:
        return "no stroke: this place cannot move, or nothing holds the part"
    told = (
        f"free stroke {words.engineering(line.free_m, 'm')}, blocked force {words.engineering(line.blocked_n, 'N')}, "
        f"there in {words.seconds(line.arrives_s)}"
    )
    if line.against_n_m or line.against_n:
        told += f"; against the load {words.engineering(line.stroke_m, 'm')} with {words.engineering(line.force_n, 'N')}"
    return told


def waveform_told(shown: Played) -> str:
    """What the waveform moves and asks of the amplifier."""
    parts = [
        f"moves {words.engineering(shown.peak_m, 'm')}",
        f"{words.engineering(shown.peak_a, 'A', 2)} peak",
        f"{words.engineering(shown.peak_va, 'VA', 2)} at once",
    ]
    if shown.overshoot is not None and shown.overshoot > 1.05:
        parts.append(f"overshoots {words.times(shown.overshoot)} times")
    if not shown.follows:
        parts.append("more than the amplifier can follow")
    return ", ".join(parts)


def heat_told(driving: Driving) -> str:
    """Heat of the drive and how warm it makes the patch."""
    heat, drive = driving.heat, driving.drive
    return (
        f"{words.power(heat.power_w)} lost in the dielectric ({words.significant(drive.large_signal)} times the small-signal "
        f"loss), at most {words.significant(heat.rise_k, 2)} K warmer in still air"
    )


def bridge_told(found: Bridge) -> tuple[str, ...]:
    """What a self-sensing bridge leaves of the drive, and what that hides."""

    def one(feed_v: float) -> str:
        hidden = found.hidden_m(feed_v)
        seen = "" if hidden is None else f", as {words.engineering(hidden, 'm', 2)} in mode 1"
        return f"{words.engineering(feed_v, 'V', 2)}{seen}"

    return (
        f"{words.share(found.mismatch)} off leaves {one(found.feed_v)}",
        f"cold {one(found.cold_feed_v)}; hot {one(found.hot_feed_v)}",
        "Smaller motion is not seen. Reference as the patch's free capacitance, lower arms as large.",
    )


def cautions(driving: Driving) -> tuple[str, ...]:
    """What a person at the leads must know; on screen and on everything that leaves the program."""
    return (*driven_as_shaker(driving.solved, driving.index).cautions, DEFERS)
