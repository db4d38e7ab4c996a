"""Problems of circuit values: names the circuit does not know, sizes no part has."""

from __future__ import annotations

from core.circuit.kind import CircuitKind, Parameter
from core.circuit.registry import CIRCUITS
from core.project.candidate import Candidate, Circuit
from core.project.checking import Found, Problem, Range, by_identity, number, tell
from core.units.sentence import inside


@by_identity
def circuit_problems(candidate: Candidate) -> tuple[Problem, ...]:
    """Everything wrong with the values of a candidate's circuits, by the registry's names and ranges."""
    found: Found = []
    for group in candidate.groups:
        path = f"candidates[{candidate.id}].groups[{group.id}].circuit"
        kind = CIRCUITS.get(group.circuit.kind)
        if kind is None:
            told = ", ".join(CIRCUITS)
            words = (
                f'names the circuit "{group.circuit.kind}", which is not known here. Choose one of: {told}.'
            )
            tell(found, f"{path}.kind", f"Group {group.id} {words}")
        else:
            _values(found, path, group.id, kind, group.circuit)
    return tuple(found)


def _values(found: Found, path: str, group: str, kind: CircuitKind, circuit: Circuit) -> None:
    known = {parameter.name: parameter for parameter in kind.parameters}
    for name, value in circuit.values.items():
        parameter = known.get(name)
        if parameter is None:
            told = ", ".join(known) or "none"
            words = f'has a value "{name}", which {inside(kind.label)} does not know'
            tell(
                found,
                f"{path}.values.{name}",
                f"The circuit of group {group} {words}. Its values are: {told}.",
            )
        else:
            what = f"{parameter.label} of group {group}"
            number(found, f"{path}.values.{name}", what, value, range_of(parameter))


def range_of(parameter: Parameter) -> Range:
    """What a value may be."""
    above = parameter.low == 0.0 and not parameter.may_be_zero
    return Range(parameter.unit, parameter.low, parameter.high, above=above)
