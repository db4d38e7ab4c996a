"""From a solved layout to the coupled system: every group with its circuit, every tuned mass at its place.

Values are those saved, or follow a tuning rule on the chosen mode: the closed form (with the capacitance
that goes with K^2, an instrument's cable added; with the mass ratio at the place), or the optimum of the
whole coupled model started there; where a candidate is built from preferred values, the parts nearest to
those.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf

import numpy as np
from msgspec.structs import replace as with_
from numpy.typing import NDArray

from core.beam.varied import Number, Variation
from core.circuit import instrument, loop_amplifier, tuned_mass
from core.circuit.kind import CircuitKind, Target, Values
from core.circuit.loop.closed import with_loop_closed
from core.circuit.negative_capacitance import LEAST_LEFT
from core.circuit.objective import Aim
from core.circuit.preferred import chosen
from core.circuit.registry import CIRCUITS
from core.circuit.system import Connection, CoupledSystem
from core.circuit.together import Wanted, tuned
from core.piezo.coupled_beam import CoupledBeam
from core.project.candidate import Build, Candidate, Group, Tuning

Array = NDArray[np.float64]

SMALLEST_CAPACITANCE_F = 1e-15
"""Stands in for a group without a patch, so that its circuit hangs on something."""
STIFFEST = 1e-9
"""Of the compliance at a place, what a tuned mass hangs on by itself: two at one place are not one."""


@dataclass(frozen=True)
class _Hung:
    """What hangs on one port of a candidate, its values as saved or as they vary."""

    kind: CircuitKind
    values: dict[str, Number]
    tuning: Tuning | None
    instrument_s: float = 0.0
    cable_f: float = 0.0

    @property
    def beside(self) -> Number:
        return self.cable_f + self.kind.across(self.values)

    @property
    def serves(self) -> tuple[int, ...]:
        """The modes (from 0) it stands for; empty for all."""
        return ((self.tuning or Tuning()).mode - 1,) if self.kind.worked_out else ()

    @property
    def follows(self) -> Tuning | None:
        """The rule its values follow."""
        if self.kind.worked_out:
            return with_(self.tuning or Tuning(), rule="closed form", goal="damping")
        return None if self.kind.closed_form is None else self.tuning


def coupled_system(
    beam: CoupledBeam, candidate: Candidate, aim: Aim | None = None, variation: Variation | None = None
) -> CoupledSystem:
    """Modes, groups and tuned masses of a layout, or of many, every value tuned as its rule says.

    `aim` serves the goals 'peak' and 'mean square' of an optimum; `variation` may hold values.
    Raises KeyError for a circuit kind that is not in the registry.
    """
    hung = _hung(candidate, variation or {})
    started = tuple(_started(beam, h, j, aim) for j, h in enumerate(hung))
    own = np.diagonal(beam.group_blocked_f, axis1=-2, axis2=-1)
    places = np.zeros((*own.shape[:-1], len(hung) - own.shape[-1]))
    own = np.concatenate([own, places], axis=-1)
    corrected = beam.port_corrected_f
    rest = np.diagonal(corrected, axis1=-2, axis2=-1)
    smallest = np.where(np.arange(len(hung)) < len(candidate.groups), SMALLEST_CAPACITANCE_F, STIFFEST * rest)
    added = np.where(own > 0, 0.0, np.maximum(smallest, SMALLEST_CAPACITANCE_F))
    if hung:
        added = added + np.stack(np.broadcast_arrays(*(h.beside for h in started)), axis=-1)
        corrected = _truly_stored(beam, corrected, added)
    system = CoupledSystem(
        omega_rad_s=beam.omega_rad_s,
        zeta=beam.zeta0,
        theta=beam.port_theta,
        capacitance_f=corrected + added[..., None] * np.eye(len(hung)),
        loss_f=beam.port_loss_f(),
        connections=tuple(Connection(h.kind, h.values, h.instrument_s, serves=h.serves) for h in started),
    )
    # what is tuned is tuned with the amplifier on and nothing driven: the loop is designed on what they leave
    made = _built(_optimised(system, beam, started, aim), beam, started, aim, candidate.build)
    return with_loop_closed(made, candidate, variation or {})


def _truly_stored(beam: CoupledBeam, corrected: Array, added: Array) -> Array:
    """The corrected capacitance, where something negative hangs beside it and is more than the blocked one
    the blocked: modes beyond those kept would run away, and the poles must tell."""
    groups = len(beam.group_ids)
    if not groups or (added[..., :groups] >= 0.0).all():
        return corrected
    blocked = beam.group_blocked_f + added[..., :groups, None] * np.eye(groups)
    used_up = (np.linalg.eigvalsh(blocked)[..., 0] <= 0.0)[..., None, None]
    out = np.broadcast_to(corrected, (*np.broadcast_shapes(corrected.shape[:-2], used_up.shape[:-2]), *corrected.shape[-2:])).copy()
    out[..., :groups, :groups] = np.where(used_up, beam.group_blocked_f, out[..., :groups, :groups])
    return out


def follows_by_itself(group: Group) -> bool:
    """Whether a circuit's values follow what it hangs on whatever is held."""
    return CIRCUITS[group.circuit.kind].worked_out


def hold(candidate: Candidate, system: CoupledSystem) -> Candidate:
    """The candidate with its circuits and tuned masses fixed at the values in effect in `system`, from where they
    may wander: none is taken to the nearest part again."""
    values = [{n: v for n, v in c.numbers.items() if n in c.kind.complete({})} for c in system.connections]
    groups = tuple(
        with_(g, circuit=with_(g.circuit, values=v, tuning=g.circuit.tuning if follows_by_itself(g) else None))
        for g, v in zip(candidate.groups, values, strict=False)
    )
    absorbers = tuple(
        with_(one, **v, tuning=None)
        for one, v in zip(candidate.absorbers, values[len(groups) :], strict=True)
    )
    return with_(candidate, groups=groups, absorbers=absorbers, build=with_(candidate.build, series="exact"))


def beside_f(group: Group, values: Values) -> Number:
    """What hangs straight across the leads beside the patches' own capacitance, F: an instrument's cable
    and the circuit's added capacitor."""
    return instrument.capacitance_f(group.instrument) + CIRCUITS[group.circuit.kind].across(values)


def target_of(beam: CoupledBeam, group: int, mode: int, beside: Number) -> Target:
    """The mode (from 0) as the group's circuit sees it, other groups shorted, with what hangs beside the
    patches' own capacitance (`beside_f`)."""
    mode = min(max(mode, 0), beam.omega_rad_s.shape[-1] - 1)
    own = beam.modal_capacitance_f[..., mode, group]
    blocked = np.maximum(beam.group_blocked_f[..., group, group], SMALLEST_CAPACITANCE_F)
    own = np.where(own > 0, own, blocked)
    # what a negative capacitance uses up altogether is unstable, and no target
    total = np.maximum(own + beside, LEAST_LEFT * own)
    k2 = beam.group_k2[..., mode, group] * own / total
    return _target(beam.omega_rad_s[..., mode], k2, total, blocked_f=blocked + beside)


def mass_ratios(beam: CoupledBeam, place: int, mass_kg: Number) -> Array:
    """(..., N) mass of a tuned mass over the modal mass at its place, m phi^2."""
    phi = beam.port_theta[..., len(beam.group_ids) + place]
    return np.asarray(np.asarray(mass_kg)[..., None] * phi**2)


def strengths(beam: CoupledBeam, system: CoupledSystem) -> Array:
    """(..., N) how far everything that hangs on a layout may move the peaks of each mode: K^2 of the groups
    and mass ratios together, which split a mode alike."""
    out, groups = beam.group_k2.sum(axis=-1), len(beam.group_ids)
    for place, connection in enumerate(system.connections[groups:]):
        out = out + mass_ratios(beam, place, connection.values[tuned_mass.MASS.name])
    return np.asarray(out)


def _target(omega: Array, k2: Array, total: Array | Number, by_base: bool = False, blocked_f: Number = inf) -> Target:
    if np.ndim(k2):
        return Target(omega, k2, total, by_base, blocked_f=blocked_f)
    return Target(float(omega), float(k2), float(total), by_base, blocked_f=blocked_f)


def _hung(candidate: Candidate, variation: Variation) -> list[_Hung]:
    out, path = [], f"candidates[{candidate.id}]"
    for group in candidate.groups:
        kind, circuit = CIRCUITS[group.circuit.kind], group.circuit
        saved = circuit.values
        if kind.worked_out:
            saved = {n: v for n, v in saved.items() if n not in kind.tuned}
        values = _given(kind, saved, f"{path}.groups[{group.id}].circuit.values", variation)
        if kind is loop_amplifier.KIND:
            values |= {loop_amplifier.OUTPUT: variation.get(f"{path}.loop.output_ohm", candidate.loop.output_ohm)}
        tuned = () if circuit.tuning is None else kind.tuned
        values |= in_parts(kind, {n: v for n, v in values.items() if n not in tuned}, candidate.build)
        conductance, cable = instrument.beside_s(group), instrument.capacitance_f(group.instrument)
        out.append(_Hung(kind, values, circuit.tuning, conductance, cable))
    for one in candidate.absorbers:
        values = _given(tuned_mass.KIND, one.values, f"{path}.absorbers[{one.id}]", variation)
        out.append(_Hung(tuned_mass.KIND, values, one.tuning))
    return out


def _given(kind: CircuitKind, saved: Mapping[str, float], path: str, variation: Variation) -> dict[str, Number]:
    """Values as saved, or as they vary."""
    return {n: variation.get(f"{path}.{n}", v) for n, v in kind.complete(saved).items()}


def in_parts(kind: CircuitKind, values: Values, build: Build) -> dict[str, Number]:
    """Values of a circuit as the parts that are taken for them have it."""
    if build.series == "exact":
        return dict(values)
    sides = {p.name: p.rounding for p in kind.parameters if p.is_part}
    return {
        name: chosen(value, build.series, build.pairs, side) if (side := sides.get(name, "as it is")) != "as it is" else value
        for name, value in values.items()
    }


def _built(
    system: CoupledSystem, beam: CoupledBeam, hung: tuple[_Hung, ...], aim: Aim | None, build: Build
) -> CoupledSystem:
    """With the parts that are taken for the values tuned: the inductors first, and what else follows an optimum is tuned
    again for them, for a coil a few per cent off wants another resistor."""
    if build.series == "exact":
        return system
    ideal = system
    for i, connection in enumerate(system.connections):
        if _of_parts(connection.kind):
            taken = in_parts(connection.kind, connection.values, build)
            sharp = {n: v for n, v in taken.items() if n in _sharp(connection.kind)}
            system = system.with_connection(i, replace(connection, values={**connection.values, **sharp}))
    system = _optimised(system, beam, hung, aim, again=True)
    for i, connection in enumerate(system.connections):
        if _of_parts(connection.kind):
            wanted = {n: ideal.connections[i].values[n] if n in _sharp(connection.kind) else v for n, v in connection.values.items()}
            taken = in_parts(connection.kind, connection.values, build)
            system = system.with_connection(i, replace(connection, values=taken, wanted=wanted))
    return system


def _of_parts(kind: CircuitKind) -> bool:
    """Whether it is made of parts of a series; a mass on its spring is made to measure."""
    return kind.hangs_on == "leads"


def _sharp(kind: CircuitKind) -> frozenset[str]:
    """Names of the values a few per cent of which the rest cannot make good."""
    return frozenset(p.name for p in kind.parameters if p.sharp and p.name in kind.tuned)


def target_for(beam: CoupledBeam, index: int, tuning: Tuning, kind: CircuitKind, values: Values, beside: Number) -> Target:
    """The modes that a group's circuit is tuned on as it sees them, with what hangs beside the patches."""
    first, *further = (target_of(beam, index, mode - 1, beside) for mode in tuning.modes(kind.branches))
    return replace(first, given=values, further=tuple(further))


def _target_at(beam: CoupledBeam, hung: _Hung, index: int, tuning: Tuning, aim: Aim | None) -> Target:
    """The modes as what hangs on a port meets them."""
    place, mode = index - len(beam.group_ids), tuning.mode - 1
    if place < 0:
        target = target_for(beam, index, tuning, hung.kind, hung.values, hung.beside)
        if not hung.kind.worked_out:
            return target
        lost = beam.group_loss_f()[..., index, index] + hung.instrument_s / target.omega_rad_s
        return replace(target, leak=lost / target.capacitance_f)
    mode = min(max(mode, 0), beam.omega_rad_s.shape[-1] - 1)
    mu = mass_ratios(beam, place, hung.values[tuned_mass.MASS.name])[..., mode]
    return _target(beam.omega_rad_s[..., mode], mu, np.ones_like(mu), aim is not None and aim.load.base != 0.0)


def _started(beam: CoupledBeam, hung: _Hung, index: int, aim: Aim | None) -> _Hung:
    """With the closed form where a rule is followed."""
    tuning = hung.follows
    if tuning is None or hung.kind.closed_form is None:
        return hung
    tuned = hung.kind.closed_form(tuning.goal, _target_at(beam, hung, index, tuning, aim))
    return _Hung(hung.kind, {**hung.values, **tuned}, hung.tuning, hung.instrument_s, hung.cable_f)


def _optimised(
    system: CoupledSystem, beam: CoupledBeam, hung: tuple[_Hung, ...], aim: Aim | None, *, again: bool = False
) -> CoupledSystem:
    """At the optimum where that is the rule; `again` holds what is sharp and tunes the rest of what is made of parts to it."""
    wanted = []
    for j, h in enumerate(hung):
        rule = h.follows
        if rule is not None and rule.rule == "optimum" and (not again or (_of_parts(h.kind) and _sharp(h.kind))):
            mode, *further = (min(mode, system.n_modes) - 1 for mode in rule.modes(h.kind.branches))
            wanted.append(
                Wanted(j, mode, _target_at(beam, h, j, rule, aim), rule.goal, rule.weights, tuple(further))
            )
    held = frozenset().union(*(_sharp(h.kind) for h in hung)) if again else frozenset()
    return tuned(system, wanted, aim, held)
