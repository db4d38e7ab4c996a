"""Circuits at the largest damping of a mode each, several at once: every one at its best among the others as
they end up.

The conditions of one circuit (`core.circuit.optimum`) are stepped for all at once, the circuits each meets being
those of the step before: on modes of their own they pull each other off tune so little that this settles as soon
as one of them alone. Circuits on one mode take turns until they stand.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.circuit.kind import Target
from core.circuit.objective import Aim
from core.circuit.one_mode import OnOneMode
from core.circuit.optimum import (
    SEARCH_SPAN,
    STANDS,
    STEPS,
    Search,
    has_mass,
    is_of_damping,
    is_shown,
    optimise,
    target_at,
    tuned_names,
)
from core.circuit.simplex import Budget
from core.circuit.source import SeveralSources, repeated
from core.circuit.system import Connection, CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

ROUNDS = 6
"""Of the turns of circuits on one mode, at most."""
OPEN = np.array([[1.0, 0.0], [0.0, 0.0], [0.0, 0.0]])
"""Coefficients of 1, s, s^2 of (a, b) where nothing hangs."""


@dataclass(frozen=True)
class Wanted:
    """A circuit to tune: the index of its connection, the mode (from 0), what its closed form tunes on."""

    index: int
    mode: int
    target: Target
    goal: str = "damping"
    weights: Sequence[float] = ()
    further: tuple[int, ...] = ()
    """Modes of the second branch, the third ..., of a circuit with several."""


def tuned(
    system: CoupledSystem, wanted: Sequence[Wanted], aim: Aim | None = None, held: Collection[str] = ()
) -> CoupledSystem:
    """The system with the circuits at the values that serve their goals best; `aim` and `held` as `optimise` takes them.

    At most one leading axis, every circuit at its closed form.
    """
    branched = any(c.kind.branches > 1 for c in system.connections)
    if held or branched or len(wanted) < 2 or not all(is_of_damping(one.goal, aim) for one in wanted):
        return _one_by_one(system, wanted, aim, held)
    found = tuned_together(system, wanted)
    if found is None or not found[1].any():
        return _one_by_one(system, wanted, aim)
    best, settled = found
    lost = np.flatnonzero(~settled)
    if len(lost):
        part = [replace(one, target=target_at(one.target, lost)) for one in wanted]
        mended = _one_by_one(system.at(lost), part, aim)
        for one in wanted:
            values = dict(best.connections[one.index].values)
            for name, value in mended.connections[one.index].values.items():
                whole = np.array(np.broadcast_to(values[name], settled.shape), dtype=float)
                whole[lost] = value
                values[name] = whole
            best = best.with_values(one.index, values)
    return best


def _one_by_one(
    system: CoupledSystem, wanted: Sequence[Wanted], aim: Aim | None, held: Collection[str] = ()
) -> CoupledSystem:
    """They pull each other off tune: round twice when there are several, the branches of each once a round. All share one
    budget of what is searched for."""
    several = len(wanted) > 1
    started = {one.index: dict(system.connections[one.index].values) for one in wanted}
    budget = Budget.of(sum(len(system.connections[one.index].kind.tuned) for one in wanted), int(np.prod(system.lead)))
    for one in [*wanted] * (2 if several else 1):
        searched = several and not is_of_damping(one.goal, aim)
        values = optimise(
            system, one.index, one.target, modes=(one.mode, *one.further), goal=one.goal, weights=one.weights, aim=aim,
            budget=budget, turns=1 if searched else None, held=held, first=started[one.index],
            as_shown=not _shares(system, one, wanted),
        )  # fmt: skip
        system = system.with_values(one.index, values)
    for one in wanted:
        connection = system.connections[one.index]
        system = system.with_connection(one.index, replace(connection, wanders=bool(budget.wanders.any())))
    return system


def tuned_together(system: CoupledSystem, wanted: Sequence[Wanted]) -> tuple[CoupledSystem, NDArray[np.bool_]] | None:
    """The system with all of them at their best, and of which layouts (P,) that is found; where it is not, they stay as
    they were. None where circuits join several leads, or more than two values are free."""
    stacked = system.stacked()
    if any(len(stacked.leads(i)) > 1 for i in range(len(stacked.connections))):
        return None
    shared = _on_one_mode(stacked, wanted)
    taken = {one.index for same in shared for one in same.wanted}
    rest = [one for one in wanted if one.index not in taken]
    turns = [list(_by_kind(stacked, turn)) for turn in _turns(rest)]
    if any(len(kind.names) > 2 for turn in turns for kind in turn):
        return None
    joined, found = _in_turns(turns, shared, stacked)
    kinds = [kind for turn in turns for kind in turn]
    best = _put(kinds, joined, found)
    if has_mass(system) or shared:
        for kind in kinds if has_mass(system) else ():
            for one, s, idle in zip(kind.wanted, np.split(kind.s, len(kind.wanted)), np.split(kind.idle, len(kind.wanted)), strict=True):
                found &= is_shown(best, s, one.mode) | idle
        for same in shared:
            found &= is_shown(best, same.s, same.mode) | same.idle
        best = _put(kinds, best, found)
        for one in (one for same in shared for one in same.wanted):
            was = stacked.connections[one.index].values
            best = best.with_values(one.index, {n: np.where(found, v, was[n]) for n, v in best.connections[one.index].values.items()})
    return (best if system.lead else best.one(0)), found


def _shares(system: CoupledSystem, one: Wanted, wanted: Sequence[Wanted]) -> bool:
    """Whether another that resonates is tuned on the mode of one that does: of the three poles they have together two fall
    together at the conditions of either, and the third may be the least damped, which moving only the one cannot mend."""
    on_mode = [w for w in wanted if w.mode == one.mode and len(system.connections[w.index].kind.tuned) > 1]
    return len(on_mode) > 1 and any(w is one for w in on_mode)


def _put(kinds: list[_OfOneKind], system: CoupledSystem, found: NDArray[np.bool_]) -> CoupledSystem:
    """The system (P,) with what the layouts found, the others as they were."""
    for kind in kinds:
        kind.x[~np.tile(found, len(kind.wanted))] = 0.0
    return _with(kinds, system)


def _in_turns(
    turns: list[list[_OfOneKind]], shared: list[_OnOneMode], system: CoupledSystem
) -> tuple[CoupledSystem, NDArray[np.bool_]]:
    """Circuits on modes of their own at once, those on one mode together or in turn, round after round until none moves: the system
    with what is `shared`, and which layouts (P,) settled in the last. In the first round those in turn on one mode hardly settle, for
    the others are at their start."""
    met, kinds = _at_start(system), [kind for turn in turns for kind in turn]
    # A layout that stands stays, whatever the others still want: it ends as it does alone.
    found, stands = np.ones(system.lead[0], dtype=bool), np.zeros(system.lead[0], dtype=bool)
    for _ in range(ROUNDS if len(turns) + len(shared) > 1 else 1):
        before, was, moved = [(kind.s, kind.x) for kind in kinds], system, np.zeros(len(stands))
        now = np.all([_settled(turn, system, met) for turn in turns], axis=0) if turns else np.ones_like(found)
        for kind, (s, x) in zip(kinds, before, strict=True):
            stay = np.tile(stands, len(kind.wanted))
            kind.s, kind.x = np.where(stay, s, kind.s), np.where(stay[:, None], x, kind.x)
            moved = np.maximum(moved, np.abs(kind.x - x).max(axis=1).reshape(len(kind.wanted), -1).max(axis=0))
        for same in shared:
            system, x = same.brought_together(_with(kinds, system))
            now &= same.found
            moved = np.maximum(moved, np.abs(x).max(axis=1))
            for one in same.wanted:
                own, old = (each.connections[one.index].values for each in (system, was))
                system = system.with_values(one.index, {n: np.where(stands, old[n], v) for n, v in own.items()})
                met[..., system.leads(one.index)[0]] = system.connections[one.index].polynomials.reshape(3, 2, -1)
        found = np.where(stands, found, now)
        stands |= moved < STANDS
        if stands.all():
            break
    return system, found


@dataclass(eq=False)
class _OnOneMode:
    """Circuits with two values each on one mode, its pole (P,) with them, of which layouts it was found, and those (P,) where none
    couples."""

    wanted: list[Wanted]
    names: tuple[tuple[str, ...], ...]
    mode: int
    coupling: Array
    """(P,) root of all their K^2 and mass ratios."""
    idle: NDArray[np.bool_]
    found: NDArray[np.bool_]
    s: ComplexArray
    is_begun: bool = False

    def brought_together(self, system: CoupledSystem) -> tuple[CoupledSystem, Array]:
        """The layouts with all poles of the mode in one, and how far the logarithms of the values (P, d) went."""
        own = OnOneMode(system, tuple(one.index for one in self.wanted), self.names, self.mode, self.coupling)
        system, x, self.s, found = own.tuned(self.s if self.is_begun else None)
        found &= np.abs(x).max(axis=1) < SEARCH_SPAN
        self.found, self.is_begun = (found & self.found if self.is_begun else found) | self.idle, True
        return system, x


def _on_one_mode(system: CoupledSystem, wanted: Sequence[Wanted]) -> list[_OnOneMode]:
    """Sets of those with two values each that are tuned on one mode, where all of a set couple in any layout."""
    sets: dict[int, list[tuple[Wanted, tuple[str, ...]]]] = {}
    for one in wanted:
        connection = system.connections[one.index]
        names = tuple(tuned_names(connection.kind, one.target, dict(connection.values)))
        if len(names) == 2:
            sets.setdefault(one.mode, []).append((one, names))
    found = []
    for mode, same in sets.items():
        k2 = np.array([np.broadcast_to(np.asarray(one.target.k2, dtype=float), system.lead) for one, _ in same])
        couples = k2 > 0.0
        if len(same) > 1 and couples.all(axis=0).any():
            idle = np.asarray(~couples.any(axis=0))
            ones, of_each = [one for one, _ in same], tuple(names for _, names in same)
            found.append(_OnOneMode(ones, of_each, mode, np.sqrt(np.maximum(k2, 0.0).sum(axis=0)), idle, idle, np.zeros(system.lead, dtype=complex)))
    return found


def _with(kinds: list[_OfOneKind], system: CoupledSystem) -> CoupledSystem:
    """The system with circuits as they are now."""
    for kind in kinds:
        values = kind.search.values_at(kind.x)
        for n, one in enumerate(kind.wanted):
            system = system.with_values(one.index, {name: v.reshape(len(kind.wanted), -1)[n] for name, v in values.items()})
    return system


def _turns(wanted: Sequence[Wanted]) -> list[list[Wanted]]:
    """The first circuit on every mode, then the second of each, and so on."""
    turns: list[list[Wanted]] = []
    for one in wanted:
        before = sum(one.mode == other.mode for turn in turns for other in turn)
        turns += [[]] if before == len(turns) else []
        turns[before].append(one)
    return turns


@dataclass
class _OfOneKind:
    """Circuits of one kind, with the pole (K P) and the logarithms (K P, d) of each as they are now."""

    search: Search
    source: SeveralSources
    wanted: list[Wanted]
    names: list[str]
    modes: NDArray[np.intp]
    s: ComplexArray
    x: Array
    idle: NDArray[np.bool_]
    """(K P,) where there is nothing to tune."""
    stood: NDArray[np.bool_]
    """(K P,) which settled on a sound pole when last stepped."""

    @property
    def connection(self) -> Connection:
        """All of them with their values in effect."""
        own = self.search.system.connections[0]
        return Connection(own.kind, {**own.values, **self.search.values_at(self.x)})


def _by_kind(system: CoupledSystem, wanted: Sequence[Wanted]) -> Iterator[_OfOneKind]:
    """The wanted circuits, those of a kind together, on their starts."""
    found: dict[tuple[str, tuple[str, ...]], list[Wanted]] = {}
    for one in wanted:
        connection = system.connections[one.index]
        names = tuned_names(connection.kind, one.target, dict(connection.values))
        if names and np.any(np.asarray(one.target.k2) > 0):
            found.setdefault((connection.kind.key, tuple(names)), []).append(one)
    for (_, tuned_ones), same in found.items():
        yield _of_one_kind(system, same, list(tuned_ones))


def _of_one_kind(system: CoupledSystem, wanted: list[Wanted], names: list[str]) -> _OfOneKind:
    count, times = system.lead[0], len(wanted)
    groups = [one.index for one in wanted]
    source = SeveralSources(system, groups)
    first = system.connections[groups[0]]

    def rows(each: Sequence[object]) -> Array:
        return np.concatenate([np.broadcast_to(np.asarray(v, dtype=float), (count,)) for v in each])

    values = {n: rows([system.connections[g].values[n] for g in groups]) for n in first.values}
    k2 = rows([w.target.k2 for w in wanted])
    target = Target(rows([w.target.omega_rad_s for w in wanted]), k2, rows([w.target.capacitance_f for w in wanted]))
    swapped = _own_first(repeated(system, times), np.repeat(groups, count))
    alone = replace(swapped, connections=(Connection(first.kind, values),))
    search = Search(alone, 0, names, target, source)
    modes = np.repeat([one.mode for one in wanted], count)
    nothing = np.zeros(len(modes), dtype=complex), np.zeros((len(modes), len(names)))
    return _OfOneKind(search, source, wanted, names, modes, *nothing, k2 <= 0.0, np.zeros(len(modes), dtype=bool))


def _own_first(system: CoupledSystem, ports: NDArray[np.intp]) -> CoupledSystem:
    """Every row with one of its ports in the first place, and that one in its stead."""
    order = np.tile(np.arange(system.n_ports), (len(ports), 1))
    every = np.arange(len(ports))
    order[:, 0], order[every, ports] = ports, 0
    block = every[:, None, None], order[:, :, None], order[:, None, :]
    theta = np.take_along_axis(system.theta, order[:, None, :], axis=-1)
    return replace(system, theta=theta, capacitance_f=system.capacitance_f[block], loss_f=system.loss_f[block])


def _at_start(system: CoupledSystem) -> ComplexArray:
    """(3, 2, P, ports) coefficients of 1, s, s^2 of a and b of the circuit on every port."""
    out = np.empty((3, 2, system.lead[0], system.n_ports), dtype=complex)
    out[...] = OPEN[:, :, None, None]
    for i, connection in enumerate(system.connections):
        if not connection.port().short:
            out[..., system.leads(i)[0]] = connection.polynomials.reshape(3, 2, -1)
    return out


@np.errstate(all="ignore")
def _settled(kinds: list[_OfOneKind], system: CoupledSystem, met: ComplexArray) -> NDArray[np.bool_]:
    """Step circuits on modes of their own, and tell in `met` what they became; which layouts (P,) settled. Those that
    stood before go on from there."""
    count = system.lead[0]
    for kind in kinds:
        kind.source.meet(met)
        if not kind.stood.all():
            s, x = kind.search.begun(kind.modes)
            kind.s, kind.x = np.where(kind.stood, kind.s, s), np.where(kind.stood[:, None], kind.x, x)
        kind.x[kind.idle] = 0.0
    _tell(kinds, system, met)
    # One step more once all of a layout are there, for what they still moved each other.
    done, last = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    for _ in range(STEPS):
        there = np.ones(count, dtype=bool)
        for kind in kinds:
            kind.source.meet(met)
        for kind in kinds:
            move_s, move_x = kind.search.step(kind.s, kind.x, kind.modes)
            kind.stood = kind.search.has_settled(move_s, move_x, kind.modes)
            there &= _of_layouts(kind, kind.stood)
            moves = ~(kind.idle | np.tile(last, len(kind.wanted)))
            kind.s, kind.x = np.where(moves, kind.s + move_s, kind.s), np.where(moves[:, None], kind.x + move_x, kind.x)
        _tell(kinds, system, met)
        last, done = last | done, done | there
        if last.all():
            break
    for kind in kinds:
        sound = kind.search.is_sound(kind.s, kind.x, kind.modes) & np.isfinite(kind.x).all(axis=1)
        kind.x[~(sound | kind.idle)] = 0.0
        last &= _of_layouts(kind, sound)
        kind.stood = kind.stood & sound
    _tell(kinds, system, met)
    return last


def _of_layouts(kind: _OfOneKind, good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(P,) layouts of which all circuits of a kind are good (K P)."""
    return np.asarray((good | kind.idle).reshape(len(kind.wanted), -1).all(axis=0))


def _tell(kinds: list[_OfOneKind], system: CoupledSystem, met: ComplexArray) -> None:
    """Put the circuits as they are now among those that others meet."""
    for kind in kinds:
        found = kind.connection.polynomials.reshape(3, 2, len(kind.wanted), -1)
        for n, one in enumerate(kind.wanted):
            met[..., system.leads(one.index)[0]] = found[:, :, n]
