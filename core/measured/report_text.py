"""What was found in measured files, as text for a terminal and as plain values for JSON."""

from __future__ import annotations

from typing import Any

from core.measured.evaluate import Compared, Evaluation
from core.measured.modes import ModeFound, Way
from core.measured.transfer import coherence_at_modes, coherence_text, response_text, shaken_text
from core.project.measurement import Kept, KeptMode
from core.units import words
from core.units.as_json import json_ready


def evaluation_text(found: Evaluation) -> str:
    """The verdict first, then the modes of each file, coupling and comparison, doubts and troubles."""
    lines: list[str] = []
    if found.verdict is not None:
        lines += [found.verdict.title, found.verdict.text, ""]
    for run in found.runs:
        state = run.leads if run.resistance_ohm is None else words.part(run.resistance_ohm, "ohm")
        lines.append(f"{run.name}: {state}")
        for mode in run.found.modes:
            lines.append(f"  mode {mode.number}: {words.fine_frequency(mode.f_hz)}, damping {words.damping(mode.zeta)}  ({ways_text(mode)})")
        if shaken := shaken_text(run):
            lines.append(f"  {shaken}")
        transfer = found.transfers.get(run.name)
        if transfer is not None:
            lines += [f"  {told}" for told in (response_text(transfer), coherence_text(run, transfer)) if told]
        lines += [f"  {doubt.text}" for doubt in run.doubts]
    lines += [f"Mean and spread over {line}" for line in repeats_text(found)]
    if found.sweep is not None:
        lines.append(f"Impedance: {words.capacitance(found.sweep.capacitance_f)} at {words.frequency(found.sweep.at_hz)}, loss {words.percent(found.sweep.loss, 1)}")
    for c in found.couplings:
        lines.append(f"K² of mode {c.mode}: {words.coupling(c.k2)} ± {words.percent(c.u_k2, 3)}{', alternating runs' if c.alternating else ''}")
    if found.compared:
        lines += ["", "Measured over predicted"]
        lines += [f"  {compared_label(c)}: {compared_value(c, c.measured)} over {compared_value(c, c.predicted)}, {words.fixed(c.ratio, 3)}" for c in found.compared]
    lines += [f"Not used: {trouble}" for trouble in found.troubles]
    return "\n".join(lines)


def ways_text(mode: ModeFound) -> str:
    """The three ways side by side: "fit 0.17, decrement 0.17, half-power 0.21 (4 lines ...)"."""
    parts = [
        f"{name} {words.damping(way.zeta)}{f', {way.doubt}' if way.doubt else ''}"
        for name, way in (("fit", mode.fit), ("decrement", mode.decrement), ("half-power", mode.half_power))
        if way is not None
    ]
    return "; ".join(parts)


def compared_label(c: Compared) -> str:
    """What a compared value is: "frequency, shorted, mode 1", "damping with 120 kΩ, mode 1"."""
    state = c.state if not _is_number(c.state) else f"with {words.part(float(c.state), 'ohm')}"
    name = {"frequency": "frequency", "damping": "damping", "coupling": "K²", "capacitance": "capacitance"}[c.quantity]
    return f"{name}, {state}" if c.mode is None else f"{name}, {state}, mode {c.mode}"


def compared_value(c: Compared, value: float) -> str:
    """A compared value with its unit."""
    if c.quantity == "frequency":
        return words.fine_frequency(value)
    if c.quantity == "capacitance":
        return words.capacitance(value)
    return words.damping(value) if c.quantity == "damping" else words.coupling(value)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def repeats_text(found: Evaluation) -> tuple[str, ...]:
    """Means over the repeats of a state with their spread: "3 runs, leads shorted: mode 1 19.0701 Hz +/- ...";
    empty where nothing was repeated."""
    out = []
    states = [("leads shorted", found.shorted), ("leads open", found.opened)]
    states += [(f"with {words.part(ohm, 'ohm')}", modes) for ohm, modes in found.with_resistor.items()]
    for state, modes in states:
        repeated = [m for m in modes.values() if m.runs > 1]
        if repeated:
            told = "; ".join(
                f"mode {m.mode} {words.fine_frequency(m.f_hz)} ± {words.significant(max(m.spread_f_hz, 1e-4), 1)}, "
                f"damping {words.damping(m.zeta)} ± {words.percent(m.spread_zeta, 3)}"
                for m in repeated
            )
            out.append(f"{repeated[0].runs} runs, {state}: {told}")
    return tuple(out)


def kept_of(found: Evaluation) -> Kept:
    """What the papers and the drawing keep of an evaluation."""
    verdict = found.verdict
    k2 = {c.mode: c.k2 for c in found.couplings}
    return Kept(
        "Measured." if verdict is None else verdict.title,
        "" if verdict is None else verdict.text,
        tuple((compared_label(c), compared_value(c, c.predicted), compared_value(c, c.measured), words.fixed(c.ratio, 3)) for c in found.compared),
        tuple(KeptMode(n, m.f_hz, m.zeta, k2.get(n)) for n, m in found.shorted.items()),
    )


def evaluation_json(found: Evaluation) -> dict[str, Any]:
    """Plain values, SI, ready for JSON; null for what does not exist."""

    def way(w: Way | None) -> dict[str, Any] | None:
        return None if w is None else {"f_hz": w.f_hz, "u_f_hz": w.u_f_hz, "zeta": w.zeta, "u_zeta": w.u_zeta, "doubt": w.doubt}

    verdict = found.verdict
    told = {
        "verdict": None
        if verdict is None
        else {
            "code": verdict.code, "title": verdict.title, "text": verdict.text, "mean_ratio": verdict.mean_ratio,
            "cause": verdict.cause, "capacitance_ratio": verdict.capacitance_ratio, "instrument_ohm": verdict.instrument_ohm,
            "ratios": [
                {"mode": r.mode, "measured_k2": r.measured, "u_measured_k2": r.u_measured, "predicted_k2": r.predicted, "judged": r.judged}
                for r in verdict.ratios
            ],
        },
        "files": [
            {
                "name": run.name, "leads": run.leads, "resistance_ohm": run.resistance_ohm, "channel": run.found.channel.name,
                "found_in": "response function" if run.found.cut_into or found.blocks[run.name].kind != "time" else "decay",
                "modes": [
                    {
                        "mode": m.number, "f_hz": m.f_hz, "zeta": m.zeta, "fit": way(m.fit), "decrement": way(m.decrement),
                        "half_power": way(m.half_power),
                        "zeta_small_swing": None if m.line is None else m.line.zeta_small,
                        "zeta_large_swing": None if m.line is None else m.line.zeta_large,
                    }
                    for m in run.found.modes
                ],
                "coherence": None
                if (transfer := found.transfers.get(run.name)) is None or transfer.coherence is None
                else {
                    "averaged": transfer.averaged,
                    "at_modes": [{"mode": n, "coherence": v} for n, v in coherence_at_modes(run, transfer).items()],
                },
                "response_function": None
                if transfer is None or transfer.found is None
                else [{"mode": m.number, "f_hz": m.f_hz, "zeta": m.zeta, "fit": way(m.fit), "half_power": way(m.half_power)} for m in transfer.found.modes],
                "doubts": [{"code": d.code, "mode": d.mode, "text": d.text} for d in run.doubts],
            }
            for run in found.runs
        ],
        "couplings": [
            {"mode": c.mode, "k2": c.k2, "u_k2": c.u_k2, "f_short_hz": c.f_short_hz, "f_open_hz": c.f_open_hz, "alternating": c.alternating}
            for c in found.couplings
        ],
        "impedance": None
        if found.sweep is None
        else {"capacitance_f": found.sweep.capacitance_f, "at_hz": found.sweep.at_hz, "loss": found.sweep.loss},
        "compared": [
            {"quantity": c.quantity, "state": c.state, "mode": c.mode, "predicted": c.predicted, "measured": c.measured, "uncertainty": c.uncertainty}
            for c in found.compared
        ],
        "troubles": list(found.troubles),
    }  # fmt: skip
    return json_ready(told)
