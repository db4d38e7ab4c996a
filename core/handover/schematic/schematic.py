"""The schematic of one group: its patches, its connector, and what hangs on the leads, with values and volts.

One function makes it for the window, the file and the circuit card. Laying out asks nothing of the numbers and
is remembered, so that values follow a hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from core.circuit import instrument
from core.circuit.network import Network, Part
from core.circuit.realise import Component
from core.circuit.system import Connection
from core.handover.schematic.layout import Plate, Shape, laid_out
from core.handover.schematic.picture import Schematic
from core.handover.schematic.tree import Parallel, Series, Simulated, tree_of
from core.predict.electrics.board import components
from core.predict.prediction import Prediction
from core.project.candidate import Candidate, Group
from core.project.model import Project
from core.units import words


def schematic(
    project: Project, prediction: Prediction, group_id: str, volts: str = "", *, with_swing: bool = False
) -> Schematic:
    """The drawing of a group of the candidate that was predicted, values in effect beside the parts.

    `volts` stands at the leads; without one the largest under the load shown. `with_swing` tells at the output of every
    amplifier how far the worst load of the service swings it. An unstable circuit has none of these.
    Raises KeyError for a group that the candidate does not have.
    """
    candidate = project.candidate(prediction.candidate)
    index = next((g for g, one in enumerate(candidate.groups) if one.id == group_id), None)
    if index is None or index >= len(prediction.groups):
        raise KeyError(group_id)
    group, result = candidate.groups[index], prediction.groups[index]
    network = (*instrument.beside(group), *_circuit(prediction.solved.system.connections[index]))
    built = components(prediction.solved, index)
    by_amplifiers = frozenset(part.of for part in built if part.what == "amplifier")
    simulated = _drawn_simulated(network, by_amplifiers)
    texts = {part.name: _value(part) for part in network}
    for part in network:
        if part.name in simulated:
            texts |= _components(part.name, built)
        elif part.name in by_amplifiers:
            texts[f"{part.name} how"] = "simulated"
    if with_swing and not prediction.unstable:
        texts |= dict(_swings(prediction, group_id))
    texts["supply"] = f"±{words.plain(candidate.build.supply_v)} V"
    texts["volts"] = RUNS_AWAY if prediction.unstable else volts or words.voltage(result.voltage_peak_v)
    shape = Shape(tuple(_plates(candidate, group)), group.wiring == "series", tree_of(tuple(map(_bare, network)), simulated))
    if group.circuit.kind == "loop":
        shape = replace(shape, bare="to the loop's amplifier")
    return laid_out(shape).filled(texts)


RUNS_AWAY = "volts run away"
"""Stands in place of a voltage where the circuit is unstable."""


def _circuit(connection: Connection) -> Network:
    return (connection.kind.drawn or connection.kind.network)(connection.numbers)


def _drawn_simulated(network: Network, by_amplifiers: frozenset[str]) -> frozenset[str]:
    """The parts drawn with their amplifiers: those with an end on the return and room above, which is a column of their own.
    One that floats takes two chains: it stands in the drawing itself, as one on a pile of others does."""
    able = frozenset(part.name for part in network if part.name in by_amplifiers and part.is_grounded)
    whole = tree_of(network, able)
    columns = whole.parts if isinstance(whole, Parallel) else (whole,)
    ends = [one.parts[-1] if isinstance(one, Series) and one.parts else one for one in columns]
    return frozenset(one.name for one in ends if isinstance(one, Simulated))


def _swings(prediction: Prediction, group_id: str) -> Iterator[tuple[str, str]]:
    """The peak at the output of every amplifier under the worst load, by its place ("L N1 volts")."""
    for load in prediction.solved.board.loads:
        part = load.component
        if load.group == group_id and part.what == "amplifier":
            yield f"{part.of} {part.name.removeprefix(part.of)} volts", words.voltage(load.volts)


def _components(simulated: str, built: tuple[Component, ...]) -> dict[str, str]:
    """Names and values of what simulates a part, by the place they have in it ("Cn R1", "Cn R1 value")."""
    found: dict[str, list[Component]] = {}
    for one in built:
        if one.of == simulated:
            found.setdefault(one.name.removeprefix(simulated).rstrip("ab"), []).append(one)
    texts = {}
    for place, own in found.items():
        texts[f"{simulated} {place}"] = ", ".join(one.name for one in own)
        if own[0].what != "amplifier":
            unit = "F" if own[0].what == "capacitor" else "ohm"
            texts[f"{simulated} {place} value"] = ", ".join(words.engineering(one.value, unit) for one in own)
    return texts


def _value(part: Part) -> str:
    if part.what == "negative capacitor":
        return f"{words.MINUS}{words.part(part.value, 'F')}"
    if part.what == "switch":
        return "at each extreme"
    if part.parameter.endswith("_ratio"):
        return f"inverts {words.share(part.value)}"
    return words.part(part.value, {"resistor": "ohm", "inductor": "H", "capacitor": "F"}[part.what])


def _bare(part: Part) -> Part:
    """Without its value, so that a drawing laid out once serves all values; a wire stays one."""
    return part if part.value == 0.0 else replace(part, value=1.0)


def _plates(candidate: Candidate, group: Group) -> Iterator[Plate]:
    """Every ceramic of a group; the underside one of a bending pair is joined the other way round."""
    for member in group.members:
        patch, up = candidate.patch(member.patch), member.polarity > 0
        if patch.face != "both":
            yield Plate(patch.id, "", up)
            continue
        yield Plate(patch.id, "top", up)
        yield Plate(patch.id, "under", up != patch.pair_bending)
