"""A law as second-order sections for a signal processor, and as a table and C code.

Each section is y = b0 x + b1 x1 + b2 x2 - a1 y1 - a2 y2. From s to z by the bilinear rule, which is prewarped at
a filter's own frequency; velocity feedback, which has no section of its own, takes its lag from the amplifier. A
processor adds what it needs to compute: whole samples of delay stand beside the sections.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuit.loop.law import Control, PositionFeedback, polynomials
from core.units import words

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Section:
    """b0, b1, b2, a1, a2 (a0 = 1)."""

    b0: float
    b1: float
    b2: float
    a1: float
    a2: float

    def response(self, z: ComplexArray) -> ComplexArray:
        back = 1.0 / z
        return np.asarray(
            (self.b0 + self.b1 * back + self.b2 * back**2) / (1.0 + self.a1 * back + self.a2 * back**2)
        )


@dataclass(frozen=True)
class Digital:
    """Sections at a sampling frequency: `added` sums their outputs (one filter a mode), else they stand in a row.
    `late` is the delay of the control in samples, that of holding a value not in it."""

    sampling_hz: float
    sections: tuple[Section, ...]
    added: bool
    late: float

    def response(self, omega_rad_s: Array) -> ComplexArray:
        """u/y at each frequency, with the delay and the hold."""
        step = 1.0 / self.sampling_hz
        z = np.exp(1j * omega_rad_s * step)
        each = [section.response(z) for section in self.sections]
        total = np.sum(each, axis=0) if self.added else np.prod(each, axis=0)
        half = 0.5 * omega_rad_s * step
        hold = np.sinc(half / np.pi) * np.exp(-1j * half)
        return np.asarray(total * hold * np.exp(-1j * omega_rad_s * step * self.late))


def digital(control: Control) -> Digital:
    """The law of a sampled control with its amplifier's gain. Raises ValueError without a sampling frequency."""
    rate = control.timing.sampling_hz
    if not rate:
        raise ValueError("Without a sampling frequency there are no coefficients. Give one.")
    gain, late = control.amplifier.gain, control.timing.delay_s * rate
    law = control.law
    if isinstance(law, PositionFeedback):
        highest = max((one.frequency_hz for one in law.filters), default=0.0)
        if 2.0 * highest >= rate:
            raise ValueError(
                f"A filter at {words.frequency(highest)} needs more than {words.frequency(2.0 * highest)} of sampling; it is "
                f"{words.frequency(rate)}, at which its coefficients would grow. Raise the sampling."
            )
        made = []
        for one in law.filters:
            w = 2 * np.pi * one.frequency_hz
            made.append(_section([0.0, 0.0, -gain * one.gain * w * w], [1.0, 2 * one.damping_ratio * w, w * w], rate, w))
        return Digital(rate, tuple(made), True, late)
    top, bottom = polynomials(law)
    if len(top) > len(bottom):  # a derivative needs its lag
        bottom = np.convolve(bottom, [1.0 / (2 * np.pi * control.amplifier.bandwidth_hz), 1.0])
    return Digital(rate, _row(gain * top, bottom, rate), False, late)


def _row(top: Array, bottom: Array, rate: float) -> tuple[Section, ...]:
    """Second-order sections in a row, roots paired by size."""
    zeros, poles = (_pairs(np.asarray(np.roots(p), dtype=complex)) for p in (top, bottom))
    lead = float(top[np.flatnonzero(top)[0]] / bottom[np.flatnonzero(bottom)[0]])
    out = []
    for i in range(max(len(poles), 1)):
        below = poles[i] if i < len(poles) else np.array([1.0])
        above = zeros[i] if i < len(zeros) else np.array([1.0])
        out.append(_section(above * (lead if i == 0 else 1.0), below, rate, None))
    return tuple(out)


def _pairs(roots: ComplexArray) -> list[Array]:
    """Polynomials of at most second order with these roots."""
    pairs = [np.array([1.0, -2 * r.real, abs(r) ** 2]) for r in roots if r.imag > 1e-9 * abs(r)]
    real = sorted((r.real for r in roots if abs(r.imag) <= 1e-9 * abs(r)), key=abs)
    while len(real) > 1:
        a, b = real.pop(), real.pop()
        pairs.append(np.array([1.0, -a - b, a * b]))
    return pairs + [np.array([1.0, -r]) for r in real]


def _section(top: Array | list[float], bottom: Array | list[float], rate: float, warped_rad_s: float | None) -> Section:
    """Bilinear: s = k (z - 1)/(z + 1), k = 2 rate, or w/tan(w/(2 rate)) to meet a frequency exactly."""
    k = 2.0 * rate if warped_rad_s is None else warped_rad_s / float(np.tan(0.5 * warped_rad_s / rate))

    def turned(p: Array | list[float]) -> Array:
        c2, c1, c0 = np.concatenate([np.zeros(3 - len(p)), np.asarray(p, dtype=float)])
        return np.array([c2 * k * k + c1 * k + c0, 2 * (c0 - c2 * k * k), c2 * k * k - c1 * k + c0])

    b, a = turned(top), turned(bottom)
    b, a = b / a[0], a / a[0]
    return Section(float(b[0]), float(b[1]), float(b[2]), float(a[1]), float(a[2]))


HEADS = ("section", "b0", "b1", "b2", "a1", "a2")
CAUTION = "Drives a high-voltage amplifier: prove it at low gain first. Local codes and licensed practice decide on use."


def as_csv(made: Digital) -> str:
    """Coefficients as a table, what they are said in lines with #."""
    told = "outputs added" if made.added else "in a row"
    lines = [
        f"# sampled at {made.sampling_hz!r} Hz, sections {told}, then {made.late!r} samples of delay counted",
        "# y = b0 x + b1 x1 + b2 x2 - a1 y1 - a2 y2",
        f"# {CAUTION}",
        ",".join(HEADS),
    ]
    for i, s in enumerate(made.sections, 1):
        lines.append(",".join([str(i), *(repr(v) for v in (s.b0, s.b1, s.b2, s.a1, s.a2))]))
    return "\n".join(lines) + "\n"


def as_c(made: Digital) -> str:
    """The same as an array and a function that takes a sample and gives one."""
    rows = ",\n".join(
        "    {" + ", ".join(repr(v) for v in (s.b0, s.b1, s.b2, s.a1, s.a2)) + "}" for s in made.sections
    )
    begin = "double u = 0.0;" if made.added else "double u = y;"
    body = (
        "double out = c[0] * y + s[0];\n        s[0] = c[1] * y - c[3] * out + s[1];\n        s[1] = c[2] * y - c[4] * out;\n        u += out;"
        if made.added
        else "double out = c[0] * u + s[0];\n        s[0] = c[1] * u - c[3] * out + s[1];\n        s[1] = c[2] * u - c[4] * out;\n        u = out;"
    )
    return f"""/* Sampled at {made.sampling_hz!r} Hz; {made.late!r} samples of delay are counted beside.
   {CAUTION} */
#define LOOP_SECTIONS {len(made.sections)}
static const double loop_coefficients[LOOP_SECTIONS][5] = {{ /* b0 b1 b2 a1 a2 */
{rows}
}};
static double loop_state[LOOP_SECTIONS][2];

/* One sample of the sensed voltage in, one of the driven voltage out. */
double loop_step(double y)
{{
    {begin}
    for (int i = 0; i < LOOP_SECTIONS; i++) {{
        const double *c = loop_coefficients[i];
        double *s = loop_state[i];
        {body}
    }}
    return u;
}}
"""
