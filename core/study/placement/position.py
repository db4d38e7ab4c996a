"""The strip under the drawing: what each mode's damping would be with the patch starting at x."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from core.beam.mesh import width_crossings
from core.beam.ritz import PROMISED_TO_MANY, SURVEY, Accuracy
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.layout import solve
from core.piezo.without_circuits import WithoutCircuits
from core.predict.predict import bare
from core.predict.use.transducer import Transducer
from core.project.candidate import Candidate
from core.project.model import Project
from core.project.patch import Patch
from core.project.placement.many import Judged, judge
from core.project.placement.room import blocker_beside, free_starts
from core.project.use import Use
from core.stopping import may_stop
from core.study.layouts import Layouts, kept_for, placed
from core.study.placement.between import between

Array = NDArray[np.float64]

MARK_M = 1e-4
"""Places are looked at, and offered, to what a shop can mark."""
BESIDE_M = 1e-6
"""What is this near is in contact."""
PLACES_A_MODE = 6
"""Places worked out first for every mode shown."""
JUMP = 1e-3
"""Of stiffness or mass: the part changes at once."""
REMEMBERED = 3
"""Places last asked for: they stay while a hand is at a circuit."""


@dataclass(frozen=True)
class PositionStrip:
    """Curves over the start of one patch, P positions.

    zeta, k2 : (P, modes), nan as the strains are where the ceramic would hang over the part's edge; allowed : (P,); reasons : why a position is not allowed ('' where it
    is); tension, compression : (P,) largest static strain of each sign under the service forces, both
    positive numbers; best_x_m : (modes,) allowed start of largest damping; held : (modes,) what forbids a
    place that would give more right beside it, '' where nothing does.
    """

    patch: str
    x_start_m: Array
    zeta: Array
    k2: Array
    allowed: NDArray[np.bool_]
    reasons: tuple[str, ...]
    tension: Array
    compression: Array
    best_x_m: Array
    held: tuple[str, ...] = ()
    use: Use = "damp"
    of_use: Array | None = None
    """(P, modes) motion of the output point per volt at each resonance, m/V, where the patch is driven; volts of
    open leads per motion of that point, V/m, where it listens; None where it damps."""


def damping_against_position(
    project: Project,
    candidate_id: str | None,
    patch_id: str,
    n: int = 120,
    modes: int = 5,
    x_start_m: Array | None = None,
) -> PositionStrip:
    """Move the patch from end to end of the span (or over `x_start_m`), everything else as it is.

    Circuits that follow a tuning rule follow it at every position; what is shown at x is what the
    prediction gives there, on `x_start_m` by itself, else within 2e-3 of the largest damping and strain of a curve (3e-3 at a kink of
    the strain) and 6e-3 of the largest K^2 (`between`). Raises KeyError for an unknown candidate or patch.
    """
    candidate = project.candidate(candidate_id)
    candidate.patch(patch_id)
    bonded = WithoutCircuits.of(project, candidate)
    stride = n // (PLACES_A_MODE * modes) if x_start_m is None else 1
    curves = _Curves(project, candidate, patch_id, modes, SURVEY if stride > 1 else PROMISED_TO_MANY, bonded)
    ground = _ground(bonded, patch_id, n) if x_start_m is None else _Ground(bonded, patch_id, x_start_m)
    x, judged = ground.x_start_m, ground.judged
    on_part = ~judged.off_part  # elsewhere the ceramic has no part under all of it, and no section
    if not on_part.any():
        found = curves.none()
    elif stride > 1:
        found = between(x[on_part], stride, ground.bends_m, curves.at)
    else:
        found = curves.at(x[on_part])
    values = np.full((len(x), found.shape[-1]), np.nan)
    values[on_part] = found
    zeta, k2, of_use, strain = curves.parted(values)
    modes = zeta.shape[-1]
    allowed = judged.allowed
    where = np.where(allowed[:, None], np.nan_to_num(zeta), -1.0)
    return PositionStrip(
        patch=patch_id,
        x_start_m=x,
        zeta=zeta,
        k2=k2,
        allowed=allowed,
        reasons=tuple(
            f"A patch starting here would lie {judged.reasons[c]}." if c >= 0 else "" for c in judged.code
        ),
        tension=strain[:, 0],
        compression=strain[:, 1],
        best_x_m=x[where.argmax(axis=0)],
        held=_held(ground, zeta, where.argmax(axis=0)),
        use=project.view.use,
        of_use=of_use,
    )


def _bends(project: Project, candidate: Candidate, patch: Patch) -> Array:
    """Starts at which an end of the patch passes a place where the part changes at once, is held, carries a mass, is as
    wide as the patch, or another package ends."""
    beam = bare(project)
    mesh, spec = beam.mesh, beam.spec
    ends = np.stack([beam.section.bending, beam.section.mass]) @ mesh.rule.to(np.array([0.0, 1.0]))
    before, after = ends[:, :-1, 1], ends[:, 1:, 0]
    jumps = (np.abs(after - before) > JUMP * np.maximum(np.abs(after), np.abs(before))).any(axis=0)
    fixed = [r.x_m for r in spec.restraints] + spec.mass_x_m.tolist() + [a.x_m for a in candidate.absorbers]
    fixed += [x for p in candidate.patches if p.id != patch.id for x in (p.x_start_m, p.x_start_m + p.length_m)]
    beside = project.package(patch.package).beside_m
    wide = width_crossings(spec, (patch.width_m, patch.width_m + 2.0 * beside))
    places = np.concatenate([mesh.bounds_m[1:-1][jumps], fixed, wide])
    return np.concatenate([places, places - patch.length_m])


@dataclass(frozen=True, eq=False)
class _Ground:
    """What the places of a patch say by themselves, whatever hangs on its leads."""

    bonded: WithoutCircuits
    patch_id: str
    x_start_m: Array

    @cached_property
    def _all(self) -> tuple[Project, Candidate, Patch]:
        candidate = self.bonded.candidate()
        return self.bonded.project(), candidate, candidate.patch(self.patch_id)

    @cached_property
    def judged(self) -> Judged:
        return judge(*self._all, self.x_start_m)

    @cached_property
    def bends_m(self) -> Array:
        """Where curves over the start may bend sharply."""
        return _bends(*self._all)

    @cached_property
    def _blockers(self) -> dict[tuple[int, int], str]:
        return {}

    def why_not(self, at: int, way: int) -> str:
        """What ends the way to the next place: "the keep-out "bolt" forbids starting nearer the root"; '' where nothing does."""
        if (at, way) not in self._blockers:
            project, candidate, patch = self._all
            thing = blocker_beside(project, candidate, replace(patch, x_start_m=float(self.x_start_m[at])), way, BESIDE_M)
            side = "root" if way < 0 else "tip"
            self._blockers[at, way] = "" if thing is None else f"{thing.name} forbids starting nearer the {side}"
        return self._blockers[at, way]


@lru_cache(maxsize=REMEMBERED)
def _ground(bonded: WithoutCircuits, patch_id: str, n: int) -> _Ground:
    project, candidate = bonded.project(), bonded.candidate()
    return _Ground(bonded, patch_id, _starts(project, candidate, candidate.patch(patch_id), n))


@lru_cache(maxsize=REMEMBERED)
def _beam_at(
    bonded: WithoutCircuits, temperature_c: float, patch_id: str, x_start_m: bytes, kept: int, accuracy: Accuracy
) -> CoupledBeam:
    """The layouts of a patch starting at places, solved."""
    candidate = bonded.candidate()
    variation = placed(candidate, patch_id, np.frombuffer(x_start_m))
    return solve(bonded.project(), candidate, kept, temperature_c, variation=variation, accuracy=accuracy)


@dataclass
class _Curves:
    """What the strip shows at some places, in columns: damping and K^2 of the modes, what the use asks for, strains."""

    project: Project
    candidate: Candidate
    patch_id: str
    modes: int
    accuracy: Accuracy
    """What is read between places is no nearer than a survey is, which costs less."""
    bonded: WithoutCircuits
    widths: tuple[int, ...] = ()

    def at(self, x: Array) -> Array:
        """(P, V)"""
        project, candidate, modes = self.project, self.candidate, self.modes
        beam = _beam_at(self.bonded, project.at_c(None), self.patch_id, x.tobytes(), kept_for(project, modes), self.accuracy)
        found = Layouts(project, candidate, placed(candidate, self.patch_id, x), beam)
        modes = min(modes, found.beam.n_kept)
        may_stop()
        index = next((j for j, g in enumerate(candidate.groups) for m in g.members if m.patch == self.patch_id), None)
        none = np.zeros((len(x), 0))
        k2 = np.zeros((len(x), modes)) if index is None else found.beam.group_k2[:, :modes, index]
        of_use = None if index is None else _of_use(project, found.beam, index, modes)
        may_stop()
        strains = (_worst(found, self.patch_id, v) for v in (found.static.tension, found.static.compression))
        parts = (found.damping(modes), k2, none if of_use is None else of_use, np.stack(tuple(strains), axis=-1))
        self.widths = tuple(v.shape[-1] for v in parts)
        return np.concatenate(parts, axis=-1)

    def none(self) -> Array:
        """(0, V) of no place."""
        self.widths = (self.modes, self.modes, 0, 2)
        return np.zeros((0, sum(self.widths)))

    def parted(self, values: Array) -> tuple[Array, Array, Array | None, Array]:
        """Damping, K^2, what the use asks for (None where the patch damps) and strains, of columns."""
        zeta, k2, of_use, strain = np.split(values, np.cumsum(self.widths)[:-1], axis=-1)
        return zeta, k2, of_use if of_use.shape[-1] else None, strain


def _of_use(project: Project, beam: CoupledBeam, group: int, modes: int) -> Array | None:
    """(P, modes) what each mode gives or makes at every place; nan where the point stands still."""
    view = project.view
    if view.use == "damp":
        return None
    t = Transducer(beam, group, project.structure.span_m if view.output_x_m is None else view.output_x_m)
    found = np.abs(t.m_per_v(beam.omega_rad_s[..., :modes]) if view.use == "drive" else t.mode_v_per_m()[..., :modes])
    return np.where(np.isfinite(found), found, np.nan)


def _held(ground: _Ground, values: Array, best: NDArray[np.intp]) -> tuple[str, ...]:
    """What keeps each best place from a better one right beside it (`_Ground.why_not`); '' where nothing does.

    values : (P, modes) what is to be large at the places; best : (modes,) index of the best allowed one.
    """
    allowed, count = ground.judged.allowed, len(ground.x_start_m)

    def held(value: Array, at: int) -> str:
        ways = (-1, 1) if allowed[at] else ()
        beside = (w for w in ways if 0 <= at + w < count and not allowed[at + w] and value[at + w] > value[at])
        return next((told for way in beside if (told := ground.why_not(at, way))), "")

    return tuple(held(values[:, m], int(at)) for m, at in enumerate(best))


def _starts(project: Project, candidate: Candidate, patch: Patch, n: int) -> Array:
    """Equal steps from end to end to what a shop can mark, every place of contact, and the present one."""
    last = max(project.structure.span_m - patch.length_m, 0.0)
    free = free_starts(project, candidate, patch)
    exact = {x for ends in free for x in (*ends, patch.x_start_m) if 0.0 <= x <= last}
    steps = np.linspace(0.0, last, max(n - len(exact), 2))
    steps[1:-1] = np.round(steps[1:-1] / MARK_M) * MARK_M
    return np.unique(np.concatenate([steps, sorted(exact)]))


def _worst(found: Layouts, patch_id: str, strain: Array) -> Array:
    """(P,) the largest of one sign over the patch's plates and the service forces."""
    return strain[..., found.plates_of((patch_id,))].max(axis=(1, 2), initial=0.0)
