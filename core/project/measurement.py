"""What a person measured on a part: files, what was told of them, and what stood on the bench."""

from __future__ import annotations

from typing import Literal

from core.project.candidate import Instrument
from core.project.record import Record

ChannelRole = Literal["response", "force", "left out"]
Leads = Literal["shorted", "open", "resistor"]


class Told(Record, frozen=True):
    """What a person said of a file in place of a guess; None and empty leave the guess."""

    delimiter: str | None = None
    decimal_mark: Literal[".", ","] | None = None
    time_column: int | None = None
    """From 1; 0 for none."""
    time_unit: Literal["s", "ms", "us"] | None = None
    interval_s: float | None = None
    roles: tuple[ChannelRole, ...] = ()
    units: tuple[str, ...] = ()


class Bench(Record, frozen=True):
    """What stood on the bench: it changes what is predicted, not the part.

    `sensor_x_m` None is the tip. `instrument` hangs on the leads when they are open or have a resistor.
    """

    temperature_c: float | None = None
    sensor_kg: float = 0.0
    sensor_x_m: float | None = None
    instrument: Instrument | None = None


class MeasuredFile(Record, frozen=True):
    """A measured file with what hung on the leads. `data` holds its bytes (zlib, base64) where it is
    carried inside the project; otherwise it is read at `path`, and `sha256` tells whether it is still that
    file. `confirmed` once a person has seen what was guessed."""

    name: str
    path: str = ""
    sha256: str = ""
    leads: Leads | None = None
    resistance_ohm: float | None = None
    told: Told = Told()
    confirmed: bool = False
    window_s: tuple[float, float] | None = None
    exponential_window_s: float | None = None
    data: str = ""


class KeptMode(Record, frozen=True):
    """What was measured of a mode with the leads shorted, and its K^2 where that was measured."""

    mode: int
    f_hz: float
    zeta: float
    k2: float | None = None


class Kept(Record, frozen=True):
    """What was found, kept for the papers: the verdict, rows of (what, predicted, measured, ratio) as they
    were read, and the modes."""

    title: str
    text: str = ""
    rows: tuple[tuple[str, str, str, str], ...] = ()
    modes: tuple[KeptMode, ...] = ()


class Measurement(Record, frozen=True):
    """The files of one part, measured as a candidate, and what a meter read.

    `capacitance_before_f` is of the patch before bonding, `capacitance_f` of the bonded part, both at 1 kHz.
    """

    candidate: str
    files: tuple[MeasuredFile, ...] = ()
    bench: Bench = Bench()
    serial: str = ""
    capacitance_f: float | None = None
    capacitance_before_f: float | None = None
    kept: Kept | None = None
