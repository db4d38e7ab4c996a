"""An elastic material."""

from __future__ import annotations

from core.project.record import Constant, Record


class Material(Record, frozen=True):
    """An elastic material of the structure, of a skin or of a bond line."""

    name: str
    youngs_modulus_pa: Constant
    density_kg_m3: Constant
    loss_factor: Constant = Constant(0.0)
    poisson_ratio: Constant = Constant(0.3)
    """Contraction across per strain along the span."""
    reference_temperature_c: float = 20.0
    temperature_range_c: tuple[float, float] = (-40.0, 80.0)
    youngs_modulus_across_pa: Constant | None = None
    """Across the span, of wood and laminates; None: as along."""
    shear_modulus_pa: Constant | None = None
    """In the plane of the layer, of wood, laminates and cores; None: E/(2 (1 + nu))."""
    shear_modulus_through_pa: Constant | None = None
    """Through the thickness along the span; None: as in the plane."""
