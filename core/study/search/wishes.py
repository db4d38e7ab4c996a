"""When nothing does what was asked: how close it comes, and what would have to give."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from core import units
from core.project.model import Project
from core.study.search.explore import Effort, explore
from core.study.search.goals import Found, Limits, SearchRequest, Target
from core.study.search.scoring import out_of_place
from core.study.search.templates import templates
from core.units import words

QUICK = Effort(8, 6)
LONGER = 2.0


def target_words(target: Target) -> str:
    """What is asked of a mode, in words."""
    parts = []
    if target.zeta is not None:
        parts.append(f"{words.damping(target.zeta)} damping")
    if target.peak_db is not None:
        parts.append(f"{words.decibel(target.peak_db)} at the peak")
    return " and ".join(parts)


def nothing_found(request: SearchRequest, best: Found) -> str:
    """The answer no, and how close the best layout comes."""
    reached = []
    for target in request.goal.targets:
        parts = []
        if target.zeta is not None:
            parts.append(words.damping(best.zeta[target.mode - 1]))
        if target.peak_db is not None:
            change = best.peak_db[target.mode - 1]
            parts.append("no peak" if change is None else words.decibel(change))
        reached.append(f"mode {target.mode} {' and '.join(parts)} instead of {target_words(target)}")
    return "No layout within these limits meets the targets. The closest gives " + "; ".join(reached) + "."


def too_high_voltage(limits: Limits, least_v: float) -> str:
    """That none of the layouts predicted singly stays below the voltage asked for, and how close it
    comes. Only the single prediction knows the voltage, so no more than that is known."""
    assert limits.largest_voltage_v is not None
    asked, closest = (
        units.show_with_unit(v, "V", significant=3) for v in (limits.largest_voltage_v, least_v)
    )
    return (
        f"None of the best layouts keeps the leads below {asked} under the active load; the closest gives "
        f"{closest}. Allow a "
        "higher voltage, a thinner ceramic, or two patches wired together."
    )


def voltage_would_give(request: SearchRequest) -> str:
    """What the layouts would do that only the largest voltage forbids."""
    then = "the targets can be met" if request.goal.kind == "targets" else "there is a layout"
    return f"With the voltage at the leads left aside: then {then}."


def no_layout(project: Project, request: SearchRequest) -> str:
    """Why there is no layout at all."""
    places = 0
    for template in templates(project, request):
        low, high = np.array(template.low), np.array(template.high)
        tries = low + (high - low) * np.linspace(0.0, 1.0, 201)[:, None]
        if len(template.patches) == 2:
            step = 2 if template.varies_length else 1
            tries[:, step] = tries[::-1, step]
        places += int((out_of_place(project, request.limits, template, tries) <= 0.0).sum())
    if not places:
        return (
            "No layout fits: keep-outs and ends leave no room for these packages on these faces. "
            "Allow another face, a shorter ceramic, or a smaller package."
        )
    return (
        "No layout stays within the limits: there is room, but everywhere the mass, the static strain or "
        "the largest inductance is exceeded. Loosen one of them."
    )


def what_would_have_to_give(
    project: Project, request: SearchRequest, cancelled: Callable[[], bool] | None = None
) -> tuple[str, ...]:
    """One limit given up at a time, by a quick search: does that meet the goal, or how near."""
    out = []
    for told, limits in _loosened(project, request.limits):
        if cancelled is not None and cancelled():
            break
        short = _least_shortfall(project, replace(request, limits=limits))
        if not np.isfinite(short):
            continue
        if request.goal.kind != "targets":
            out.append(f"{told}: then there is a layout.")
        elif short <= 0.0:
            out.append(f"{told}: then the targets can be met.")
        else:
            out.append(f"{told}: still {words.share(round(short, 2))} short of the targets in all.")
    return tuple(out)


def _loosened(project: Project, limits: Limits) -> Iterator[tuple[str, Limits]]:
    if limits.keep_outs and project.structure.keep_outs:
        yield "Without the keep-outs", replace(limits, keep_outs=False)
    if limits.added_mass_kg is not None:
        mass = units.show_with_unit(limits.added_mass_kg, "g")
        yield f"With more added mass than {mass}", replace(limits, added_mass_kg=None)
    if limits.strain_margin > 0.0 and project.service.static_forces:
        yield "With the static strain left aside", replace(limits, strain_margin=0.0)
    if limits.largest_inductance_h is not None:
        yield "With any inductance", replace(limits, largest_inductance_h=None)
    if "series R-L" not in limits.circuits:
        yield "With a series R-L circuit", replace(limits, circuits=(*limits.circuits, "series R-L"))
    if 2 not in limits.patches:
        yield "With two patches", replace(limits, patches=(*limits.patches, 2))
    longest = max(project.package(name).length_m for name in limits.packages)
    if limits.length_m is None:
        wider = (longest, min(LONGER * longest, project.structure.span_m))
        yield (
            f"With a ceramic up to {units.show_with_unit(wider[1], 'mm')} long",
            replace(limits, length_m=wider),
        )


def _least_shortfall(project: Project, request: SearchRequest) -> float:
    """Smallest shortfall of all choices; inf where there is no layout."""
    best = float("inf")
    for template in templates(project, request):
        spots, _ = explore(project, request, template, QUICK, 1)
        best = min([best, *(s.shortfall for s in spots)])
        if best <= 0.0:
            break
    return best
