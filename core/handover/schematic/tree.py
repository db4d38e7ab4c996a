"""The parts between two leads as what stands in series and what in parallel: from a network of nodes.

Parts between the same two nodes are joined in parallel, parts that meet alone at a node in series, until one
remains: what every ladder, star of branches or chain comes down to.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass

from core.circuit.network import COMMON, LEAD, Part, What


@dataclass(frozen=True)
class Series:
    """From the lead inwards."""

    parts: tuple[Tree, ...]


@dataclass(frozen=True)
class Parallel:
    """Parts side by side between the same two nodes."""

    parts: tuple[Tree, ...]


@dataclass(frozen=True)
class Simulated:
    """A part that amplifiers take the place of: "negative capacitor" or "inductor"."""

    name: str
    what: What


Tree = Part | Simulated | Series | Parallel
WIRE, NOTHING = Series(()), Parallel(())


@dataclass(frozen=True)
class _Branch:
    tree: Tree
    ends: tuple[str, str]

    def turned_to(self, start: str) -> _Branch:
        """The same, seen from that end."""
        return self if self.ends[0] == start else _Branch(_turned(self.tree), (self.ends[1], self.ends[0]))


def tree_of(network: tuple[Part, ...], simulated: Collection[str] = (), lead: str = LEAD) -> Tree:
    """The tree between a lead and the common return; `simulated` names parts that are drawn as what simulates them.
    Raises ValueError where parts form a bridge."""
    left = [_Branch(Simulated(part.name, part.what) if part.name in simulated else _leaf(part), part.ends) for part in network]
    while len(left) > 1:
        joined = _in_parallel(left) or _in_series(left, lead)
        if joined is None:
            raise ValueError("the parts form a bridge: " + ", ".join(part.name for part in network))
        left = joined
    if not left:
        return NOTHING
    return left[0].turned_to(lead).tree


def _leaf(part: Part) -> Tree:
    """A part; a resistor of nothing that nobody set is a wire."""
    return WIRE if part.what == "resistor" and part.value == 0.0 and not part.parameter else part


def _turned(tree: Tree) -> Tree:
    return Series(tuple(map(_turned, reversed(tree.parts)))) if isinstance(tree, Series) else tree


def _in_parallel(left: list[_Branch]) -> list[_Branch] | None:
    """With the first parts that share both nodes joined."""
    for n, one in enumerate(left):
        same = [other for other in left if set(other.ends) == set(one.ends)]
        if len(same) > 1:
            parts: list[Tree] = []
            for other in same:
                tree = other.turned_to(one.ends[0]).tree
                parts += tree.parts if isinstance(tree, Parallel) else (tree,)
            rest = [other for other in left if other not in same]
            return [*rest[:n], _Branch(Parallel(tuple(parts)), one.ends), *rest[n:]]
    return None


def _in_series(left: list[_Branch], lead: str) -> list[_Branch] | None:
    """With the first two parts that meet alone joined."""
    met = Counter(end for branch in left for end in branch.ends)
    for node, count in met.items():
        if count != 2 or node in (lead, COMMON):
            continue
        first, last = (branch for branch in left if node in branch.ends)
        first = first.turned_to(next(end for end in first.ends if end != node))
        last = last.turned_to(node)
        if last.ends[1] == lead or first.ends[0] == COMMON:
            first, last = last.turned_to(last.ends[1]), first.turned_to(node)
        parts: list[Tree] = []
        for one in (first, last):
            parts += one.tree.parts if isinstance(one.tree, Series) else (one.tree,)
        place = min(n for n, branch in enumerate(left) if node in branch.ends)
        rest = [branch for branch in left if node not in branch.ends]
        return [*rest[:place], _Branch(Series(tuple(parts)), (first.ends[0], last.ends[1])), *rest[place:]]
    return None
