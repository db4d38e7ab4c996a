"""How the circuit of a group is set on the bench, step by step, for the values its kind has."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from core.circuit.negative_capacitance import NAME as NEGATIVE_CAPACITANCE
from core.circuit.registry import CIRCUITS
from core.circuit.switched import INVERSION
from core.handover.text.document import Steps
from core.handover.text.shop import WRITE
from core.predict.group_result import GroupResult, PartValue
from core.predict.mode_result import ModeResult
from core.units import words


def adjustment(result: GroupResult, mode: ModeResult, served: bool) -> Steps:
    """For a group's circuit on a mode; `served` where a rule tunes it on that mode."""
    return Steps(tuple(_steps(result, mode, served)))


def _steps(result: GroupResult, mode: ModeResult, served: bool) -> Iterator[str]:
    values = {value.name: value for value in result.values}
    kind = CIRCUITS[result.circuit]
    yield (
        f"Supply off, circuit unplugged, leads discharged. Measure the group's own capacitance at the connector: {WRITE} nF "
        f"(free {words.capacitance(result.free_capacitance_f)} expected)."
    )
    if kind.worked_out:
        yield from _switch(values, mode)
    elif kind.key == "loop":
        yield "Set law, filters, amplifier and sampling as the table of the active loop has them, the gain at a tenth. Plug in, then supply on."
        yield "Knock the part at each step of the gain up to the one told; where a tone grows, open the loop and look for a sign turned round."
    elif not values:
        yield "Nothing to set. Plug in, and check by a knock that the part rings as the test card says."
        return
    else:
        yield from _scaled(result, values, mode)
        yield from _fed(result, values)
        if kind.branches > 1:
            yield f"Set the {kind.branches} branches one after the other, lowest mode first; go round twice, each moves the others a little."
        yield from _tuned(values, mode)
    aim = f"{words.damping(mode.zeta)} in mode {mode.number}" if mode.zeta == mode.zeta else "nothing: as set it does not hold"
    yield f"Record the damping reached: {WRITE} % ({aim} predicted{'' if served else ', not tuned on it'}), the values set, and the temperature."
    yield "Lock or replace every trimmer by a fixed part of the value found, and record again."


def _switch(values: Mapping[str, PartValue], mode: ModeResult) -> Iterator[str]:
    yield "Plug in, then supply on. Watch the leads through a buffer while the part is driven at "\
        f"{words.frequency(mode.f_short_hz)}: the switch closes once at every extreme of the voltage, and at no other time."
    inversion = values.get(INVERSION.name)
    jump = "to nothing" if inversion is None else f"to its opposite, {words.share(inversion.value)} as high or more"
    yield f"At each closing the voltage jumps {jump}; where it does not, the switch stays closed too short or too long."


def _scaled(result: GroupResult, values: Mapping[str, PartValue], mode: ModeResult) -> Iterator[str]:
    scaled = [v for name, v in values.items() if name.startswith(("resistance", "inductance"))]
    nominal = " and ".join(words.part(v.value, v.unit) for v in scaled)
    seen = result.modal_capacitance_f[mode.number - 1]
    yield (
        f"Take {nominal} times expected over measured capacitance as the first setting: each goes as one over the "
        f"capacitance (mode {mode.number} sees {words.capacitance(seen)})."
    )


def _fed(result: GroupResult, values: Mapping[str, PartValue]) -> Iterator[str]:
    negative = values.get(NEGATIVE_CAPACITANCE)
    if negative is None:
        yield "Plug the circuit in; supply on where it has one."
        return
    smaller = result.stability is not None and not result.stability.holds_above
    way, value = "smaller" if smaller else "larger", words.capacitance(negative.value)
    yield f"Set the negative capacitance {way} than {value} by a fifth: there it holds for certain."
    yield (
        "Plug in, then supply on. The amplifier's output must stay near zero at rest; where it creeps to a rail, switch off "
        f"and take it {way} still."
    )
    yield f"Go towards {value} in steps of 2 %, at rest and after a knock; go back one step from where it creeps."


def _tuned(values: Mapping[str, PartValue], mode: ModeResult) -> Iterator[str]:
    if any(name.startswith("inductance") for name in values):
        yield (
            f"Set the inductor first, with the resistor far from damping it: excite about {words.frequency(mode.f_short_hz)}; the two "
            "peaks beside the old one are equally high when it is right. Higher on the right: less inductance; on the left: more."
        )
        yield "Then bring the resistor in until the two peaks merge into one flat top, and stop there."
    elif any(name.startswith("resistance") for name in values):
        yield (
            f"Vary the resistor about its setting while mode {mode.number} rings down or is driven at its peak; keep the value "
            "of the fastest decay. The optimum is flat: a quarter beside it costs little."
        )
