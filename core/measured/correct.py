"""The model corrected to what was measured: few unknowns, weighted, bounded, with what the data cannot tell.

Weighted least squares on frequencies, K^2 and capacitance of the very state measured; never more unknowns than
values. What is left over is shown per value before and after, and a mode may be held back as a check: it is
not fitted, and its residual says whether the correction tells more than it was told.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from msgspec.structs import replace

from core.measured.evaluate import Compared, Evaluation, Inherent
from core.measured.predicted import modes_of, prediction_in
from core.measured.record import Array, MeasuredError
from core.measured.root import with_root
from core.project.at_path import replaced_at, value_at
from core.project.edit import with_candidate
from core.project.material import Material
from core.project.measurement import Bench
from core.project.model import Origin, Project
from core.project.provenance import with_origin
from core.project.structure import Damping, Support
from core.study.tolerance.uncertain import clamp_stiffness
from core.units import show_with_unit, words
from core.units.sentence import inside

Kind = Literal["root", "modulus", "density", "bond", "d31", "permittivity", "damping"]

MODEL_SIGMA = {"frequency": 1e-3, "coupling": 0.02, "capacitance": 0.01, "damping": 0.03}
"""What the model and the repeats of a bench leave at best, relative: nothing is weighted higher."""
ALIKE = 0.95
"""Correlation from which the data cannot tell two unknowns apart."""
TELLS = 1.0
"""An unknown over its whole range must move some value by so many standard deviations."""
SOFTEST = 0.5
"""EI/(k_r L) of the softest root looked for."""
RIGID = 1e-5
"""EI/(k_r L) of a root that nothing measured tells from a rigid one."""
AT_END = 1e-3
"""Share of what is looked at within which a value lies at its end."""


@dataclass(frozen=True)
class Unknown:
    """An input to be found. `low`, `nominal`, `high` are what the fit moves: a flexibility EI/(k_r L), a
    factor, or the logarithm of one; `path` is the input it changes."""

    kind: Kind
    path: str
    label: str
    nominal: float
    low: float
    high: float


@dataclass(frozen=True)
class Value:
    """A measured value to be met, with its relative standard deviation."""

    compared: Compared
    sigma: float

    @property
    def mode(self) -> int | None:
        return self.compared.mode


@dataclass(frozen=True)
class Found:
    """An unknown after the correction: before and after as a person reads them, and its standard deviation."""

    unknown: Unknown
    value: float
    u_value: float
    before: str
    after: str


@dataclass(frozen=True)
class Residual:
    """A value over its prediction less one, before and after; `held_back` where it was not fitted."""

    value: Value
    before: float
    after: float
    held_back: bool


@dataclass(frozen=True, eq=False)
class Correction:
    """The corrected project with what was found, what is left over, and what goes with what."""

    of: Project
    """What was corrected."""
    project: Project
    found: tuple[Found, ...]
    residuals: tuple[Residual, ...]
    correlation: Array
    alike: tuple[str, ...]
    """Sentences on unknowns that the data cannot tell apart."""

    @property
    def misfit_before(self) -> float:
        return _rms([r.before / r.value.sigma for r in self.residuals if not r.held_back])

    @property
    def misfit_after(self) -> float:
        return _rms([r.after / r.value.sigma for r in self.residuals if not r.held_back])

    def into(self, project: Project) -> Project:
        """A later state of the project, of the same model, with what was found; all else stays as it is there."""
        of, new = self.of, self.project
        for candidate in new.candidates:
            if candidate != of.candidate(candidate.id):
                project = with_candidate(project, candidate)
        said = {path: origin for path, origin in new.origins.items() if of.origins.get(path) != origin}
        kept = {path: origin for path, origin in project.origins.items() if path in new.origins or path not in of.origins}
        return replace(
            project, structure=new.structure, materials=new.materials, packages=new.packages, origins={**kept, **said}
        )


def unknowns_of(project: Project, candidate_id: str | None = None) -> tuple[Unknown, ...]:
    """What may be corrected in a candidate, in the order in which it is likely to be wrong."""
    structure, candidate = project.structure, project.candidate(candidate_id)
    out = []
    if structure.root.kind in ("clamped", "elastic"):
        now = 0.0
        if structure.root.kind == "elastic" and structure.root.k_r_nm_rad > 0.0:
            now = float(clamp_stiffness(project, "root", 1.0)) / structure.root.k_r_nm_rad
        out.append(Unknown("root", "structure.root.k_r_nm_rad", "Root stiffness", now, 0.0, max(SOFTEST, 4.0 * now)))
    used = sorted({p.material for layer in structure.layers for p in layer.pieces})
    out += [Unknown("modulus", f"materials[{n}].youngs_modulus_pa", f"Modulus of {n}", 1.0, 0.6, 1.5) for n in used]
    for name in sorted({patch.package for patch in candidate.patches}):
        ceramic = project.package(name).ceramic
        base = f"packages[{name}].ceramic"
        out.append(Unknown("permittivity", f"{base}.eps33t_relative", f"Permittivity of {ceramic.name}", 1.0, 0.6, 1.6))
        out.append(Unknown("d31", f"{base}.d31_c_n", f"d31 of {ceramic.name}", 1.0, 0.6, 1.3))
    for patch in candidate.patches:
        if not patch.bond.rigid:
            path = f"candidates[{candidate.id}].patches[{patch.id}].bond.shear_modulus_pa"
            out.append(Unknown("bond", path, f"Bond of {patch.id}", 0.0, -8.0, 2.0))
    if structure.weighed_mass_kg is None:
        out += [Unknown("density", f"materials[{n}].density_kg_m3", f"Density of {n}", 1.0, 0.7, 1.4) for n in used]
    if not structure.damping.from_loss_factors:
        out.append(Unknown("damping", "structure.damping.ratios", "Inherent damping", 1.0, 0.0, 1.0))
    return tuple(out)


def values_of(evaluation: Evaluation) -> tuple[Value, ...]:
    """What a correction may be fitted to: shorted frequencies and damping, K^2 and capacitance."""
    out = []
    for c in evaluation.compared:
        if c.quantity == "frequency" and c.state != "shorted":
            continue
        if c.quantity == "damping" and c.state != "shorted":
            continue
        own = abs(c.uncertainty / c.measured) if c.measured else math.inf
        out.append(Value(c, math.hypot(own, MODEL_SIGMA[c.quantity])))
    return tuple(v for v in out if math.isfinite(v.sigma))


def reasons(
    project: Project, values: tuple[Value, ...], bench: Bench, candidate_id: str | None = None
) -> dict[str, str]:
    """By path, why an unknown cannot be told from these values alone; missing where it can."""
    listed = [u for u in unknowns_of(project, candidate_id) if u.kind != "damping"]
    fitted = tuple(v for v in values if v.compared.quantity != "damping")
    out = {}
    if not any(v.compared.quantity == "damping" for v in values):
        out["structure.damping.ratios"] = "no damping was measured with the leads shorted"
    if not fitted:
        return out | {u.path: "nothing was measured that it changes" for u in listed}
    model = _Model(project, fitted, bench, candidate_id)
    base = model.residuals((), ())
    for u in listed:
        step = 0.1 * (u.high - u.low)
        moved = model.residuals((u,), (min(u.nominal + step, u.high),))
        if float(np.abs(moved - base).max()) * (u.high - u.low) / step < TELLS:
            out[u.path] = "moves no value by more than its uncertainty"
    return out


def correct(
    project: Project,
    values: tuple[Value, ...],
    chosen: tuple[Unknown, ...],
    *,
    bench: Bench | None = None,
    candidate_id: str | None = None,
    held_back: int | None = None,
    source: str = "",
    inherent: tuple[Inherent, ...] = (),
) -> Correction:
    """The project with the chosen unknowns found, marked as measured from `source`.

    `held_back` is a mode whose values are not fitted. `inherent` tells where damping depends on the swing: the
    small one is taken for the prediction, the large one for service. MeasuredError where there are more unknowns than
    values, or none of either.
    """
    bench = bench or Bench()
    fitted = tuple(v for v in values if v.mode is None or v.mode != held_back)
    damped = any(u.kind == "damping" for u in chosen)
    moved = tuple(u for u in chosen if u.kind != "damping")
    used = tuple(v for v in fitted if v.compared.quantity != "damping")
    if not chosen:
        raise MeasuredError("Nothing is ticked. Tick what may be wrong; the root is the first to ask.")
    if len(moved) > len(used):
        raise MeasuredError(
            f"{len(moved)} unknowns cannot be found from {len(used)} measured values. Untick {len(moved) - len(used)}, or measure more modes."
        )
    corrected, x, cov = project, np.zeros(0), np.zeros((0, 0))
    if moved:
        x, cov = _fit(_Model(project, used, bench, candidate_id), moved)
        corrected = _with(project, moved, tuple(x.tolist()))
    if damped:
        corrected = _with_damping(corrected, fitted, inherent)
    before, after = (
        _Model(p, values, bench, candidate_id).residuals((), ()) * [v.sigma for v in values] for p in (project, corrected)
    )
    sigma = np.sqrt(np.maximum(np.diag(cov), 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        correlation = np.nan_to_num(cov / np.outer(sigma, sigma))
    found = [_told(project, corrected, u, v, s) for u, v, s in zip(moved, x.tolist(), sigma.tolist(), strict=True)]
    found += [_told(project, corrected, u, 1.0, 0.0) for u in chosen if u.kind == "damping"]
    for u in chosen:
        corrected = _marked(corrected, u, source, next((f for f in found if f.unknown is u), None))
    return Correction(
        project,
        corrected,
        tuple(found),
        tuple(
            Residual(v, float(b), float(a), held_back is not None and v.mode == held_back)
            for v, b, a in zip(values, before, after, strict=True)
        ),
        correlation,
        tuple(_alike(moved, correlation)),
    )


# ---- fitting -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Model:
    project: Project
    values: tuple[Value, ...]
    bench: Bench
    candidate_id: str | None

    def residuals(self, moved: tuple[Unknown, ...], x: tuple[float, ...]) -> Array:
        """(values,) measured over predicted less one, in standard deviations."""
        project = _with(self.project, moved, x)
        drawn = prediction_in(project, "shorted", self.bench, self.candidate_id)
        f = {m.number: m.f_hz for m in modes_of(drawn)}
        zeta = {m.number: m.zeta_inherent for m in drawn.modes}
        k2 = {m.number: m.k2 for m in drawn.modes}
        if self.bench.instrument is not None and any(v.compared.quantity == "coupling" for v in self.values):
            hung = prediction_in(project, "open", self.bench, self.candidate_id)
            k2 = {m.number: (m.f_hz / f[m.number]) ** 2 - 1.0 for m in modes_of(hung)}
        out = []
        for v in self.values:
            c = v.compared
            if c.quantity == "capacitance":
                predicted = next(m.capacitance_f for m in drawn.groups[0].metered if m.frequency_hz == c.at_hz)
            elif c.mode is None or c.mode not in f:
                predicted = c.predicted
            elif c.quantity == "frequency":
                predicted = f[c.mode]
            elif c.quantity == "damping":
                predicted = zeta[c.mode]
            else:
                predicted = k2[c.mode]
            out.append((c.measured / predicted - 1.0) / v.sigma if predicted > 0.0 else 0.0)
        return np.array(out)


def _fit(model: _Model, moved: tuple[Unknown, ...]) -> tuple[Array, Array]:
    """Values of the unknowns and their covariance, enlarged where the model cannot meet the values."""
    from scipy.optimize import least_squares  # slow to import, needed only here

    low, high = np.array([u.low for u in moved]), np.array([u.high for u in moved])
    size = high - low

    def of(s: Array) -> Array:
        return model.residuals(moved, tuple((low + size * (s - 1.0)).tolist()))

    # from 1 to 2 rather than from 0: steps of differences are relative, and a rigid root stands at the end
    start = 1.0 + np.clip((np.array([u.nominal for u in moved]) - low) / size, 1e-2, 1.0 - 1e-2)
    # a millionth of what is left over is a thousandth of a standard deviation: nothing measured tells more
    out = least_squares(of, start, bounds=(1.0, 2.0), diff_step=1e-5, xtol=1e-6, ftol=1e-6, max_nfev=60)
    freedom = len(model.values) - len(moved)
    enlarged = max(2.0 * out.cost / freedom, 1.0) if freedom > 0 else 1.0
    covariance = np.linalg.pinv(out.jac.T @ out.jac, rcond=1e-12) * enlarged
    return low + size * (out.x - 1.0), covariance * np.outer(size, size)


def _alike(moved: tuple[Unknown, ...], correlation: Array) -> list[str]:
    return [
        f"The data cannot tell {inside(a.label)} from {inside(b.label)}: "
        f"correlation {words.fixed(float(correlation[i, j]), 2)}. Keep one of them, or measure what only one changes."
        for i, a in enumerate(moved)
        for j, b in enumerate(moved[:i])
        if abs(correlation[i, j]) >= ALIKE
    ]


# ---- into the project --------------------------------------------------------------------------


def _with(project: Project, moved: tuple[Unknown, ...], x: tuple[float, ...]) -> Project:
    for u, value in zip(moved, x, strict=True):
        project = _CHANGES[u.kind](project, u.path, value)
    return project


def _with_flexibility(project: Project, path: str, value: float) -> Project:
    if value <= RIGID:
        return with_root(project, Support("clamped"))
    root = project.structure.root
    unit = float(clamp_stiffness(project, "root", 1.0))
    k_t = root.k_t_n_m if root.kind == "elastic" and root.k_t_n_m > 0.0 else 1e7 * unit / project.structure.span_m**2
    return with_root(project, Support("elastic", float(f"{k_t:.3g}"), unit / value))


def _scaled_constant(project: Project, path: str, factor: float) -> Project:
    constant = value_at(project, path)
    project = replaced_at(project, path, replace(constant, value=constant.value * factor))
    if path.endswith(".youngs_modulus_pa"):  # a wood or a laminate is off along and across alike
        place = path.removesuffix(".youngs_modulus_pa")
        material: Material = value_at(project, place)
        if material.youngs_modulus_across_pa is not None:
            across = material.youngs_modulus_across_pa
            wider = replace(across, value=across.value * factor)
            project = replaced_at(project, f"{place}.youngs_modulus_across_pa", wider)
    return project


def _scaled_log(project: Project, path: str, log: float) -> Project:
    return replaced_at(project, path, float(value_at(project, path) * math.exp(log)))


_CHANGES: dict[Kind, Callable[[Project, str, float], Project]] = {
    "root": _with_flexibility, "modulus": _scaled_constant, "density": _scaled_constant, "d31": _scaled_constant,
    "permittivity": _scaled_constant, "bond": _scaled_log,
}  # fmt: skip


def _with_damping(project: Project, values: tuple[Value, ...], inherent: tuple[Inherent, ...]) -> Project:
    """Inherent damping as measured, mode by mode; modes that were not measured keep what they had."""
    old = project.structure.damping
    measured = {v.mode: v.compared.measured for v in values if v.compared.quantity == "damping" and v.mode is not None}
    if not measured:
        return project
    count = max(max(measured), len(old.ratios))
    ratios = [old.ratios[min(n, len(old.ratios) - 1)] for n in range(count)]
    for mode, zeta in measured.items():
        ratios[mode - 1] = float(f"{max(zeta, 0.0):.4g}")
    if len(old.ratios) <= max(measured):  # the last one serves all higher modes, as before
        ratios.append(old.ratios[-1])
    large = list(old.service_ratios)
    for one in inherent:
        if one.mode in measured and one.small is not None and one.large is not None:
            large = [*(large or ratios), *ratios[len(large or ratios) :]]
            ratios[one.mode - 1], large[one.mode - 1] = float(f"{one.small:.4g}"), float(f"{one.large:.4g}")
    damping: Damping = replace(old, ratios=tuple(ratios), service_ratios=tuple(large))
    return replace(project, structure=replace(project.structure, damping=damping))


def _marked(project: Project, u: Unknown, source: str, found: Found | None) -> Project:
    told = source or "measured on the bench"
    if u.kind == "root":
        origins = {p: o for p, o in project.origins.items() if p not in ("structure.root", "structure.root.kind")}
        tolerance = found.u_value / found.value if found is not None and found.value > 0.0 else None
        path = u.path if project.structure.root.kind == "elastic" else "structure.root.kind"
        origins[path] = Origin("measured", told, tolerance)
        return replace(project, origins=origins)
    return with_origin(project, u.path, "measured", told)


def _told(before: Project, after: Project, u: Unknown, value: float, sigma: float) -> Found:
    if u.kind == "root":
        root = before.structure.root
        was = "rigid" if root.kind != "elastic" else show_with_unit(root.k_r_nm_rad, "N m/rad", significant=3)
        if after.structure.root.kind != "elastic":
            return Found(u, value, sigma, was, "rigid, as far as can be told")
        k_r = after.structure.root.k_r_nm_rad
        spread = k_r * min(sigma / value, 9.99)
        now = _spread(u, value, show_with_unit(k_r, "N m/rad", significant=3), f"± {words.significant(spread, 2)}")
        return Found(u, value, sigma, was, now)
    if u.kind == "damping":
        ratios = before.structure.damping.ratios, after.structure.damping.ratios
        return Found(u, value, sigma, *map(_ratios, ratios))
    if u.kind == "bond":
        was, now = (words.engineering(value_at(project, u.path), "Pa") for project in (before, after))
        return Found(u, value, sigma, was, _spread(u, value, now, f"times or over {words.significant(math.exp(min(sigma, 9.0)), 2)}"))
    old, new = value_at(before, u.path).value, value_at(after, u.path).value
    unit = _UNITS[u.kind]
    share = words.share(abs(old * sigma / new)) if new else ""
    return Found(u, value, sigma, _shown(old, unit), _spread(u, value, _shown(new, unit), f"± {share}"))


def _spread(u: Unknown, value: float, shown: str, uncertainty: str) -> str:
    """What was found with its uncertainty; at an end of what is looked at there is none to speak of, and that is said."""
    at_end = min(value - u.low, u.high - value) <= AT_END * (u.high - u.low)
    return f"{shown}, the end of what is looked at" if at_end else f"{shown} {uncertainty}"


_UNITS = {"modulus": "GPa", "density": "kg/m3", "d31": "pm/V", "permittivity": "1"}


def _shown(value: float, unit: str) -> str:
    return show_with_unit(value, unit, significant=4)


def _ratios(ratios: tuple[float, ...]) -> str:
    return ", ".join(words.unitless(words.damping(r)) for r in ratios[:4]) + " %"


def _rms(values: list[float]) -> float:
    return math.sqrt(sum(v * v for v in values) / len(values)) if values else 0.0
