"""Measured files kept with a project: carried inside, or referred to by path and hash; and edits of them."""

from __future__ import annotations

import base64
import binascii
import hashlib
import tempfile
import zlib
from collections.abc import Callable
from pathlib import Path

from msgspec.structs import replace

from core.measured.apart import read_apart
from core.measured.readers import check_file, hash_of
from core.measured.record import MeasuredError, Recording
from core.measured.runs import state_of_name
from core.project import ceilings
from core.project.bonded import read_of
from core.project.measurement import MeasuredFile, Measurement
from core.project.model import Project


def measurement_of(project: Project, candidate_id: str | None = None) -> Measurement:
    """What was measured on a candidate; an empty one where nothing was."""
    wanted = project.candidate(candidate_id).id
    return next((m for m in project.measurements if m.candidate == wanted), Measurement(wanted))


def read_capacitances(project: Project, candidate_id: str | None = None) -> tuple[float | None, float | None]:
    """Capacitance before bonding and of the bonded part, F: as typed beside the files, else as the bonding record has
    them of the part with that serial number, where it has one group. None where neither was read."""
    measurement = measurement_of(project, candidate_id)
    before, after = measurement.capacitance_before_f, measurement.capacitance_f
    parts = [p for p in read_of(project.bonded, measurement.candidate) if p.serial == measurement.serial]
    if len(parts) != 1:
        return before, after
    (part,) = parts
    return part.before_f if before is None else before, part.after_f if after is None else after


def with_measurement(project: Project, measurement: Measurement) -> Project:
    """The project with this measurement in place of its candidate's."""
    rest = tuple(m for m in project.measurements if m.candidate != measurement.candidate)
    empty = measurement == Measurement(measurement.candidate)
    return replace(project, measurements=rest if empty else (*rest, measurement))


def with_files(project: Project, paths: tuple[Path, ...], candidate_id: str | None = None) -> Project:
    """The project with files added to a candidate's measurement, by path and hash; a file that is there
    already is taken anew. What hung on the leads is guessed from the name. MeasuredError in words."""
    measurement = measurement_of(project, candidate_id)
    files = list(measurement.files)
    for path in paths:
        check_file(path)
        leads, ohm = state_of_name(path.name) or (None, None)
        made = MeasuredFile(path.name, str(path), hash_of(path), leads, ohm)
        at = next((i for i, f in enumerate(files) if f.path == made.path), None)
        if at is None:
            files.append(replace(made, name=_free_name(made.name, {f.name for f in files})))
        else:
            files[at] = replace(files[at], sha256=made.sha256, data="")
    if len(files) > ceilings.MOST_MEASURED_FILES:
        raise MeasuredError(f"A measurement holds at most {ceilings.MOST_MEASURED_FILES} files; these would be {len(files)}. Take some away.")
    return with_measurement(project, replace(measurement, files=tuple(files)))


def _free_name(name: str, taken: set[str]) -> str:
    return name if name not in taken else next(f"{name} ({n})" for n in range(2, len(taken) + 3) if f"{name} ({n})" not in taken)


def with_file(project: Project, changed: MeasuredFile, candidate_id: str | None = None) -> Project:
    """The project with one file's record changed."""
    measurement = measurement_of(project, candidate_id)
    files = tuple(changed if f.name == changed.name else f for f in measurement.files)
    return with_measurement(project, replace(measurement, files=files))


def without_file(project: Project, name: str, candidate_id: str | None = None) -> Project:
    """The project without that file."""
    measurement = measurement_of(project, candidate_id)
    return with_measurement(project, replace(measurement, files=tuple(f for f in measurement.files if f.name != name)))


def carried(project: Project, candidate_id: str | None = None) -> Project:
    """The project with every file of a candidate's measurement inside. MeasuredError where one is missing
    or changed, or where they are too large to carry."""
    measurement = measurement_of(project, candidate_id)
    files = []
    for file in measurement.files:
        if not file.data:
            path = Path(file.path)
            check_file(path)
            content = path.read_bytes()
            if file.sha256 and hashlib.sha256(content).hexdigest() != file.sha256:
                raise MeasuredError(f"{file.name} has changed since it was measured. Take it anew, or away.")
            file = replace(file, data=base64.b64encode(zlib.compress(content, 6)).decode("ascii"))
        files.append(file)
    if sum(len(f.data) for f in files) > ceilings.MOST_CARRIED_BYTES:
        raise MeasuredError(
            f"The files come to {sum(len(f.data) for f in files) / 1e6:.0f} MB; a project carries at most "
            f"{ceilings.MOST_CARRIED_BYTES / 1e6:.0f} MB of them. Leave them outside, or cut the records."
        )
    return with_measurement(project, replace(measurement, files=tuple(files)))


def outside(project: Project, candidate_id: str | None = None) -> Project:
    """The project with its measured files referred to by path and hash only; MeasuredError where a file is
    not where it was, so that nothing is lost."""
    measurement = measurement_of(project, candidate_id)
    for file in measurement.files:
        path = Path(file.path)
        if file.data and not (path.is_file() and hash_of(path) == file.sha256):
            raise MeasuredError(f"{file.name} is not at {file.path or 'any path'} any more; it stays inside the project.")
    return with_measurement(project, replace(measurement, files=tuple(replace(f, data="") for f in measurement.files)))


def open_kept(file: MeasuredFile, stopped: Callable[[], bool]) -> Recording | None:
    """The recording of a kept file, None if stopped. MeasuredError in words where it is missing, has
    changed or cannot be read."""
    if not file.data:
        path = Path(file.path)
        if not path.exists():
            raise MeasuredError(f"{file.name} is not at {file.path or 'any path'} any more. Drop it again, or take it away.")
        check_file(path)
        if file.sha256 and hash_of(path) != file.sha256:
            raise MeasuredError(f"{file.name} has changed since it was measured. Drop it again to take it anew, or take it away.")
        found = read_apart(path, stopped, file.told)
        return None if found is None else _named(found, file.name)
    with tempfile.TemporaryDirectory(prefix="quietspan-") as folder:
        path = Path(folder) / (Path(file.name.split(" (")[0]).name or "record.csv")
        path.write_bytes(_content(file))
        found = read_apart(path, stopped, file.told)
        return None if found is None else _named(found, file.name)


def _content(file: MeasuredFile) -> bytes:
    """The bytes carried inside, no more than a file may have."""
    try:
        inflating = zlib.decompressobj()
        content = inflating.decompress(base64.b64decode(file.data, validate=True), ceilings.LARGEST_MEASUREMENT_BYTES)
    except (zlib.error, binascii.Error, ValueError) as error:
        raise MeasuredError(f"What the project carries of {file.name} is damaged. Drop the file again.") from error
    if inflating.unconsumed_tail:
        raise MeasuredError(f"What the project carries of {file.name} is larger than a measured file may be. Take it away.")
    if file.sha256 and hashlib.sha256(content).hexdigest() != file.sha256:
        raise MeasuredError(f"What the project carries of {file.name} is damaged. Drop the file again.")
    return content


def _named(recording: Recording, name: str) -> Recording:
    from dataclasses import replace as with_fields

    return with_fields(recording, name=name)
