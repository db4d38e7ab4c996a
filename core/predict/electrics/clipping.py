"""Where an amplifier of a circuit goes to its rail under a load that was stated: the sign, and the supply that holds.

Everything told of the circuit is linear and holds up to the load at which the first amplifier clips
(`core.predict.electrics.board`); beyond it less is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, isfinite, pi

from msgspec.structs import replace

from core.circuit.realise import is_simulated
from core.predict.electrics.board import HEADROOM_V, Simulated, networks
from core.predict.electrics.stop import Holds
from core.predict.solved import Solved
from core.units import words


@dataclass(frozen=True)
class ClipSign:
    """The amplifier that clips first, the frequency of the mode it serves, and the supply it has."""

    one: Simulated
    frequency_hz: float
    supply_v: float
    holds: Holds | None

    @property
    def title(self) -> str:
        """ "Mode 1 clips, 20.9 Hz"."""
        return f"Mode {self.one.mode} clips, {words.frequency(self.frequency_hz)}"

    @property
    def detail(self) -> str:
        """What it must swing and may, up to which load what is told holds, and what is left beyond."""
        one = self.one
        left = "it does not hold" if one.left != one.left else f"{words.damping(one.left)} of {words.damping(one.whole)} is left"
        return (
            f"The amplifier of {one.name} of group {one.group} must swing {words.voltage(one.swing_v)} under {one.load}, and ±{words.plain(self.supply_v)} V "
            f"allow {words.voltage(one.limit_v)}. What is told holds up to {one.clips_at_words}; at twice that {left}."
        )

    @property
    def cure(self) -> str:
        """The supply that holds, as a sentence."""
        return "No supply holds it." if self.holds is None else f"{self.holds.setting} holds."


def clip_sign(solved: Solved) -> ClipSign | None:
    """Of a solved layout; None where every amplifier holds, or where something grows, which is told before."""
    build = solved.candidate.build
    if solved.growths or not any(is_simulated(part, build) for network in networks(solved) for part in network):
        return None
    clipping = [one for one in solved.board.simulated if one.clips_at < 1.0]
    if not clipping:
        return None
    worst = min(clipping, key=lambda one: one.clips_at)
    holds = None
    if isfinite(worst.swing_v):
        supply = float(ceil(max(one.swing_v for one in clipping) + HEADROOM_V))
        setting = f"Supply ±{words.plain(supply)} V"
        holds = Holds(worst.group, setting, replace(solved.candidate, build=replace(build, supply_v=supply)), "Take a")
    return ClipSign(worst, float(solved.beam.omega_rad_s[worst.mode - 1]) / (2.0 * pi), build.supply_v, holds)
