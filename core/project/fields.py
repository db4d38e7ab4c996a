"""Every input once: what it is called, its unit on screen, its range, and its usual tolerance.

The input panel and its tables, the words of problems, the tolerance form, the list of origins and the
lists of what changed all take label, unit, range and tolerance from here. A field is known by the end of
its path without the brackets: "candidates[A].patches[P1].x_start_m" by "patches.x_start_m".
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from functools import lru_cache

from core import units
from core.project.ceilings import MOST_PIECES


@dataclass(frozen=True)
class Range:
    """Allowed values in SI with the display unit; `above`/`below` True exclude the bound itself."""

    unit: str
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    below: bool = False

    def holds(self, value: float) -> bool:
        over = value > self.low if self.above else value >= self.low
        under = value < self.high if self.below else value <= self.high
        return over and under

    def trouble(self, label: str, value: float) -> str:
        """What is wrong with a value of the input called `label`, in words; "" where nothing is."""
        if self.holds(value):
            return ""
        is_low = value <= self.low
        bound, apart = (self.low, self.above) if is_low else (self.high, self.below)
        shown, edge = (units.show_with_unit(v, self.unit or "1") for v in (value, bound))
        if apart:
            return f"{label} is {shown}; it must be {'above' if is_low else 'below'} {edge}."
        return f"{label} is {shown}; the {'least' if is_low else 'most'} allowed is {edge}."

    def words(self) -> str:
        low = units.show_with_unit(self.low, self.unit)
        high = units.show_with_unit(self.high, self.unit)
        if math.isinf(self.low) and math.isinf(self.high):
            return "finite"
        if math.isinf(self.high):
            return f"above {low}" if self.above else f"{low} or more"
        if math.isinf(self.low):
            return f"below {high}" if self.below else f"at most {high}"
        if not self.above and not self.below:
            return f"from {low} to {high}"
        return (
            f"{'above' if self.above else 'at least'} {low} and {'below' if self.below else 'at most'} {high}"
        )


PLAIN = Range("")
"""Of what is no number, or any."""


@dataclass(frozen=True)
class Field:
    """An input: `label` stands before "of ..."; `usual` is the relative tolerance where nobody said any."""

    label: str
    range: Range = PLAIN
    usual: float = 0.0

    @property
    def unit(self) -> str:
        """Display unit; "" for a text, a choice or a switch."""
        return self.range.unit


MODULUS = Range("GPa", 1e3, 2e12)
DENSITY = Range("kg/m3", 1.0, 25e3)
POISSON = Range("1", -1.0, 0.5, above=True, below=True)
LOSS = Range("1", 0.0, 2.0, below=True)
TEMPERATURE = Range("degC", -273.15, 1000.0)
SERVICE_TEMPERATURE = Range("degC", -273.15, 500.0)
PLAN = Range("mm", 1e-5, 10.0)
EDGE = Range("mm", 0.0, 0.2)
ACROSS = Range("mm", -50.0, 50.0)
LENGTH = Range("mm", 0.0, 100.0)
DIAMETER = Range("mm", 0.0, 100.0, above=True)
SPAN = Range("mm", 1e-3, 100.0)
EITHER_SIDE = Range("mm", -100.0, 100.0)
SIDEWAYS = Range("kN/m", 0.0, 1e15)
TURNING = Range("N m/rad", 0.0, 1e15)
FIELD_STRENGTH = Range("kV/mm", 0.0, 1e9, above=True)
STRAIN = Range("ue", 0.0, 1.0, above=True)
FREQUENCY = Range("Hz", 0.0, 1e7, above=True)
SHARE = Range("%", 0.0, 1.0, above=True, below=True)
EITHER_WAY = Range("m/s2", -1e7, 1e7)
DURATION = Range("ms", 0.0, 100.0, above=True)

FIELDS: dict[str, Field] = {
    # any name or note
    "name": Field("Name"),
    "note": Field("Note"),
    # the part
    "structure.name": Field("Name of the part"),
    "structure.span_m": Field("Span", SPAN),
    "structure.stations_m": Field("Span and stations", LENGTH),
    "structure.width_m": Field("Width along the span", Range("mm", 1e-6, 50.0)),
    "layers.thickness_m": Field("Thickness", Range("mm", 0.0, 1.0)),
    "pieces.material": Field("Material"),
    "pieces.width_m": Field("Width", Range("mm", 0.0, 50.0)),
    "pieces.count": Field("Number of strips", Range("1", 1.0, MOST_PIECES)),
    "pieces.start_m": Field("Start", LENGTH),
    "pieces.end_m": Field("End", LENGTH),
    "root.kind": Field("Support"),
    "tip.kind": Field("Support"),
    "k_t_n_m": Field("Stiffness against sideways motion", SIDEWAYS, 0.3),
    "k_r_nm_rad": Field("Stiffness against turning", TURNING, 0.3),
    "cut_outs.kind": Field("Kind"),
    "cut_outs.x_m": Field("Centre from the root", LENGTH),
    "cut_outs.y_m": Field("Offset from the centreline", ACROSS),
    "cut_outs.diameter_m": Field("Diameter", LENGTH),
    "cut_outs.length_m": Field("Length", LENGTH),
    "cut_outs.width_m": Field("Width", LENGTH),
    "masses.x_m": Field("Place", LENGTH),
    "masses.mass_kg": Field("Mass", Range("g", 0.0, 1e5)),
    "masses.rotary_inertia_kg_m2": Field("Rotary inertia", Range("kg mm2", 0.0, 1e5)),
    "masses.roll_inertia_kg_m2": Field("Inertia in torsion", Range("kg mm2", 0.0, 1e5)),
    "masses.ahead_m": Field("Centre ahead of it", Range("mm", -500.0, 500.0)),
    "masses.y_m": Field("Centre off the centreline", Range("mm", -500.0, 500.0)),
    "springs.x_m": Field("Place", LENGTH),
    "structure.level": Field("Sections"),
    "damping.ratios": Field("Inherent damping", Range("%", 0.0, 1.0, below=True), 0.3),
    "damping.service_ratios": Field("Inherent damping at service swing", Range("%", 0.0, 1.0, below=True), 0.3),
    "damping.from_loss_factors": Field("Inherent damping from loss factors"),
    "keep_outs.face": Field("Face"),
    "keep_outs.x_start_m": Field("Start", EITHER_SIDE),
    "keep_outs.x_end_m": Field("End", EITHER_SIDE),
    "keep_outs.polygon_m": Field("Corners", Range("mm")),
    "datums.x_m": Field("Place", LENGTH),
    "datums.touchable": Field("Can be touched"),
    "datums.y_m": Field("Offset from the centreline", ACROSS),
    "datums.diameter_m": Field("Hole diameter", DIAMETER),
    "structure.weighed_mass_kg": Field("Weighed mass", Range("g", 0.0, 1e5, above=True)),
    "structure.dead_weight_stiffness_n_m": Field("Stiffness of the dead-weight test", Range("N/mm", 0.0, 1e12, above=True)),
    "structure.outline": Field("True outline"),
    "outline.exterior": Field("Edge of the outline", Range("mm")),
    "outline.holes": Field("Holes of the outline", Range("mm")),
    "outline.source": Field("Source of the outline"),
    # materials
    "youngs_modulus_pa": Field("Young's modulus", MODULUS),
    "density_kg_m3": Field("Density", DENSITY),
    "loss_factor": Field("Loss factor", LOSS),
    "poisson_ratio": Field("Poisson's ratio", POISSON),
    "youngs_modulus_across_pa": Field("Modulus across", MODULUS),
    "shear_modulus_pa": Field("Shear modulus in plane", MODULUS),
    "shear_modulus_through_pa": Field("Shear modulus through thickness", MODULUS),
    "reference_temperature_c": Field("Reference temperature", TEMPERATURE),
    "temperature_range_c": Field("Temperature range", TEMPERATURE),
    # packages
    "packages.length_m": Field("Ceramic length", PLAN),
    "packages.width_m": Field("Ceramic width", PLAN),
    "ceramic_thickness_m": Field("Ceramic thickness", Range("mm", 1e-6, 0.05), 0.05),
    "margin_m": Field("Margin", EDGE),
    "side_margin_m": Field("Side margin", EDGE),
    "lead_length_m": Field("Lead length", LENGTH),
    "lead_bend_radius_m": Field("Bend radius of the leads", Range("mm", 0.0, 1.0)),
    "ceramic.name": Field("Name of the ceramic"),
    "d31_c_n": Field("d31", Range("pm/V", -1e-8, 1e-8)),
    "eps33t_relative": Field("Permittivity", Range("1", 1.0, 1e5)),
    "s11e_1_pa": Field("Compliance s11E", Range("1/TPa", 1e-13, 1e-6)),
    "d32_c_n": Field("d32, across", Range("pm/V", -1e-8, 1e-8)),
    "d33_c_n": Field("d33, squeezed", Range("pm/V", -1e-8, 1e-8)),
    "s22e_1_pa": Field("Compliance s22E", Range("1/TPa", 1e-13, 1e-6)),
    "tan_delta": Field("Dissipation factor", Range("%", 0.0, 1.0, below=True)),
    "pyroelectric_c_m2_k": Field("Pyroelectric coefficient", Range("uC/(m2 K)", -1e-2, 1e-2)),
    "curie_temperature_c": Field("Curie temperature", TEMPERATURE),
    "lower_skin.material": Field("Material of the lower skin"),
    "lower_skin.thickness_m": Field("Thickness of the lower skin", Range("um", 0.0, 5e-3)),
    "upper_skin.material": Field("Material of the upper skin"),
    "upper_skin.thickness_m": Field("Thickness of the upper skin", Range("um", 0.0, 5e-3)),
    "limits.tensile_strain": Field("Limit of tensile strain", STRAIN),
    "limits.compressive_strain": Field("Limit of compressive strain", STRAIN),
    "limits.field_along_v_m": Field("Limit of the field along the poling", FIELD_STRENGTH),
    "limits.field_against_v_m": Field("Limit of the field against the poling", FIELD_STRENGTH),
    "limits.bond_shear_pa": Field("Limit of the bond's shear", Range("MPa", 0.0, 1e10, above=True)),
    "limits.temperature_c": Field("Limits of temperature", TEMPERATURE),
    "bond.material": Field("Bond material"),
    "bond.thickness_m": Field("Bond line", Range("um", 0.0, 10e-3), 0.5),
    "bond.shear_modulus_pa": Field("Shear modulus of the bond", Range("GPa", 1e3, 1e12), 0.3),
    "bond.rigid": Field("Rigid bond"),
    # patches and circuits
    "patches.package": Field("Package"),
    "patches.x_start_m": Field("Ceramic starts at", Range("mm")),
    "patches.length_m": Field("Ceramic length", PLAN),
    "patches.width_m": Field("Ceramic width", PLAN),
    "patches.face": Field("Face"),
    "patches.pair_bending": Field("Pair wired for bending"),
    "patches.y_m": Field("Offset from the centreline", ACROSS),
    "patches.angle_rad": Field("Angle", Range("deg", -math.pi, math.pi)),
    "patches.lead_exit": Field("Lead exit"),
    "groups.wiring": Field("Wiring"),
    "members.patch": Field("Patch"),
    "members.polarity": Field("Polarity"),
    "circuit.kind": Field("Circuit"),
    "circuit.tuning": Field("Circuit values"),
    "tuning.mode": Field("Mode tuned on"),
    "tuning.further": Field("Modes of the further branches", Range("1", 1.0, 100.0)),
    "tuning.rule": Field("Rule of the values"),
    "tuning.goal": Field("Goal of the values"),
    "tuning.weights": Field("Weights of the modes", Range("1", 0.0, 1e6)),
    "values.resistance_ohm": Field("Resistance", Range("kohm", 0.0), 0.05),
    "values.inductance_h": Field("Inductance", Range("H", 0.0, above=True), 0.05),
    "values.capacitance_f": Field("Capacitance", Range("nF", 0.0, 1e-3, above=True), 0.05),
    "values.inversion_ratio": Field("Voltage inversion", Range("1", 0.0, 0.98), 0.05),
    "values.winding_ohm": Field("Winding of the coil", Range("kohm", 0.0, 1e9), 0.05),
    "values.core_s": Field("Core loss of the coil", Range("uS", 0.0, 1.0), 0.2),
    "values.negative_capacitance_f": Field("Negative capacitance", Range("nF", 0.0, 1e-3, above=True), 0.05),
    "values.added_capacitance_f": Field("Added capacitance", Range("nF", 0.0, 1e-3), 0.05),
    "build.series": Field("Parts from"),
    "build.pairs": Field("Pairs of parts"),
    "build.largest_coil_h": Field("Largest coil", Range("H", 0.0, 1e6)),
    "build.coil_time_s": Field("Inductance over winding resistance", Range("ms", 0.0, 1e3, above=True)),
    "build.supply_v": Field("Supply of the amplifiers, each way", Range("V", 1.0, 1e4)),
    "build.gain_bandwidth_hz": Field("Gain-bandwidth product", Range("kHz", 1e3, 1e12)),
    "build.prices": Field("Prices", Range("1", 0.0, 1e9)),
    "instrument": Field("Instrument input"),
    "instrument.resistance_ohm": Field("Input resistance", Range("Mohm", 0.0, 1e18, above=True)),
    "instrument.capacitance_f": Field("Cable capacitance", Range("pF", 0.0, 1.0)),
    "groups.bleed_ohm": Field("Bleed resistor", Range("Mohm", 0.0, 1e15, above=True), 0.05),
    # tuned masses
    "absorbers.id": Field("Name"),
    "absorbers.x_m": Field("Place", LENGTH),
    "absorbers.mass_kg": Field("Mass", Range("g", 1e-6, 1e3), 0.02),
    "absorbers.frequency_hz": Field("Frequency", Range("Hz", 0.1, 1e5), 0.05),
    "absorbers.damping_ratio": Field("Damping ratio", Range("%", 0.0, 10.0), 0.3),
    "absorbers.allowed_stroke_m": Field("Allowed stroke", Range("mm", 0.0, 10.0, above=True)),
    "absorbers.tuning": Field("Frequency and damping"),
    # service
    "loads.force_n": Field("Force", Range("N", 0.0, 1e9, above=True)),
    "loads.level_m_s2": Field("Level", EITHER_WAY),
    "loads.peak_m_s2": Field("Peak", EITHER_WAY),
    "loads.deflection_m": Field("Deflection", Range("mm", -100.0, 100.0)),
    "loads.impulse_n_s": Field("Impulse", Range("N s", -1e6, 1e6)),
    "loads.duration_s": Field("Duration", DURATION),
    "loads.band_hz": Field("Band", FREQUENCY),
    "loads.x_m": Field("Place", LENGTH),
    "loads.random": Field("Random"),
    "spectrum_hz_m2_s3": Field("Spectrum", Range("1")),
    "spectrum.frequency_hz": Field("Frequency", FREQUENCY),
    "spectrum.density_m2_s3": Field("Density", Range("gn2/Hz", 0.0, 1e12, above=True)),
    "service.active_load": Field("Active load"),
    "static_forces.force_n": Field("Force", Range("N", -1e9, 1e9)),
    "static_forces.x_m": Field("Place", LENGTH),
    "service.cold_c": Field("Cold end of the service range", SERVICE_TEMPERATURE),
    "service.reference_c": Field("Reference temperature of the service", SERVICE_TEMPERATURE),
    "service.hot_c": Field("Hot end of the service range", SERVICE_TEMPERATURE),
    "service.ramp_span_k": Field("Change of temperature in one go", Range("K", 0.0, 1000.0, above=True)),
    "service.ramp_rate_k_s": Field("Rate of that change", Range("K/min", 0.0, 1e4, above=True)),
    "service.settle_to": Field("Settled at", SHARE),
    "asked.modes": Field("Modes asked for"),
    "asked.quantity": Field("Quantity asked for"),
    "asked.values": Field("Values asked for", Range("1")),
    "asked.values.peak": Field("Change of the peak", Range("%", -1.0, 0.0, above=True, below=True)),
    "asked.values.damping": Field("Damping", SHARE),
    "asked.values.settling": Field("Settling time", Range("s", 0.0, 1e6, above=True)),
    "asked.temperature_c": Field("Temperature asked for", SERVICE_TEMPERATURE),
    "asked.load": Field("Load asked for"),
    "view.output_x_m": Field("Response of", LENGTH),
    # the patch as a pick-up and as a shaker
    "sense.noise_v": Field("Noise", Range("mV", 0.0, 1e3, above=True)),
    "drive.waveform": Field("Waveform"),
    "drive.frequency_hz": Field("Frequency of the waveform", Range("Hz", 1e-3, 1e6)),
    "drive.amplitude_v": Field("Volts to either side", Range("V", 0.0, 1e5, above=True)),
    "drive.bias_v": Field("Volts of bias", Range("V", -1e5, 1e5)),
    "drive.amplifier_a": Field("Largest current of the amplifier", Range("mA", 0.0, 1e3, above=True)),
    "drive.amplifier_v_s": Field("Largest rate of the amplifier", Range("V/us", 0.0, 1e12, above=True)),
    "drive.load_n_m": Field("Spring it pushes against", Range("N/m", 0.0, 1e12)),
    "drive.pressure_pa": Field("Pressure against the stroke", Range("kPa", 0.0, 1e12)),
    "drive.area_m2": Field("Area under the pressure", Range("mm2", 0.0, 1e3)),
    "drive.large_signal": Field("Loss against small signal", Range("1", 1.0, 100.0)),
    "drive.mismatch": Field("Mismatch of the reference capacitor", Range("%", 0.0, 1.0)),
    "drive.table_s_v": Field("Waveform from a file"),
    # an active loop
    "loop.modes": Field("Modes the loop damps", Range("1", 1.0, 40.0)),
    "loop.velocity_gain_s": Field("Gain of velocity feedback", Range("ms", -1e3, 1e3)),
    "loop.numerator": Field("Numerator, powers of s", Range("1")),
    "loop.denominator": Field("Denominator, powers of s", Range("1")),
    "loop.times": Field("Gain of the law, times", Range("1", 0.0, 1e6)),
    "loop.amplifier_gain": Field("Gain of the amplifier", Range("1", 0.0, 1e6, above=True)),
    "loop.bandwidth_hz": Field("Bandwidth of the amplifier", Range("kHz", 0.0, 1e7, above=True)),
    "loop.output_ohm": Field("Output resistance of the amplifier", Range("ohm", 1e-3, 1e6)),
    "loop.amplifier_v": Field("Largest voltage of the amplifier", Range("V", 0.0, 1e5, above=True)),
    "loop.amplifier_a": Field("Largest current of the amplifier", Range("mA", 0.0, 1e3, above=True)),
    "loop.delay_s": Field("Delay", Range("ms", 0.0, 1.0)),
    "loop.sampling_hz": Field("Sampling", Range("kHz", 1.0, 1e7)),
    "loop.filters.frequency_hz": Field("Frequency of the filter", FREQUENCY),
    "loop.filters.damping_ratio": Field("Damping of the filter", Range("%", 0.0, 5.0, above=True)),
    "loop.filters.gain": Field("Gain of the filter", Range("1", -1e6, 1e6)),
    # what was measured
    "measurements.temperature_c": Field("Temperature of the bench", SERVICE_TEMPERATURE),
    "measurements.sensor_kg": Field("Mass of the sensor", Range("g", 0.0, 10.0)),
    "measurements.sensor_x_m": Field("Place of the sensor", LENGTH),
    "measurements.capacitance_f": Field("Capacitance of the bonded part", Range("nF", 0.0, 1.0, above=True)),
    "measurements.capacitance_before_f": Field("Capacitance before bonding", Range("nF", 0.0, 1.0, above=True)),
    "measurements.resistance_ohm": Field("Resistance on the leads", Range("kohm", 0.0, 1e15, above=True)),
    "measurements.exponential_window_s": Field("Exponential window", Range("s", 0.0, 1e6, above=True)),
    "measurements.interval_s": Field("Time between samples", Range("ms", 0.0, 1e6, above=True)),
    "measurements.window_s": Field("Part of the record looked at", Range("s", -1e6, 1e7)),
    # what the bench read of bonded parts
    "bonded.serial": Field("Serial number"),
    "bonded.group": Field("Group"),
    "bonded.before_f": Field("Capacitance before bonding", Range("nF", 1e-12, 1e-4)),
    "bonded.after_f": Field("Capacitance after bonding", Range("nF", 1e-12, 1e-4)),
    "bonded.insulation_ohm": Field("Insulation", Range("Mohm", 0.0, 1e18)),
    "bonded.press": Field("Press test"),
    "modes.f_short_hz": Field("Frequency, shorted, of mode", FREQUENCY),
    "modes.f_open_hz": Field("Frequency, open, of mode", FREQUENCY),
    "bonded.note": Field("Note"),
    # the sheet
    "sheet.paper": Field("Paper"),
    "sheet.title": Field("Title"),
    "sheet.number": Field("Identification number"),
    "sheet.owner": Field("Legal owner"),
    "sheet.creator": Field("Creator"),
    "sheet.approver": Field("Approval"),
    "sheet.date": Field("Date of issue"),
    "sheet.part_drawing": Field("Part and its drawing"),
    "sheet.patch_specification": Field("Patch specification"),
    "sheet.datum": Field("Datum A"),
    "sheet.tolerance_x_m": Field("Tolerance along", Range("mm", 0.0, 1.0)),
    "sheet.tolerance_x_root_m": Field("Tolerance towards the root", Range("mm", 0.0, 1.0)),
    "sheet.tolerance_y_m": Field("Tolerance across", Range("mm", 0.0, 1.0, above=True)),
    "sheet.tolerance_angle_rad": Field("Tolerance of angle", Range("deg", 0.0, math.pi, above=True)),
    "sheet.face_note": Field("The top face is"),
    "sheet.underside_note": Field("The underside is"),
    "sheet.surface_preparation": Field("Surface preparation"),
    "sheet.adhesive": Field("Adhesive"),
    "sheet.cure": Field("Pressure and cure"),
    "sheet.tolerance_source": Field("Tolerances are from"),
    "sheet.connector_place": Field("Connector lands at"),
    "sheet.parts": Field("Parts of the batch", Range("1", 0.0, 1e6)),
    "sheet.alternates": Field("Approved alternates"),
    "sheet.question": Field("The customer's question"),
    "sheet.mirrored_number": Field("Number of the mirrored part's sheet"),
    "sheet.choice": Field("Why this candidate, and the reserve"),
}  # fmt: skip

BRANCHES = (1, 2, 3)
"""Of the largest circuit: its values carry the number of their branch."""
FIELDS |= {
    f"values.{what}_{n}_{unit}": replace(FIELDS[f"values.{what}_{unit}"], label=f"{FIELDS[f'values.{what}_{unit}'].label} {n}")
    for n in BRANCHES
    for what, unit in (
        ("inductance", "h"), ("capacitance", "f"), ("resistance", "ohm"), ("winding", "ohm"), ("core", "s")
    )
}  # fmt: skip

_INDEX = re.compile(r"\[([^\]]*)\]")
_OF_A_CONSTANT = {
    "tolerance": "tolerance", "per_kelvin": "change per kelvin", "status": "standing", "source": "source",
}  # fmt: skip
_OWNERS = {
    "layers": "layer", "pieces": "piece", "cut_outs": "cut-out", "masses": "mass", "springs": "spring",
    "keep_outs": "keep-out", "datums": "datum", "materials": "", "packages": "package", "loads": "load",
    "static_forces": "static force", "patches": "", "groups": "group", "members": "",
    "absorbers": "tuned mass",
}  # fmt: skip
_PER_STATION = ("thickness_m", "width_m", "stations_m")


@lru_cache(maxsize=4096)
def field_of(path: str) -> Field | None:
    """The field a path belongs to; None for a path that names no single input."""
    names = _INDEX.sub("", path).split(".")
    if names[-1] in ("value", *_OF_A_CONSTANT) and ".".join(names[-2:]) not in FIELDS:
        names = names[:-1]
    for first in range(len(names)):
        found = FIELDS.get(".".join(names[first:]))
        if found is not None:
            return found
    return None


def range_of(path: str) -> Range:
    """Allowed values of an input; KeyError where it is in no table."""
    found = field_of(path)
    if found is None:
        raise KeyError(path)
    return found.range


def label_of(path: str) -> str:
    """An input with whom it belongs to: "Young's modulus of Steel", "Stiffness against turning of the root"."""
    found = field_of(path)
    names = path.split(".")
    last = names[-1]
    text = _plain(last) if found is None else found.label
    of_constant = _OF_A_CONSTANT.get(last) if len(names) > 1 else None
    if of_constant and found is not None and not path.endswith(("outline.source", "tolerance_source")):
        text = f"{of_constant} of {_lower(text)}"
    index = _INDEX.search(last)
    leaf = last.partition("[")[0]
    if index is not None and leaf in _PER_STATION:
        text += f" at station {index[1]}"
    elif index is not None:
        text += f" {index[1]}"
    owners = [_owner(name) for name in names[:-1]]
    told = " in ".join(owner for owner in reversed(owners) if owner)
    if not told:
        return text
    if text.endswith(" at"):
        first, *rest = told.split(" in ")
        return ", ".join([f"{first} {_lower(text)}", *rest])
    return f"{text} of {told}"


def _owner(name: str) -> str:
    """Whose input it is: "the root", "layer core", "Steel"."""
    key, _, rest = name.partition("[")
    if key in ("root", "tip"):
        return f"the {key}"
    if key.startswith("candidate "):
        return key
    if not rest or key not in _OWNERS:
        return ""
    return f"{_OWNERS[key]} {rest.rstrip(']')}".strip()


def _plain(name: str) -> str:
    return name.partition("[")[0].replace("_", " ").capitalize()


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
