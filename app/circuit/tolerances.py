"""How far a value of the circuit may be off, as the tolerance study has it."""

from __future__ import annotations

from msgspec.structs import replace

from core.handover.sheet.package_data import capacitance_tolerance
from core.predict.electrics.price import LEADS
from core.predict.group_result import GroupResult
from core.project.model import Project
from core.study.tolerance.uncertain import uncertain_inputs


def tolerances_of(project: Project, result: GroupResult) -> dict[str, float]:
    """Relative half width by the name of a value, the values in effect taken; of the capacitance on the leads that
    between packages."""
    candidate = project.candidate()
    group = next(g for g in candidate.groups if g.id == result.id)
    circuit = replace(group.circuit, values={one.name: one.value for one in result.values}, tuning=None)
    held = replace(candidate, groups=(replace(group, circuit=circuit),))
    path = f"candidates[{candidate.id}].groups[{group.id}].circuit.values."
    found = {
        one.path.removeprefix(path): one.plus_minus
        for one in uncertain_inputs(project, held)
        if one.path.startswith(path)
    }
    packages = {candidate.patch(member.patch).package for member in group.members}
    spread = max((capacitance_tolerance(project.package(package)) for package in packages), default=0.0)
    return {**found, LEADS: spread}
