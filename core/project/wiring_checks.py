"""Problems of the groups of one candidate: membership, circuit values, tuning, instrument."""

from __future__ import annotations

from core.project.candidate import Candidate, Circuit, Group
from core.project.ceilings import MOST_MODES
from core.project.checking import Found, number, tell, unique
from core.project.fields import FIELDS


def wiring_problems(found: Found, candidate: Candidate) -> None:
    """Everything wrong with the groups and circuits of a candidate."""
    path = f"candidates[{candidate.id}].groups"
    unique(found, path, "group", (g.id for g in candidate.groups))
    _membership(found, candidate, path)
    for group in candidate.groups:
        _circuit(found, f"{path}[{group.id}].circuit", group, group.circuit)
        if group.bleed_ohm is not None:
            number(
                found,
                f"{path}[{group.id}].bleed_ohm",
                f"Bleed resistor of group {group.id}",
                group.bleed_ohm,
                FIELDS["groups.bleed_ohm"].range,
                "10 MΩ is usual.",
            )
        instrument = group.instrument
        if instrument is not None:
            here, what = f"{path}[{group.id}].instrument", f"Instrument input of group {group.id}"
            number(
                found,
                f"{here}.resistance_ohm",
                f"{what}: resistance",
                instrument.resistance_ohm,
                FIELDS["instrument.resistance_ohm"].range,
                "1 MΩ is usual.",
            )
            number(
                found,
                f"{here}.capacitance_f",
                f"{what}: capacitance",
                instrument.capacitance_f,
                FIELDS["instrument.capacitance_f"].range,
            )


def _membership(found: Found, candidate: Candidate, path: str) -> None:
    ids = {p.id for p in candidate.patches}
    owner: dict[str, str] = {}
    for group in candidate.groups:
        here = f"{path}[{group.id}].members"
        if not group.members:
            tell(found, here, f"Group {group.id} has no patch. Put a patch in it or remove it.")
        for member in group.members:
            if member.patch not in ids:
                tell(
                    found,
                    here,
                    f"Group {group.id} names patch {member.patch}, which is not on the part. "
                    "Take it out of the group.",
                )
            elif member.patch in owner:
                where = (
                    "twice in group"
                    if owner[member.patch] == group.id
                    else f"in group {owner[member.patch]} and in"
                )
                tell(found, here, f"Patch {member.patch} is {where} {group.id}. Keep it in one group, once.")
            else:
                owner[member.patch] = group.id
    for patch in candidate.patches:
        if patch.id not in owner:
            tell(
                found,
                f"candidates[{candidate.id}].patches[{patch.id}]",
                f"Patch {patch.id} is in no group, so nothing is connected to it. Put it in a group.",
            )


def _circuit(found: Found, path: str, group: Group, circuit: Circuit) -> None:
    tuning = circuit.tuning
    if tuning is None:
        return
    wanted = [(f"{path}.tuning.mode", tuning.mode)]
    wanted += [(f"{path}.tuning.further[{i}]", mode) for i, mode in enumerate(tuning.further)]
    for place, mode in wanted:
        if not 1 <= mode <= MOST_MODES:
            tell(
                found,
                place,
                f"The circuit of group {group.id} is tuned to mode {mode}; "
                f"modes 1 to {MOST_MODES} are predicted. Choose one of them.",
            )
    if len({mode for _, mode in wanted}) < len(wanted):
        tell(
            found,
            f"{path}.tuning.further",
            f"Two branches of the circuit of group {group.id} are tuned to one mode. Give each branch a mode of its own.",
        )
    for i, weight in enumerate(tuning.weights):
        number(
            found,
            f"{path}.tuning.weights[{i}]",
            f"Weight of mode {i + 1} in group {group.id}",
            weight,
            FIELDS["tuning.weights"].range,
        )
    if tuning.goal == "weighted" and not any(weight > 0.0 for weight in tuning.weights):
        tell(
            found,
            f"{path}.tuning.weights",
            f"The weighted goal of group {group.id} has no weight above 0. Give at least one mode a weight.",
        )
