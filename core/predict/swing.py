"""How the whole part swings after the active load lets it go: the ring-down's motion at every x, before and after.

The same poles and amplitudes as `ringdown`, read along the span instead of at the output alone, so what is played
settles when the ring-down says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.piezo.coupled_beam import CoupledBeam
from core.predict.decay import Decay
from core.predict.forcing import electric_residual
from core.predict.loads.transient import Motion, shorted, transient
from core.predict.prediction import RingDown
from core.predict.solved import Solved

Array = NDArray[np.float64]

POINTS = 49
"""Along the span: a beam in its eighth mode still looks smooth."""


@dataclass(frozen=True)
class Swing:
    """x_m : (n,); before, after : amplitudes (n, k) of the deflection there, about where the part comes to rest.

    The last row of each is the output point, `output_m`; ring : the decay at the output as it is told elsewhere;
    f_hz : of the strongest term before; largest : of either at any x, in the ring-down's unit.
    """

    x_m: Array
    output_m: float
    before: Decay
    after: Decay
    ring: RingDown
    f_hz: float
    largest: float


def swing(solved: Solved, ring: RingDown) -> Swing:
    """The motion of a solved candidate; its `ring` is the prediction's ring-down.

    Raises ValueError where the circuit makes the part unstable: there is no decay to play.
    """
    if solved.unstable:
        raise ValueError(solved.unstable[0])
    reference, beam = (solved.side, solved.beam) if solved.before is None else (solved.before, solved.bare_beam)
    x = np.linspace(0.0, solved.beam.spec.span_m, POINTS)
    at = np.append(x, solved.side.forcing.output_x_m)
    free = transient(shorted(reference.system), reference.forcing)[-1].free
    before = _along(beam, free, at)
    after = _along(solved.beam, solved.stretches[-1].free, at)
    strongest = int(np.argmax(np.abs(before.amplitude).max(axis=0))) if len(before.rate) else 0
    rate = before.rate[strongest] if len(before.rate) else 0.0
    return Swing(
        x_m=x,
        output_m=float(at[-1]),
        before=before,
        after=after,
        ring=ring,
        f_hz=float(np.abs(np.imag(rate)) / (2 * np.pi)),
        largest=max(_reach(before, rate), _reach(after, rate)),
    )


def _along(beam: CoupledBeam, motion: Motion, x_m: Array) -> Decay:
    """(k,) deflection at places x (k,), about where the part comes to rest."""
    rows = beam.deflection_row(x_m)
    modal = rows @ np.swapaxes(beam.units, -1, -2)
    total = (modal * beam.omega_rad_s) @ motion.q
    ports = len(motion.voltage)
    if ports:
        total = total - electric_residual(beam, rows, modal)[:, :ports] @ motion.voltage
    return Decay(motion.rate, total).about_rest()


def _reach(decay: Decay, rate: complex) -> float:
    """The largest deflection within the first two swings of the strongest term."""
    if not len(decay.rate):
        return 0.0
    period = 2 * np.pi / max(abs(rate), 1e-9)
    return float(np.abs(decay.analytic(0.0, period / 60, 120).real).max())
