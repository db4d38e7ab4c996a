"""Cold, reference and hot: what a fixed circuit does when structure and ceramic change under it.

The circuit is tuned as in the prediction and then held. Permittivity, d31, compliance and moduli
follow their linear coefficients; everything is solved anew at each temperature.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from msgspec.structs import replace

from core.circuit.connect import coupled_system, hold
from core.circuit.kind import is_inductance
from core.circuit.registry import CIRCUITS
from core.circuit.serving import served_by
from core.circuit.spectrum import Spectrum, spectra
from core.circuit.system import CoupledSystem
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.predict.forcing import active_load, forcing
from core.predict.poles import growths_of, mode_dampings
from core.predict.predict import bare, modes_kept
from core.predict.response import Side, sample
from core.project.candidate import Candidate, Group, Tuning
from core.project.model import Project

Name = Literal["cold", "reference", "hot"]
NAMES: tuple[Name, ...] = ("cold", "reference", "hot")

POINTS = 200


@dataclass(frozen=True)
class ModeAt:
    """A mode at one temperature, SI; damping ratios with the circuit held and with it re-trimmed."""

    number: int
    f_short_hz: float
    k2: float
    zeta_before: float
    zeta: float
    """nan when unstable."""
    zeta_retrimmed: float
    peak_change_db: float | None


@dataclass(frozen=True)
class GroupAt:
    """A group at one temperature.

    `detuning` is relative: for a circuit that resonates, its electrical frequency over the
    frequency of the mode it serves, against the same at the reference; for a resistor the same of
    1/(R C omega). `capacitance_shift` is that of the free capacitance against the reference.
    """

    id: str
    mode: int | None
    """The mode (from 1) the circuit serves; None where nothing is tuned."""
    resonant: bool
    blocked_capacitance_f: float
    free_capacitance_f: float
    capacitance_shift: float
    detuning: float | None
    retrimmed: tuple[tuple[str, float], ...]
    """Circuit values that re-trimming at this temperature would give, by the registry's names."""


@dataclass(frozen=True)
class AtTemperature:
    """Everything at one temperature."""

    name: Name
    temperature_c: float
    modes: tuple[ModeAt, ...]
    groups: tuple[GroupAt, ...]


@dataclass(frozen=True)
class TemperatureStudy:
    """One candidate at the three service temperatures, cold first."""

    candidate: str
    points: tuple[AtTemperature, ...]
    constant: tuple[str, ...] = ()
    """Constants in use that have no temperature coefficient: taken as the same at every temperature."""

    def at(self, name: Name) -> AtTemperature:
        return next(p for p in self.points if p.name == name)

    @property
    def is_flat(self) -> bool:
        """Whether nothing changes: no constant in use carries a coefficient, or one temperature."""
        first = self.points[0].modes
        return all(
            a.f_short_hz == b.f_short_hz and a.k2 == b.k2 and (a.zeta == b.zeta or a.zeta != a.zeta)
            for p in self.points[1:]
            for a, b in zip(first, p.modes, strict=True)
        )


def temperature_study(project: Project, candidate_id: str | None = None) -> TemperatureStudy:
    """The candidate (None: the active one) at the service's cold, reference and hot temperature.

    Raises KeyError for an unknown candidate.
    """
    candidate = project.candidate(candidate_id)
    service = project.service
    tuned = _system(project, solve(project, candidate, n_modes=_kept(project)), candidate)
    held = hold(candidate, tuned)
    modes = min(project.view.modes_shown, len(tuned.omega_rad_s))
    served = _served(candidate, tuned, modes)
    wanted = _wanted(candidate, served)
    temperatures = (service.cold_c, service.reference_c, service.hot_c)
    solved = {c: _Solved(project, held, wanted, c, modes) for c in dict.fromkeys(temperatures)}
    reference = solved[service.reference_c]
    return TemperatureStudy(
        candidate.id,
        tuple(
            AtTemperature(
                name,
                celsius,
                solved[celsius].modes(),
                tuple(
                    _group(g, j, served[j], solved[celsius], reference) for j, g in enumerate(held.groups)
                ),
            )
            for name, celsius in zip(NAMES, temperatures, strict=True)
        ),
        without_coefficient(project, candidate),
    )


def without_coefficient(project: Project, candidate: Candidate) -> tuple[str, ...]:
    """Constants of what the candidate is made of that nobody gave a temperature coefficient, in words:
    an assumption of every cold and hot figure."""
    packages = [project.package(p.package) for p in candidate.patches]
    names = [piece.material for layer in project.structure.layers for piece in layer.pieces]
    for patch, package in zip(candidate.patches, packages, strict=True):
        names += [package.lower_skin.material, package.upper_skin.material, patch.bond.material]
    out = [
        f"Young's modulus of {name}"
        for name in dict.fromkeys(names)
        if project.material(name).youngs_modulus_pa.per_kelvin == 0.0
    ]
    for ceramic in {package.ceramic.name: package.ceramic for package in packages}.values():
        for constant, called in (
            (ceramic.d31_c_n, "d31"),
            (ceramic.eps33t_relative, "permittivity"),
            (ceramic.s11e_1_pa, "compliance"),
        ):
            if constant.per_kelvin == 0.0:
                out.append(f"{called} of {ceramic.name}")
    return tuple(out)


def constant_words(study: TemperatureStudy) -> str:
    """The assumption as a sentence, empty where every constant has its coefficient."""
    if not study.constant:
        return ""
    return f"Taken as the same at every temperature, no coefficient given: {', '.join(study.constant)}."


def served_modes(project: Project, candidate: Candidate) -> tuple[int | None, ...]:
    """Per group the mode (from 0) its circuit serves; None where nothing is tuned."""
    beam = solve(project, candidate, n_modes=_kept(project))
    return _served(candidate, _system(project, beam, candidate), project.view.modes_shown)


def _kept(project: Project) -> int:
    """As many as the prediction keeps: the same page shows both."""
    return modes_kept(project, bare(project))


def _system(project: Project, beam: CoupledBeam, candidate: Candidate) -> CoupledSystem:
    return coupled_system(beam, candidate, forcing(beam, active_load(project), project.view).tuning_aim)


def _served(candidate: Candidate, system: CoupledSystem, modes: int) -> tuple[int | None, ...]:
    """The mode (from 0) each circuit serves."""
    return tuple(served_by(system, j, group.circuit.tuning, modes) for j, group in enumerate(candidate.groups))


def _wanted(candidate: Candidate, served: tuple[int | None, ...]) -> Candidate:
    """The candidate with every circuit following its tuning; a fixed one the optimum for its mode. What is
    trimmed takes any value."""

    def tuned(group: Group, mode: int | None) -> Group:
        if mode is None or group.circuit.tuning is not None:
            return group
        return replace(group, circuit=replace(group.circuit, tuning=Tuning(mode + 1, "optimum")))

    groups = tuple(tuned(g, m) for g, m in zip(candidate.groups, served, strict=True))
    return replace(candidate, groups=groups, build=replace(candidate.build, series="exact"))


class _Solved:
    """The candidate at one temperature, with the circuits held and re-trimmed."""

    def __init__(
        self, project: Project, held: Candidate, wanted: Candidate, temperature_c: float, modes: int
    ) -> None:
        self.project = project
        self.n_modes = modes
        self.beam = solve(project, held, n_modes=_kept(project), temperature_c=temperature_c)
        self.system = _system(project, self.beam, held)
        self.retrimmed = _system(project, self.beam, wanted)
        self._temperature_c = temperature_c

    def modes(self) -> tuple[ModeAt, ...]:
        found, again = spectra(self.system, self.n_modes), spectra(self.retrimmed, self.n_modes)
        peaks, before = self._peaks(found)
        zeta, anew = mode_dampings(self.system, found), mode_dampings(self.retrimmed, again)
        if growths_of(self.system, found):
            peaks = (None,) * len(found)
        return tuple(
            ModeAt(
                number=n + 1,
                f_short_hz=float(self.beam.omega_rad_s[n]) / (2 * np.pi),
                k2=float(self.beam.k2[n]),
                zeta_before=before[n],
                zeta=zeta[n],
                zeta_retrimmed=anew[n],
                peak_change_db=peaks[n],
            )
            for n in range(self.n_modes)
        )

    def _peaks(self, found: list[Spectrum]) -> tuple[tuple[float | None, ...], list[float]]:
        """Peak changes and inherent damping of the 'before' the project asks for."""
        view, load = self.project.view, active_load(self.project)
        other = None
        if view.before == "bare structure":
            nothing = Candidate("", "")
            kept = _kept(self.project)
            beam = bare(self.project, kept, self._temperature_c)
            other = Side(coupled_system(beam, nothing), forcing(beam, load, view))
        side = Side(self.system, forcing(self.beam, load, view))
        sampled = sample(side, found, other, modes=self.n_modes, points=POINTS)
        zeta = (other or side).system.zeta
        return sampled.peak_change_db, [float(zeta[min(n, len(zeta) - 1)]) for n in range(self.n_modes)]

    def electrical(self, index: int, mode: int) -> float:
        """What must keep step with the mode: the circuit's frequency over the mode's, or 1/(R C omega)."""
        connection = self.system.connections[index]
        cable = _cable_f(self.system, self.beam, index)
        capacitance = float(self.beam.modal_capacitance_f[mode, index]) + cable
        omega = float(self.beam.omega_rad_s[mode])
        values, kind = connection.numbers, connection.kind
        inductance = next((v for n, v in values.items() if is_inductance(n)), 0.0)
        if inductance > 0.0:
            return (inductance * float(kind.met_f(values, capacitance))) ** -0.5 / omega
        return 1.0 / max(values.get("resistance_ohm", 0.0) * capacitance * omega, 1e-300)


def _cable_f(system: CoupledSystem, beam: CoupledBeam, index: int) -> float:
    """What hangs beside a group's own capacitance: an instrument's cable, F."""
    return float(system.capacitance_f[index, index] - beam.group_corrected_f[index, index])


def _group(group: Group, index: int, mode: int | None, here: _Solved, reference: _Solved) -> GroupAt:
    free, was = (float(s.beam.group_free_f[index, index]) for s in (here, reference))
    kind = CIRCUITS[group.circuit.kind]
    detuning = None
    if mode is not None:
        detuning = here.electrical(index, mode) / reference.electrical(index, mode) - 1.0
    return GroupAt(
        id=group.id,
        mode=None if mode is None else mode + 1,
        resonant=kind.resonates,
        blocked_capacitance_f=float(here.beam.group_blocked_f[index, index]),
        free_capacitance_f=free,
        capacitance_shift=free / was - 1.0 if was else 0.0,
        detuning=detuning,
        retrimmed=tuple(here.retrimmed.connections[index].numbers.items()) if mode is not None else (),
    )

