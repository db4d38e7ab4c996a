"""A bench on which one lab beam stands: records of it, simulated in time, with faults planted in the part.

The truth of each part is a project of its own (modes, charge rows, capacitances), stepped exactly in time by
`simulated.decay`; what is handed on are records with noise, nothing else.
"""

from __future__ import annotations

from dataclasses import replace as with_fields

import numpy as np
from msgspec.structs import replace

from core.measured.modes import identify_decay
from core.measured.predicted import state_modes, with_sensor
from core.measured.quality import doubts_of
from core.measured.record import Block, Channel
from core.measured.runs import Run
from core.piezo.layout import solve
from core.project.candidate import Candidate, Group, Member
from core.project.measurement import Bench
from core.project.model import Project
from tests.core.measured.simulated import decay
from tests.levels import beam_example

LENGTH_S, RATE_HZ = 12.0, 2500.0


def lab(pair: bool = False) -> Project:
    """The lab beam with its patch at the clamp; as a pair of two patches on both faces in one group."""
    project = beam_example("lab-beam")
    candidate = project.candidate()
    if pair:
        first = candidate.patches[0]
        second = replace(first, id="P2", face="underside")
        groups = (Group("G1", (Member("P1", 1), Member("P2", -1))),)
        candidate = Candidate("A", "pair", (first, second), groups)
    candidates = tuple(candidate if c.id == candidate.id else c for c in project.candidates)
    return replace(project, candidates=candidates)


def with_patch(project: Project, **changes) -> Project:
    candidate = project.candidate()
    changed = replace(candidate, patches=(replace(candidate.patches[0], **changes), *candidate.patches[1:]))
    return replace(project, candidates=tuple(changed if c.id == changed.id else c for c in project.candidates))


def record(
    truth: Project, *, is_open: bool, seed: int, resistance_ohm=np.inf, loose_f=0.0, sensor_kg=0.0, length_s=LENGTH_S, snr_db=45.0
):  # fmt: skip
    """A free decay of the part with its leads shorted or open (or on a resistance), three modes, at the tip.

    `loose_f` is ceramic that has come off: charge it holds, strain it does not feel.
    """
    truth = with_sensor(truth, Bench(sensor_kg=sensor_kg))
    beam = solve(truth, truth.candidate())
    f, zeta = beam.omega_rad_s[:5] / (2 * np.pi), beam.zeta0[:5]
    theta = beam.group_theta[:5, 0]
    capacitance = float(beam.corrected_f(5)[0, 0]) + loose_f
    swing = np.array([5e-3, 1e-3, 4e-4, 0.0, 0.0])
    tip = beam.units[:5] @ beam.deflection_row(beam.spec.span_m) * beam.omega_rad_s[:5]
    shape = np.sign(tip)
    return decay(
        f, zeta, swing, theta=theta * shape if is_open else None, capacitance_f=capacitance, resistance_ohm=resistance_ohm,
        length_s=length_s, rate_hz=RATE_HZ, snr_db=snr_db, seed=seed, scale=np.abs(tip),
    )  # fmt: skip


def runs_of(
    drawn: Project, truth: Project, *, repeats: int = 2, bench: Bench | None = None, clip: float | None = None, **options
) -> tuple[Run, ...]:  # fmt: skip
    """Shorted and open records of the part `truth`, identified by a person who has the drawing `drawn`."""
    bench = bench or Bench()
    expected = tuple(m.f_hz for m in state_modes(drawn, "shorted", bench))[:3]
    out = []
    for order in range(2 * repeats):
        is_open = order % 2 == 1
        block = record(truth, is_open=is_open, seed=order, **options)
        if clip is not None:
            (channel,) = block.channels
            limit = clip * np.abs(channel.values).max()
            block = with_fields(block, channels=(with_fields(channel, values=np.clip(channel.values, -limit, limit)),))
        found = identify_decay(block, expected_hz=expected)
        doubts = doubts_of(None, block, found)
        out.append(Run(f"run {order}", "open" if is_open else "shorted", found, None, doubts, order))
    return tuple(out)


def struck(truth: Project, seed: int = 0, noise: float = 0.0, count: int = 1 << 15) -> Block:
    """A blow of 2 ms at the tip of the shorted part and what the tip does, by its modes alone; `noise` (rms over
    that of the first mode's band) is in the response of every line alike."""
    beam = solve(truth, truth.candidate())
    f, zeta = beam.omega_rad_s[:8] / (2 * np.pi), beam.zeta0[:8]
    tip = beam.omega_rad_s[:8] * (beam.units[:8] @ beam.deflection_row(beam.spec.span_m))
    rate = 4096.0
    t = np.arange(count) / rate
    blow = np.where(t < 2e-3, np.sin(np.pi * t / 2e-3), 0.0)
    w = 2 * np.pi * np.fft.rfftfreq(4 * count, 1 / rate)
    h = sum(a**2 / ((2 * np.pi * n) ** 2 - w**2 + 2j * z * 2 * np.pi * n * w) for n, z, a in zip(f, zeta, tip, strict=True))
    swing = np.fft.irfft(np.fft.rfft(blow, 4 * count) * h)[:count]
    swing = swing + noise * swing.std() * np.random.default_rng(seed).standard_normal(count)
    return Block("time", (Channel("tip", swing, "m"), Channel("hammer", blow, "N", "force")), 0.0, 1 / rate)
