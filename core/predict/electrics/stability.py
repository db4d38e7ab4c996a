"""The region in which a negative capacitance holds, from cold to hot: what a drawing of it needs."""

from __future__ import annotations

from dataclasses import dataclass

from core.circuit import negative_capacitance, stability
from core.circuit.stability import Setting
from core.piezo.layout import solve
from core.predict.solved import Solved
from core.units import words


@dataclass(frozen=True)
class SettingAt:
    """At one temperature: the capacitances of the group, F, and the setting against its limit."""

    temperature_c: float
    blocked_f: float
    free_f: float
    setting: Setting


@dataclass(frozen=True)
class StabilityRegion:
    """A negative capacitance between cold and hot, the value held.

    here : where the prediction stands; travel : cold, reference and hot, each once, in the order of
    temperature. Stable on the side `holds_above` says (of `Setting.limit_f`).
    """

    group: str
    here: SettingAt
    travel: tuple[SettingAt, ...]

    @property
    def holds_above(self) -> bool:
        return self.here.setting.in_series

    @property
    def worst(self) -> SettingAt:
        """Where the least room is left."""
        return min((self.here, *self.travel), key=lambda at: at.setting.room)

    @property
    def nearest_f(self) -> float | None:
        """The nearest value that holds at every temperature; None where none does."""
        nearest = [at.setting.nearest_f for at in (self.here, *self.travel)]
        found = [value for value in nearest if value is not None]
        if len(found) < len(nearest) or min(found) <= 0.0:
            return None
        return max(found) if self.holds_above else min(found)

    @property
    def sentence(self) -> str:
        """Where it stands, what holds from cold to hot, and how much is left."""
        here, worst, holds = self.here.setting, self.worst, self.nearest_f
        value = words.capacitance(here.value_f)
        if holds is None:
            return f"Negative capacitance {value} drifts: nothing holds, because {self._why_none()}."
        which, side = ("free", "above") if self.holds_above else ("blocked", "below")
        told = f"stable {side} {words.capacitance(here.limit_f)}, the {which} capacitance on the leads"
        always = " from cold to hot" if len(self.travel) > 1 else ""
        if not here.holds:
            return f"Negative capacitance {value} drifts: {told}. {words.capacitance(holds)} holds{always}."
        told = f"Negative capacitance {value}: {told}; {words.share(here.room)} to spare"
        at = words.celsius(worst.temperature_c)
        if not worst.setting.holds:
            return f"{told}, but at {at} it drifts. {words.capacitance(holds)} holds{always}. It needs a supply."
        if worst.setting.room < here.room:
            told += f", {words.share(worst.setting.room)} at {at}"
        return f"{told}. It needs a supply."

    def _why_none(self) -> str:
        if self.holds_above:
            return "an input or a bleed resistor on the leads conducts, and at rest discharges the patches: take it off"
        return "the other groups' negative capacitances have used up what is there"


def stability_region(solved: Solved, index: int) -> StabilityRegion | None:
    """Of a group (from 0) of a solved layout; None where its circuit has no negative capacitance.

    The circuit holds the value in effect; permittivity, d31, compliance and moduli follow their coefficients at
    the service's cold and hot temperature (source of the limits: `core.circuit.stability`).
    """
    group = solved.candidate.groups[index]
    if not stability.has_one(group):
        return None
    value = solved.system.connections[index].numbers[negative_capacitance.NAME]
    service = solved.project.service

    def at(celsius: float | None) -> SettingAt:
        if celsius is None:
            beam, celsius = solved.beam, solved.project.at_c(solved.beam.spec.temperature_c)
        else:
            beam = solve(solved.project, solved.candidate, n_modes=solved.beam.n_kept, temperature_c=celsius)
        return SettingAt(
            temperature_c=celsius,
            blocked_f=float(beam.group_blocked_f[index, index]),
            free_f=float(beam.group_free_f[index, index]),
            setting=stability.setting(beam, solved.candidate, index, value),
        )

    temperatures = sorted({service.cold_c, service.reference_c, service.hot_c})
    here = at(None)
    travel = tuple(here if celsius == here.temperature_c else at(celsius) for celsius in temperatures)
    return StabilityRegion(group.id, here, travel)

