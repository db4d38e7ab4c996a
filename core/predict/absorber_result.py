"""What there is to read of a tuned mass."""

from __future__ import annotations

from typing import Protocol

from core.predict.group_result import PowerMeaning, VoltageMeaning


class AbsorberResult(Protocol):
    """A tuned mass: the values in effect and what the active load does to it."""

    @property
    def id(self) -> str: ...
    @property
    def x_m(self) -> float: ...
    @property
    def mass_kg(self) -> float: ...
    @property
    def frequency_hz(self) -> float:
        """Of the mass on its spring alone."""
    @property
    def damping_ratio(self) -> float:
        """Of the mass on its spring alone."""
    @property
    def stiffness_n_m(self) -> float: ...
    @property
    def damper_n_s_m(self) -> float: ...
    @property
    def mass_ratios(self) -> tuple[float, ...]:
        """Its mass over the modal mass at its place, per mode shown."""
    @property
    def stroke_m(self) -> float:
        """Largest motion against the structure under the active load; what that is says `size_meaning`."""
    @property
    def allowed_stroke_m(self) -> float | None: ...
    @property
    def force_n(self) -> float:
        """Largest force on the structure, as the stroke."""
    @property
    def power_w(self) -> float:
        """Turned into heat in the damper; what that is says `power_meaning`."""
    @property
    def energy_j(self) -> float | None:
        """Turned into heat in all where the load happens once; None otherwise."""
    @property
    def size_meaning(self) -> VoltageMeaning: ...
    @property
    def power_meaning(self) -> PowerMeaning: ...
    @property
    def briefly(self) -> str:
        """Mass, frequency and damping: "M1 2.0 g, 17.3 Hz, 12.0 %"."""
    @property
    def values_told(self) -> str:
        """Mass, place, frequency, damping, spring and damper in words."""
    @property
    def under_load(self) -> str:
        """Stroke, force and heat under the active load, each said as what it is."""
    @property
    def remarks(self) -> tuple[str, ...]: ...
