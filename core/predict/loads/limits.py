"""Checks of every patch against its package's allowables and of every tuned mass against its stroke, worst
margin first.

Static: each service force by exact static compliance, leads that nothing conducts across holding their charge
(`core.circuit.at_rest`) and all others at rest (V = 0); the voltage the bend makes on open leads, and as they are
wired where that is more. Heat: the field it makes with what hangs on the leads. In vibration: the active load
with the circuits. Strain is that of the ceramic on the section free across, along and across
(`core.piezo.ceramic_strain`), at the worst point of its thickness and length.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.at_rest import held_ports, volts_at_rest
from core.circuit.system import CoupledSystem
from core.piezo.ceramic_strain import ALONG
from core.piezo.coupled_beam import CoupledBeam
from core.piezo.package import CeramicPlate
from core.predict.fields import Fields
from core.predict.forcing import load_words, place, point_is_held
from core.predict.loads.heat import plate_heat_v, ramp_of
from core.predict.loads.limit_words import STROKE
from core.predict.loads.loading import Vibration
from core.predict.prediction import Limit
from core.project.candidate import Absorber
from core.project.record import Constant
from core.project.service import Load, Service, StaticForce
from core.units import words

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Check:
    """One loading of one ceramic, before the worst of its kind is chosen."""

    name: str
    value: float
    allowed: Constant
    unit: str
    x_m: float | None
    load: str
    at_limit: str

    @property
    def margin(self) -> float:
        return self.allowed.value / abs(self.value) if self.value else float("inf")


@dataclass(frozen=True)
class StaticBend:
    """A static force on the beam: the displacement vector (n,) it makes."""

    force: StaticForce
    vector: Array
    curvature: Array
    """(e, s) 1/m."""
    open_voltage: Array
    """(J,) V on each ceramic with its leads open."""
    voltage: Array
    """(J,) V on each ceramic as it is wired."""
    words: str

    def at_limit(self, margin: float) -> str:
        if not np.isfinite(margin):
            return ""
        return f"{words.engineering(abs(self.force.force_n) * margin, 'N')} {'up' if self.force.force_n > 0 else 'down'}"


@dataclass(frozen=True)
class OpenBend:
    """What a static force makes on open leads: lead_voltage (G,) V across the leads of each group, these open and the
    others' shorted; plate_voltage (J,) V on each ceramic, all leads open; charge_c (P,) out of every port, shorted."""

    words: str
    lead_voltage: Array
    plate_voltage: Array
    charge_c: Array


def open_bends(beam: CoupledBeam, service: Service) -> tuple[OpenBend, ...]:
    """Of the service's static forces, one at a time."""
    forces, vectors = _bent(beam, service)
    if not forces:
        return ()
    leads = vectors @ beam.group_theta_rows.T / np.maximum(np.diag(beam.group_free_f), 1e-300)
    plates, charges = open_voltages(beam, vectors), vectors @ beam.port_rows.T
    return tuple(OpenBend(_words_of(beam, f), leads[i], plates[i], charges[i]) for i, f in enumerate(forces))


def idle_forces(beam: CoupledBeam, service: Service) -> tuple[StaticForce, ...]:
    """Static forces on a part that is held, at points that cannot move: they bend nothing."""
    rows = _rows(beam, service)
    return tuple(f for f, row in zip(service.static_forces, rows, strict=False) if _is_idle(beam, row))


def _bent(beam: CoupledBeam, service: Service) -> tuple[tuple[StaticForce, ...], Array]:
    """The static forces that bend a part that is held, and the displacement vectors (k, n) under each."""
    rows = _rows(beam, service)
    bending = [(f, f.force_n * row) for f, row in zip(service.static_forces, rows, strict=False) if not _is_idle(beam, row)]
    return tuple(f for f, _ in bending), np.array([vector for _, vector in bending])


def _rows(beam: CoupledBeam, service: Service) -> Array:
    """(k, n) deflection where the static forces act; none on a part that nothing holds."""
    if not service.static_forces or not _is_held(beam):
        return np.zeros((0, 0))
    return np.asarray(beam.deflection_row(np.array([_at(beam, force) for force in service.static_forces])))


def _is_idle(beam: CoupledBeam, row: Array) -> bool:
    return point_is_held(beam, row, np.zeros(1))


def _at(beam: CoupledBeam, force: StaticForce) -> float:
    return beam.spec.span_m if force.x_m is None else force.x_m


def _words_of(beam: CoupledBeam, force: StaticForce) -> str:
    size, way = words.engineering(abs(force.force_n), "N"), "up" if force.force_n > 0 else "down"
    return f"{force.name}, {size} {way} at {place(_at(beam, force), beam.spec.span_m)}"


def static_bends(over_x: Fields, service: Service, system: CoupledSystem) -> tuple[StaticBend, ...]:
    """The service's static forces applied to the beam one at a time; leads that hold their charge stiffen it (behind a
    negative capacitance in line they make it softer), any circuit that conducts has let the charge go."""
    beam = over_x.beam
    forces, vectors = _bent(beam, service)
    if not forces:
        return ()
    voltages = open_voltages(beam, vectors)
    lead = volts_at_rest(system, vectors @ beam.port_rows.T)
    vectors = vectors - lead @ beam.port_rows
    curvatures = over_x.curvature_of(vectors)
    stretches = lead[:, : len(beam.group_ids)] @ beam.terminals.combine.T
    return tuple(
        StaticBend(f, vectors[i], curvatures[i], voltages[i], stretches[i], _words_of(beam, f))
        for i, f in enumerate(forces)
    )


def open_voltages(beam: CoupledBeam, vectors: Array) -> Array:
    """(k, J) voltage on every ceramic with all leads open, under static displacements (k, n)."""
    if not beam.plates:
        return np.zeros((len(vectors), 0))
    return np.linalg.solve(beam.free_f, (vectors @ beam.theta_rows.T).T).T.astype(float)


def _is_held(beam: CoupledBeam) -> bool:
    return beam.n_rigid == 0


def check_limits(
    over_x: Fields,
    system: CoupledSystem,
    vibration: Vibration,
    bends: tuple[StaticBend, ...],
    load: Load,
    service: Service,
    absorbers: tuple[Absorber, ...] = (),
) -> tuple[Limit, ...]:
    """Every limit of every patch, of a pair the worse ceramic; the stroke of every tuned mass with a limit."""
    found: dict[tuple[str, str], Limit] = {}
    for j, plate in enumerate(over_x.beam.plates):
        checks = [
            *_static_checks(over_x, plate, j, bends),
            *_vibration_checks(plate, j, vibration, load),
            *_heat_checks(over_x.beam, plate, j, system, service),
            *_temperature_checks(plate, service),
        ]
        for check in checks:
            key = (plate.patch, check.name)
            if key not in found or check.margin < found[key].margin:
                found[key] = _limit(check, plate.patch)
    strokes = _stroke_checks(vibration, load, absorbers)
    return tuple(sorted((*found.values(), *strokes), key=lambda item: item.margin))


def _stroke_checks(vibration: Vibration, load: Load, absorbers: tuple[Absorber, ...]) -> list[Limit]:
    """How far each tuned mass moves against the structure, of how far it may."""
    out = []
    for absorber, stroke in zip(absorbers, _last(vibration.inside, len(absorbers)), strict=True):
        allowed = absorber.allowed_stroke_m
        if allowed is not None:
            at_limit = load_words(load, allowed / stroke) if 0.0 < stroke < np.inf else ""
            check = _Check(STROKE, stroke, Constant(allowed, source="room for the mass"), "m", absorber.x_m, vibration.words, at_limit)
            out.append(_limit(check, absorber.id))
    return out


def _last(values: Array, count: int) -> list[float]:
    return list(values[len(values) - count :].tolist())


def _limit(check: _Check, patch: str) -> Limit:
    return Limit(
        name=check.name,
        patch=patch,
        value=check.value,
        allowable=check.allowed.value,
        unit=check.unit,
        margin=check.margin,
        x_m=check.x_m,
        load=check.load,
        load_at_limit=check.at_limit,
        source=_source(check.allowed),
    )


def _source(allowed: Constant) -> str:
    return f"{allowed.source} ({allowed.status})" if allowed.source else allowed.status


def _static_checks(
    over_x: Fields, plate: CeramicPlate, j: int, bends: tuple[StaticBend, ...]
) -> list[_Check]:
    limits = plate.package.limits
    elements = over_x.under(plate)
    out: list[_Check] = []
    if len(elements) == 0:
        return out
    own = over_x.strains[j]
    per_curvature, per_volt = own.bend[:, elements], own.volt[:, :, elements]
    x = over_x.x_m[elements].ravel()
    for bend in bends:
        strain = per_curvature * bend.curvature[elements] + np.tensordot(bend.voltage, per_volt, axes=1)
        flat = strain.reshape(len(strain), -1)
        highest, lowest = flat.max(axis=0), flat.min(axis=0)
        pull, push = int(highest.argmax()), int(lowest.argmin())
        if highest[pull] > 0:
            out.append(
                _of_bend("Tensile strain, static", highest[pull], limits.tensile_strain, "1", x[pull], bend)
            )
        if lowest[push] < 0:
            out.append(
                _of_bend(
                    "Compressive strain, static", lowest[push], limits.compressive_strain, "1", x[push], bend
                )
            )
        volts, wired = float(bend.open_voltage[j]), float(bend.voltage[j])
        out.append(_field(plate, volts, "leads open", bend))
        if abs(wired) > abs(volts) * (1 + 1e-9) or wired * volts < 0.0:  # behind a negative capacitance, or beside a patch that is strained more
            out.append(_field(plate, wired, "static", bend))
        out += _shear(plate, strain[ALONG].mean(axis=0), over_x.x_m[elements], bend)
    return out


def _field(plate: CeramicPlate, volts: float, state: str, bend: StaticBend) -> _Check:
    field, limits = volts / plate.thickness_m, plate.package.limits
    allowed, side = (limits.field_along_v_m, "along") if field > 0 else (limits.field_against_v_m, "against")
    return _of_bend(f"Field {side} the poling, {state}", field, allowed, "V/m", None, bend)


def _of_bend(
    name: str, value: float, allowed: Constant, unit: str, x: float | None, bend: StaticBend
) -> _Check:
    margin = allowed.value / abs(value) if value else float("inf")
    return _Check(
        name, float(value), allowed, unit, None if x is None else float(x), bend.words, bend.at_limit(margin)
    )


def _shear(plate: CeramicPlate, strain: Array, x: Array, bend: StaticBend) -> list[_Check]:
    """Bond shear at the ends from the mid-plane strain there: E_p t_p Gamma |e| (the ceramic's
    force builds up as 1 - exp(-Gamma x), Crawley & de Luis 1987)."""
    out = []
    ends = ((plate.shear_lag_m[0], strain[0, 0], x[0, 0]), (plate.shear_lag_m[1], strain[-1, -1], x[-1, -1]))
    for lag, value, at in ends:
        if lag > 0:
            stress = plate.coefficients.modulus_pa * plate.thickness_m / lag * abs(float(value))
            out.append(
                _of_bend(
                    "Bond shear at the ends, static",
                    stress,
                    plate.package.limits.bond_shear_pa,
                    "Pa",
                    float(at),
                    bend,
                )
            )
    return out


def _vibration_checks(plate: CeramicPlate, j: int, vibration: Vibration, load: Load) -> list[_Check]:
    """Of a strain or a field that swings both ways the side with less room counts."""
    limits, state = plate.package.limits, vibration.plates[j]
    low, high = state.strain
    strains = [("Strain in vibration", high, limits.tensile_strain, "1", state.strain_x_m[1]),
               ("Strain in vibration", low, limits.compressive_strain, "1", state.strain_x_m[0])]  # fmt: skip
    against, along = (v / plate.thickness_m for v in state.voltage)
    fields = [("Field along the poling, in vibration", along, limits.field_along_v_m, "V/m", None),
              ("Field against the poling, in vibration", against, limits.field_against_v_m, "V/m", None)]  # fmt: skip
    shears = [
        ("Bond shear at the ends, in vibration", state.shear_pa, limits.bond_shear_pa, "Pa", state.shear_x_m)
    ]
    out = []
    for pair in (strains, fields, shears):
        checks = [
            _Check(name, value, allowed, unit, x, vibration.words, load_words(load, allowed.value / abs(value)) if np.isfinite(value) else "")
            for name, value, allowed, unit, x in pair
            if value
        ]
        if checks:
            out.append(min(checks, key=lambda check: check.margin))
    return out


def _heat_checks(
    beam: CoupledBeam, plate: CeramicPlate, j: int, system: CoupledSystem, service: Service
) -> Iterator[_Check]:
    """Field that a change of temperature makes, with what hangs on the leads; through something that conducts a
    change whose rate nobody stated has leaked away."""
    ramp = ramp_of(service)
    if ramp is None or (ramp.time_s == 0.0 and not _holds(beam, system, j)):
        return
    limits = plate.package.limits
    heated = float(plate_heat_v(beam, system, ramp)[j]) / plate.thickness_m
    for field in (heated, -heated):
        allowed, side = (limits.field_along_v_m, "along") if field > 0 else (limits.field_against_v_m, "against")
        if field:
            at = f"{words.significant(ramp.span_k * allowed.value / abs(field))} K" if np.isfinite(field) else ""
            yield _Check(f"Field {side} the poling, by heat", field, allowed, "V/m", None, ramp.words, at)


def _holds(beam: CoupledBeam, system: CoupledSystem, j: int) -> bool:
    """Whether a ceramic is wired into a group whose leads hold their charge."""
    held = [port for port in held_ports(system) if port < len(beam.group_ids)]
    return bool(beam.terminals.combine[j, held].any())


def _temperature_checks(plate: CeramicPlate, service: Service) -> list[_Check]:
    """Margin: allowed distance from the reference temperature over the distance in service."""
    cold, hot = plate.package.limits.temperature_c
    out = []
    for name, value, allowed in (("cold", service.cold_c, cold), ("hot", service.hot_c, hot)):
        out.append(
            _TemperatureCheck(
                f"Temperature, {name} end",
                value,
                Constant(allowed, status="data sheet", source="package"),
                "degC",
                None,
                "service range",
                words.celsius(allowed),
                service.reference_c,
            )
        )
    return list(out)


@dataclass(frozen=True)
class _TemperatureCheck(_Check):
    reference_c: float = 20.0

    @property
    def margin(self) -> float:
        used, allowed = self.value - self.reference_c, self.allowed.value - self.reference_c
        if used == 0 or used * allowed <= 0:
            return float("inf") if used == 0 else 0.0
        return allowed / used
