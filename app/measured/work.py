"""Reading and identifying off the window's thread: what was read stays, so that only what changed is read again."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from core.measured.evaluate import Entry, Evaluation, evaluate
from core.measured.kept import measurement_of, open_kept, read_capacitances
from core.measured.overlay import Overlay, overlay_of
from core.measured.record import MeasuredError, Recording
from core.predict.remarks.problems import blocks_prediction, problems_of
from core.project.measurement import Bench, MeasuredFile, Measurement
from core.project.model import Project

Key = tuple[str, str, object]
Tell = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came of a measurement: recordings by file name, the evaluation, overlays by run, troubles in words."""

    measurement: Measurement
    project: Project
    recordings: dict[str, Recording] = field(default_factory=dict)
    evaluation: Evaluation | None = None
    overlays: dict[str, Overlay] = field(default_factory=dict)
    troubles: tuple[str, ...] = ()
    seconds: float = 0.0
    comparable: bool = True


class Reader:
    """Keeps what was read, by file, content and what was told of it."""

    def __init__(self) -> None:
        self._known: dict[Key, Recording | str] = {}

    def work_out(self, project: Project, candidate_id: str, stop: threading.Event, tell: Tell) -> Outcome | None:
        """Read what is new, identify, compare; None once stopped."""
        begun = time.monotonic()
        measurement = measurement_of(project, candidate_id)
        recordings, troubles = {}, []
        wanted: dict[Key, Recording | str] = {}
        for n, file in enumerate(measurement.files):
            tell(n, len(measurement.files))
            opened = self._open(file, stop)
            if stop.is_set() or opened is None:
                return None
            wanted[_key(file)] = opened
            if isinstance(opened, str):
                troubles.append(opened)
            else:
                recordings[file.name] = opened
        self._known = wanted
        tell(len(measurement.files), len(measurement.files))
        problems = problems_of(project, candidate_id)
        bad = [p.message for p in problems if p.path.startswith("measurements")]
        troubles += bad
        sound = not any(map(blocks_prediction, problems))
        if not sound:
            troubles.append("The project has problems, so nothing is compared with it. Mend them beside the drawing.")
        entries, unsaid = _entries(measurement, recordings)
        troubles += unsaid
        if not entries:
            return Outcome(measurement, project, recordings, None, {}, tuple(troubles), time.monotonic() - begun, sound)
        bench = Bench() if bad else measurement.bench
        before_f, after_f = (None, None) if bad else read_capacitances(project, candidate_id)
        found = evaluate(
            entries, project if sound else None, candidate_id if sound else None, bench=bench,
            capacitance_f=after_f, capacitance_before_f=before_f,
        )  # fmt: skip
        overlays = {}
        if sound:
            for run in found.runs:
                if stop.is_set():
                    return None
                made = overlay_of(project, run, found.blocks[run.name], bench, candidate_id, transfer=found.transfers.get(run.name))
                if made is not None:
                    overlays[run.name] = made
        return Outcome(
            measurement, project, recordings, found, overlays, (*troubles, *found.troubles), time.monotonic() - begun, sound
        )

    def _open(self, file: MeasuredFile, stop: threading.Event) -> Recording | str | None:
        known = self._known.get(_key(file))
        if isinstance(known, Recording):
            return known
        try:
            return open_kept(file, stop.is_set)
        except (MeasuredError, OSError) as error:
            return str(error)


def _key(file: MeasuredFile) -> Key:
    return (file.name, file.sha256, file.told)


def _entries(measurement: Measurement, recordings: dict[str, Recording]) -> tuple[tuple[Entry, ...], list[str]]:
    entries, unsaid = [], []
    for file in measurement.files:
        recording = recordings.get(file.name)
        if recording is None:
            continue
        if file.leads is None and recording.block("impedance") is None:
            unsaid.append(f"{file.name}: say what hung on the leads, beside its name.")
            continue
        if file.leads == "resistor" and not file.resistance_ohm:
            unsaid.append(f"{file.name}: type the resistance that hung on the leads.")
            continue
        entries.append(Entry(recording, file.leads, file.resistance_ohm, file.window_s, file.exponential_window_s))
    return tuple(entries), unsaid
