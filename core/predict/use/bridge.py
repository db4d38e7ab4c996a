"""A driven group that listens at the same time: a bridge with a reference capacitor takes the drive out of its leads.

The group C and the reference C_r each stand above an equal lower arm C_b = C; what is read is the difference of the
two middles. Balanced it shows the motion alone, at half the open voltage. A reference off by a share e leaves
V C C_b (e C)/((C + C_b)(C_r + C_b)), to first order V e/4, of the drive V, at every frequency alike: feed-through.
Over temperature the group's capacitance goes with the permittivity of its ceramics while the reference holds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from core.beam.spec import warming
from core.piezo.ceramic import free_capacitance_f
from core.predict.solved import Solved
from core.predict.use.drive import Driving
from core.predict.use.sense import Sensing

SHOWN = 0.5
"""Of the open voltage that a balanced bridge of equal arms shows."""


@dataclass(frozen=True)
class Bridge:
    """Feed-through in V at the volts of the drive, by the mismatch stated and at the cold and hot end of the service
    (that mismatch included), with the mode 1 motion in m that makes as much: nothing smaller is told from it."""

    mismatch: float
    feed_v: float
    cold_feed_v: float
    hot_feed_v: float
    v_per_m: float | None

    def hidden_m(self, feed_v: float) -> float | None:
        """Motion of the point in mode 1 that the feed-through hides."""
        return feed_v / self.v_per_m if self.v_per_m else None


def feed_through(volts: float, patch_f: float, reference_f: float, arm_f: float) -> float:
    """V left of the drive: volts (C/(C + C_b) - C_r/(C_r + C_b)), to either side."""
    return abs(volts * (patch_f / (patch_f + arm_f) - reference_f / (reference_f + arm_f)))


def bridge(driving: Driving, sensing: Sensing) -> Bridge:
    """The group as its own pick-up; `sensing` tells what its open leads give."""
    solved, drive = driving.solved, driving.drive
    capacitance = float(driving.transducer.free_f)
    reference = capacitance * (1.0 + drive.mismatch)
    service = solved.project.service

    def left(temperature_c: float) -> float:
        warm = capacitance + _grown_f(solved, driving.index, service.reference_c, temperature_c)
        return feed_through(drive.amplitude_v, warm, reference, capacitance)

    across = replace(sensing, leads_only=True) if sensing.reads_charge else sensing
    open_v_per_m = across.modes[0].v_per_m if across.modes else None
    return Bridge(
        drive.mismatch,
        left(service.reference_c),
        left(service.cold_c),
        left(service.hot_c),
        None if open_v_per_m is None else SHOWN * open_v_per_m,
    )


def _grown_f(solved: Solved, group: int, from_c: float, to_c: float) -> float:
    """How much a group's capacitance at one temperature is above that at another by the permittivity alone, to first order:
    a ceramic stores so much more as it would by itself, whatever holds it."""
    total = 0.0
    for j, plate in enumerate(solved.beam.plates):
        ceramic = plate.package.ceramic
        to, was = (warming(ceramic.eps33t_relative, ceramic.reference_temperature_c, at) for at in (to_c, from_c))
        own = free_capacitance_f(solved.candidate.patch(plate.patch), plate.package)
        total += float(solved.beam.terminals.combine[j, group]) ** 2 * own * (to - was)
    return total
