"""Highest responses of many layouts, against samples so dense that nothing lies between."""

from __future__ import annotations

import numpy as np
import pytest

from core.circuit.connect import strengths
from core.circuit.peaks import peak_heights, sizes
from core.project import library
from core.project.edit import with_structure
from core.study.layouts import layouts, placed

MODES = (0, 1)


def dense(system, aim, count=60_001):
    """(P, M) shorted and with the circuits: the largest of so many samples between a mode's neighbours."""
    found = []
    for i in range(system.lead[0]):
        one, at = system.at(np.array([i])), aim.at(np.array([i]))
        omega = one.omega_rad_s[0]
        for mode in MODES:
            low = np.sqrt(omega[mode - 1] * omega[mode]) if mode else 0.3 * omega[0]
            w = np.linspace(low, np.sqrt(omega[mode] * omega[mode + 1]), count)[None]
            found.append([size.max() for size in sizes(one, at, w)])
    before, after = np.array(found).reshape(system.lead[0], len(MODES), 2).transpose(2, 0, 1)
    return before, after


@pytest.mark.parametrize("share", [1.0, 0.3, 0.05])
@pytest.mark.parametrize("key", ["touring-ski", "lab-beam", "louvre-blade"])
def test_a_peak_is_found_however_sharp(key, share):
    """A series R-L at its optimum, and with so much of its resistance at a coil a little off: two peaks, as sharp as the modes
    themselves at the least; between frequencies spread about the mode one lost up to a fifth of its height."""
    project = with_structure(library.example(key), level="plain")
    candidate = project.candidate("C")
    assert candidate.groups[0].circuit.kind == "series R-L"
    patch, span = candidate.patches[0], project.structure.span_m
    x = np.linspace(0.05, 0.5, 9) * (span - patch.length_m)
    found = layouts(project, candidate, placed(candidate, patch.id, x), 5)
    values = found.system.connections[0].values
    off = values["inductance_h"] * np.linspace(0.96, 1.04, len(x))
    system = found.system.with_values(0, {"resistance_ohm": share * values["resistance_ohm"], "inductance_h": off})
    for told, exact in zip(peak_heights(system, found.aim, strengths(found.beam, system), MODES), dense(system, found.aim), strict=True):
        np.testing.assert_allclose(told, exact, rtol=4e-3)  # of two as high as that the other


def test_where_poles_are_not_told_frequencies_are_spread():
    """Two branches have more states than the equation of many takes."""
    project = with_structure(library.example("lab-beam"), level="plain")
    candidate = project.candidate("A")
    found = layouts(project, candidate, placed(candidate, candidate.patches[0].id, np.array([0.005, 0.05])), 5)
    k2 = strengths(found.beam, found.system)
    near = peak_heights(found.system, found.aim, k2, MODES)
    found.system.kept["roots"] = None
    spread = peak_heights(found.system, found.aim, k2, MODES)
    for told, other in zip(near, spread, strict=True):
        np.testing.assert_allclose(told, other, rtol=2e-4)
