"""Loops on one mode whose equation is known, and on the lab beam with a sensor above the driver."""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from core.circuit.connect import coupled_system
from core.circuit.loop.law import Amplifier, Control, Law, Timing
from core.circuit.loop.loop import Loop
from core.circuit.system import CoupledSystem
from core.piezo.layout import solve
from core.project.candidate import Circuit, Group, Instrument, Member
from tests.core.circuit.scenes import connection
from tests.core.predict.scenes import lab

WEAK = 1e-3


def one(law: Law, omega: float = 1.0, zeta: float = 0.0, timing: Timing | None = None) -> Loop:
    """x'' + 2 zeta w x' + w^2 x = -G(s) x: coupling so weak that nothing else moves the pole."""
    theta = np.array([[WEAK, WEAK]])
    system = CoupledSystem(
        np.array([omega]),
        np.array([zeta]),
        theta,
        np.diag([1.0, 1.0]),
        np.zeros((2, 2)),
        (connection("open"), connection("shorted")),
    )
    ideal = Amplifier(gain=WEAK**-2, bandwidth_hz=3e3 * omega / (2 * np.pi), output_ohm=1e-6 / omega)
    return Loop(system, 0, 1, Control(law, ideal, timing or Timing()))


def beam(control: Control, *, apart_m: float = 0.0, kept: int = 8) -> Loop:
    """The lab beam, plain: P1 on top drives, P2 listens on the underside, at the same place or further out."""
    project = lab()
    project = replace(project, structure=replace(project.structure, level="plain"))
    candidate = project.candidate()
    above = candidate.patches[0]
    below = replace(above, id="P2", face="underside", x_start_m=above.x_start_m + apart_m)
    groups = (
        Group("G1", (Member("P1", 1),), circuit=Circuit("shorted")),
        Group("G2", (Member("P2", -1),), circuit=Circuit("open"), instrument=Instrument("input", 10e6, 20e-12)),
    )
    candidate = replace(candidate, patches=(above, below), groups=groups)
    project = replace(project, candidates=(candidate,))
    return Loop(coupled_system(solve(project, candidate, n_modes=kept), candidate), 1, 0, control)

