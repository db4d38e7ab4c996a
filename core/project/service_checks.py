"""Problems of loads, temperatures and of what is asked to be shown."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from core.project.ceilings import MOST_MODES
from core.project.checking import Found, Range, number, tell
from core.project.fields import FIELDS
from core.project.model import View
from core.project.ranges import DURATION, FREQUENCY, SERVICE_TEMPERATURE, SHARE
from core.project.service import (
    Asked,
    BaseShock,
    BaseStep,
    Impact,
    Load,
    PointLoad,
    RandomBase,
    Release,
    RootAcceleration,
    Service,
    TipForce,
)
from core.project.sheet import Sheet
from core.project.structure import Structure
from core.project.structure_checks import on_span
from core.units.words import celsius


def service_problems(found: Found, service: Service, span_m: float | None) -> None:
    """Everything wrong with the service description; `span_m` None skips places on the span."""
    if not service.loads:
        tell(found, "service.loads", "There is no load case. Add one, for example a release from 1 mm.")
    elif not 0 <= service.active_load < len(service.loads):
        tell(
            found,
            "service.active_load",
            f"The active load is number {service.active_load + 1} of {len(service.loads)}. "
            "Choose one of the list.",
        )
    for i, load in enumerate(service.loads):
        _load(found, f"service.loads[{i}]", f'Load "{load.name}"', load)
        if span_m is not None and isinstance(load, PointLoad) and load.x_m is not None:
            on_span(
                found, f"service.loads[{i}].x_m", f'Load "{load.name}": place', load.x_m, span_m, "Move it."
            )
    for i, force in enumerate(service.static_forces):
        path, what = f"service.static_forces[{i}]", f'Static force "{force.name}"'
        number(found, f"{path}.force_n", f"{what}: force", force.force_n, FIELDS["static_forces.force_n"].range)
        if span_m is not None and force.x_m is not None:
            on_span(found, f"{path}.x_m", f"{what}: place", force.x_m, span_m, "Move it onto the span.")
    _temperatures(found, service)
    number(
        found,
        "service.settle_to",
        "The settling band",
        service.settle_to,
        SHARE,
        "5 % of the first deflection is usual.",
    )
    asked_problems(found, service.asked, len(service.loads))


def _load(found: Found, path: str, what: str, load: Load) -> None:
    if isinstance(load, TipForce):
        number(found, f"{path}.force_n", f"{what}: force", load.force_n, FIELDS["loads.force_n"].range)
    elif isinstance(load, RootAcceleration):
        number(
            found,
            f"{path}.level_m_s2",
            f"{what}: level",
            load.level_m_s2,
            Range("m/s2", 0.0, 1e7, above=True),
        )
    elif isinstance(load, Release):
        _not_zero(found, f"{path}.deflection_m", f"{what}: deflection", load.deflection_m, "mm", 100.0)
    elif isinstance(load, Impact):
        _not_zero(found, f"{path}.impulse_n_s", f"{what}: impulse", load.impulse_n_s, "N s", 1e6)
        _duration(found, path, what, load.duration_s)
    elif isinstance(load, BaseShock):
        _not_zero(found, f"{path}.peak_m_s2", f"{what}: peak", load.peak_m_s2, "m/s2", 1e7)
        _duration(found, path, what, load.duration_s)
    elif isinstance(load, BaseStep):
        _not_zero(found, f"{path}.level_m_s2", f"{what}: level", load.level_m_s2, "m/s2", 1e7)
    else:
        _spectrum(found, f"{path}.spectrum_hz_m2_s3", what, load)
        return
    low, high = load.band_hz
    fine = number(found, f"{path}.band_hz[0]", f"{what}: lower end of the band", low, FREQUENCY)
    fine &= number(found, f"{path}.band_hz[1]", f"{what}: upper end of the band", high, FREQUENCY)
    if fine and high <= low:
        tell(
            found,
            f"{path}.band_hz",
            f"{what}: the band runs from {low:g} Hz to {high:g} Hz. Swap the two or widen it.",
        )


def _duration(found: Found, path: str, what: str, duration_s: float) -> None:
    number(found, f"{path}.duration_s", f"{what}: duration", duration_s, DURATION)


def _spectrum(found: Found, path: str, what: str, load: RandomBase) -> None:
    table = load.spectrum_hz_m2_s3
    if len(table) < 2:
        tell(
            found, path, f"{what}: its spectrum has {len(table)} of at least 2 points. Add the missing ones."
        )
        return
    fine = True
    for i, (frequency, density) in enumerate(table):
        point = f"{what}: point {i + 1} of the spectrum"
        fine &= number(
            found, f"{path}[{i}][0]", f"{point}, frequency", frequency, FREQUENCY
        )
        number(found, f"{path}[{i}][1]", f"{point}, density", density, FIELDS["spectrum.density_m2_s3"].range)
    for i, (before, after) in enumerate(pairwise(table)):
        if fine and after[0] <= before[0]:
            tell(
                found,
                f"{path}[{i + 1}][0]",
                f"{what}: point {i + 2} of the spectrum is at {after[0]:g} Hz, not above the {before[0]:g} Hz "
                "before it. Put the points in the order of their frequencies.",
            )


def _not_zero(found: Found, path: str, what: str, value: float, unit: str, most: float) -> None:
    if value == 0.0:
        tell(found, path, f"{what} is zero, so nothing moves. Type a value, up positive.")
    else:
        number(found, path, what, value, Range(unit, -most, most))


def _temperatures(found: Found, service: Service) -> None:
    named = (
        ("cold_c", "Coldest", service.cold_c),
        ("reference_c", "Reference", service.reference_c),
        ("hot_c", "Hottest", service.hot_c),
    )
    fine = all(
        [number(found, f"service.{n}", f"{w} service temperature", v, SERVICE_TEMPERATURE) for n, w, v in named]
    )
    if fine and not service.cold_c <= service.reference_c <= service.hot_c:
        tell(
            found,
            "service.cold_c",
            f"Service temperatures are out of order: cold {celsius(service.cold_c)}, reference "
            f"{celsius(service.reference_c)}, hot {celsius(service.hot_c)}. "
            "Cold must not exceed reference, nor that hot.",
        )
    for name, what, value in (
        ("ramp_span_k", "Change of temperature in one go", service.ramp_span_k),
        ("ramp_rate_k_s", "Rate of that change", service.ramp_rate_k_s),
    ):
        if value is not None:
            number(found, f"service.{name}", what, value, FIELDS[f"service.{name}"].range)


ASKED = {
    "peak": (FIELDS["asked.values.peak"].range, "change of the peak", "Type -40 for 40 % less."),
    "damping": (FIELDS["asked.values.damping"].range, "damping", "1 % of critical is much for metal."),
    "settling": (FIELDS["asked.values.settling"].range, "settling time", "Type it in seconds."),
}


def asked_problems(found: Found, asked: Asked, loads: int) -> None:
    """Everything wrong with what is asked for; nothing asked is no problem."""
    if not asked.modes:
        return
    modes, path = asked.modes, "service.asked"
    if any(not 1 <= mode <= MOST_MODES for mode in modes) or sorted(set(modes)) != list(modes):
        told = ", ".join(map(str, modes))
        tell(
            found,
            f"{path}.modes",
            f"Modes {told} are asked for. Name each once, rising, from 1 to {MOST_MODES}: 1, 2.",
        )
    wanted, words, cure = ASKED[asked.quantity]
    if not asked.values or len(asked.values) > len(modes):
        tell(
            found,
            f"{path}.values",
            f"{len(asked.values)} values of {words} are asked for {len(modes)} modes. "
            "Give one for all, or one per mode.",
        )
    for i, value in enumerate(asked.values):
        number(found, f"{path}.values[{i}]", f"The {words} asked for", value, wanted, cure)
    if asked.temperature_c is not None:
        number(
            found,
            f"{path}.temperature_c",
            "The temperature asked for",
            asked.temperature_c,
            SERVICE_TEMPERATURE,
        )
    if asked.load is not None and not 0 <= asked.load < loads:
        tell(
            found,
            f"{path}.load",
            f"What is asked for is under load number {asked.load + 1} of {loads}. Choose one of the list.",
        )


def view_problems(found: Found, view: View, span_m: float | None, *, bare: bool = True) -> None:
    """Everything wrong with what is asked to be shown; `bare` says whether there is a part without patches."""
    if view.before == "bare structure" and not bare:
        told = "The lay-up is empty, so there is no bare structure to compare with. Compare with the patch shorted."
        tell(found, "view.before", told)
    if not 1 <= view.modes_shown <= MOST_MODES:
        tell(
            found,
            "view.modes_shown",
            f"{view.modes_shown} modes are asked for; 1 to {MOST_MODES} can be shown.",
        )
    if view.output_x_m is not None and span_m is not None:
        on_span(found, "view.output_x_m", "The output", view.output_x_m, span_m, "Move it onto the span.")


def sheet_problems(found: Found, sheet: Sheet, structure: Structure) -> None:
    """Everything wrong with the data of the placement diagram."""
    if sheet.datum is not None and sheet.datum not in {d.name for d in structure.datums}:
        tell(
            found,
            "sheet.datum",
            f'The sheet measures from "{sheet.datum}", which is no datum of the part. '
            "Choose one of its datum features.",
        )
    tip, root = sheet.tolerances_x_m
    for name, words, value in (("tolerance_x_m", "along", tip), ("tolerance_x_root_m", "towards the root", root)):
        if name == "tolerance_x_m" or sheet.tolerance_x_root_m is not None:
            # one way may be forbidden, not both
            allowed = replace(FIELDS["sheet.tolerance_x_m"].range, above=max(tip, root) == 0.0)
            number(found, f"sheet.{name}", f"Placement tolerance {words}", value, allowed)
    for name, words, value in (
        ("tolerance_y_m", "across", sheet.tolerance_y_m),
        ("tolerance_angle_rad", "of angle", sheet.tolerance_angle_rad),
    ):
        number(found, f"sheet.{name}", f"Placement tolerance {words}", value, FIELDS[f"sheet.{name}"].range)
