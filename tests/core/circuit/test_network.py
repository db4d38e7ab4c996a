"""Every kind says its parts, and a source of 100 kohm meets in them what its immittance says."""

from __future__ import annotations

import numpy as np
import pytest

from core.circuit.network import Part, in_line, leads_of
from core.circuit.registry import PORTS
from tests.core.circuit.nodal import admittance


@pytest.mark.parametrize("key", [key for key, kind in PORTS.items() if not kind.worked_out and key != "loop"])
def test_the_parts_of_a_kind_take_the_current_its_immittance_says(key):
    """Not of a loop, whose amplifier is a source and whose other end is another group's."""
    kind = PORTS[key]
    values = {p.name: p.default for p in kind.parameters} | {
        p.name: 2e3 if p.unit == "kohm" else 1e-6 for p in kind.parameters if p.loss
    }
    s = 2j * np.pi * np.geomspace(3.0, 3000.0, 40)
    a, b = kind.immittance(values, s)
    one = a.ndim == s.ndim
    a, b = (a[..., None, None], b[..., None, None]) if one else (a, b)
    n = a.shape[-1]
    y = admittance(kind.network(values), leads_of(n), s)
    y[:, 0, 0] -= s * float(kind.across(values))
    source_s = 1e-5 * np.eye(n)
    right, own = np.broadcast_to(source_s, y.shape), np.broadcast_to(a @ source_s, y.shape)  # numpy 1 takes less for vectors
    held, wanted = np.linalg.solve(y + source_s, right), np.linalg.solve(b + a @ source_s, own)
    assert np.abs(held - wanted).max() < 1e-8
    assert {part.parameter for part in kind.network(values)} - {""} <= set(values)


def test_a_kind_with_values_has_parts():
    assert all(kind.network(kind.complete({})) for kind in PORTS.values() if kind.parameters and not kind.worked_out)


def test_a_wire_is_left_out_of_a_line_but_never_the_whole_line():
    kept = in_line(("R", "resistor", 0.0, "r"), ("L", "inductor", 2.0, "l"))
    assert kept == (Part("L", "inductor", 2.0, ("lead", "0"), "l"),)
    assert len(in_line(("R", "resistor", 0.0, "r"), ("L", "inductor", 0.0, "l"))) == 1
