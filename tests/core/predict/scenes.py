"""The lab beam with one thing changed, for prediction tests."""

from __future__ import annotations

import dataclasses

import numpy as np
from msgspec.structs import replace

from core.circuit import registry
from core.circuit.connect import coupled_system
from core.circuit.kind import one_lead
from core.piezo.layout import solve
from core.predict.forcing import active_load, forcing
from core.predict.response import Side
from core.project.candidate import Candidate, Circuit, Group, Instrument, Member, Tuning
from core.project.model import Project, View
from core.project.record import Constant
from core.project.service import Impact, Release, RootAcceleration, TipForce
from tests.levels import beam_example

BAND = (5.0, 800.0)
FORCE = TipForce("tip force", 0.1, BAND)
SHAKE = RootAcceleration("shaker", 2.0, BAND)
PLUCK = Release("pluck", 0.005, BAND)
KNOCK = Impact("knock", 0.01, 0.002, BAND)
RESONANT = Circuit("series R-L", tuning=Tuning(mode=1))
RESISTOR = Circuit("resistor", tuning=Tuning(mode=1))


def lab(load=FORCE, circuit: Circuit = RESISTOR, instrument: Instrument | None = None, **view) -> Project:
    """Candidate A of the lab beam under one load with one circuit."""
    project = beam_example("lab-beam")
    candidate = project.candidate("A")
    group = replace(candidate.groups[0], circuit=circuit, instrument=instrument)
    return with_candidate(
        replace(project, service=replace(project.service, loads=(load,), active_load=0), view=View(**view)),
        replace(candidate, groups=(group,)),
    )


def with_candidate(project: Project, candidate: Candidate) -> Project:
    return replace(project, candidates=(candidate,), active=candidate.id)


def pair(project: Project, polarity: int = 1, wiring: str = "parallel") -> Project:
    """Equal patches on the two faces, wired as two members of one group."""
    candidate = project.candidate()
    top = replace(candidate.patches[0], face="top")
    members = (Member(top.id, 1), Member("P2", polarity))
    group = replace(candidate.groups[0], members=members, wiring=wiring)
    return with_candidate(
        project,
        replace(candidate, patches=(top, replace(top, id="P2", face="underside")), groups=(group,)),
    )


def driving_circuit(monkeypatch) -> None:
    """Put a negative resistance in the place of the resistor: what no passive circuit can do."""
    kind = registry.CIRCUITS["resistor"]
    driving = dataclasses.replace(
        kind,
        port=lambda values: one_lead(conductance_s=-1.0 / values["resistance_ohm"]),
        immittance=lambda values, s: (np.full_like(s, -values["resistance_ohm"]), np.ones_like(s)),
    )
    monkeypatch.setitem(registry.CIRCUITS, "resistor", driving)


def two_groups(project: Project, first: Circuit, second: Circuit) -> Project:
    """The root patch and one at mid span, a circuit each."""
    candidate = project.candidate()
    root = candidate.patches[0]
    middle = replace(root, id="P2", x_start_m=0.12)
    groups = (
        Group("G1", (Member(root.id),), circuit=first),
        Group("G2", (Member("P2"),), circuit=second),
    )
    return with_candidate(project, replace(candidate, patches=(root, middle), groups=groups))


def lossless(project: Project) -> Project:
    """No dielectric loss."""
    packages = tuple(
        replace(p, ceramic=replace(p.ceramic, tan_delta=Constant(0.0))) for p in project.packages
    )
    return replace(project, packages=packages)


def side(project: Project, n_modes: int = 10) -> Side:
    """The coupled system and forcing behind a prediction."""
    candidate = project.candidate()
    beam = solve(project, candidate, n_modes=n_modes)
    item = forcing(beam, active_load(project), project.view)
    return Side(coupled_system(beam, candidate, item.aim), item)
