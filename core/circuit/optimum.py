"""Circuit values at the numerical optimum of the full coupled model, for one layout or many.

Parameters are varied in the logarithm, starting at the closed form. The largest damping of a mode is
found by Newton steps on its own conditions: with two free values the mode's two poles fall together, so
the characteristic function F(s) = b + a Y and its slope vanish at once (Y what the group's leads meet,
(a, b) the circuit's immittance pair); with one value F vanishes and the pole's direction stands still.
A weighted sum of several modes is taken there too, unless a place about it is better. Other goals, and layouts
for which that does not settle, take a simplex search (Nelder & Mead 1965), all layouts walking side by side.
Nothing depends on how many layouts are asked at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.beam.varied import Number
from core.circuit.damping import damping_of, middle_of_poles
from core.circuit.kind import CircuitKind, Target
from core.circuit.objective import Aim, Objective, objective_of
from core.circuit.simplex import Budget, simplex
from core.circuit.source import Source
from core.circuit.system import CoupledSystem

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Mode = int | NDArray[np.intp]
"""Of all layouts, or of each (P,)."""

SEARCH_SPAN = 5.0
"""Natural logarithm of how far a value may go from its closed form."""
SETTLED = 1e-6
"""Steps (relative, of a Newton iteration: what is left after one is its square) that end it."""
SHOWN = 0.01
"""How near (relative) the damping of the pole found must be to the mode's: two poles in one split by the root of what the steps leave."""
S_STEP, LOG_STEP = 1e-3, 1e-4
"""Of differences along s, relative, and along the logarithms of values."""
BESIDE = np.array([-1.0, 0.0, 1.0])
PROBES = (1e-3, 0.02, 0.2)
"""How far about the best values of one mode a weighted sum is looked at, in logarithms."""
STEPS, STEPS_ANEW = 14, 30
"""Of Newton's from the first order, and from the poles there are, where the way may be longer."""
TURNS, SEARCH_TURNS = 8, 2
"""Of several branches, tuned in turn until none moves by more than `STANDS`; where each turn is a search."""
STANDS = 1e-4
TOGETHER = 40
"""Steps of a search among the values of all branches."""
ROUGH = 1e-3
"""Size of a simplex at which a finer one takes over."""
AT_ONCE = 4
"""Points of a search of one layout that are evaluated together: all that a round may come to."""
FIRST_STEPS = 1
"""Of the pole or the values alone, before both move: with more of them more is lost than gained."""


def optimise(
    system: CoupledSystem,
    group: int,
    target: Target,
    *,
    modes: Sequence[int],
    goal: str,
    weights: Sequence[float] = (),
    aim: Aim | None = None,
    budget: Budget | None = None,
    turns: int | None = None,
    held: Collection[str] = (),
    first: Mapping[str, Number] | None = None,
    as_shown: bool = True,
) -> dict[str, Number]:
    """Values of the group's circuit that serve the goal best, the other groups held.

    system : the coupled system with the group at its closed form (the start), at most one leading axis;
    group : index of its connection; target : K^2 (...,), frequency rad/s and capacitance F that the closed
    form tunes on; modes : of each branch, from 0; goal : 'damping', 'peak', 'mean square' or 'weighted'; weights :
    (modes,) of the damping ratios, for 'weighted'; aim : the output and load of 'peak' and 'mean square', which fall
    back on 'damping' without one. Returns SI values by the parameters' names. Of several branches each serves its
    own mode, the others held, in `turns` until they stand; a weighted sum is then taken of all of them together.
    What is searched for ends with the budget, which then says whether values were still on the move. Values `held` stay;
    no other goes further than `SEARCH_SPAN` from `first`, where it is not tuned for the first time, else from where it starts.
    `as_shown` False takes a damping beside a tuned mass though another pole is counted as the mode's: that may be another circuit's
    to mend.
    """
    kind = system.connections[group].kind
    values = dict(system.connections[group].values)
    first = values if first is None else first
    budget = Budget.of(len(kind.tuned), int(np.prod(system.lead))) if budget is None else budget
    wanted = _Wanted(goal, tuple(weights), aim)
    if kind.branches == 1:
        names = [name for name in tuned_names(kind, target, values) if name not in held]
        return {**values, **_best(system, group, names, target, modes[0], wanted, budget, first, as_shown=as_shown)}
    alone = wanted if goal in ("peak", "mean square") and aim is not None else _Wanted("damping", (), None)
    for turn in range(turns or (TURNS if alone.goal == "damping" else SEARCH_TURNS)):
        before, values, left = values, dict(values), budget.left.copy()
        for n, mode in enumerate(modes):
            own = target if n == 0 else target.further[n - 1]
            names = [name for name in kind.tuned_in(n + 1) if name not in held and np.all(np.asarray(values[name]) > 0)]
            now = system.with_values(group, values)
            values |= _best(now, group, names, own, mode, alone, budget, first, finely=bool(turn) or turns == 1)
        # a budget that is spent has been searched with before
        searched = bool(((budget.left < left) | (budget.left <= 0)).any()) and turn + 1 >= SEARCH_TURNS
        if searched or all(np.allclose(values[n], before[n], rtol=STANDS) for n in kind.tuned):
            break
    if goal == "weighted" and any(weights):
        names = [name for name in kind.tuned if name not in held]
        found = _best(system.with_values(group, values), group, names, target, modes[0], wanted, budget, first)
        values = {**values, **found}
    return values


@dataclass(frozen=True)
class _Wanted:
    """A goal with what it looks at."""

    goal: str
    weights: tuple[float, ...]
    aim: Aim | None


def _best(
    system: CoupledSystem, group: int, names: list[str], target: Target, mode: int, wanted: _Wanted, budget: Budget,
    first: Mapping[str, Number] | None = None, *, finely: bool = True, as_shown: bool = True,
) -> dict[str, Number]:  # fmt: skip
    """The best of some of a circuit's values, the rest held."""
    goal, weights, aim = wanted.goal, wanted.weights, wanted.aim
    if not names or np.all(np.asarray(target.k2) <= 0):
        return {}
    search = Search(system, group, names, target, first=first)
    search.as_shown = as_shown
    of_damping = is_of_damping(goal, aim)
    weighted = goal == "weighted" and any(weights)
    x, settled = np.zeros((search.count, len(names))), np.zeros(search.count, dtype=bool)
    if (of_damping or weighted) and len(names) <= 2:
        x, _, settled = search.by_conditions(mode)
        if of_damping:
            search.at_edges(mode, x, settled)
        else:
            settled &= search.stands(x, settled, mode, weights)
    lost = np.flatnonzero(~settled & (search.k2 > 0))
    if len(lost):
        x[lost] = search.at(lost).by_simplex(
            lambda part, rows: objective_of(part, mode, goal, weights, aim if aim is None else aim.at(lost[rows])),
            budget,
            lost,
            over_frequency=not (of_damping or weighted),
            finely=finely,
        )
    found = search.values_at(x)
    return dict(found) if system.lead else {n: float(v[0]) for n, v in found.items()}


def is_of_damping(goal: str, aim: Aim | None) -> bool:
    """Whether the goal is the largest damping of the mode, or falls back on it."""
    return goal == "damping" or (goal in ("peak", "mean square") and aim is None)


def tuned_names(kind: CircuitKind, target: Target, values: dict[str, Number]) -> list[str]:
    """Names of the values the closed form sets, where it sets them above zero in every layout that couples at all."""
    if kind.closed_form is None:
        return []
    idle = np.asarray(target.k2) <= 0.0
    return [n for n in kind.closed_form("damping", target) if np.all((np.asarray(values[n]) > 0) | idle)]


def target_at(target: Target, rows: NDArray[np.intp]) -> Target:
    """Of some of many layouts."""
    fields = (target.omega_rad_s, target.k2, target.capacitance_f)
    omega, k2, total = (np.broadcast_to(v, rows.shape) if np.ndim(v) == 0 else np.asarray(v)[rows] for v in fields)
    return replace(target, omega_rad_s=omega, k2=k2, capacitance_f=total)


def has_mass(system: CoupledSystem) -> bool:
    """Whether a tuned mass hangs on the layouts: it moves a mode further than the first order tells, so that another pole than
    the one looked for may be the mode's."""
    return any(c.kind.hangs_on == "place" for c in system.connections)


def is_shown(system: CoupledSystem, s: ComplexArray, mode: int) -> NDArray[np.bool_]:
    """(P,) whether these poles have the damping that the mode (from 0) of each layout is shown with."""
    shown = damping_of(system, mode)
    return np.asarray(np.abs(shown + s.real / np.abs(s)) < SHOWN * np.abs(shown))


class Search:
    """Layouts whose group g is to be tuned: logarithms x (P, d) of its values over where they start, `first` where they
    started before they were tuned the last time."""

    def __init__(
        self, system: CoupledSystem, group: int, names: list[str], target: Target, source: Source | None = None,
        first: Mapping[str, Number] | None = None,
    ) -> None:  # fmt: skip
        self.system, self.group, self.names, self.target = system.stacked(), group, names, target
        self.count = self.system.lead[0]
        self._every = np.arange(self.count)
        self._given = source
        self.as_shown = True
        values = self.system.connections[group].values
        self._start = {n: np.broadcast_to(np.asarray(values[n], dtype=float), (self.count,)) for n in names}
        self.k2 = np.broadcast_to(np.asarray(target.k2, dtype=float), (self.count,))

        self._moved = np.zeros((self.count, len(names)))
        if first is not None and any(first[n] is not values[n] for n in names):
            before = {n: np.asarray(first[n], dtype=float) for n in names}
            with np.errstate(divide="ignore", invalid="ignore"):
                moved = [np.nan_to_num(np.log(self._start[n] / before[n]), posinf=0.0, neginf=0.0) for n in names]
            self._moved = np.stack(moved, axis=-1)

    def at(self, rows: NDArray[np.intp]) -> Search:
        part = Search(self.system.at(rows), self.group, self.names, target_at(self.target, rows))
        part._moved, part.as_shown = self._moved[rows], self.as_shown
        return part

    def values_at(self, x: Array) -> dict[str, Array]:
        """Values for logarithms (..., d), the leading axes broadcasting with the layouts' (P,) last."""
        return {n: self._start[n] * np.exp(x[..., k]) for k, n in enumerate(self.names)}

    def system_at(self, x: Array) -> CoupledSystem:
        return self.system.with_values(self.group, dict(self.values_at(x)))

    @cached_property
    def source(self) -> Source:
        """What the group's circuit meets."""
        return self._given or Source(self.system, self.group)

    # The conditions of the largest damping

    @np.errstate(all="ignore")
    def by_conditions(self, mode: int) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Logarithms (P, d) at the largest damping of the mode, that damping, and which settled. A tuned mass moves a mode
        further than the first order tells: beside one, what is found must be the damping the mode is shown with, and where it
        is not, the steps begin anew at the poles there are."""
        s, x, settled = self._stepped(mode, STEPS, *self.begun(mode))
        if self.as_shown and has_mass(self.system):
            settled = self._is_shown(s, x, mode, settled)
            lost = np.flatnonzero(~settled & (self.k2 > 0.0))
            if len(lost):
                part = self.at(lost)
                s[lost], x[lost], again = part._stepped(mode, STEPS_ANEW, *part.begun(mode, at_poles=True))
                settled[lost] = part._is_shown(s[lost], x[lost], mode, again)
        return np.where(settled[:, None], x, 0.0), -s.real / np.abs(s), settled

    def _stepped(
        self, mode: int, steps: int, s: ComplexArray, x: Array
    ) -> tuple[ComplexArray, Array, NDArray[np.bool_]]:
        """The pole and the logarithms where so many steps end, and which settled soundly."""
        settled = np.zeros(self.count, dtype=bool)
        for _ in range(steps):
            move_s, move_x = self.step(s, x, mode)
            s, x = s + move_s, x + move_x
            settled = self.has_settled(move_s, move_x, mode)
            if settled.all():
                break
        return s, x, settled & self.is_sound(s, x, mode)

    def _is_shown(self, s: ComplexArray, x: Array, mode: int, settled: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """(P,) which of those settled have found the pole that is counted as the mode's damping."""
        out, rows = np.zeros(self.count, dtype=bool), np.flatnonzero(settled)
        if len(rows):
            out[rows] = is_shown(self.at(rows).system_at(x[rows]), s[rows], mode)
        return out

    def _omega(self, mode: Mode) -> Array:
        return np.asarray(self.system.omega_rad_s[self._every, mode])

    def _reach(self, mode: Mode) -> Array:
        """How far a step may move the pole."""
        return np.asarray(np.maximum(0.5 * np.sqrt(np.maximum(self.k2, 0.0)), 1e-6) * self._omega(mode))

    def begun(self, mode: Mode, *, at_poles: bool = False) -> tuple[ComplexArray, Array]:
        """Where the steps start: the pole (P,), amid those the mode has where `at_poles`, and the logarithms (P, d)."""
        omega, k = self._omega(mode), np.sqrt(np.maximum(self.k2, 0.0))
        both = len(self.names) == 2
        x, reach = np.zeros((self.count, len(self.names))), self._reach(mode)
        kind = self.system.connections[self.group].kind
        if at_poles or kind.branches > 1 or kind.active:
            # other branches or a negative capacitance have moved the mode: where its poles are now
            s = middle_of_poles(self.system, np.broadcast_to(mode, self.count))
        else:
            s = self.source.pole_among_others(omega, self.system.zeta[self._every, mode], (self._every, mode))
            s = s + omega * (0.25j * self.k2 - (0.5 * k if both else 0.25 * self.k2))
        for _ in range(FIRST_STEPS):
            if both:
                x = x + self._through(s, x, omega)
            else:
                step = self._to_pole(s, x, omega)
                s = s + step * np.minimum(1.0, reach / np.maximum(np.abs(step), 1e-300))
        return s, x

    def step(self, s: ComplexArray, x: Array, mode: Mode) -> tuple[ComplexArray, Array]:
        """A Newton step of the pole and the logarithms, no longer than they may go at once."""
        move_s, move_x = (self._double if len(self.names) == 2 else self._still)(s, x, self._omega(mode))
        damp = np.minimum(1.0, 0.4 / np.maximum(np.abs(move_x).max(axis=1), 1e-300))
        damp = np.minimum(damp, self._reach(mode) / np.maximum(np.abs(move_s), 1e-300))
        return damp * move_s, damp[:, None] * move_x

    def has_settled(self, move_s: ComplexArray, move_x: Array, mode: Mode) -> NDArray[np.bool_]:
        """(P,) of the last steps."""
        small = np.abs(move_s) < SETTLED * self._omega(mode)
        return np.asarray((np.abs(move_x).max(axis=1) < SETTLED) & small)

    def is_sound(self, s: ComplexArray, x: Array, mode: Mode) -> NDArray[np.bool_]:
        """(P,) whether what was found is a damped pole of the mode, by values within their range."""
        k, near = np.sqrt(np.maximum(self.k2, 0.0)), np.abs(np.abs(s) / self._omega(mode) - 1.0)
        within = (s.real < 0.0) & (np.abs(x + self._moved).max(axis=1) < SEARCH_SPAN)
        return np.asarray(within & (near < np.maximum(k, 1e-3) + self._others(mode)))

    def _others(self, mode: Mode) -> Array:
        """(P,) relative reach of what the other groups do to a mode's frequency."""
        theta, c = self.system.theta[self._every, mode], np.diagonal(self.system.capacitance_f, axis1=-2, axis2=-1)
        k2 = theta**2 / (c * self._omega(mode)[:, None] ** 2)
        k2[:, self.group] = 0.0
        return np.asarray(np.sqrt(k2.sum(axis=-1)))

    def at_edges(self, mode: int, x: Array, settled: NDArray[np.bool_]) -> None:
        """Where two poles cannot meet (the dielectric alone damps the circuit more than is best) one value
        goes to the end of its range and the other follows; fills in what that settles."""
        rows = np.flatnonzero(~settled & (self.k2 > 0))
        if len(self.names) != 2 or not len(rows):
            return
        part, best = self.at(rows), np.full(len(rows), -np.inf)
        for k, edge in ((0, -SEARCH_SPAN), (0, SEARCH_SPAN), (1, -SEARCH_SPAN), (1, SEARCH_SPAN)):
            there = np.zeros((len(rows), 2))
            there[:, k] = edge - part._moved[:, k]
            free = Search(part.system_at(there), self.group, [self.names[1 - k]], part.target)
            free.as_shown = self.as_shown
            found, damping, good = free.by_conditions(mode)
            damping = np.where(good, damping, -np.inf)
            there[:, 1 - k] = found[:, 0]
            better = damping > best
            x[rows[better]], settled[rows[better]] = there[better], True
            best = np.maximum(best, damping)

    @cached_property
    def _shifts(self) -> Array:
        """(2 d + 1, 1, d) of the logarithms: none, each up, each down."""
        one = LOG_STEP * np.eye(len(self.names))
        return np.concatenate([0.0 * one[:1], one, -one])[:, None, :]

    @cached_property
    def _held(self) -> dict[str, Array]:
        """The circuit's other values, as `_pair` takes them."""
        values = self.system.connections[self.group].values
        return {n: np.asarray(v)[..., None] for n, v in values.items() if n not in self._start}

    def stands(self, x: Array, asked: NDArray[np.bool_], mode: int, weights: Sequence[float]) -> NDArray[np.bool_]:
        """(P,) of the layouts asked, where no place about x (P, d) has a larger weighted damping: the largest damping
        of one mode is a peak as sharp as a root, and mostly that of a weighted sum too."""
        rows, out = np.flatnonzero(asked), np.zeros(self.count, dtype=bool)
        d = len(self.names)
        ways = np.array([w for w in product((-1.0, 0.0, 1.0), repeat=d) if any(w)])
        about = np.concatenate([np.zeros((1, d)), *(reach * ways for reach in PROBES)])
        if len(rows):
            part = self.at(np.repeat(rows, len(about)))
            value = objective_of(part, mode, "weighted", weights, None)
            found = value(part.system_at(np.repeat(x[rows], len(about), axis=0) + np.tile(about, (len(rows), 1))))
            found = found.reshape(len(rows), -1)
            out[rows] = found[:, 0] <= found[:, 1:].min(axis=1)
        return out

    def _pair(self, s: ComplexArray, x: Array) -> tuple[Any, ...]:
        """Of a and of b the value, the first and second derivative along s, and by every logarithm (lists of d) the first,
        the mixed with s and the second: each (P,), of one layout single numbers."""
        d, h = len(self.names), S_STEP * np.abs(s)
        values = {n: v[..., None] for n, v in self.values_at(x + self._shifts).items()}
        v = np.empty((2, 2 * d + 1, self.count, 3), dtype=complex)
        z: ComplexArray = np.empty(v.shape[1:], dtype=complex)
        z[...] = s[:, None] + h[:, None] * BESIDE
        v[0], v[1] = self.system.connections[self.group].kind.immittance({**self._held, **values}, z)
        if self.count == 1:
            # plain numbers raise where those of arrays turn into nan
            one = max(float(h[0]), 1e-150)
            return tuple(e for side in v[:, :, 0].tolist() for e in _differences(side, one, d))
        return tuple(e for side in np.moveaxis(v, -1, 2) for e in _differences(side, h, d))

    def _to_pole(self, s: ComplexArray, x: Array, omega: Array) -> ComplexArray:
        """Newton step of the pole alone."""
        y, y1, _ = self.source(s, omega)
        a, a1, *_, b, b1, _, _, _, _ = self._pair(s, x)
        return -(b + a * y) / (b1 + a1 * y + a * y1)

    def _through(self, s: ComplexArray, x: Array, omega: Array) -> Array:
        """Step (P, 2) of the values alone to where a pole lies at s."""
        y, _, _, a, _, _, ax, _, _, b, _, _, bx, _, _ = self._numbers(s, x, omega)
        first, second = _real_solution([bx[k] + ax[k] * y for k in range(2)], b + a * y)
        return np.clip(np.stack([self._stacked(first), self._stacked(second)], axis=-1), -0.7, 0.7)

    def _double(self, s: ComplexArray, x: Array, omega: Array) -> tuple[ComplexArray, Array]:
        """Newton step to where F and F' vanish."""
        y, y1, y2, a, a1, a2, ax, a1x, _, b, b1, b2, bx, b1x, _ = self._numbers(s, x, omega)
        f, f1 = b + a * y, b1 + a1 * y + a * y1
        f2 = b2 + a2 * y + 2 * a1 * y1 + a * y2
        turn = f1 / f2
        f1x = [b1x[k] + a1x[k] * y + ax[k] * y1 for k in range(2)]
        # ds from F' = 0, put into F = 0, leaves two real equations for the logarithms.
        left = [bx[k] + ax[k] * y - turn * f1x[k] for k in range(2)]
        first, second = _real_solution(left, f - turn * f1)
        move_s = -(f1 + f1x[0] * first + f1x[1] * second) / f2
        return self._stacked(move_s), np.stack([self._stacked(first), self._stacked(second)], axis=-1)

    def _still(self, s: ComplexArray, x: Array, omega: Array) -> tuple[ComplexArray, Array]:
        """Newton step to where F vanishes and the pole moves straight to or from the origin."""
        y, y1, y2, a, a1, a2, (ax,), (a1x,), (axx,), b, b1, b2, (bx,), (b1x,), (bxx,) = self._numbers(s, x, omega)
        f, f1 = b + a * y, b1 + a1 * y + a * y1
        f2 = b2 + a2 * y + 2 * a1 * y1 + a * y2
        fx, f1x, fxx = bx + ax * y, b1x + a1x * y + ax * y1, bxx + axx * y
        at = s if self.count > 1 else s[0]
        w = fx / (f1 * at)
        w_s = f1x / (f1 * at) - w * (f2 / f1 + 1.0 / at)
        w_x = fxx / (f1 * at) - w * f1x / f1
        # ds = -(F + F_x dx)/F'; Im(w + w_s ds + w_x dx) = 0 gives dx.
        dx = -(w - w_s * f / f1).imag / (w_x - w_s * fx / f1).imag
        return self._stacked(-(f + fx * dx) / f1), self._stacked(dx)[:, None]

    def _numbers(self, s: ComplexArray, x: Array, omega: Array) -> tuple[Any, ...]:
        """Y, Y', Y'' and `_pair`; of one layout as single numbers, which reckon several times as fast as arrays of one."""
        met = self.source(s, omega)
        return (*(met if self.count > 1 else (v[0] for v in met)), *self._pair(s, x))

    def _stacked(self, value: Any) -> Any:
        """(P,) again."""
        return value if self.count > 1 else np.array([value])

    # The simplex

    def by_simplex(
        self, objective: Callable[[Search, NDArray[np.intp]], Objective], budget: Budget, rows: NDArray[np.intp], *,
        over_frequency: bool = False, finely: bool = True,
    ) -> Array:  # fmt: skip
        """(P, d) logarithms at the least objective near the start, as far as the budget goes, of which these layouts have `rows`; `objective` of rows of
        these layouts. From the start's full width also where one branch of several is tuned again: on the floor of a valley a
        narrower one stops where rounding leads it; `finely` False leaves the last digits to another turn. Of one layout whose objective is summed `over_frequency` several points
        cost hardly more than one, where poles are looked for they cost as many times as much."""
        single = self.count == 1 and over_frequency
        part = self.at(np.repeat(self._every, AT_ONCE)) if single else self
        asked = objective(part, np.repeat(self._every, AT_ONCE) if single else self._every)

        def value(x: Array) -> Array:
            beyond = np.abs(x + self._moved).max(axis=-1)
            inside = np.clip(x, -SEARCH_SPAN - self._moved, SEARCH_SPAN - self._moved)
            if single:
                short = -len(x) % AT_ONCE
                points = np.concatenate([inside[:, 0], np.repeat(inside[-1], short, axis=0)])
                each = [asked(part.system_at(points[k : k + AT_ONCE])) for k in range(0, len(points), AT_ONCE)]
                found = np.concatenate(each)[: len(x), None]
            else:
                found = np.stack([asked(part.system_at(one)) for one in inside])
            return np.where(beyond > SEARCH_SPAN, 1e3 + beyond, np.nan_to_num(found, nan=1e2))

        sharp = {p.name for p in self.system.connections[self.group].kind.parameters if p.sharp}
        width = np.stack(
            [
                np.clip(np.sqrt(np.maximum(self.k2, 0.0)), 1e-3, 0.3)
                if n in sharp and len(self.names) > 1
                else np.full(self.count, 0.2)
                for n in self.names
            ],
            axis=-1,
        )
        x, cost = np.zeros((self.count, len(self.names))), 1 if over_frequency else 2
        if len(self.names) > 2:
            # several branches together start where each stands by itself
            return simplex(value, x, 0.2 * width, TOGETHER, ROUGH, budget=budget, rows=rows, cost=cost, at_once=single)
        x = simplex(value, x, width, 60, ROUGH, budget=budget, rows=rows, cost=cost, at_once=single)
        if not finely:
            return x
        return simplex(value, x, 0.02 * width, 40, budget=budget, rows=rows, cost=cost, at_once=single)


def _differences(rows: Any, h: Any, d: int) -> tuple[Any, ...]:
    """Of something at (2 d + 1, 3) points, none of the logarithms moved, each up, each down, by `LOG_STEP`, and s before, here
    and after by h: its value and derivatives in the order of `Search._pair`."""
    along = [(after - before) / (2 * h) for before, _, after in rows]
    (before, here, after), up, down = rows[0], range(1, d + 1), range(d + 1, 2 * d + 1)
    by_x = [(rows[i][1] - rows[j][1]) / (2 * LOG_STEP) for i, j in zip(up, down, strict=True)]
    mixed = [(along[i] - along[j]) / (2 * LOG_STEP) for i, j in zip(up, down, strict=True)]
    by_x2 = [(rows[i][1] - 2 * here + rows[j][1]) / LOG_STEP**2 for i, j in zip(up, down, strict=True)]
    return here, along[0], (after - 2 * here + before) / h**2, by_x, mixed, by_x2


def _real_solution(left: Sequence[Any], right: Any) -> tuple[Any, Any]:
    """Real u, v with left_0 u + left_1 v + right = 0 of complex numbers, or arrays (P,) of them."""
    det = left[0].real * left[1].imag - left[1].real * left[0].imag
    first = -(right.real * left[1].imag - left[1].real * right.imag) / det
    second = -(left[0].real * right.imag - right.real * left[0].imag) / det
    return first, second
