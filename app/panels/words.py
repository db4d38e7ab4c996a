"""Words for the options a person picks, and short summaries of parts of a project."""

from __future__ import annotations

from core import units
from core.project.record import Profile
from core.project.structure import Layer, Structure
from core.units import words as quantities

SUPPORTS = (
    ("clamped", "clamped"),
    ("elastic", "elastic"),
    ("pinned", "pinned"),
    ("guided", "guided"),
    ("free", "free"),
)
LEVELS = (
    ("across", "curve across"),
    ("shear", "warp under shear"),
    ("section", "contract together"),
    ("plain", "each layer free"),
)
FACES = (("top", "top"), ("underside", "underside"), ("both", "both, a pair"))
ONE_OR_BOTH_FACES = (("top", "top"), ("underside", "underside"), ("both", "both"))
LEAD_EXITS = (
    ("towards root", "towards root"),
    ("towards tip", "towards tip"),
    ("left", "left"),
    ("right", "right"),
)
PAIR = ((True, "opposite: bending"), (False, "same: stretching"))
WIRINGS = (("parallel", "parallel"), ("series", "series"))
RULES = (("closed form", "by formula"), ("optimum", "best for this part"))
GOALS = (
    ("damping", "most damping"),
    ("peak", "lowest peak"),
    ("mean square", "least mean square"),
    ("weighted", "weighted modes"),
)
PARTS = (
    (("exact", False), "any value"),
    (("E12", False), "E12"),
    (("E24", False), "E24"),
    (("E96", False), "E96"),
    (("E12", True), "E12, pairs"),
    (("E24", True), "E24, pairs"),
    (("E96", True), "E96, pairs"),
)
OUTPUTS = (
    ("receptance", "receptance"),
    ("mobility", "mobility"),
    ("accelerance", "accelerance"),
    ("strain", "ceramic strain"),
    ("voltage", "patch voltage"),
    ("current", "current in the leads"),
)
ASKED = (("peak", "lower peak"), ("damping", "more damping"), ("settling", "quicker settling"))
BEFORE = (("patch shorted", "patch shorted"), ("bare structure", "bare structure"))
LOAD_KINDS = (
    ("force", "tip or point force"),
    ("root acceleration", "root acceleration"),
    ("release", "release from a bend"),
    ("impact", "impact"),
    ("base shock", "shock of the base"),
    ("random base", "random motion of the base"),
    ("base step", "step of base acceleration"),
)


def ends_of(profile: Profile) -> tuple[float, float]:
    """Least and largest value of a profile."""
    values = (profile,) if isinstance(profile, int | float) else profile
    return min(values), max(values)


def is_even(profile: Profile) -> bool:
    """True when the profile has one value all along."""
    low, high = ends_of(profile)
    return low == high


def range_text(low: float, high: float, unit: str) -> str:
    """"3 mm" or "1.8 to 9.5 mm"."""
    if low == high:
        return units.show_with_unit(low, unit, significant=4)
    return f"{units.show(low, unit, significant=4)} to {units.show_with_unit(high, unit, significant=4)}"


def thickness_range(structure: Structure) -> tuple[float, float]:
    """Least and largest total thickness over the stations."""
    count = len(structure.stations_m)
    totals = [sum(_at(layer, station) for layer in structure.layers) for station in range(count)]
    return min(totals, default=0.0), max(totals, default=0.0)


def lay_up_text(structure: Structure) -> str:
    """"1 layer, 3 mm", "5 layers, to 12.3 mm", "no base, ceramics only"."""
    if not structure.layers:
        return "no base, ceramics only"
    low, high = thickness_range(structure)
    thick = units.show_with_unit(high, "mm", significant=3)
    return f"{count_text(len(structure.layers), 'layer')}, {thick if low == high else f'to {thick}'}"


def difference_text(model: float, measured: float) -> str:
    """How far the model is from what was measured: "+1.2 %"."""
    if measured == 0.0:
        return ""
    return quantities.shift(model / measured - 1.0)


SOFT_CLAMP, RIGID_CLAMP = 20.0, 300.0
"""k_r L / EI between which a clamp is called good."""


def clamping_text(share: float) -> str:
    """What k_r L / EI means for the part, in words (exact strip: mode 1 falls by 4 % at 50, by 16 % at 10)."""
    shown = units.show(share, "1", significant=2)
    if share < 3.0:
        return f"{shown}, nearly a hinge"
    if share < SOFT_CLAMP:
        return f"{shown}, a soft clamp"
    if share < RIGID_CLAMP:
        return f"{shown}, a good clamp"
    return f"{shown}, as if rigid"


def measured_text(shown: str, model: float, measured: float | None) -> str:
    """What the model has, and how far that is from what was measured: "160.2 g (+1.2 %)"."""
    return f"{shown} ({difference_text(model, measured)})" if measured else shown


def count_text(number: int, word: str) -> str:
    """"1 mass", "2 masses", "no mass"."""
    if number == 0:
        return f"no {word}"
    many = f"{word}es" if word.endswith("s") else f"{word}s"
    return f"{number} {word if number == 1 else many}"


def counts_text(*counted: tuple[int, str]) -> str:
    """"1 mass, 2 springs"; what there is none of goes unsaid; "none" for nothing at all."""
    return ", ".join(count_text(number, word) for number, word in counted if number) or "none"


def _at(layer: Layer, station: int) -> float:
    if isinstance(layer.thickness_m, int | float):
        return layer.thickness_m
    return layer.thickness_m[min(station, len(layer.thickness_m) - 1)]
