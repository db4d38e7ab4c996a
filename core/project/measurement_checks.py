"""Numbers of a measurement that cannot be, told in words; they keep a verdict back, never the prediction."""

from __future__ import annotations

from core.project.checking import Found, number
from core.project.fields import FIELDS
from core.project.measurement import MeasuredFile, Measurement


def measurement_problems(found: Found, measurements: tuple[Measurement, ...]) -> None:
    """Every value of the bench and of the files that is out of its range."""
    for i, one in enumerate(measurements):
        path = f"measurements[{i}]"
        for name in ("capacitance_f", "capacitance_before_f"):
            _optional(found, path, name, getattr(one, name))
        bench = one.bench
        _optional(found, f"{path}.bench", "temperature_c", bench.temperature_c)
        _optional(found, f"{path}.bench", "sensor_kg", bench.sensor_kg)
        _optional(found, f"{path}.bench", "sensor_x_m", bench.sensor_x_m)
        if bench.instrument is not None:
            for name in ("resistance_ohm", "capacitance_f"):
                key = f"instrument.{name}"
                where, value = f"{path}.bench.{key}", getattr(bench.instrument, name)
                number(found, where, FIELDS[key].label, value, FIELDS[key].range)
        for j, file in enumerate(one.files):
            _file(found, f"{path}.files[{j}]", file)


def _file(found: Found, path: str, file: MeasuredFile) -> None:
    _optional(found, path, "resistance_ohm", file.resistance_ohm)
    _optional(found, path, "exponential_window_s", file.exponential_window_s)
    _optional(found, f"{path}.told", "interval_s", file.told.interval_s)
    for end in file.window_s or ():
        _optional(found, path, "window_s", end)


def _optional(found: Found, path: str, name: str, value: float | None) -> None:
    if value is not None:
        field = FIELDS[f"measurements.{name}"]
        number(found, f"{path}.{name}", field.label, value, field.range)
